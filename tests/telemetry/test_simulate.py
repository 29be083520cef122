"""The simulation does what physics and its own plan ask."""

from dataclasses import replace

import numpy as np
import pytest

from telemetry.physics.propeller import static_thrust_bound_n
from telemetry.simulate import (
    CellTruth,
    Happening,
    Recorder,
    Scenario,
    Sensor,
    random_scenario,
    several,
    simulate,
    taxi_only,
    touch_and_go,
    with_cell,
    with_channels,
    with_fault,
    with_record,
)
from telemetry.simulate.cell import arrhenius_factor, run_cell

SHORT = (
    random_scenario(5, cells=5).legs[:4]
    + tuple(replace(leg, seconds=40.0) for leg in random_scenario(5, cells=5).legs[4:5])
    + random_scenario(5).legs[-4:]
)


@pytest.fixture(scope="module")
def flown():
    return simulate(random_scenario(12, rate_hz=10), seed=12)


def short(**replacing):
    return random_scenario(5, cells=5, rate_hz=10, legs=SHORT, **replacing)


def test_the_same_seed_gives_the_same_log_and_another_one_another():
    scenario = short()
    first, again, other = (simulate(scenario, seed=seed).trace() for seed in (1, 1, 2))
    for key, channel in first.channels.items():
        assert np.array_equal(channel.values, again.channels[key].values)
    assert not np.array_equal(
        first.channels[("current_a", "")].values[:100], other.channels[("current_a", "")].values[:100]
    )


@pytest.mark.source("conservation of energy: pack ≥ motors' supply ≥ shaft, when nothing is slowing down")
def test_power_only_gets_lost_on_its_way_to_the_propeller(flown):
    truth = flown.truth
    pack_w = truth.at("power_w")
    supply_w = truth.at("power_w", "left") + truth.at("power_w", "right")
    shaft_w = sum(truth.at("torque_nm", p) * truth.at("rpm", p) * 2 * np.pi / 60 for p in ("left", "right"))
    assert np.all(pack_w > supply_w)
    held = supply_w > 100.0
    assert np.mean(shaft_w[held]) / np.mean(supply_w[held]) == pytest.approx(0.82, abs=0.13)


@pytest.mark.source("actuator-disc (momentum) theory")
def test_no_thrust_beats_the_ideal_disc():
    run_up = simulate(random_scenario(8, bench=True), seed=8)
    drive, density = run_up.scenario.drives[0], run_up.scenario.air.density_kgm3
    shaft_w = run_up.truth.at("torque_nm", "left") * np.abs(run_up.truth.at("rpm", "left")) * 2 * np.pi / 60
    best = int(np.argmax(shaft_w))
    bound_n = static_thrust_bound_n(
        float(shaft_w[best]), density_kgm3=density, diameter_m=drive.propeller.diameter_m
    )
    assert 0.5 * bound_n < run_up.truth.at("thrust_n", "left")[best] < bound_n


@pytest.mark.source("arithmetic: an RC pair reaches 1 − exp(−t/τ) of its drop")
def test_a_step_drops_the_cell_by_its_resistance_at_each_time_scale():
    cell = CellTruth(capacity_mah=1e9)
    current_a = np.full(3001, 30.0)
    course = run_cell(cell, current_a, 0.01, np.full(3001, 25.0))
    for seconds in (0.0, 1.0, 10.0):
        dropped = course.open_circuit_v[0] - course.voltage_v[round(seconds / 0.01)]
        by_hand = 0.0028 + 0.0012 * (1 - np.exp(-seconds / 1.1)) + 0.0015 * (1 - np.exp(-seconds / 28.0))
        assert dropped == pytest.approx(30.0 * by_hand, abs=1e-6)
        assert cell.drop_after_ohm(seconds) == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.source(
    "Arrhenius law with CODATA constants: 0.20 / 0.30 eV from 25 to 5 °C give ×1.750 / ×2.315"
)
@pytest.mark.parametrize(("energy_ev", "factor"), [(0.20, 1.750), (0.30, 2.315)])
def test_a_cold_cell_resists_more(energy_ev, factor):
    assert arrhenius_factor(5.0, energy_ev * 96.48533) == pytest.approx(factor, rel=1e-3)


def test_a_quarter_more_resistance_is_a_quarter_more_at_each_time_scale():
    healthy = simulate(short(), seed=3).truth.cells
    weak = simulate(with_cell(short(), 3, resistance=1.25), seed=3).truth.cells
    for name in ("resistance_ohm", "resistance_1s_ohm", "resistance_10s_ohm"):
        # the pack warms a little more
        assert getattr(weak[2], name) / getattr(healthy[2], name) == pytest.approx(1.25, abs=0.01)
        assert getattr(weak[1], name) / getattr(healthy[1], name) == pytest.approx(1.00, abs=0.01)


def test_a_pair_without_fault_is_even_and_a_heavier_propeller_takes_more_power():
    even = simulate(short(), seed=3).truth.pairs[0]
    assert even.imbalance_fraction == pytest.approx(0.0, abs=1e-9)
    heavy = simulate(
        with_fault(short(), "right", propeller_power=1.06, propeller_thrust=1.03), seed=3
    ).truth.pairs[0]
    # some of the 6 % is given back as speed
    assert 0.035 < heavy.imbalance_fraction < 0.06
    assert heavy.rpm_ratio < 1.0 < heavy.current_ratio


