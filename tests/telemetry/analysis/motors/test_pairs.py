"""A pair is even or not, and why, on invented flights whose truth is known."""

import dataclasses

import numpy as np
import pytest

from telemetry.analysis.motors import analyse
from telemetry.estimate import Estimate, Undecided, plain
from telemetry.sheet.setup import Drive, PackSetup, Setup
from telemetry.signals import signals_of

SEEDS = range(300, 304)


def pairs_of(fly, cause, size, **choices):
    flown = [fly(seed, cause, size, **choices) for seed in SEEDS]
    return [(analyse(signals_of(trace, flight)).pairs[0], truth) for trace, flight, truth in flown]


@pytest.mark.parametrize(
    "choices",
    [
        {},
        {"bench": True},
        {"has": ("throttle", "rpm")},
        {"has": ("throttle", "current")},
        {"has": ("voltage", "current", "rpm")},
    ],
)
def test_an_even_pair_is_never_called_uneven(fly, choices):
    found = pairs_of(fly, "none", 0.0, **choices)
    assert all(pair.verdict != "uneven" for pair, _ in found)
    assert sum(pair.verdict == "even" for pair, _ in found) >= 3


@pytest.mark.parametrize(
    ("cause", "size"), [("propeller", 0.08), ("kv", -0.02), ("winding", 0.25), ("drag", 2.0)]
)
def test_an_uneven_pair_is_seen_and_its_cause_never_mistaken(fly, cause, size):
    found = pairs_of(fly, cause, size)
    assert sum(pair.verdict == "uneven" for pair, _ in found) >= 3
    assert {pair.cause for pair, _ in found} <= {cause, "undecided"}
    assert sum(pair.cause == cause for pair, _ in found) >= 3


def test_the_imbalance_is_measured_and_its_interval_holds_it(fly):
    found = [
        one
        for cause, size in (("propeller", 0.08), ("kv", -0.02), ("winding", 0.25))
        for one in pairs_of(fly, cause, size)
    ]
    close = [
        abs(pair.imbalance_fraction.value - truth.imbalance) <= max(0.015, 0.3 * abs(truth.imbalance))
        for pair, truth in found
    ]
    held = [
        pair.imbalance_fraction.low <= truth.imbalance <= pair.imbalance_fraction.high
        for pair, truth in found
    ]
    assert sum(close) >= 0.85 * len(found)
    assert sum(held) >= 0.85 * len(found)


def test_ratios_are_right_over_left(fly):
    trace, flight, truth = fly(41, "kv", 0.04)
    pair = analyse(signals_of(trace, flight)).pairs[0]
    assert truth.rpm_ratio > 1.02
    assert pair.rpm_ratio.value == pytest.approx(truth.rpm_ratio, abs=0.002)
    assert pair.current_ratio.value == pytest.approx(truth.current_ratio, abs=0.015)
    assert pair.imbalance_fraction.value > 0.05


def test_a_sensor_that_reads_high_is_no_uneven_pair(fly):
    found = pairs_of(fly, "sensor", 0.08)
    assert all(pair.verdict in ("even", "undecided") for pair, _ in found)
    assert all(pair.cause in ("sensor", "undecided") for pair, _ in found)
    assert sum(pair.cause == "sensor" for pair, _ in found) >= 3


@pytest.mark.parametrize("seed", [50012, 50067])
def test_a_propeller_that_takes_six_per_cent_less_is_an_uneven_pair_also_in_a_poor_log(fly, seed):
    trace, flight, truth = fly(seed, "propeller", -0.06)
    pair = analyse(signals_of(trace, flight)).pairs[0]
    assert truth.imbalance < -0.03
    assert (pair.verdict, pair.cause) == ("uneven", "propeller")


@pytest.mark.parametrize(("seed", "size"), [(50016, 0.084), (50087, 0.092)])
def test_a_sensor_that_stands_out_as_the_cause_is_named(fly, seed, size):
    trace, flight, _ = fly(seed, "sensor", size)
    pair = analyse(signals_of(trace, flight)).pairs[0]
    assert (pair.verdict, pair.cause) == ("even", "sensor")


def test_thrust_mixed_on_purpose_is_taken_out(fly):
    trace, flight, _ = fly(7, "none", 0.0, mix=0.12, own_commands=True)
    pair = analyse(signals_of(trace, flight)).pairs[0]
    assert (pair.verdict, pair.cause) in (("even", "mixed"), ("even", "none"))


def test_speed_alone_cannot_tell_a_propeller_from_kv(fly):
    """Common practice, no source: both change nothing but the speed at a command."""
    for pair, _ in pairs_of(fly, "kv", 0.03, has=("throttle", "rpm")):
        assert pair.cause == "undecided"
        assert "propeller" in pair.reason and "Kv" in pair.reason and "without propellers" in pair.reason
        assert isinstance(pair.current_ratio, Undecided)


def test_current_alone_cannot_tell_a_propeller_from_a_sensor(fly):
    for cause, size in (("propeller", 0.10), ("sensor", 0.07)):
        for pair, _ in pairs_of(fly, cause, size, has=("throttle", "current")):
            assert pair.cause == "undecided"
            assert pair.verdict != "even"
            assert "propeller" in pair.reason and "sensor" in pair.reason
            assert "spare propeller of the same hand" in pair.reason


