"""What a motor did that it should not have done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter1d

from telemetry.analysis.motors.heat import PartTemperature, heat_events
from telemetry.analysis.motors.moments import weigh_events
from telemetry.analysis.motors.results import Event
from telemetry.analysis.motors.rows import DRAWS, MotorRows, rows_of, stretches
from telemetry.analysis.motors.sides import MotorLog
from telemetry.estimate import Undecided
from telemetry.sentences import undecided
from telemetry.trace import Flags, Flight, Floats, Stretch

LEAST_CURRENT = 0.05
"""A motor that should draw less than this share of full current cannot be told from a stopped one."""

REVERSE = -0.05
"""A command below it asks for reverse; nearer to zero lies a stick's own play."""

WINDMILLING_SPEED = 0.82
"""A propeller that is not driven windmills at 0.5 to 0.8 of its driven speed."""

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
    """Events in order of time, whether reverse was commanded, and which motors followed."""

    events: tuple[Event, ...] | Undecided
    reverse_asked: bool = False
    reverse_answered: tuple[str, ...] = ()


def find_events(log: MotorLog, flight: Flight, temperatures: Sequence[PartTemperature]) -> FoundEvents:
    """Every event of a flight."""
    pairs = log.pairs
    alone = [(p,) for p in log.sides if not any(p in pair for pair in pairs)]
    groups = [rows_of(log, flight, group) for group in (*pairs, *alone)]
    groups = [g for g in groups if g]
    if not groups and not temperatures:
        return FoundEvents(undecided("motors", "nothing_single"))
    found = [
        event
        for group in groups
        for event in (*weigh_events(_failures(group, flight), group, log, flight), *_reversals(group, flight))
    ]
    found += heat_events(temperatures, pairs)
    asked = any(
        one.command is not None and bool(np.any(one.command < REVERSE)) for group in groups for one in group
    )
    answered = tuple(one.position for group in groups for one in group if _answers(one))
    return FoundEvents(tuple(sorted(found, key=lambda e: (e.start_s, e.motor))), asked, answered)


def _failures(group: Sequence[MotorRows], flight: Flight) -> list[Event]:
    """Cuts, stalls, late starts and loss of step of one or two motors, the same failure of both said once."""
    each = [_failures_of(one, flight, alone=len(group) < 2) for one in group]
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
            joined.append(
                Event(event.kind, "both", min(event.start_s, twin.start_s), max(event.end_s, twin.end_s))
            )
    return [*joined, *left, *right]


