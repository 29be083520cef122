"""What a motor did that it should not have done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.ndimage import maximum_filter1d

from telemetry.analysis.motors.changes import load_change, lost_load
from telemetry.analysis.motors.failing import behind_twin, failing, near, pulled, starting
from telemetry.analysis.motors.heat import PartTemperature, heat_events
from telemetry.analysis.motors.limiting import held_back, share_left
from telemetry.analysis.motors.moments import weigh_events
from telemetry.analysis.motors.results import Event
from telemetry.analysis.motors.rows import DRAWS, MotorRows, rows_of, stretches
from telemetry.analysis.motors.sides import MotorLog
from telemetry.estimate import Undecided
from telemetry.sentences import say, undecided
from telemetry.trace import Flags, Flight, Floats, Stretch

REVERSE = -0.05
"""A command below it asks for reverse; nearer to zero lies a stick's own play."""

LONE_SPEED = 0.6
"""The same without a twin: at one command a propeller turns up to a third slower standing still than in the
air, and nothing else tells.
"""

LONE_IDLE_SPEED = 0.8
"""Speed at which a motor that draws nothing still is a driven one: without a twin, a falling pack and a dive
move its usual speed by a tenth and more.
"""


@dataclass(frozen=True, slots=True)
class FoundEvents:
    """Events in order of time, whether reverse was commanded, which motors followed, and since when the load
    of a pair is another, by its left and right position. [s]
    """

    events: tuple[Event, ...] | Undecided
    reverse_asked: bool = False
    reverse_answered: tuple[str, ...] = ()
    since_s: Mapping[tuple[str, ...], float] = field(default_factory=dict)


def find_events(log: MotorLog, flight: Flight, temperatures: Sequence[PartTemperature]) -> FoundEvents:
    """Every event of a flight."""
    pairs = log.pairs
    alone = [(p,) for p in log.sides if not any(p in pair for pair in pairs)]
    groups = [rows_of(log, flight, group) for group in (*pairs, *alone)]
    groups = [g for g in groups if g]
    if not groups and not temperatures:
        return FoundEvents(undecided("motors", "nothing_single"))
    found: list[Event] = []
    since_s: dict[tuple[str, ...], float] = {}
    for group in groups:
        held = _held_back(group)
        failures = [e for e in _failures(group, flight) if not _within_long(e, held)]
        own = [*failures, *_reversals(group, flight)]
        own += [e for e in held if not _beside_another(e, own)]
        change = load_change(log, flight, group, outside=own) if len(group) == 2 else None
        if change is not None:
            since_s[tuple(one.position for one in group)] = change.at_s
            own += [lost_load(change, log)] if change.is_loss else []
        found += weigh_events(own, group, log, flight)
    found += heat_events(temperatures, pairs)
    asked = any(
        one.command is not None and bool(np.any(one.command < REVERSE)) for group in groups for one in group
    )
    answered = tuple(one.position for group in groups for one in group if _answers(one))
    return FoundEvents(tuple(sorted(found, key=lambda e: (e.start_s, e.motor))), asked, answered, since_s)


def _failures(group: Sequence[MotorRows], flight: Flight) -> list[Event]:
    """Cuts, stalls, late starts and loss of step of one or two motors."""
    each = [_failures_of(one, flight, alone=len(group) < 2) for one in group]
    return _joined([_without_steering(events, each, flight) for events in each])


def _without_steering(
    events: list[Event], each: Sequence[list[Event]], flight: Flight, *, most: int = 2
) -> list[Event]:
    """The events of one motor, less those on the ground where both sides have them, together more than
    `most`: thrust that steers is taken from either side in turn, and nothing of it need be logged.
    """
    ground = [[e for e in one if not _airborne(flight, np.array([e.start_s]))[0]] for one in each]
    if len(each) < 2 or not all(ground) or sum(map(len, ground)) <= most:
        return events
    return [e for e in events if all(e not in one for one in ground)]


def _joined(each: Sequence[list[Event]]) -> list[Event]:
    """The events of one or two motors, the same one of both at once said once."""
    if len(each) < 2:
        return each[0]
    joined, left = [], []
    right = list(each[1])
    for event in each[0]:
        twin = next(
            (
                e
                for e in right
                if e.kind == event.kind and e.start_s < event.end_s and event.start_s < e.end_s
            ),
            None,
        )
        if twin is None:
            left.append(event)
        else:
            right.remove(twin)
            span = Stretch(min(event.start_s, twin.start_s), max(event.end_s, twin.end_s))
            joined.append(replace(event, motor="both", start_s=span.start_s, end_s=span.end_s))
    return [*joined, *left, *right]


