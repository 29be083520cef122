"""Everything a motor did that it should not have, and nothing it did not do."""

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.motors import analyse
from telemetry.estimate import Estimate, Undecided
from telemetry.sheet.setup import Drive, Motor, Propeller, StaticPoint
from telemetry.signals import signals_of

INBOARD = (
    Drive(
        "left",
        propeller=Propeller(static_points=(StaticPoint(rpm=9000.0, thrust_n=20.0),)),
        rotation="clockwise",
        arm_m=0.3,
    ),
    Drive(
        "right",
        propeller=Propeller(static_points=(StaticPoint(rpm=9000.0, thrust_n=20.0),)),
        rotation="anticlockwise",
        arm_m=0.3,
    ),
)
OUTBOARD = tuple(
    Drive(d.position, propeller=d.propeller, rotation=r, arm_m=0.3)
    for d, r in zip(INBOARD, ("anticlockwise", "clockwise"), strict=True)
)


@pytest.mark.parametrize(
    "kind", ["cut", "out_of_step", "stall", "late_start", "reverse_ground", "reverse_air", "overheating"]
)
@pytest.mark.parametrize("seed", [6000, 6001, 6003])
def test_an_event_is_found_where_it_was(fly, kind, seed):
    motor = "both" if kind.startswith("reverse") else ("left", "right")[seed % 2]
    trace, flight, truth = fly(seed, event=(kind, motor))
    events = analyse(signals_of(trace, flight)).events
    _, _, start_s, end_s = truth.events[0]
    assert [(e.kind, e.motor) for e in events] == [(kind, motor)]
    assert events[0].start_s == pytest.approx(start_s, abs=8.0 if kind == "overheating" else 1.6)
    assert events[0].end_s == pytest.approx(end_s, abs=2.5)


@pytest.mark.parametrize("seed", range(5100, 5112))
def test_a_clean_flight_has_no_event(fly, seed):
    cause, size = [("none", 0.0), ("propeller", 0.08), ("winding", 0.25), ("kv", 0.03)][seed % 4]
    trace, flight, _ = fly(seed, cause, size)
    assert analyse(signals_of(trace, flight)).events == ()


def test_a_cut_is_not_an_uneven_pair(fly):
    trace, flight, _ = fly(6001, event=("cut", "right"))
    assert analyse(signals_of(trace, flight)).pairs[0].verdict == "even"


@pytest.mark.source("common practice, no source (inboard-turning propellers help with a dead motor)")
@pytest.mark.parametrize("dead", ["left", "right"])
def test_inboard_turning_propellers_roll_away_from_the_dead_side(fly, dead):
    trace, flight, _ = fly(6001, event=("cut", dead))
    inboard = analyse(signals_of(trace, flight), drives=INBOARD).events[0]
    outboard = analyse(signals_of(trace, flight), drives=OUTBOARD).events[0]
    away = 1 if dead == "left" else -1
    assert inboard.torque_helps is True
    assert outboard.torque_helps is False
    assert inboard.rolling_moment_nm.value * away > 0
    assert outboard.rolling_moment_nm.value * away < 0


@pytest.mark.parametrize(("dead", "sign"), [("left", -1), ("right", 1)])
def test_the_nose_swings_to_the_dead_side(fly, dead, sign):
    trace, flight, _ = fly(6001, event=("cut", dead))
    event = analyse(signals_of(trace, flight), drives=INBOARD).events[0]
    assert event.thrust_lost_fraction == 0.5
    assert isinstance(event.thrust_lost_n, Estimate)
    assert event.yawing_moment_nm.value == pytest.approx(sign * 0.3 * event.thrust_lost_n.value)


def test_without_a_sheet_the_moments_say_what_is_missing(fly):
    trace, flight, _ = fly(6001, event=("cut", "right"))
    event = analyse(signals_of(trace, flight)).events[0]
    assert isinstance(event.thrust_lost_n, Undecided)
    assert isinstance(event.rolling_moment_nm, Undecided)


