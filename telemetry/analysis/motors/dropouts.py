"""Moments in which a motor loses its drive while its command stands still, as only a stand can show."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import minimum_filter1d

from telemetry.analysis.motors.results import Event
from telemetry.analysis.motors.rows import stretches
from telemetry.analysis.motors.sides import MotorLog, MotorSide
from telemetry.sentences import say
from telemetry.signals import level_of
from telemetry.trace import Flags, Floats, Samples, Stretch


def drop_outs(log: MotorLog, *, longest_s: float = 2.0) -> tuple[Event, ...]:
    """Cuts of a tenth of a second to `longest_s` at a held command; longer ones are found without.

    Parameters
    ----------
    log : the motors' channels of a run-up.
    """
    found = [
        Event("cut", position, span.start_s, span.end_s, evidence=evidence)
        for position, side in log.sides.items()
        for span, evidence in _of(side, log.command if side.command is None else side.command)
        if span.end_s - span.start_s <= longest_s
    ]
    return tuple(sorted(found, key=lambda e: e.start_s))


def _of(side: MotorSide, command: Samples | None, *, least: float = 0.5) -> list[tuple[Stretch, str]]:
    """Where one motor's current, else its speed, falls below `least` of its level and comes back.

    One reading may be a sensor's: it counts where the speed falls with it. Below a tenth of the strongest, or
    four steps of the sensor, a level says nothing.
    """
    if command is None:
        return []
    main = side.current if side.current is not None else side.rpm
    if main is None or main.time_s.size < 9:
        return []
    share = _share_of_level(main)
    step = side.current_step if side.current is not None else side.rpm_step
    low = (share < (least if side.current is not None else 0.85)) & _held(command, main.time_s)
    low &= level_of(main) > max(0.1 * float(np.max(np.abs(main.values))), 4.0 * step)
    slow: Flags = np.zeros(main.time_s.size, dtype=np.bool_)
    if side.current is not None and side.rpm is not None and side.rpm.time_s.size >= 9:
        span = max(3, 2 * round(0.6 / float(np.median(np.diff(side.rpm.time_s)))) + 1)
        slowest = minimum_filter1d(_share_of_level(side.rpm), span)
        slow = np.interp(main.time_s, side.rpm.time_s, slowest) < 0.95
    rows = np.flatnonzero(low)
    twice = np.isin(rows + 1, rows) | np.isin(rows - 1, rows)
    sure = np.zeros(main.time_s.size, dtype=np.bool_)
    sure[rows] = twice | slow[rows]
    what = "dropped_current" if side.current is not None else "dropped_speed"
    return [
        (span, say("events", what, percent=100.0 * _lowest(share, main.time_s, span)))
        for span in stretches(main.time_s, sure, shortest_s=0.0, bridge_s=1.0)
    ]


def _lowest(share: Floats, time_s: Floats, span: Stretch) -> float:
    return float(np.min(share[(time_s >= span.start_s) & (time_s <= span.end_s)]))


def _share_of_level(samples: Samples) -> Floats:
    """Each reading against its level, (n,)."""
    return np.abs(samples.values) / np.maximum(level_of(samples), 1e-9)


def _held(
    command: Samples, time_s: Floats, *, before_s: float = 1.0, after_s: float = 0.5, still: float = 0.02
) -> Flags:
    """Moments at which the command stands still, well above idle, and has for as long as a motor takes to
    follow.
    """
    edges = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(command.values)) > still)))
    moved = np.interp(time_s + after_s, command.time_s, edges) - np.interp(
        time_s - before_s, command.time_s, edges
    )
    asked = np.interp(time_s, command.time_s, command.values)
    return np.asarray((moved <= 0.0) & (asked >= 0.2))
