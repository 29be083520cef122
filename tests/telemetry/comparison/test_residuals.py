"""A flight against its sheet: what is compared, how it is judged, and what explains it."""

import dataclasses
import math

import numpy as np
import pytest

from telemetry.analysis import flights
from telemetry.comparison.residuals import compare
from telemetry.comparison.steps import held_steps
from telemetry.estimate import Undecided
from telemetry.sheet import Sheet
from telemetry.signals import in_sheet_terms, signals_of
from telemetry.simulate import (
    FlownLeg,
    Scenario,
    bench_steps,
    circuits,
    random_scenario,
    simulate,
    with_channels,
    with_fault,
)
from telemetry.trace import Channel, Flight, Stretch, Trace


def sheet_of(scenario: Scenario, **changed: float) -> Sheet:
    """The truth as a sheet, some of it changed by a factor. No static point: the table gives coefficients,
    not points.
    """
    drive, frame, air, pack = scenario.drives[0], scenario.airframe, scenario.air, scenario.pack
    motor, propeller = drive.motor, drive.propeller
    torque = propeller.power_coefficient * 1.225 * (9000 / 60) ** 2 * propeller.diameter_m**5 / (2 * math.pi)
    no_load = motor.friction_a + motor.iron_apkrpm * 9.0
    current = torque * motor.kv_rpm_per_v * math.pi / 30 + no_load
    thrust = propeller.thrust_coefficient * 1.225 * (9000 / 60) ** 2 * propeller.diameter_m**4
    cell_ohm = np.mean([c.drop_after_ohm(1.0) for c in pack.cells]) * changed.get("pack", 1.0)
    return Sheet.from_text(
        f"""
[aircraft]
mass_kg = {frame.mass_kg}
span_m = {frame.span_m}
wing_area_m2 = {frame.wing_area_m2}
drag_area_m2 = {frame.drag_area_m2 * changed.get("drag", 1.0)}
[field]
temperature_c = {air.temperature_c}
pressure_hpa = {air.density_kgm3 * 287.05287 * (air.temperature_c + 273.15) / 100}
[pack]
cells = {len(pack.cells)}
capacity_mah = {pack.cells[0].capacity_mah}
resistance_mohm = {1000 * cell_ohm}
[motor]
kv_rpm_per_v = {motor.kv_rpm_per_v * changed.get("kv", 1.0)}
resistance_mohm = {1000 * motor.resistance_ohm}
no_load_points = [{{voltage_v = 8, current_a = {no_load}}}]
[propeller]
diameter_in = {propeller.diameter_m / 0.0254}
pitch_in = {(propeller.zero_thrust_j - 0.17) / 0.92 * propeller.diameter_m / 0.0254}
static_points = [{{rpm = 9000, current_a = {current * changed.get("propeller", 1.0)}, thrust_n = {thrust}}}]
[leads]
length_m = 0.4
area_mm2 = {2 * 0.4 / 58 / pack.lead_ohm}
[[motors]]
position = "left"
logged_as = "1"
[[motors]]
position = "right"
logged_as = "2"
"""
    )


@pytest.fixture(scope="module")
def scenario():
    return Scenario(legs=circuits(120.0))


@pytest.fixture(scope="module")
def flown(scenario):
    return simulate(scenario, seed=5)


def reviewed(trace: Trace, sheet: Sheet, **choices):
    setup = sheet.setup()
    trace = in_sheet_terms(trace, setup)
    flight = flights.find(trace)[0]
    return compare(signals_of(trace, flight, setup), setup, draws=48, **choices)


def by_name(comparison):
    return {(r.quantity, r.position, r.statistic): r for r in comparison.residuals}


def test_a_flight_has_mean_current_and_mean_and_lowest_voltage(scenario, flown):
    found = by_name(reviewed(flown.trace(), sheet_of(scenario)))
    assert {
        ("current_a", "", "mean"),
        ("pack_voltage_v", "", "mean"),
        ("pack_voltage_v", "", "min"),
        ("rpm", "left", "mean"),
    } <= set(found)
    for r in found.values():
        assert r.low <= r.predicted <= r.high
        assert r.residual_fraction == pytest.approx((r.measured - r.predicted) / r.predicted)


def test_a_true_sheet_is_kept(scenario, flown):
    found = by_name(reviewed(flown.trace(), sheet_of(scenario)))
    assert found[("current_a", "", "mean")].measured == pytest.approx(flown.truth.mean_current_a, rel=0.02)
    assert all(r.kept for r in found.values())
    assert abs(found[("current_a", "", "mean")].residual_fraction) < 0.14
    assert abs(found[("pack_voltage_v", "", "mean")].residual_fraction) < 0.028