def test_a_stick_that_rests_below_zero_is_no_reverse(fly):
    """Radios that log full travel from -1 leave the stick at -1 when it is closed; nothing turns."""
    trace, flight, _ = fly(5)
    key = ("throttle_fraction", "")
    stick = trace.channels[key]
    closed = stick.values.copy()
    closed = 2.0 * closed - 1.0
    shifted = type(stick)(*key, closed, stick.fresh, stick.header, stick.refresh_interval_s, stick.step)
    motors = analyse(signals_of(type(trace)(trace.time_s, {**trace.channels, key: shifted}), flight))
    assert not any(e.kind.startswith("reverse") for e in motors.events)


@pytest.mark.parametrize(
    "has", [("voltage", "throttle", "current", "rpm"), ("throttle", "current"), ("throttle", "rpm")]
)
@pytest.mark.parametrize("seed", [8006, 8012, 8017, 8021])
def test_a_motor_logged_alone_does_nothing_odd_in_a_clean_flight(fly, seed, has):
    """Eased after a fast stretch it draws next to nothing while the air turns its propeller: that is no
    cut.
    """
    trace, flight, _ = fly(seed, has=has)
    alone = type(trace)(
        trace.time_s, {key: channel for key, channel in trace.channels.items() if key[1] != "right"}
    )
    assert analyse(signals_of(alone, flight)).events == ()


def test_a_cut_of_a_motor_logged_alone_is_found(fly):
    trace, flight, truth = fly(8200, event=("cut", "left"))
    alone = type(trace)(
        trace.time_s, {key: channel for key, channel in trace.channels.items() if key[1] != "right"}
    )
    (cut,) = analyse(signals_of(alone, flight)).events
    assert (cut.kind, cut.motor) == ("cut", "left")
    assert cut.start_s == pytest.approx(truth.events[0][2], abs=1.6)


def test_currents_alone_admit_which_events_they_cannot_show(fly):
    trace, flight, _ = fly(5100, has=("throttle", "current"))
    assert "late start" in analyse(signals_of(trace, flight)).unseen
    trace, flight, _ = fly(5100)
    assert analyse(signals_of(trace, flight)).unseen == ""


def test_a_limit_below_both_motors_temperatures_is_no_difference_between_the_twins(fly):
    trace, flight, _ = fly(5100)
    warm = {p: trace.fresh("motor_temperature_c", p, within=flight) for p in ("left", "right")}
    limit_c = min(float(shown.values.max()) for shown in warm.values()) - 3.0
    drives = tuple(Drive(p, Motor(max_temperature_c=limit_c)) for p in warm)
    events = analyse(signals_of(trace, flight), drives=drives).events
    assert [(e.kind, e.motor, e.against) for e in events] == [
        ("overheating", "left", "limit"),
        ("overheating", "right", "limit"),
    ]
    for event in events:
        over_s = warm[event.motor].time_s[warm[event.motor].values > limit_c]
        assert (event.start_s, event.end_s) == (over_s[0], over_s[-1])


@pytest.mark.parametrize(("seed", "motor"), [(6000, "left"), (6001, "right")])
def test_a_motor_hotter_than_its_twin_and_over_its_limit_is_said_of_both(fly, seed, motor):
    trace, flight, _ = fly(seed, event=("overheating", motor))
    hottest_c = trace.fresh("motor_temperature_c", motor, within=flight).values.max()
    drives = tuple(Drive(p, Motor(max_temperature_c=float(hottest_c) - 2.0)) for p in ("left", "right"))
    events = analyse(signals_of(trace, flight), drives=drives).events
    assert sorted((e.motor, e.against) for e in events) == [(motor, "limit"), (motor, "twin")]


@pytest.mark.parametrize("silent", ["before", "after"])
def test_a_recorder_that_began_late_or_stopped_early_tells_of_no_event(fly, silent):
    trace, flight, _ = fly(5101, "none", 0.0)
    middle_s = (flight.start_s + flight.end_s) / 2.0
    gone = trace.time_s < middle_s if silent == "before" else trace.time_s > middle_s
    channels = {
        key: replace(c, values=np.where(gone, np.nan, c.values), fresh=c.fresh & ~gone)
        if key[1] in ("left", "right") and key[0] in ("current_a", "rpm")
        else c
        for key, c in trace.channels.items()
    }
    assert analyse(signals_of(replace(trace, channels=channels), flight)).events == ()
