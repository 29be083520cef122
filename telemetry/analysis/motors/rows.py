"""Both motors of a pair on one fine grid, and what each should be doing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from telemetry.analysis.motors.sides import MotorLog, MotorSide
from telemetry.frames import grid_step
from telemetry.trace import Flags, Flight, Floats, Samples, Stretch, runs

BAND = 0.05
"""Width of a command band in which the usual current and speed are taken."""

DEAD_BAND = 0.05
"""Command below which controllers do not start a motor (common practice, no source)."""

DRAWS = 0.02
"""A motor that draws more of its full current drives its propeller; below, the air may turn it."""

MOST_MIXED = 0.3
"""Share of the rudder that may go into the throttles (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class MotorRows:
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
    alike : rows in which both were told the same.
    volts : the voltage of its pack, or None. [V]
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
    alike: Flags
    volts: Floats | None
    interval_s: float
    full_current_a: float
    full_rpm: float


def rows_of(log: MotorLog, flight: Flight, positions: tuple[str, ...]) -> tuple[MotorRows, ...]:
    """Put a pair, or a single motor, on a grid as fine as its fastest channel, 0.05 to 1 s."""
    sides = [log.sides[p] for p in positions]
    parts = [part for s in sides for part in (s.current, s.rpm) if part is not None]
    if not parts:
        return ()
    refresh = [_interval(part) for part in parts]
    step = float(np.clip(min(refresh), 0.05, 1.0))
    heard = _heard(log, sides, flight)
    step = grid_step(heard.end_s - heard.start_s, step, max(part.time_s.size for part in parts))
    time = np.arange(heard.start_s, heard.end_s + step / 2, step)
    currents = [_on(s.current, time) for s in sides]
    speeds = [_speed(s.rpm, time) for s in sides]
    full_a, full_n = _strongest(currents), _strongest(speeds)
    asked = [_command(log, s, time, step) for s in sides]
    held = [a.steady for a in asked]
    relative = [None if c is None else c / full_a for c in currents]
    turning = [None if n is None else n / full_n for n in speeds]
    settled = [_settled(a) for a in asked]
    usual_a = usual_levels(settled, relative, 25.0, 3.0)
    driven = [
        n if c is None or n is None else np.where(c > DRAWS, n, np.nan)
        for c, n in zip(relative, turning, strict=True)
    ]
    usual_n = usual_levels(settled, driven, 40.0, 1.0)
    alike = _alike(asked)
    found = []
    for k, side in enumerate(sides):
        twin = 1 - k if len(sides) == 2 else None
        twin_a = None if twin is None else _at_level(relative[k], relative[twin])
        twin_n = None if twin is None else _at_level(turning[k], turning[twin])
        found.append(
            MotorRows(
                side.position,
                time,
                asked[k].command,
                asked[k].steering,
                asked[k].sure,
                asked[k].steady,
                relative[k],
                turning[k],
                expected(usual_a, held[k], twin_a, alike),
                expected(usual_n, held[k], twin_n, alike),
                twin_a,
                twin_n,
                alike,
                _on(side.voltage, time),
                max(refresh),
                full_a,
                full_n,
            )
        )
    return tuple(found)


def _heard(log: MotorLog, sides: Sequence[MotorSide], flight: Flight) -> Stretch:
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
    reach: int = 0


def _command(log: MotorLog, side: MotorSide, time: Floats, step: float) -> _Command:
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
    reach = int(np.ceil(1.0 / step))
    return _Command(command, steering, sure, minimum_filter1d(sure, 2 * reach + 1), reach)


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


def _alike(asked: Sequence[_Command], *, apart: float = 0.03) -> Flags:
    """Rows in which both motors were told the same within a second, so that either is a standard for
    the other.
    """
    if len(asked) < 2 or asked[0].command is None or asked[1].command is None:
        return np.ones(asked[0].steering.size, dtype=np.bool_)
    differ = np.abs(asked[0].command - asked[1].command)
    reach = 1 + 2 * asked[0].reach
    same: Flags = maximum_filter1d(differ, reach) < apart
    return same


class Usual(NamedTuple):
    """What a motor does against its command: points in order of command, and the power of the command that
    it goes with between them.
    """

    command: Floats
    level: Floats
    power: float


def usual_levels(
    commands: list[Floats | None], rows: list[Floats | None], percentile: float, power: float
) -> Usual | None:
    """What a motor does in each band of command, at the given percentile, never falling with command.

    Parameters
    ----------
    power : of the command above its `DEAD_BAND`: 1 for a speed, 3 for the current of a propeller. Between
        bands that were flown a straight line would ask a motor throttled low for several times its current.
    """
    both = [(c, r) for c, r in zip(commands, rows, strict=True) if c is not None and r is not None]
    if not both:
        return None
    row = np.concatenate([r for _, r in both])
    asked = np.concatenate([c for c, _ in both])
    known = np.isfinite(asked) & np.isfinite(row)
    row, asked = row[known], asked[known]
    band = np.floor(np.clip(asked, 0.0, 1.0) / BAND).astype(np.int_)
    full = [k for k in range(int(1 / BAND) + 1) if np.count_nonzero(band == k) >= 5]
    if not full:
        return None
    levels = np.maximum.accumulate([float(np.percentile(row[band == k], percentile)) for k in full])
    return Usual(
        _beyond_start(np.array([0.0, *(float(np.mean(asked[band == k])) for k in full)])),
        np.array([0.0, *levels]),
        power,
    )


def _beyond_start(command: Floats) -> Floats:
    """The command above the dead band, 0 to 1."""
    return np.clip(command - DEAD_BAND, 0.0, 1.0 - DEAD_BAND) / (1.0 - DEAD_BAND)


def expected(usual: Usual | None, command: Floats | None, twin: Floats | None, alike: Flags) -> Floats:
    """The lower of what its command asks for and, where it was told the same, what its twin does."""
    asked = np.full(alike.size, np.nan)
    if usual is not None and command is not None:
        asked = np.interp(_beyond_start(command) ** usual.power, usual.command**usual.power, usual.level)
    return asked if twin is None else np.where(alike, np.fmin(asked, twin), asked)


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
