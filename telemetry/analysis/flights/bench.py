"""Whether the motors ran in steps held on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from telemetry.analysis.flights.evidence import Effort, turning
from telemetry.derived import pack_current, pack_voltage
from telemetry.trace import Floats, Span, Trace, runs


class Step(NamedTuple):
    """A level held for a while. [s, a share of the log's highest]"""

    start_s: float
    end_s: float
    level: float


def on_the_bench(
    trace: Trace,
    effort: Effort,
    powered: Span,
    *,
    works: float = 0.1,
    share: float = 0.7,
    longest: float = 0.75,
) -> bool:
    """Whether the motors ran in held steps, and drew in each what they draw standing still.

    A model in flight whose stick is held still gains and loses speed, and its propellers load and unload with
    it.

    Parameters
    ----------
    trace, effort, powered : as logged, of the motors, while they ran.
    works : below this share of the log's highest it idles or taxies, which tells nothing.
    share : of the working time that is spent in steps; more without a throttle, for a current stands still by
        chance.
    longest : of the time in steps, what one level may take; a run-up shares its time among its levels, while
        a flight whose stick is held dead still spends nearly all of it in its cruise.
    """
    inside = (effort.time_s >= powered.start_s) & (effort.time_s <= powered.end_s)
    time_s, level = effort.time_s[inside], effort.level[inside]
    if time_s.size < 6:
        return False
    by_stick = effort.source == "throttle"
    if not by_stick:
        # As logged, not as a throttle would stand: the root that makes it one blows up the noise near rest.
        level, share = level ** {"current": 2.5, "rpm": 0.8}[effort.source], max(share, 0.8)
    working = np.minimum(level[:-1], level[1:]) >= works
    steps = _held(time_s, level, working, width=0.012 if by_stick else 0.03)
    at_each_s = _time_at_each_level(steps)
    held_s = float(np.sum(at_each_s))
    if at_each_s.size < 2 or held_s < share * float(np.sum(np.diff(time_s)[working])):
        return False
    if float(np.max(at_each_s)) > longest * held_s:
        return False
    proven = by_stick and (pack_current(trace) is not None or turning(trace) is not None)
    if not proven and not _is_run_up(steps, time_s[level < works]):
        return False
    return _draws_as_held_still(trace, [step for step in steps if step.level >= 0.3])


def _held(
    time_s: Floats, level: Floats, working: np.ndarray, *, width: float, least_s: float = 2.5
) -> list[Step]:
    """Every step.

    Parameters
    ----------
    width : a step moves by no more than this share of full; a hand on a stick in flight moves more.
    least_s : a step is held at least this long.
    """
    steps = []
    for first, last in runs((np.abs(np.diff(level)) <= width) & working):
        part = level[first : last + 1]
        low, middle, high = np.percentile(part, [5, 50, 95])
        if time_s[last] - time_s[first] >= least_s and high - low <= 2.0 * width:
            steps.append(Step(float(time_s[first]), float(time_s[last]), float(middle)))
    return steps


def _is_run_up(
    steps: Sequence[Step], resting_s: Floats, *, share: float = 0.7, apart: float = 0.04, rest_s: float = 60.0
) -> bool:
    """Whether held levels go up and down again once, or come each out of a short rest, as on a stand; in
    flight they come in any order, and a glider's bursts out of long glides.

    Asked where command and draw cannot be held against one another.

    Parameters
    ----------
    resting_s : times without work.
    share : of the steps that must come out of rest.
    apart : levels that differ by less are one.
    rest_s : nobody waits longer between two steps.
    """
    if any(after.start_s - before.end_s > rest_s for before, after in pairwise(steps)):
        return False
    rested = [
        bool(np.any((resting_s > before.end_s) & (resting_s < after.start_s)))
        for before, after in pairwise(steps)
    ]
    if (1 + sum(rested)) / len(steps) >= share:
        return True
    levels = np.asarray([step.level for step in steps])
    distinct = levels[np.concatenate(([True], np.abs(np.diff(levels)) > apart))]
    turns = np.diff(np.sign(np.diff(distinct)))
    turns = turns[turns != 0]
    return turns.size == 0 or (turns.size == 1 and float(turns[0]) < 0)


def _time_at_each_level(steps: Sequence[Step], *, apart: float = 0.04) -> Floats:
    """Seconds held at each distinct level, the lowest first; empty when none was held."""
    if not steps:
        return np.empty(0)
    ordered = sorted(steps, key=lambda step: step.level)
    group = np.concatenate(([0], np.cumsum(np.diff([step.level for step in ordered]) > apart)))
    return np.asarray(np.bincount(group, weights=[step.end_s - step.start_s for step in ordered]))


def _draws_as_held_still(
    trace: Trace, steps: Sequence[Step], *, settle_s: float = 1.0, usual: float = 0.02, most: float = 0.06
) -> bool:
    """Whether the current, else the rpm, keeps its level within each step, the pack's sag taken out.

    Parameters
    ----------
    settle_s : from the start of a step, for motor and sensor.
    usual, most : by how much it may change within a step, in the median and at most, besides the noise; twice
        that where no sag can be taken out. A propeller unloads by a tenth to a third from standing to cruise;
        a motor and its controller warm by a per cent or two in a step.
    """
    current, voltage = pack_current(trace), pack_voltage(trace)
    draw, power = (current.samples, 2.0) if current else (turning(trace), 1.0)
    if draw is None or not steps:
        return True
    values, slack = draw.values, 2.0
    if voltage is not None:
        volts = np.interp(draw.time_s, voltage.samples.time_s, voltage.samples.values)
        values, slack = values / np.maximum(volts / float(np.median(volts)), 0.1) ** power, 1.0
    changes = [
        change
        for step in steps
        if (change := _change(draw.time_s, values, step.start_s + settle_s, step.end_s)) is not None
    ]
    return not changes or bool(np.median(changes) < slack * usual and max(changes) < slack * most)


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
