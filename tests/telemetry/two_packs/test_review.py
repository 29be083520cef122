"""Two packs, each feeding one motor: every figure against what was true of each pack."""

from dataclasses import replace

import numpy as np
import pytest

from telemetry import review
from telemetry.sheet import Sheet
from telemetry.simulate import Happening, bench_steps, simulate
from telemetry.simulate.two_packs import SEED, two_packs

SIDES = ("left", "right")


@pytest.fixture(scope="module")
def flight(reviewed):
    (one,) = reviewed.flights
    return one


@pytest.fixture(scope="module")
def printed(reviewed):
    return reviewed.to_dict()["flights"][0]


def pack_of(flight, side):
    return next(one for one in flight.packs if one.position == side)


@pytest.mark.parametrize("side", SIDES)
def test_what_left_each_pack_is_known_within_one_percent(flown, flight, side):
    true_mah = np.ptp(flown.truth.at("charge_mah", f"{side}_pack"))
    assert pack_of(flight, side).capacity.consumed_mah.value == pytest.approx(true_mah, rel=0.01)


def test_charge_and_energy_are_the_sums_of_both_packs(flown, flight):
    each = [pack_of(flight, side).capacity for side in SIDES]
    assert flight.capacity.consumed_mah.value == pytest.approx(sum(c.consumed_mah.value for c in each))
    assert flight.capacity.consumed_mah.value == pytest.approx(flown.truth.consumed_mah, rel=0.01)
    assert flight.capacity.energy_wh.value == pytest.approx(flown.truth.energy_wh, rel=0.01)


def test_peak_and_sustained_current_are_those_of_both_packs_together(flown, flight):
    assert flight.current.peak_a == pytest.approx(flown.truth.peak_a, rel=0.02)
    whole = flight.current.sustained[-1]
    assert whole.max_mean_a * whole.window_s / 3.6 == pytest.approx(
        flight.capacity.consumed_mah.value, rel=0.001
    )


def test_the_weak_cell_is_found_in_the_right_pack_and_in_no_other(flight):
    assert pack_of(flight, "right").pack.weak_cell == 2
    assert pack_of(flight, "left").pack.weak_cell is None
    said = [f for f in flight.findings if f.key == "weak_cell_resistance"]
    assert [f.subject for f in said] == ["right pack, cell 2"]
    assert said[0].message.startswith("Right pack: cell 2")
    assert flight.decision in ("check", "stop")


def test_pack_is_the_one_that_needs_action_first(printed):
    assert [one["position"] for one in printed["packs"]] == ["left", "right"]
    assert printed["pack"]["name"] == "B"
    assert printed["pack"]["weak_cell"] == 2


def test_the_weak_cell_has_1_7_times_its_neighbours_resistance(flight):
    ratio = pack_of(flight, "right").pack.cells[1].resistance_ratio
    assert ratio.low < 1.7 < ratio.high or ratio.value == pytest.approx(1.7, rel=0.02)


def test_a_weaker_pack_on_one_side_makes_no_uneven_pair(flown, flight):
    (pair,) = flight.motors.pairs
    (true,) = flown.truth.pairs
    assert true.current_ratio < 0.98, "the right motor draws less, on its weaker pack"
    assert pair.verdict == "even"
    assert pair.imbalance_fraction.low <= true.imbalance_fraction <= pair.imbalance_fraction.high
    assert pair.current_ratio.value == pytest.approx(1.0, abs=0.01), "on one supply voltage"


def test_the_timer_is_the_shorter_one_and_names_its_pack(flight, printed):
    alarms = {one["name"]: one["timer"]["alarm_s"] for one in printed["packs"]}
    assert printed["timer"]["alarm_s"] == min(alarms.values())
    assert alarms[printed["timer"]["pack"]] == min(alarms.values())
    assert printed["timer"]["usable_mah"] == pytest.approx(0.8 * 3000.0)
    assert "right pack" in flight.answer("timer").sentence


def test_each_pack_is_held_against_its_share_of_the_sheet(printed):
    told = {(p["quantity"], p["position"], p["statistic"]) for p in printed["prediction"]}
    for side in SIDES:
        assert {
            ("current_a", f"{side}_pack", "mean"),
            ("pack_voltage_v", f"{side}_pack", "mean"),
            ("pack_voltage_v", f"{side}_pack", "min"),
            ("rpm", side, "mean"),
        } <= told


def test_each_pack_is_held_against_its_own_rating(flight):
    rated = {m.part: m for m in flight.current.limits}
    for side in SIDES:
        margin = rated[f"{side} pack, steadily"]
        assert (margin.position, margin.rating_a) == (f"{side}_pack", 90.0)
        assert margin.measured_a.value < 90.0


def test_without_a_sheet_both_packs_are_reviewed_all_the_same(flown):
    (flight,) = review(flown.trace()).flights
    assert [(one.position, one.pack.weak_cell) for one in flight.packs] == [("left", None), ("right", 2)]
    assert all(one.pack.cell_count == 5 for one in flight.packs)


def test_a_sheet_with_one_pack_for_both_motors_is_contradicted(flown):
    twin = '[[motors]]\nposition = "left"\n[[motors]]\nposition = "right"\n'
    one_pack = Sheet.from_text("[pack]\ncells = 5\ncapacity_mah = 6000\n" + twin)
    (flight,) = review(flown.trace(), one_pack).flights
    assert flight.decision == "stop"
    assert "[[packs]] feeds" in next(f for f in flight.findings if f.key == "sheet_contradicted").evidence


def test_a_pack_that_was_emptied_further_than_the_other_limits(reviewed):
    smaller = simulate(two_packs(capacity_mah=1100.0), seed=SEED)
    (flight,) = review(smaller.trace(), reviewed.setup).flights
    left = {one.position: one.pack.charge_left_by_rest_fraction.value for one in flight.packs}
    assert left["right"] < left["left"] - 0.15
    assert flight.pack.name == "B"


def test_a_pair_is_undecided_where_the_packs_voltages_are_not_known(flown, reviewed):
    trace = flown.trace()
    no_volts = ("pack_voltage_v", "cell_voltage_v")
    kept = {key: channel for key, channel in trace.channels.items() if key[0] not in no_volts}
    (flight,) = review(replace(trace, channels=kept), reviewed.setup).flights
    assert flight.motors.pairs[0].verdict == "undecided"
    assert flight.decision == "open"


def test_one_motor_that_stops_freezes_no_reading_of_its_resting_pack():
    cut = replace(two_packs(), happenings=(Happening("cut", "left", 120.0, 8.0),))
    (flight,) = review(simulate(cut, seed=5).trace()).flights
    assert [f.key for f in flight.findings if f.severity == "stop"] == ["motor_event_cut"]
    assert not [d for one in flight.packs for d in one.decisions if d.kind == "stuck"]


def test_a_run_up_names_the_pack_whose_cells_are_not_level(reviewed):
    bench = simulate(replace(two_packs(), legs=bench_steps()), seed=3)
    (flight,) = review(bench.trace(), reviewed.setup, bench=True).flights
    level = next(i for i in flight.bench.items if i.check == "cells level")
    assert level.verdict == "not_ready"
    assert level.sentence.startswith("Right pack: cell 2 needs attention")
