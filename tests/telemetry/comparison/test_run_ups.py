"""Whole run-ups from simulators that share nothing with the judge: one answer, one cause, no false alarm."""

from dataclasses import replace

import numpy as np
import pytest

from telemetry import Sheet, read_log, review
from telemetry.comparison.held import settled_mean
from telemetry.comparison.results import Bench, BenchItem
from telemetry.findings import with_findings
from telemetry.findings.types import Finding
from telemetry.simulate import FlownLeg, bench_steps, random_scenario, simulate
from telemetry.trace import Samples, Stretch
from tests.benchmarks.prediction_campaign import honest_sheet
from tests.independent import fly, scenario


def run_up(tmp_path, seed, *faults):
    files = fly("twin_bench", seed=seed, faults=faults).write(tmp_path)
    (flight,) = review([read_log(path) for path in files.logs], Sheet.read(files.sheet)).flights
    return flight


def bad(flight):
    return [item.check for item in flight.bench.items if item.verdict == "not_ready"]


@pytest.mark.parametrize("seed", [1, 2])
def test_a_controller_that_gives_less_at_a_quarter_than_in_proportion_is_no_fault(tmp_path, seed):
    """The current that goes with the measured speed is judged, not the one that goes with the command."""
    flight = run_up(tmp_path, seed)
    assert flight.bench.ready is True
    assert not [f for f in flight.findings if f.severity != "note"]
    quarter = [r for r in flight.comparison.residuals if r.throttle_fraction == pytest.approx(0.25, abs=0.02)]
    assert {r.quantity for r in quarter} == {"current_a", "pack_voltage_v", "rpm", "thrust_n"}


def test_a_propeller_that_pushes_backwards_is_a_stop_and_the_headline_says_so(tmp_path):
    flight = run_up(tmp_path, 3, "bench_wrong_way")
    assert flight.bench.ready is False
    assert "every propeller pushes forward" in bad(flight)
    assert flight.findings[0].severity == "stop"
    assert "backwards" in flight.headline


def test_a_motor_that_drops_out_for_a_moment_at_a_held_throttle_is_seen(tmp_path):
    flight = run_up(tmp_path, 1, "bench_drop_out")
    assert flight.bench.ready is False
    (event,) = flight.motors.events
    assert event.kind == "cut"
    assert 0.0 <= event.end_s - event.start_s < 1.0


def test_an_aircraft_that_moved_off_was_not_held(tmp_path):
    flight = run_up(tmp_path, 2, "bench_moved_off")
    assert bad(flight) == ["aircraft held in its place"]
    assert "moved off" in flight.headline


def test_a_loose_plug_is_resistance_and_no_end_point(tmp_path):
    """What it costs grows with the current; an end-point shifts the low commands most."""
    flight = run_up(tmp_path, 3, "bench_loose_plug")
    (pair,) = flight.motors.pairs
    assert (pair.verdict, pair.cause) == ("uneven", "winding")
    assert "plug" in pair.reason
    assert flight.bench.ready is False


def test_a_motor_over_its_temperature_is_not_ready_in_headline_and_item_alike(tmp_path):
    flight = run_up(tmp_path, 2, "bench_motor_hot")
    assert flight.bench.ready is False
    assert "temperatures inside their limits" in bad(flight)
    assert "temperature" in flight.headline


def test_full_throttle_for_1_9_seconds_is_enough():
    """Full throttle on the bench is held short (common practice, no source)."""
    steps = [
        leg for at in (0.25, 0.5, 0.75) for leg in (FlownLeg("bench", 7, throttle=at), FlownLeg("bench", 4))
    ]
    legs = (FlownLeg("rest", 8.0), *steps, FlownLeg("bench", 1.9, throttle=1.0), FlownLeg("rest", 15.0))
    scenario = replace(random_scenario(108, bench=True, cells=5, rate_hz=10), legs=legs)
    sheet = Sheet.from_text(honest_sheet(scenario, np.random.default_rng(108)))
    (flight,) = review(simulate(scenario, seed=108).trace(), sheet).flights
    assert flight.bench.ready is True
    assert max(r.throttle_fraction for r in flight.comparison.residuals) == pytest.approx(1.0, abs=0.01)


def test_a_reading_that_still_rises_is_no_figure():
    time_s = np.arange(0.0, 2.0, 0.1)
    span = Stretch(0.0, 2.0)
    assert settled_mean(Samples(time_s, 20.0 + 10.0 * time_s), span) is None
    assert settled_mean(Samples(time_s, np.full(20, 30.0)), span) == 30.0
    dropped = np.where((time_s > 1.0) & (time_s < 1.3), 0.0, 30.0)
    assert settled_mean(Samples(time_s, dropped), span) == 30.0
    assert settled_mean(Samples(time_s, dropped), Stretch(5.0, 6.0)) is None


@pytest.mark.parametrize("severity", ["stop", "check"])
def test_a_run_up_is_not_ready_while_any_finding_speaks_against_it(severity):
    clean = Bench(True, (BenchItem("currents inside the ratings", "ready", "All were."),))
    low = Finding(severity, "receiver_low", "receiver", {}, "", "", "The receiver's supply fell to 3.5 V.")
    bench = with_findings(clean, [low])
    assert bench.ready is False
    assert bench.items[-1].sentence == "The receiver's supply fell to 3.5 V."
    assert with_findings(clean, [replace(low, severity="note")]).ready is True


def test_a_finding_that_an_item_says_already_is_said_once():
    item = BenchItem("left and right motor even", "not_ready", "They differ.", covers=("pair_uneven",))
    uneven = Finding("check", "pair_uneven", "left and right", {}, "", "", "The left motor takes more power.")
    assert with_findings(Bench(False, (item,)), [uneven]).items == (item,)


def test_a_propeller_mounted_backwards_gives_less_thrust_at_the_same_speed(tmp_path):
    """Front to the rear it loses a quarter of its thrust and more (common practice, no source)."""
    plan = scenario("twin_bench", 5)
    plan.drives[1].thrust_scale *= 0.72
    plan.drives[1].torque_scale *= 0.90
    files = fly(plan, seed=5).write(tmp_path)
    (flight,) = review([read_log(path) for path in files.logs], Sheet.read(files.sheet)).flights
    assert flight.bench.ready is False
    assert "thrust alike and as predicted" in bad(flight)
    assert "right propeller gave" in flight.headline


def test_a_coarse_speed_sensor_may_stand_still_while_the_throttle_does():
    scenario_ = replace(random_scenario(201, bench=True), legs=bench_steps(reverse=0.0))
    (flight,) = review(simulate(scenario_, seed=201).trace()).flights
    assert not [d for d in flight.signals.decisions if d.kind == "stuck"]