def test_a_sensors_gain_changes_the_log_and_not_the_truth():
    flown = simulate(with_fault(short(), "right", sensor_gain=1.1), seed=3)
    trace = flown.trace()
    assert flown.truth.pairs[0].imbalance_fraction == pytest.approx(0.0, abs=1e-9)
    right, left = (np.mean(trace.fresh("current_a", p).values) for p in ("right", "left"))
    assert right / left == pytest.approx(1.1, rel=0.01)


def test_a_late_sensor_shows_what_was():
    recorder = Recorder(
        sensors=(Sensor("pack_voltage_v", lag_s=0.3), Sensor("current_a", interval_s=0.5, step=0.1)),
        interval_s=0.1,
    )
    flown = simulate(short(recorders=(recorder,)), seed=3)
    trace, truth = flown.trace(), flown.truth
    seen = trace.fresh("pack_voltage_v")
    assert seen.values[5:] == pytest.approx(
        np.interp(seen.time_s[5:] - 0.3, truth.time_s, truth.at("pack_voltage_v")), abs=1e-9
    )
    held = trace.fresh("current_a")
    assert np.median(np.diff(held.time_s)) == pytest.approx(0.5)
    assert held.values * 10 == pytest.approx(np.round(held.values * 10), abs=1e-6)


@pytest.mark.parametrize(
    "kind", ["cut", "stall", "late_start", "reverse_ground", "reverse_air", "out_of_step"]
)
def test_what_happens_to_one_motor_is_in_its_speed_and_not_in_its_twins(kind):
    start_s = {"stall": 0.0, "late_start": 0.0, "reverse_ground": 12.0}.get(kind, 45.0)
    flown = simulate(
        short(happenings=(Happening(kind, "right", start_s, 3.0, -0.3 if "reverse" in kind else 0.0),)),
        seed=3,
    )
    truth, happened = flown.truth, flown.truth.happenings[0]
    during = (truth.time_s > happened.start_s + 0.8) & (truth.time_s < happened.end_s - 0.2)
    left, right = truth.at("rpm", "left")[during], truth.at("rpm", "right")[during]
    assert np.all(left > 500.0)
    assert np.all(right < 0.75 * left)
    assert np.all(right < 0.0) == ("reverse" in kind)


def test_overheating_leaves_the_twin_cool():
    truth = simulate(short(happenings=(Happening("overheating", "left", 30.0, size=150.0),)), seed=3).truth
    assert (
        np.max(truth.at("motor_temperature_c", "left"))
        > np.max(truth.at("motor_temperature_c", "right")) + 20.0
    )


@pytest.mark.parametrize(
    ("legs", "lift_offs"), [(touch_and_go(60.0), 2), (several(2, 30.0), 2), (taxi_only(), 0)]
)
def test_each_plan_leaves_the_ground_as_often_as_it_says(legs, lift_offs):
    truth = simulate(random_scenario(5, cells=5, legs=legs), seed=3).truth
    assert len(truth.takeoffs_s) == len(truth.landings_s) == lift_offs
    assert all(up < down for up, down in zip(truth.takeoffs_s, truth.landings_s, strict=True))


def test_a_log_that_starts_in_the_air_counts_its_truth_from_its_first_row():
    whole = simulate(short(), seed=3)
    part = simulate(with_record(short(), from_s=40.0, until_s=60.0), seed=3)
    assert part.truth.takeoff_s is None
    assert part.trace().time_s[0] == 0.0
    assert part.truth.end_s == pytest.approx(20.0, abs=0.11)
    assert part.truth.consumed_mah < 0.6 * whole.truth.consumed_mah
    assert np.interp(0.0, part.truth.time_s, part.truth.at("current_a")) == pytest.approx(
        np.interp(40.0, whole.truth.time_s, whole.truth.at("current_a"))
    )


def test_columns_can_be_taken_away():
    trace = simulate(with_channels(short(), without=("rpm", "current_a@")), seed=3).trace()
    assert not trace.positions("rpm")
    assert trace.positions("current_a") == ("left", "right")


@pytest.mark.source("arithmetic: the integral of the true current is the true charge")
def test_the_true_charge_is_what_the_current_adds_up_to(flown):
    truth = flown.truth
    within = (truth.time_s >= truth.start_s) & (truth.time_s <= truth.end_s)
    added = np.trapezoid(truth.at("current_a")[within], truth.time_s[within]) / 3.6
    assert truth.consumed_mah == pytest.approx(added, rel=1e-4)
    cells = flown.scenario.pack.cells
    for cell, figures in zip(cells, truth.cells, strict=True):
        assert (figures.start_left_fraction - figures.end_left_fraction) * cell.capacity_mah == pytest.approx(
            truth.consumed_mah, rel=1e-3
        )


@pytest.mark.parametrize("seed", range(6))
def test_drawn_aircraft_fly_like_aircraft(seed):
    scenario = random_scenario(seed)
    truth = simulate(scenario, seed=seed).truth
    assert truth.takeoff_s is not None
    assert truth.landing_s is not None
    assert truth.landing_s > truth.takeoff_s + 60.0
    assert np.max(truth.at("altitude_m")) > 20.0
    assert truth.min_pack_voltage_v / len(scenario.pack.cells) > 3.2
    assert 0.1 < truth.charge_left_fraction < 0.9
    # 130 to 500 W for each kilogram at full throttle (common practice, no source)
    assert 130.0 < np.max(truth.at("power_w")) / scenario.airframe.mass_kg < 500.0


def test_the_plain_scenario_is_the_mail_of_the_trade():
    # five cells of 5200 mAh, about 80 A together at full throttle (common practice, no source)
    truth = simulate(Scenario(), seed=1).truth
    assert truth.peak_a == pytest.approx(80.0, rel=0.15)
