"""Whether the motors ran in steps held on the bench."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from telemetry.analysis.flights.evidence import Effort
from telemetry.trace import Floats, Samples, Span, Trace, pack_current, pack_voltage, runs


def on_the_bench(
    trace: Trace,
    effort: Effort,
    powered: Span,
    *,
    still: float = 0.012,
    least_s: float = 2.5,
    share: float = 0.7,
    least_steps: int = 2,
    works: float = 0.1,
    longest: float = 0.75,
) -> bool:
    """Whether the motors ran in held steps, and drew in each what they draw standing still.

    A model in flight whose stick is held still gains and loses speed, and its propellers load and unload with
    it.

    Parameters
    ----------
    still : a step moves by no more than this share of full; a hand on a stick in flight moves more.
    least_s : a step is held at least this long.
    share : of the working time that is spent in steps; more without a throttle, for a current stands still by
        chance.
    least_steps : one level alone is a cruise or a single run.
    longest : of the time in steps, what one level may take; a run-up shares its time among its levels, while
        a flight whose stick is held dead still spends nearly all of it in its cruise.
    works : below this share of the log's highest it idles or taxies, which tells nothing.
    """
    inside = (effort.time_s >= powered.start_s) & (effort.time_s <= powered.end_s)
    time_s, level = effort.time_s[inside], effort.level[inside]
    if time_s.size < 6:
        return False
    width = still
    if effort.source != "throttle":
        # As logged, not as a throttle would stand: the root that makes it one blows up the noise near rest.
        level, width, share = level ** {"current": 2.5, "rpm": 0.8}[effort.source], 0.03, max(share, 0.8)
    steps: list[tuple[float, float]] = []
    levels = []
    for first, last in runs((np.abs(np.diff(level)) <= width) & (np.minimum(level[:-1], level[1:]) >= works)):
        part = level[first : last + 1]
        if (
            time_s[last] - time_s[first] >= least_s
            and float(np.percentile(part, 95) - np.percentile(part, 5)) <= 2.0 * width
        ):
            steps.append((float(time_s[first]), float(time_s[last])))
            levels.append(float(np.median(part)))
    worked_s = float(np.sum(np.diff(time_s)[np.minimum(level[:-1], level[1:]) >= works]))
    at_each_s = _time_at_each_level(steps, levels)
    held_s = float(np.sum(at_each_s))
    if (
        held_s < share * worked_s
        or at_each_s.size < least_steps
        or float(np.max(at_each_s)) > longest * held_s
    ):
        return False
    unproven = effort.source != "throttle" or (pack_current(trace) is None and _rpm(trace) is None)
    if unproven and not _is_run_up(steps, levels, time_s[level < works]):
        return False
    return _draws_as_held_still(trace, [s for s, at in zip(steps, levels, strict=True) if at >= 0.3])


def _is_run_up(
    steps: Sequence[tuple[float, float]],
    levels: Sequence[float],
    resting_s: Floats,
    *,
    share: float = 0.7,
    apart: float = 0.04,
) -> bool:
    """Whether held levels go up and down again once, or come each out of rest, as on a stand; in flight they
    come in any order.

    Asked where command and draw cannot be held against one another.

    Parameters
    ----------
    resting_s : times without work.
    share : of the steps that must come out of rest.
    """
    rested = [
        k == 0 or bool(np.any((resting_s > steps[k - 1][1]) & (resting_s < steps[k][0])))
        for k in range(len(steps))
    ]
    if float(np.mean(rested)) >= share:
        return True
    distinct = [level for k, level in enumerate(levels) if k == 0 or abs(level - levels[k - 1]) > apart]
    turns = np.diff(np.sign(np.diff(distinct)))
    return int(np.count_nonzero(turns)) == 0 or (
        int(np.count_nonzero(turns)) == 1 and float(turns[turns != 0][0]) < 0
    )


def _time_at_each_level(
    steps: Sequence[tuple[float, float]], levels: Sequence[float], *, apart: float = 0.04
) -> Floats:
    """Seconds held at each distinct level, the lowest first; empty when none was held."""
    if not levels:
        return np.empty(0)
    order = np.argsort(levels)
    group = np.concatenate(([0], np.cumsum(np.diff(np.asarray(levels)[order]) > apart)))
    return np.asarray(np.bincount(group, weights=np.asarray([b - a for a, b in steps])[order]))


def _draws_as_held_still(
    trace: Trace,
    steps: Sequence[tuple[float, float]],
    *,
    settle_s: float = 1.0,
    usual: float = 0.02,
    most: float = 0.06,
) -> bool:
    """Whether the current, else the rpm, keeps its level within each step, the pack's sag taken out.

    Parameters
    ----------
    settle_s : from the start of a step, for motor and sensor.
    usual, most : by how much it may change within a step, in the median and at most, besides the noise. A
        propeller unloads by a tenth to a third from standing to cruise; a motor and its controller warm by a
        per cent or two in a step.
    """
    current, voltage = pack_current(trace), pack_voltage(trace)
    draw, falls_with, power = (current.samples, voltage, 2.0) if current else (_rpm(trace), voltage, 1.0)
    if draw is None or not steps:
        return True
    values = draw.values
    slack = 1.0
    if falls_with is not None:
        volts = np.interp(draw.time_s, falls_with.samples.time_s, falls_with.samples.values)
        values = values / np.maximum(volts / float(np.median(volts)), 0.1) ** power
    else:
        slack = 2.0
    changes = [c for a, b in steps if (c := _change(draw.time_s, values, a + settle_s, b)) is not None]
    return not changes or bool(float(np.median(changes)) < slack * usual and max(changes) < slack * most)


def _change(time_s: Floats, values: Floats, start_s: float, end_s: float) -> float | None:
    """Relative change from the first third of a step to its last, less what its noise explains; medians, as a
    motor that drops out for a moment is no change of level.
    """
    part = values[(time_s >= start_s) & (time_s <= end_s)]
    third = part.size // 3
    if third < 1 or float(np.mean(part)) <= 0.0:
        return None
    change = abs(float(np.median(part[-third:]) - np.median(part[:third])))
    noise = 2.0 * float(np.std(np.diff(part))) / np.sqrt(third) if part.size > 3 else 0.0
    return max(change - noise, 0.0) / float(np.mean(part))


def _rpm(trace: Trace) -> Samples | None:
    return next(
        (s for p in trace.positions("rpm") if (s := trace.fresh("rpm", p)) is not None and s.time_s.size > 6),
        None,
    )