@pytest.mark.source(
    "common practice, no source: propellers that turn opposite ways are handed, a swap reverses their thrust"
)
@pytest.mark.parametrize(
    ("rotations", "swapped"),
    [
        (("clockwise", "anticlockwise"), False),
        (("clockwise", "clockwise"), True),
        ((None, "clockwise"), False),
    ],
)
def test_propellers_are_swapped_only_where_both_are_known_to_turn_the_same_way(fly, rotations, swapped):
    drives = [Drive(p, rotation=r) for p, r in zip(("left", "right"), rotations, strict=True)]
    trace, flight, _ = fly(8, "propeller", 0.10, has=("throttle", "current"))
    pair = analyse(signals_of(trace, flight), drives=drives).pairs[0]
    assert ("swap the propellers" in pair.reason) is swapped
    assert pair.handed is (None if None in rotations else rotations[0] != rotations[1])


def test_temperatures_alone_give_no_verdict_but_events(fly):
    trace, flight, _ = fly(5, has=("throttle", "temperature"))
    motors = analyse(signals_of(trace, flight))
    assert motors.pairs[0].verdict == "undecided"
    assert isinstance(motors.pairs[0].imbalance_fraction, Undecided)
    assert motors.events == ()


def test_a_single_motor_has_no_pair_and_says_so(fly):
    trace, flight, _ = fly(5, names=("centre",))
    motors = analyse(signals_of(trace, flight))
    assert motors.positions == ("centre",)
    assert motors.pairs == ()
    assert "one motor" in motors.sides


def test_numbered_motors_are_a_pair_without_sides_until_the_sheet_says(fly):
    trace, flight, _ = fly(5, "kv", 0.04, names=("1", "2"))
    unsaid = analyse(signals_of(trace, flight))
    assert (unsaid.pairs[0].left, unsaid.pairs[0].right) == ("1", "2")
    assert "logged_as" in unsaid.sides
    drives = (Drive("left", logged_as="2"), Drive("right", logged_as="1"))
    setup = Setup("a twin", "", PackSetup("A", 5, 5000.0), drives=drives)
    said = analyse(signals_of(trace, flight, setup), drives=drives)
    assert (said.pairs[0].left, said.pairs[0].right) == ("left", "right")
    assert said.sides == ""
    assert said.pairs[0].imbalance_fraction.value == pytest.approx(
        -unsaid.pairs[0].imbalance_fraction.value, abs=0.01
    )


def test_four_motors_are_two_pairs(fly):
    trace, flight, _ = fly(5, names=("left_outer", "right_outer"))
    other, _, _ = fly(5, "kv", 0.04, names=("left_inner", "right_inner"))
    both = type(trace)(trace.time_s, {**trace.channels, **other.channels})
    outer, inner = analyse(signals_of(both, flight)).pairs
    assert (outer.left, outer.right, outer.verdict) == ("left_outer", "right_outer", "even")
    assert (inner.left, inner.right, inner.verdict) == ("left_inner", "right_inner", "uneven")


def test_a_log_too_short_to_compare_says_so(fly):
    trace, flight, _ = fly(5)
    short = type(flight)(0.0, 14.0, flight.takeoff_s, flight.landing_s, flight.powered)
    pair = analyse(signals_of(trace, short)).pairs[0]
    assert pair.verdict == "undecided"
    assert isinstance(pair.imbalance_fraction, Undecided)


def test_the_sheet_narrows_and_nothing_logged_is_changed(fly):
    trace, flight, _ = fly(11, "propeller", 0.06)
    before = {key: channel.values.copy() for key, channel in trace.channels.items()}
    assert isinstance(analyse(signals_of(trace, flight)).pairs[0].imbalance_fraction, Estimate)
    assert all((before[key] == trace.channels[key].values)[trace.channels[key].fresh].all() for key in before)


@pytest.mark.parametrize("seed", range(12))
def test_a_crippled_log_gives_results_without_a_fault(fly, seed):
    """Channels gone, dead, frozen, reversed or cut off, and odd ends: whatever is said is a number or a
    reason.
    """
    random = np.random.default_rng(seed)
    trace, flight, _ = fly(2, "propeller", 0.1, mix=0.1)
    channels = {}
    for key, channel in trace.channels.items():
        values, fresh = channel.values.copy(), channel.fresh.copy()
        match random.integers(7):
            case 0:
                continue
            case 1:
                values = np.where(np.isfinite(values), 0.0, values)
            case 2:
                fresh &= np.cumsum(fresh) == 1
            case 3:
                values = -values
            case 4:
                fresh[random.integers(10, fresh.size) :] = False
        channels[key] = dataclasses.replace(channel, values=values, fresh=fresh)
    short = dataclasses.replace(flight, end_s=flight.start_s + float(random.choice([0.5, 3.0, 30.0, 150.0])))
    result, _ = plain(analyse(signals_of(dataclasses.replace(trace, channels=channels), short)))
    assert {"positions", "pairs", "events", "sides"} <= result.keys()
