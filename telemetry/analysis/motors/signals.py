"""Both motors of a pair on one fine grid, and what each should be doing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from telemetry.analysis.motors.sides import Log, Side
from telemetry.trace import Flags, Flight, Floats, Samples, Stretch, runs

BAND = 0.05
"""Width of a command band in which the usual current and speed are taken."""

MOST_MIXED = 0.3
"""Share of the rudder that may go into the throttles (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Signals:
    """One motor on the grid, every row (n,).

    Attributes
    ----------
    command : its own, or the common one; None where none was logged.
    steering : how far the rudder is over, where what it mixes in was not logged; zero elsewhere.
    sure_command : less what the rudder may take away where only a common command was logged.
    steady_command : the lowest of it within a second, so that a motor has had time to follow.
    current, rpm : against the pair's strongest, or None.
    usual_current, usual_rpm : the least it should have at that command, and with its twin as it is; NaN where
        unknown.
    twin_current, twin_rpm : the twin's, brought to this side's level, or None.
    interval_s : of the slower of its channels.
    full_current_a, full_rpm : the pair's strongest. [A, rpm]
    """

    position: str
    time_s: Floats
    command: Floats | None
    steering: Floats
    sure_command: Floats | None
    steady_command: Floats | None
    current: Floats | None
    rpm: Floats | None
    usual_current: Floats
    usual_rpm: Floats
    twin_current: Floats | None
    twin_rpm: Floats | None
    interval_s: float
    full_current_a: float
    full_rpm: float


def pair_signals(log: Log, flight: Flight, positions: tuple[str, ...]) -> tuple[Signals, ...]:
    """Put a pair, or a single motor, on a grid as fine as its fastest channel, 0.05 to 1 s."""
    sides = [log.sides[p] for p in positions]
    parts = [part for s in sides for part in (s.current, s.rpm) if part is not None]
    if not parts:
        return ()
    refresh = [_interval(part) for part in parts]
    step = float(np.clip(min(refresh), 0.05, 1.0))
    heard = _heard(log, sides, flight)
    time = np.arange(heard.start_s, heard.end_s + step / 2, step)
    currents = [_on(s.current, time) for s in sides]
    speeds = [_speed(s.rpm, time) for s in sides]
    full_a, full_n = _strongest(currents), _strongest(speeds)
    asked = [_command(log, s, time, step) for s in sides]
    held = [a.steady for a in asked]
    relative = [None if c is None else c / full_a for c in currents]
    turning = [None if n is None else n / full_n for n in speeds]
    settled = held if len(sides) > 1 else [_settled(a) for a in asked]
    usual_a = _usual(settled, relative, 25.0)
    usual_n = _usual(settled, turning, 40.0)
    found = []
    for k, side in enumerate(sides):
        twin = 1 - k if len(sides) == 2 else None
        twin_a = None if twin is None else _at_level(relative[k], relative[twin])
        twin_n = None if twin is None else _at_level(turning[k], turning[twin])
        found.append(
            Signals(
                side.position,
                time,
                asked[k].command,
                asked[k].steering,
                asked[k].sure,
                asked[k].steady,
                relative[k],
                turning[k],
                _expected(usual_a, held[k], twin_a, time.size),
                _expected(usual_n, held[k], twin_n, time.size),
                twin_a,
                twin_n,
                max(refresh),
                full_a,
                full_n,
            )
        )
    return tuple(found)


def _heard(log: Log, sides: Sequence[Side], flight: Flight) -> Stretch:
    """The part of a flight in which every motor of a group was logged: a recorder that began late or stopped
    early tells of no event.
    """
    each = [[part for part in (s.current, s.rpm) if part is not None] for s in sides]
    each += [[part] for part in (log.command,) if part is not None and not log.per_motor_command]
    starts = [min(float(part.time_s[0]) for part in parts) for parts in each if parts]
    ends = [max(float(part.time_s[-1]) for part in parts) for parts in each if parts]
    start_s, end_s = max(flight.start_s, *starts), min(flight.end_s, *ends)
    return Stretch(start_s, max(end_s, start_s))


class _Command(NamedTuple):
    command: Floats | None
    steering: Floats
    sure: Floats | None
    steady: Floats | None


def _command(log: Log, side: Side, time: Floats, step: float) -> _Command:
    """What a motor was asked for, less what the rudder may have mixed in unseen."""
    command = _on(side.command if log.per_motor_command else log.command, time)
    rudder = None if log.per_motor_command else _on(log.rudder, time)
    steering = (
        np.zeros(time.size)
        if rudder is None
        else maximum_filter1d(np.abs(rudder), 2 * int(np.ceil(0.5 / step)) + 1)
    )
    if command is None:
        return _Command(None, steering, None, None)
    sure = command if rudder is None else command - MOST_MIXED * np.abs(rudder) * (command > 0.0)
    return _Command(command, steering, sure, minimum_filter1d(sure, 2 * int(np.ceil(1.0 / step)) + 1))


def _settled(asked: _Command, *, still: float = 0.05) -> Floats | None:
    """The steady command, NaN while the command moves: without a twin to hold against, a motor that still
    slows down would pass for usual.
    """
    if asked.sure is None or asked.steady is None:
        return None
    return np.where(asked.sure - asked.steady < still, asked.steady, np.nan)


def _interval(samples: Samples) -> float:
    return float(np.median(np.diff(samples.time_s)))


def _on(samples: Samples | None, time: Floats) -> Floats | None:
    return None if samples is None else np.interp(time, samples.time_s, samples.values)


def _speed(samples: Samples | None, time: Floats) -> Floats | None:
    return None if samples is None else np.abs(np.interp(time, samples.time_s, samples.values))


def _strongest(rows: list[Floats | None]) -> float:
    known = [r for r in rows if r is not None]
    return max((float(np.quantile(r, 0.98)) for r in known), default=1.0) or 1.0


def _at_level(own: Floats | None, twin: Floats | None) -> Floats | None:
    """The twin's signal times the usual ratio of the two."""
    if own is None or twin is None:
        return None
    running = (own > 0.2) & (twin > 0.2)
    return twin * (float(np.median(own[running] / twin[running])) if np.count_nonzero(running) > 10 else 1.0)


def _usual(commands: list[Floats | None], rows: list[Floats | None], percentile: float) -> Floats | None:
    """What a motor does in each band of command, at the given percentile, never falling with command."""
    both = [(c, r) for c, r in zip(commands, rows, strict=True) if c is not None and r is not None]
    if not both:
        return None
    row = np.concatenate([r for _, r in both])
    asked = np.concatenate([c for c, _ in both])
    row, asked = row[np.isfinite(asked)], asked[np.isfinite(asked)]
    band = _band(asked)
    picked = [row[band == k] for k in range(int(1 / BAND) + 1)]
    return np.maximum.accumulate(
        np.array([np.percentile(p, percentile) if p.size >= 5 else 0.0 for p in picked])
    )


def _band(command: Floats) -> npt.NDArray[np.int_]:
    return np.floor(np.clip(command, 0.0, 1.0) / BAND).astype(np.int_)


def _expected(levels: Floats | None, command: Floats | None, twin: Floats | None, size: int) -> Floats:
    """The lower of what its command and its twin ask for."""
    asked = np.full(size, np.nan) if levels is None or command is None else levels[_band(command)]
    return asked if twin is None else np.fmin(asked, twin)


def stretches(
    time_s: Floats, marked: Flags, *, shortest_s: float, bridge_s: float = 0.0
) -> tuple[Stretch, ...]:
    """Runs of marked rows, nearer than `bridge_s` joined, shorter than `shortest_s` dropped."""
    found: list[Stretch] = []
    for first, last in runs(marked):
        start_s, end_s = float(time_s[first]), float(time_s[last - 1])
        if found and start_s - found[-1].end_s <= bridge_s:
            found[-1] = Stretch(found[-1].start_s, end_s)
        else:
            found.append(Stretch(start_s, end_s))
    return tuple(s for s in found if s.end_s - s.start_s >= shortest_s)