def _beside_another(event: Event, others: Sequence[Event], *, reach_s: float = 3.0) -> bool:
    """Whether a failure of the same motor explains an event: what coasts down or starts again is slow."""
    return any(
        event.start_s < e.end_s + reach_s
        and e.start_s < event.end_s + reach_s
        and (event.motor == e.motor or "both" in (event.motor, e.motor))
        for e in others
    )


def _within_long(event: Event, others: Sequence[Event], *, most: float = 0.1) -> bool:
    """Whether a loss of step lies in a stretch of the same motor's held-back power, or just before it, and
    fills little of it: a controller that takes power away drops below the usual speed at once.
    """
    return event.kind == "out_of_step" and any(
        e.start_s - 2.0 <= event.start_s
        and event.end_s <= e.end_s
        and event.end_s - event.start_s < most * (e.end_s - e.start_s)
        and e.motor in (event.motor, "both")
        for e in others
    )


def _held_back(group: Sequence[MotorRows]) -> list[Event]:
    """Controllers that hold power back once the supply is low. Thrust goes with speed squared."""

    def events(one: MotorRows) -> list[Event]:
        found = []
        for span in held_back(one):
            share, volts = share_left(one, span)
            lost = 1.0 - share ** (2.0 if one.rpm is not None else 2.0 / 3.0)
            shown = say(
                "events", "limited" if one.rpm is not None else "limited_current", share=share, volts=volts
            )
            event = Event("controller_limited", one.position, span.start_s, span.end_s, lost, evidence=shown)
            found.append(event)
        return found

    each = _joined([events(one) for one in group])
    alone = len(group) < 2
    return [
        e
        if alone or e.motor == "both" or isinstance(e.thrust_lost_fraction, Undecided)
        else replace(e, thrust_lost_fraction=0.5 * e.thrust_lost_fraction)
        for e in each
    ]


def _failures_of(one: MotorRows, flight: Flight, *, alone: bool) -> list[Event]:
    fails, dead = failing(one, slow=LONE_SPEED, idle_speed=LONE_IDLE_SPEED) if alone else failing(one)
    if alone:
        told = _told_alone(one, flight)
        fails, dead = fails & told, dead & told
    begins = starting(one)
    patience = max(0.5, 2.2 * one.interval_s)
    airborne, straight = _airborne(flight, one.time_s), (one.steering < 0.2) & ~_throttled_to_steer(one)
    asked = straight.copy()
    if one.sure_command is not None:
        asked &= one.sure_command > np.where(airborne, 0.25, 0.08)
    hangs = begins & asked & (fails | behind_twin(one))
    found = [
        _start_event(one, span)
        for span in stretches(one.time_s, hangs, shortest_s=max(0.4, 0.95 * one.interval_s), bridge_s=0.6)
    ]
    asks = pulled(one) & (airborne | straight)
    cut = dead & ~begins & asks
    cuts = stretches(one.time_s, cut, shortest_s=patience, bridge_s=1.0)
    found += [Event("cut", one.position, s.start_s, s.end_s) for s in _whole(one, cuts)]
    lost = fails & ~begins & asks & ~near(one.time_s, cut, 0.6)
    found += [
        Event("out_of_step", one.position, s.start_s, s.end_s)
        for s in stretches(one.time_s, lost, shortest_s=patience - 0.1, bridge_s=1.0)
    ]
    return found


def _throttled_to_steer(one: MotorRows, *, driven_command: float = 0.35) -> Flags:
    """Rows in which a motor is told another command than its twin, and a low one. On the ground the rolling
    aircraft turns the propeller as fast as such a command does, with hardly a current.
    """
    no = np.zeros(one.time_s.size, dtype=np.bool_)
    return no if one.command is None else ~one.alike & (one.command < driven_command)