def test_bands_cover_the_powered_time_and_hold_most_of_the_log(scenario, flown):
    comparison = reviewed(flown.trace(), sheet_of(scenario))
    band = next(r for r in comparison.replays if (r.quantity, r.position) == ("pack_voltage_v", ""))
    assert np.all((band.low <= band.predicted) & (band.predicted <= band.high))
    measured = np.interp(band.time_s, band.measured_time_s, band.measured)
    assert np.mean((measured >= band.low - 0.15) & (measured <= band.high + 0.15)) > 0.8


def test_each_phase_in_the_air_has_its_residual(scenario, flown):
    phases = {p.phase for p in reviewed(flown.trace(), sheet_of(scenario)).phases}
    assert {"climb", "cruise"} <= phases
    assert "ground" not in phases


def test_a_weak_pack_is_named_when_the_voltage_falls_short(scenario, flown):
    found = by_name(reviewed(flown.trace(), sheet_of(scenario, pack=0.4)))
    low = found[("pack_voltage_v", "", "min")]
    assert low.residual_fraction < 0
    assert not low.kept
    assert "resistance" in low.explained_by
    assert "weaker" in low.explained_by


def test_a_propeller_that_takes_more_is_named_when_the_current_is_higher(scenario, flown):
    found = by_name(reviewed(flown.trace(), sheet_of(scenario, propeller=0.7)))
    current = found[("current_a", "", "mean")]
    assert current.residual_fraction > 0.15
    assert not current.kept
    assert "propeller" in current.explained_by
    assert "more" in current.explained_by


def test_what_is_kept_needs_no_explanation(scenario, flown):
    assert all(r.explained_by == "" for r in reviewed(flown.trace(), sheet_of(scenario)).residuals)


def test_an_explanation_is_a_clause_for_the_pilot(scenario, flown):
    for r in reviewed(flown.trace(), sheet_of(scenario, propeller=0.7, pack=0.4)).residuals:
        assert not r.explained_by.endswith(".")


def test_a_log_without_throttle_is_undecided_with_its_reason(scenario, flown):
    silent = with_channels(scenario, without=("throttle_fraction",))
    found = reviewed(simulate(silent, seed=5).trace(), sheet_of(scenario))
    assert isinstance(found.residuals, Undecided)
    assert "throttle" in found.residuals.reason


def test_without_a_sheet_there_is_nothing_to_compare(flown):
    trace = flown.trace()
    assert isinstance(compare(signals_of(trace, flights.find(trace)[0], None), None).residuals, Undecided)


def test_an_airspeed_of_ones_own_does_without_a_sensor(scenario, flown):
    """Thrust, drag and climb give the airspeed that was flown, within a tenth."""
    slow = with_channels(scenario, without=("airspeed_mps", "ground_speed_mps"))
    found = by_name(reviewed(simulate(slow, seed=5).trace(), sheet_of(scenario)))
    assert abs(found[("current_a", "", "mean")].residual_fraction) < 0.2


def test_motors_that_a_recorder_numbers_stand_under_their_side(scenario, flown):
    trace = flown.trace()
    numbered = {
        (q, {"left": "1", "right": "2"}.get(p, p)): dataclasses.replace(
            c, position={"left": "1", "right": "2"}.get(p, p)
        )
        for (q, p), c in trace.channels.items()
    }
    setup = sheet_of(scenario).setup()
    named = in_sheet_terms(dataclasses.replace(trace, channels=numbered), setup)
    assert set(named.channels) == set(trace.channels)
    assert named.has("cell_voltage_v", "1")


def test_a_neutral_in_the_middle_makes_reverse_of_the_lower_half():
    time = np.arange(3.0)
    channel = Channel("throttle_fraction", "", np.array([0.0, 0.5, 1.0]), np.ones(3, dtype=bool), "thr", 1.0)
    setup = Sheet.from_text(
        "[pack]\ncells = 3\ncapacity_mah = 2200\n[controller]\nneutral_fraction = 0.5\n"
    ).setup()
    named = in_sheet_terms(Trace(time, {("throttle_fraction", ""): channel}), setup)
    np.testing.assert_allclose(named.channels[("throttle_fraction", "")].values, [-1.0, 0.0, 1.0])


@pytest.fixture(scope="module")
def bench():
    scenario = Scenario(legs=bench_steps())
    return scenario, simulate(scenario, seed=3)


