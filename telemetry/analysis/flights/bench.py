"""Whether the motors ran in held steps."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.flights.signals import Effort, runs
from telemetry.trace import Span


def in_held_steps(
    effort: Effort, powered: Span, *, still: float = 0.012, least_s: float = 2.5, share: float = 0.8, least_steps: int = 2
) -> bool:
    """Whether the effort stands in steps that were held, as on a bench.

    Parameters
    ----------
    still : a step moves by no more than this share of full; a hand on a stick in flight moves more.
    least_s : a step is held at least this long.
    share : of the powered time that is spent in steps.
    least_steps : one level alone is a cruise or a single run.
    """
    inside = (effort.time_s >= powered.start_s) & (effort.time_s <= powered.end_s)
    time_s, level = effort.time_s[inside], effort.level[inside]
    if time_s.size < 6:
        return False
    width = 0.03 if effort.source != "throttle" else still
    held_s, levels = 0.0, []
    changes = np.abs(np.diff(level)) > width
    for first, last in runs(~changes):
        seconds = float(time_s[last] - time_s[first])
        part = level[first : last + 1]
        if seconds >= least_s and float(np.percentile(part, 95) - np.percentile(part, 5)) <= 2.0 * width:
            held_s += seconds
            levels.append(float(np.median(part)))
    distinct = 1 + int(np.sum(np.diff(np.sort(levels)) > 0.04)) if levels else 0
    return held_s >= share * (powered.end_s - powered.start_s) and distinct >= least_steps