def _whole(one: MotorRows, cuts: Sequence[Stretch], *, asked: float = 0.05) -> list[Stretch]:
    """Cuts from when the motor last drew current while it was asked to run; those between which it drew none
    are one.

    Parameters
    ----------
    asked : a command above it is beyond any controller's start (common practice, no source).
    """
    if one.current is None:
        return list(cuts)
    alive = one.current > DRAWS
    told = np.ones(alive.size, dtype=np.bool_) if one.command is None else one.command > asked
    row = np.arange(alive.size)
    since = np.maximum.accumulate(np.where(alive | ~told, row, -1))
    drew = np.cumsum(alive)
    whole: list[Stretch] = []
    for cut in cuts:
        first = int(np.searchsorted(one.time_s, cut.start_s))
        first = min(int(since[first]) + 1, first)
        begun = np.searchsorted(one.time_s, whole[-1].end_s) if whole else 0
        if whole and drew[first] == drew[min(int(begun) + 1, first)]:
            whole[-1] = Stretch(whole[-1].start_s, cut.end_s)
        else:
            whole.append(Stretch(float(one.time_s[first]), cut.end_s))
    return whole


def _told_alone(
    one: MotorRows,
    flight: Flight,
    *,
    hard_command: float = 0.5,
    hardly_eased: float = 0.8,
    coasting_s: float = 10.0,
    driven_command: float = 0.4,
) -> Flags:
    """Rows in which a motor without a twin can be judged: in the air, or pulling hard.

    Taxiing, its speed and current follow wheels and wind. By its speed alone it is judged above
    `driven_command`, as the air turns it as fast below. By its current alone it is judged only while
    pulling hard, and not eased below `hardly_eased` of the last `coasting_s`: the aircraft is faster then
    than the command, and the air turns the propeller.
    """
    airborne = _airborne(flight, one.time_s)
    if one.steady_command is None:
        return airborne
    hard: Flags = one.steady_command > hard_command
    if one.rpm is not None:
        return airborne | hard if one.current is not None else one.steady_command > driven_command
    rows = max(round(coasting_s / max(float(one.time_s[1] - one.time_s[0]), 1e-6)), 1)
    recent = maximum_filter1d(one.steady_command, rows, origin=(rows - 1) // 2)
    return hard & (one.steady_command > hardly_eased * recent)


def _start_event(one: MotorRows, span: Stretch, *, longest_s: float = 12.0) -> Event:
    """A failure at a start: with current it stalled, without it started late, or not at all."""
    inside = (one.time_s >= span.start_s) & (one.time_s <= span.end_s)
    drawn = 0.0 if one.current is None else float(np.mean(one.current[inside]))
    twin = 0.0 if one.twin_current is None else float(np.mean(one.twin_current[inside]))
    if drawn > 0.02 + 0.3 * twin:
        return Event("stall", one.position, span.start_s, span.end_s)
    return Event(
        "late_start" if span.end_s - span.start_s < longest_s else "cut",
        one.position,
        span.start_s,
        span.end_s,
    )


def _reversals(group: Sequence[MotorRows], flight: Flight) -> list[Event]:
    """Reverse: a command below zero that a motor follows."""
    spans: dict[str, tuple[Stretch, ...]] = {}
    for one in group:
        if one.command is not None and _answers(one):
            spans[one.position] = stretches(one.time_s, one.command < REVERSE, shortest_s=0.25, bridge_s=0.5)
    if len(group) == 2 and len(spans) == 2:
        left, right = (spans[one.position] for one in group)
        if len(left) == len(right) and all(
            abs(a.start_s - b.start_s) < 0.5 for a, b in zip(left, right, strict=True)
        ):
            spans = {"both": left}
    return [
        Event(_reverse_kind(flight, s), motor, s.start_s, s.end_s)
        for motor, found in spans.items()
        for s in found
    ]


def _answers(one: MotorRows, *, closed: float = -0.3) -> bool:
    """Whether the motor turned or drew current on a command below zero.

    Parameters
    ----------
    closed : a stick that rests below it is one that logs its whole travel from the bottom; nothing below zero
        is reverse then.
    """
    moves = one.rpm if one.rpm is not None else one.current
    if one.command is None or moves is None:
        return False
    still = moves < 0.02
    if np.any(still) and float(np.median(one.command[still])) < closed:
        return False
    return bool(np.any(moves[one.command < REVERSE] > (0.05 if one.rpm is not None else 0.02)))


def _airborne(flight: Flight, time_s: Floats) -> Flags:
    """Between take-off and landing; nowhere in a run without take-off."""
    if flight.is_bench or isinstance(flight.takeoff_s, Undecided):
        return np.zeros(time_s.size, dtype=np.bool_)
    landed = flight.end_s if isinstance(flight.landing_s, Undecided) else flight.landing_s
    return (time_s > flight.takeoff_s) & (time_s < landed)


def _reverse_kind(flight: Flight, span: Stretch) -> str:
    return "reverse_air" if _airborne(flight, np.array([span.start_s]))[0] else "reverse_ground"