def test_a_bench_run_has_current_voltage_and_speed_at_each_step(bench):
    scenario, flown = bench
    trace = flown.trace()
    setup = sheet_of(scenario).setup()
    flight = flights.find(trace, bench=True)[0]
    found = compare(signals_of(trace, flight, setup), setup, draws=48)
    at = {(r.quantity, r.position, r.throttle_fraction) for r in found.residuals}
    for throttle in (0.25, 0.5, 0.75, 1.0):
        assert {
            ("current_a", "", throttle),
            ("pack_voltage_v", "", throttle),
            ("rpm", "left", throttle),
        } <= at
    assert all(r.statistic == "at" for r in found.residuals)
    forward = [r for r in found.residuals if r.throttle_fraction > 0.2]
    assert np.mean([r.kept for r in forward]) > 0.9
    full = next(r for r in forward if (r.quantity, r.throttle_fraction) == ("rpm", 1.0))
    assert abs(full.residual_fraction) < 0.045


def held_throttle(levels, seconds=5.0, rate_hz=10.0):
    values = np.repeat(levels, int(seconds * rate_hz))
    time = np.arange(values.size) / rate_hz
    channel = Channel("throttle_fraction", "", values, np.ones(values.size, dtype=bool), "thr", 1 / rate_hz)
    trace = Trace(time, {("throttle_fraction", ""): channel})
    return trace, Flight(
        0.0, float(time[-1]), Undecided("bench"), Undecided("bench"), Stretch(0.0, float(time[-1])), (), True
    )


def test_steps_are_found_once_each_with_both_their_spans():
    steps = held_steps(signals_of(*held_throttle([0.0, 0.25, 0.5, 0.25, 0.0])))
    assert [s.throttle for s in steps] == [0.25, 0.5]
    assert [len(s.spans) for s in steps] == [2, 1]


def test_a_moving_stick_is_no_step():
    values = np.linspace(0.0, 1.0, 200)
    time = np.arange(200) / 10.0
    channel = Channel("throttle_fraction", "", values, np.ones(200, dtype=bool), "thr", 0.1)
    flight = Flight(0.0, 19.9, Undecided("bench"), Undecided("bench"), Stretch(0.0, 19.9), (), True)
    assert all(
        s.throttle < 1.01
        for s in held_steps(
            signals_of(Trace(time, {("throttle_fraction", ""): channel}), flight), within=0.001
        )
    )
    assert (
        held_steps(signals_of(Trace(time, {("throttle_fraction", ""): channel}), flight), within=0.001) == ()
    )


def test_a_propeller_turning_with_the_air_is_no_matter_of_the_sheet(scenario, flown):
    """At closed throttle one recorder shows the propeller turning, another nothing: the sheet is as far off
    either way.
    """
    trace = flown.trace()
    speed = trace.channels["rpm", "left"]
    closed = trace.at("throttle_fraction", "", trace.time_s) < 0.01
    turning = dataclasses.replace(speed, values=np.where(closed, 3000.0, speed.values))
    other = dataclasses.replace(trace, channels=trace.channels | {("rpm", "left"): turning})
    off = [by_name(reviewed(t, sheet_of(scenario)))["rpm", "left", "mean"] for t in (trace, other)]
    assert off[1].measured > off[0].measured + 50.0
    assert off[1].measured - off[1].predicted == pytest.approx(off[0].measured - off[0].predicted, abs=15.0)


def test_the_hidden_truth_of_drawn_aircraft_is_covered():
    """Four aircraft drawn by the simulator, each with its true sheet: nine in ten figures inside their
    intervals.
    """
    kept = []
    for seed in (11, 12, 13, 14):
        drawn = dataclasses.replace(
            random_scenario(seed),
            legs=(
                FlownLeg("rest", 5.0),
                FlownLeg("takeoff", throttle=0.95),
                FlownLeg("climb", throttle=0.75, height_m=40.0),
                FlownLeg("cruise", 60.0),
                FlownLeg("approach"),
                FlownLeg("land"),
                FlownLeg("rest", 5.0),
            ),
        )
        kept += [r.kept for r in reviewed(simulate(drawn, seed=seed).trace(), sheet_of(drawn)).residuals]
    assert np.mean(kept) >= 0.85


def test_a_heavier_right_propeller_shows_on_the_right_only(scenario):
    heavy = simulate(with_fault(scenario, "right", propeller_power=1.25, propeller_thrust=1.1), seed=5)
    found = by_name(reviewed(heavy.trace(), sheet_of(scenario)))
    right, left = found[("current_a", "right", "mean")], found[("current_a", "left", "mean")]
    assert right.residual_fraction > left.residual_fraction + 0.1