def _failures_of(one: MotorRows, flight: Flight, *, alone: bool) -> list[Event]:
    fails, dead = _failing(one, slow=LONE_SPEED, idle_speed=LONE_IDLE_SPEED) if alone else _failing(one)
    if alone:
        told = _told_alone(one, flight)
        fails, dead = fails & told, dead & told
    starting = _starting(one)
    patience = max(0.5, 2.2 * one.interval_s)
    asked = (
        one.steering < 0.2
        if one.sure_command is None
        else one.sure_command > np.where(_airborne(flight, one.time_s), 0.25, 0.08)
    )
    hangs = starting & asked & (fails | _behind_twin(one))
    found = [
        _start_event(one, span)
        for span in stretches(one.time_s, hangs, shortest_s=max(0.4, 0.95 * one.interval_s), bridge_s=0.6)
    ]
    pulled = _pulled(one)
    cut = dead & ~starting & pulled
    cuts = stretches(one.time_s, cut, shortest_s=patience, bridge_s=1.0)
    found += [Event("cut", one.position, s.start_s, s.end_s) for s in _whole(one, cuts)]
    lost = fails & ~starting & pulled & ~_near(one.time_s, cut, 0.6)
    found += [
        Event("out_of_step", one.position, s.start_s, s.end_s)
        for s in stretches(one.time_s, lost, shortest_s=patience - 0.1, bridge_s=1.0)
    ]
    return found


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
) -> Flags:
    """Rows in which a motor without a twin can be judged: in the air, or pulling hard.

    Taxiing, its speed and current follow wheels and wind. By its current alone it is judged only while
    pulling hard, and not eased below `hardly_eased` of the last `coasting_s`: the aircraft is faster then
    than the command, and the air turns the propeller.
    """
    airborne = _airborne(flight, one.time_s)
    if one.steady_command is None:
        return airborne
    hard: Flags = one.steady_command > hard_command
    if one.rpm is not None:
        return airborne | hard
    rows = max(round(coasting_s / max(float(one.time_s[1] - one.time_s[0]), 1e-6)), 1)
    recent = maximum_filter1d(one.steady_command, rows, origin=(rows - 1) // 2)
    return hard & (one.steady_command > hardly_eased * recent)


def _failing(
    one: MotorRows, *, slow: float = WINDMILLING_SPEED, idle_speed: float = 0.95, weak: float = 0.15
) -> tuple[Flags, Flags]:
    """Rows in which it turns or draws too little, and those in which it is dead.

    Parameters
    ----------
    slow : below this share of its usual speed it is not driven.
    idle_speed : so much of its usual speed a driven motor keeps when the air takes its load; a dead one is
        slower.
    weak : a dead motor draws its controller's own current only.
    """
    size = one.time_s.size
    asked_a, asked_n = one.usual_current, one.usual_rpm
    no = np.zeros(size, dtype=np.bool_)
    weaker = no if one.current is None else (one.current < weak * asked_a) & (asked_a > LEAST_CURRENT)
    if one.rpm is None:
        return weaker, weaker
    slower = (one.rpm < slow * asked_n) & (asked_n > 0.06)
    much_slower = slower & ((asked_n > 0.25) | (one.rpm < 0.5 * asked_n))
    if one.current is None:
        return much_slower, slower & (asked_n > 0.25) & _smooth(one.rpm, one.time_s)
    dead = (weaker & (one.rpm < idle_speed * asked_n)) | (_idle(one) & slower & (asked_n > 0.1))
    return (much_slower & _overloaded(one)) | dead, dead


def _idle(one: MotorRows, *, nothing: float = 0.01) -> Flags:
    """Rows in which it draws nothing. A motor slower than its command drives it cannot do so: what is left of
    the voltage must drive a current.
    """
    if one.current is None:
        return np.zeros(one.time_s.size, dtype=np.bool_)
    idle: Flags = one.current < nothing
    return idle


def _overloaded(one: MotorRows, *, more: float = 1.3) -> Flags:
    """Rows in which it draws more than a propeller asks for at that speed: a motor out of step, or stalled.
    One that is given less, or is turned by the air, is slow without it.

    Parameters
    ----------
    more : against the usual current, brought to that speed by its square.
    """
    if one.current is None:
        return np.ones(one.time_s.size, dtype=np.bool_)
    if one.rpm is None:
        return np.zeros(one.time_s.size, dtype=np.bool_)
    share = one.rpm / np.maximum(one.usual_rpm, 1e-3)
    over: Flags = one.current > np.maximum(DRAWS, more * np.nan_to_num(one.usual_current) * share**2)
    return over


def _pulled(
    one: MotorRows,
    *,
    least_command: float = 0.12,
    while_steering: float = 0.35,
    least_current: float = 0.05,
    over: float = 0.2,
) -> Flags:
    """Rows in which the motor was asked to pull; below, a propeller turns in the wind and says nothing.

    Parameters
    ----------
    least_command : held for a second.
    while_steering : the same with the rudder `over`, when each motor's own command is not known.
    least_current : the twin's, against full, where no command was logged.
    """
    steered = one.steering > over
    if one.steady_command is not None:
        return one.steady_command > np.where(steered, while_steering, least_command)
    if one.twin_current is not None:
        return (one.twin_current > least_current) & ~steered
    return ~steered if one.twin_rpm is None else (one.twin_rpm > 0.3) & ~steered


def _behind_twin(one: MotorRows) -> Flags:
    """Rows in which the twin already turns and this one does not, or draws a standing motor's current."""
    no = np.zeros(one.time_s.size, dtype=np.bool_)
    if one.rpm is not None and one.twin_rpm is not None:
        return one.alike & (one.twin_rpm > 0.06) & (one.rpm < 0.5 * one.twin_rpm)
    if one.current is not None and one.twin_current is not None:
        return one.alike & (one.current > 0.1) & (one.current > 3.0 * one.twin_current)
    return no


def _smooth(row: Floats, time_s: Floats) -> Flags:
    """Rows around which the signal bends little over a second."""
    if row.size < 3:
        return np.zeros(row.size, dtype=np.bool_)
    reach = min(max(round(0.5 / max(float(time_s[1] - time_s[0]), 1e-6)), 1), (row.size - 1) // 2)
    kernel = np.ones(2 * reach + 1) / (2 * reach + 1)
    mean = np.convolve(row, kernel, mode="same")
    rough = np.sqrt(np.maximum(np.convolve(row**2, kernel, mode="same") - mean**2, 0.0))
    return rough < 0.12 * np.maximum(mean, 0.05)


def _near(time_s: Floats, marked: Flags, reach_s: float) -> Flags:
    """Rows within a reach of marked ones."""
    at = time_s[marked]
    if not at.size:
        return marked
    i = (
        np.clip(np.searchsorted(at, time_s), 1, at.size - 1)
        if at.size > 1
        else np.zeros(time_s.size, dtype=np.int_)
    )
    nearest = (
        np.abs(time_s - at[i])
        if at.size == 1
        else np.minimum(np.abs(time_s - at[i - 1]), np.abs(time_s - at[i]))
    )
    return nearest <= reach_s


def _starting(one: MotorRows) -> Flags:
    """Rows since the last rest in which the motor has not yet run."""
    asked = one.usual_rpm if one.rpm is not None else one.usual_current
    own = one.rpm if one.rpm is not None else one.current
    if own is None:
        return np.zeros(one.time_s.size, dtype=np.bool_)
    rest = (own < 0.03) & (one.command < 0.03 if one.command is not None else np.nan_to_num(asked) < 0.03)
    runs = (own > 0.5 * asked) & (asked > 0.05)
    row = np.arange(one.time_s.size)
    last_rest = np.maximum.accumulate(np.where(rest, row, -1))
    last_run = np.maximum.accumulate(np.where(runs, row, -1))
    return (last_run < last_rest) | ((last_run < 0) & (last_rest < 0))


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
