"""What is said of a flight, and in which order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current, Margin
from telemetry.analysis.motors import Event, Motors, Pair, SpeedScale
from telemetry.analysis.pack import Cell, Pack, WeakCell
from telemetry.comparison.results import Bench, BenchItem, Comparison, Residual
from telemetry.estimate import Estimate, Undecided
from telemetry.findings import Results, judge
from telemetry.findings.words import finding
from telemetry.limits import HELD_BACK_FRACTION, LOADED_CELL_FLOOR_V, RESERVE_FRACTION
from telemetry.season.timer import Timer
from telemetry.sheet.setup import Drive, Motor, PackSetup, Setup
from telemetry.signals import signals_of
from telemetry.trace import Channel, Flight, Stretch, Trace

NO = Undecided("not in this test")


def cell(number: int, *, lowest_v: float = 3.5, ratio: float = 1.0) -> Cell:
    around = Estimate.around
    return Cell(
        number,
        4.18,
        lowest_v,
        57.0,
        around(0.5, 0.02),
        NO,
        around(0.0055, 0.0003),
        NO,
        3.8,
        30.0,
        around(ratio, 0.03),
    )


def pack(*cells: Cell, weak: tuple[WeakCell, ...] = ()) -> Pack:
    first = weak[0] if weak else None
    named = (first.cell, first.kind, first.reason) if first else (None, None, None)
    return Pack("A", len(cells), 20.9, 17.2, NO, NO, NO, NO, NO, cells, *named, weak, NO)


def margin(part: str, measured_a: float, rating_a: float, *, half_width: float = 0.3) -> Margin:
    return Margin(
        part,
        "",
        rating_a,
        30.0,
        Estimate.around(measured_a, half_width),
        (rating_a - measured_a) / rating_a,
        44.0,
    )


def pair(verdict: str = "even", cause: str = "none", imbalance: float = 0.004) -> Pair:
    return Pair(
        "left", "right", Estimate.around(imbalance, 0.006), NO, NO, verdict, cause, "current and speed agree"
    )


def timer(alarm_s: float = 255.0) -> Timer:
    return Timer(
        alarm_s,
        "throttle_up",
        4160.0,
        0.2,
        0.95,
        6,
        Estimate.around(480.0, 60.0),
        60.0,
        2500.0,
        3.6,
        "charge",
        "six flights",
    )


FLOWN = Flight(0.0, 400.0, 30.0, 380.0, Stretch(20.0, 385.0))


def logged(*more: Channel) -> Trace:
    """A log of 400 s, a row a second: the pack at rest, falling under load, at rest again."""
    time_s = np.arange(0.0, 401.0)
    loaded = (time_s >= 20.0) & (time_s <= 385.0)
    volts = np.where(loaded, 19.5 - 0.005 * time_s, 20.9) - 0.1 * np.sin(time_s) * loaded
    channels = [Channel("pack_voltage_v", "", volts, np.ones(401, bool), "Pack", 1.0), *more]
    return Trace(time_s, {(c.quantity, c.position): c for c in channels})


def results(flight: Flight = FLOWN, **changes: object) -> Results:
    setup = Setup("Saltmarsh Mail", "", PackSetup("A", 5, 5200.0))
    sound = Results(
        signals_of(logged(), flight),
        pack(cell(1), cell(2), cell(3, ratio=1.02)),
        Capacity(Estimate.around(2900.0, 15.0), 2890.0, NO, 0.56, 29.0, NO),
        Current(
            80.0,
            44.0,
            33.0,
            (),
            (margin("pack plug, steadily", 59.0, 70.0), margin("right motor, steadily", 20.0, 42.0)),
            {},
        ),
        Motors(("left", "right"), (pair(),), ()),
        None,
        Comparison((Residual("current_a", "", "mean", None, 29.0, 26.0, 32.0, 29.5, 0.017, ""),)),
        timer(),
        setup,
    )
    return replace(sound, **changes)


def keys(found: Results) -> list[tuple[str, str]]:
    return [(f.severity, f.key) for f in judge(found).findings]


def verdict(found: Results, question: str) -> str:
    return next(a.verdict for a in judge(found).answers if a.question == question)


def test_a_sound_flight_asks_for_nothing_and_is_given_no_order():
    said = judge(results())
    assert said.findings == ()
    assert (
        said.headline
        == "Nothing in this log speaks against the next flight; timer 4 min 15 s from a full pack."
    )
    assert [a.verdict for a in said.answers] == ["sound", "within", "even", "kept", "set"]


def test_two_checks_are_counted_in_the_headline():
    weak = WeakCell(3, "resistance", "1.32 times its neighbours'")
    found = results(
        pack=pack(cell(1), cell(2), cell(3, ratio=1.32), weak=(weak,)),
        motors=Motors(("left", "right"), (pair("uneven", "propeller", 0.068),), ()),
    )
    assert judge(found).headline == "Two checks before the next flight; timer 4 min 15 s from a full pack."
    assert keys(found) == [("check", "weak_cell_resistance"), ("check", "pair_uneven")]


@pytest.mark.source("common practice, no source: not below 3.0-3.3 V a cell under load")
def test_a_cell_under_the_floor_stops_the_flying():
    found = results(pack=pack(cell(1), cell(2, lowest_v=3.12)))
    assert LOADED_CELL_FLOOR_V.value == 3.3
    said = judge(found)
    assert (
        said.findings[0].message
        == "Cell 2 fell to 3.12 V under load. Do not fly this pack before you know why."
    )
    assert said.headline == "This speaks against the next flight: cell 2 fell to 3.12 V under load."
    assert "timer" not in said.headline


@pytest.mark.parametrize(
    ("measured_a", "half_width", "expected"),
    [
        (75.0, 1.0, ("stop", "over_rating")),
        (70.5, 1.0, ("check", "maybe_over_rating")),
        (66.0, 1.0, ("note", "close_to_rating")),
    ],
)
def test_a_part_over_its_rating_stops_when_sure_and_is_checked_when_not(measured_a, half_width, expected):
    load = Current(
        80.0, 44.0, 33.0, (), (margin("pack plug, steadily", measured_a, 70.0, half_width=half_width),), {}
    )
    assert keys(results(current=load)) == [expected]


def test_without_ratings_the_load_is_undecided_and_the_peak_is_still_said():
    found = results(current=Current(80.0, 44.0, 33.0, (), (), {}))
    answer = next(a for a in judge(found).answers if a.question == "load")
    assert answer.verdict == "undecided"
    assert "80.0 A" in answer.sentence


@pytest.mark.source(
    "common practice, no source: reversing controllers are for the ground, reverse in the air is an emergency"
)
def test_reverse_in_the_air_stops_and_on_the_ground_is_a_note():
    air, ground = Event("reverse_air", "both", 100.0, 101.0), Event("reverse_ground", "both", 390.0, 392.0)
    found = results(motors=Motors(("left", "right"), (pair(),), (ground, air)))
    assert keys(found) == [("stop", "motor_event_reverse_air"), ("note", "motor_event_reverse_ground")]


@pytest.mark.source("common practice, no source: land with about 20 % in the pack")
def test_landing_below_the_reserve_is_checked_and_far_below_stops():
    assert RESERVE_FRACTION.value == 0.2

    def landed(left: float) -> Results:
        return results(pack=replace(results().pack, charge_left_fraction=Estimate.around(left, 0.06)))

    assert keys(landed(0.27)) == []
    assert keys(landed(0.17)) == [("check", "reserve_used")]
    assert keys(landed(0.08)) == [("stop", "reserve_used")]


def test_an_unexplained_miss_is_a_check_and_an_explained_one_a_note():
    miss = Residual("pack_voltage_v", "", "min", None, 17.4, 17.0, 17.8, 16.5, -0.052, "")
    explained = replace(miss, explained_by="the pack is colder than the sheet says")
    assert keys(results(comparison=Comparison((miss,)))) == [("check", "prediction_missed")]
    assert keys(results(comparison=Comparison((explained,)))) == [("note", "prediction_missed")]
    assert verdict(results(comparison=Comparison((miss,))), "prediction") == "missed"
    assert verdict(results(comparison=Comparison((explained,))), "prediction") == "explained"


@pytest.mark.source(
    "common practice, no source: propellers that turn opposite ways are handed, a swap reverses their thrust"
)
@pytest.mark.parametrize(("handed", "swaps"), [(True, False), (None, False), (False, True)])
def test_handed_propellers_are_never_to_be_swapped(handed, swaps):
    uneven = replace(pair("uneven", "propeller", 0.068), handed=handed)
    (found,) = judge(results(motors=Motors(("left", "right"), (uneven,), ()))).findings
    assert ("swap the two propellers" in found.message) is swaps
    assert ("spare propeller of the same hand" in found.message) is not swaps


def test_over_the_limit_and_hotter_than_the_twin_are_said_apart_and_once_each():
    twin = Event(
        "overheating", "left", 100.0, 200.0, against="twin", evidence="motor 80 °C, its twin's 50 °C"
    )
    limit = Event("overheating", "left", 150.0, 200.0, against="limit")
    warm_c = np.where(np.arange(401.0) > 150, 80.0, 40.0)
    warm = Channel("motor_temperature_c", "left", warm_c, np.ones(401, bool), "T", 1.0)
    drives = (Drive("left", Motor(max_temperature_c=70.0)), Drive("right", Motor(max_temperature_c=70.0)))
    setup = Setup("Saltmarsh Mail", "", PackSetup("A", 5, 5200.0), drives=drives)
    found = results(
        signals=signals_of(logged(warm), FLOWN),
        setup=setup,
        motors=Motors(("left", "right"), (pair(),), (twin, limit)),
    )
    assert keys(found) == [("stop", "part_hot"), ("check", "motor_event_overheating")]
    hot, apart = judge(found).findings
    assert (hot.subject, apart.subject) == ("the left motor", "left motor")
    assert "twin" not in hot.message and "twin" in apart.message


def test_a_severity_that_the_table_does_not_know_is_refused():
    with pytest.raises(ValueError, match="cell_under_floor is stop, not 'note'"):
        finding("cell_under_floor", "cell 1", "note")
    with pytest.raises(ValueError, match="reserve_used is stop or check"):
        finding("reserve_used", "pack")


def test_without_a_sheet_nothing_is_predicted_and_no_timer_is_set():
    no_sheet = Undecided("no set-up sheet was given")
    found = results(setup=None, comparison=Comparison(no_sheet), timer=no_sheet)
    assert verdict(found, "prediction") == verdict(found, "timer") == "undecided"
    assert (
        judge(found).headline
        == "Nothing in this log speaks against the next flight; no timer can be set from this log."
    )


def test_a_taxi_run_is_said_to_be_one():
    ground = Flight(0.0, 120.0, NO, NO, Stretch(20.0, 100.0), is_taxi=True)
    assert (
        judge(results(flight=ground)).headline
        == "Nothing in this log speaks against the next flight; a run on the ground, without a take-off."
    )


def test_one_motor_has_no_twin_to_compare():
    assert verdict(results(motors=Motors(("centre",), (), ())), "pair") == "single"


def test_one_logged_motor_of_a_twin_leaves_the_pair_undecided():
    found = results(motors=Motors(("left",), (), ()))
    answer = next(a for a in judge(found).answers if a.question == "pair")
    assert answer.verdict == "undecided"
    assert "one motor channel" in answer.sentence


def test_a_gain_of_one_sensor_leaves_the_pair_even_with_that_cause():
    found = results(motors=Motors(("left", "right"), (pair("even", "sensor", 0.002),), ()))
    assert verdict(found, "pair") == "even"
    assert keys(found) == [("note", "pair_cause")]


@pytest.mark.parametrize(
    ("verdicts", "headline"),
    [
        (("ready", "ready"), "Nothing in this log speaks against the next flight; a run-up on the bench."),
        (("ready", "undecided"), "Open before the next flight: one item of the run-up."),
        (("not_ready", "undecided"), "This speaks against the next flight: a sentence."),
    ],
)
def test_a_run_up_is_ready_open_or_not_ready(verdicts, headline):
    items = tuple(BenchItem(f"check {i}", v, "a sentence", severity="stop") for i, v in enumerate(verdicts))
    ready = None if "undecided" in verdicts else True
    assert judge(results(bench=Bench(ready, items))).headline == headline


def test_stop_comes_before_check_before_note():
    found = results(
        pack=pack(cell(1, lowest_v=2.9), weak=(WeakCell(1, "unbalanced", "12 mV low from the start"),)),
        current=Current(80.0, 44.0, 33.0, (), (margin("pack plug, steadily", 66.0, 70.0),), {}),
    )
    assert [severity for severity, _ in keys(found)] == ["stop", "check", "note"]


def test_lost_load_stops_and_the_pair_speaks_of_what_is_left_since():
    lost = Event(
        "thrust_lost", "right", 93.0, 180.0, 0.23, evidence="torque for its speed fell by 45 % at once"
    )
    since = replace(
        pair("uneven", "propeller", -0.51), since_s=93.0, current_ratio=Estimate.around(0.6, 0.01)
    )
    found = results(motors=Motors(("left", "right"), (since,), (lost,)))
    assert keys(found) == [("stop", "thrust_lost"), ("check", "pair_uneven")]
    stop, check = judge(found).findings
    assert stop.subject == "right motor"
    assert check.title == "The left motor takes more power, since the other lost load."
    assert "Since 1:33: " in check.evidence


@pytest.mark.parametrize(("lost", "severity"), [(0.3, "check"), (0.55, "stop")])
def test_half_of_the_thrust_held_back_is_a_stop_and_less_of_it_a_check(lost, severity):
    assert HELD_BACK_FRACTION.value == 0.5
    held = Event("controller_limited", "both", 300.0, 380.0, lost, evidence="speed fell to 70 %")
    found = results(motors=Motors(("left", "right"), (pair(),), (held,)))
    assert keys(found) == [(severity, "controller_limited")]
    assert judge(found).findings[0].title.startswith("The controllers of both motors gave less")


@pytest.mark.parametrize(("by_current", "severity"), [(True, "note"), (False, "check")])
def test_a_speed_off_by_a_factor_is_a_note_where_currents_settle_it(by_current, severity):
    scale = SpeedScale("left", "right", 7 / 6, (7, 6), "right", by_current)
    found = results(motors=Motors(("left", "right"), (pair(),), (), speed_scales=(scale,)))
    assert keys(found) == [(severity, "rpm_scale")]
    assert judge(found).findings[0].title == (
        "The speed of the right motor reads off by one factor: right ÷ left is 1.167 at every load, as 7 ÷ 6."
    )


def test_a_dragging_motor_takes_more_power_whatever_reaches_its_propeller():
    drags = replace(pair("uneven", "drag", -0.038), current_ratio=Estimate.around(1.156, 0.01))
    (found,) = judge(results(motors=Motors(("left", "right"), (drags,), ()))).findings
    assert found.title == "The right motor takes more power, by drag in the bearings."
    assert "current +15.6 %" in found.evidence
