"""What passed while the sensor was silent: from the neighbours, or from the logged counter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.capacity.counter import Counter
from telemetry.analysis.capacity.course import Course, charge_at, levelled
from telemetry.trace import Floats, Span, Stretch

_AS_PER_MAH = 3.6


@dataclass(frozen=True, slots=True)
class Bridge:
    """One silence of the current and what is taken to have passed in it. `sd_mah` is its standard error; `by` is counter or neighbours."""

    start_s: float
    end_s: float
    charge_mah: float
    sd_mah: float
    by: str


@dataclass(frozen=True, slots=True)
class Bridged:
    """A current course without silences, and how each was filled."""

    course: Course
    bridges: tuple[Bridge, ...]


def bridge(course: Course, counter: Counter | None, powered: Span | None) -> Bridged:
    """Fill every silence of a current.

    By the counter where it went on counting and tells more than the neighbours do: what it counted from its last
    sample before to its first after, less what the current itself carried between those samples and the silence.
    Else by the neighbours. What may hide is measured, not assumed: stretches of the same length are hidden in the
    logged part, bridged the same way, and compared with what was logged.
    """
    found = []
    for silence in course.silent:
        by_neighbours = _by_neighbours(course, silence, powered)
        by_counter = _by_counter(course, counter, silence, by_neighbours) if counter else None
        found.append(by_counter or by_neighbours)
    levels = [b.charge_mah * _AS_PER_MAH / (b.end_s - b.start_s) for b in found]
    return Bridged(levelled(course, levels)._replace(silent=()), tuple(found))


def _by_neighbours(course: Course, silence: Stretch, powered: Span | None, *, sides_s: tuple[float, ...] = (0.0, 1.0, 4.0, 12.0)) -> Bridge:
    """The weighted mean of what the current did just before and after, the weights learnt on hidden stretches of the log.

    Parameters
    ----------
    sides_s : how much of either side is averaged; 0 is the last and the next sample alone.
    """
    length_s = silence.end_s - silence.start_s
    around = _guesses(course, np.array([silence.start_s]), length_s, sides_s)
    starts = _hidden_starts(course, length_s, powered)
    first, last = np.interp([silence.start_s, silence.end_s], course.time_s, course.values)
    idle_a = 0.06 * float(np.max(course.values))
    at_rest = max(first, last) < idle_a
    if starts.size:
        ends = np.interp(np.concatenate((starts, starts + length_s)), course.time_s, course.values).reshape(2, -1)
        starts = starts[(np.max(ends, axis=0) < idle_a) == at_rest]
    if starts.size < 8:
        level = float(around[0, 0])
        calm = course.values[course.values < idle_a] if at_rest else course.values
        sd = float(np.std(calm)) if calm.size > 1 else abs(level)
        return Bridge(silence.start_s, silence.end_s, level * length_s / _AS_PER_MAH, sd * length_s / _AS_PER_MAH, "neighbours")
    truth = (charge_at(course, starts + length_s) - charge_at(course, starts)) * _AS_PER_MAH / length_s
    guesses = _guesses(course, starts, length_s, sides_s)
    weights = _weights(guesses, truth, around=float(np.median(truth)))
    off = guesses @ weights - truth
    sd = float(np.sqrt(np.mean(off**2)))
    return Bridge(silence.start_s, silence.end_s, float((around @ weights)[0]) * length_s / _AS_PER_MAH, sd * length_s / _AS_PER_MAH, "neighbours")


def _by_counter(course: Course, counter: Counter, silence: Stretch, neighbours: Bridge) -> Bridge | None:
    """What the counter says passed, or None where it is silent too, restarted, stood still, or is the coarser of the two."""
    before = int(np.searchsorted(counter.time_s, silence.start_s, side="right")) - 1
    after = int(np.searchsorted(counter.time_s, silence.end_s, side="left"))
    if before < 0 or after >= counter.time_s.size:
        return None
    first_s, last_s = float(counter.time_s[before]), float(counter.time_s[after])
    if any(first_s < at <= last_s for at in counter.restarts_s):
        return None
    counted = float(counter.counted_mah[after] - counter.counted_mah[before])
    edges = charge_at(course, np.array([first_s, silence.start_s, silence.end_s, last_s]))
    passed = counted - float(edges[1] - edges[0]) - float(edges[3] - edges[2])
    level_a = neighbours.charge_mah * _AS_PER_MAH / (silence.end_s - silence.start_s)
    # Two readings of a rounded counter, and a sample that may be one refresh old at either end.
    sd = float(np.hypot(counter.step_mah / np.sqrt(6.0), 0.3 * counter.refresh_s * abs(level_a) / _AS_PER_MAH))
    if sd > neighbours.sd_mah or abs(passed - neighbours.charge_mah) > 4.0 * neighbours.sd_mah + 2.0 * sd:
        return None
    return Bridge(silence.start_s, silence.end_s, passed, sd, "counter")


def _hidden_starts(course: Course, length_s: float, powered: Span | None) -> Floats:
    """Starts of stretches as long as the silence that the log does cover, with a neighbour on either side."""
    start_s, end_s = float(course.time_s[0]), float(course.time_s[-1])
    starts = np.arange(start_s, end_s - length_s, max(length_s / 5.0, course.refresh_s))[:2000]
    clear = np.ones(starts.size, dtype=bool)
    for silence in course.silent:
        clear &= (starts + length_s <= silence.start_s) | (starts >= silence.end_s)
    if powered is not None:
        clear &= (starts >= powered.start_s - length_s) & (starts <= powered.end_s)
    return starts[clear]


def _guesses(course: Course, starts: Floats, length_s: float, sides_s: tuple[float, ...]) -> Floats:
    """Mean current over each stretch as its neighbours suggest, (k, sides). [A]"""
    first_s, last_s = float(course.time_s[0]), float(course.time_s[-1])
    columns = []
    for side in sides_s:
        if side == 0.0:
            before, after = np.interp(starts, course.time_s, course.values), np.interp(starts + length_s, course.time_s, course.values)
        else:
            before = _mean_a(course, np.maximum(starts - side, first_s), starts, course.refresh_s)
            after = _mean_a(course, starts + length_s, np.minimum(starts + length_s + side, last_s), course.refresh_s)
        columns.append((before + after) / 2.0)
    return np.stack(columns, axis=1)


def _mean_a(course: Course, from_s: Floats, to_s: Floats, least_s: float) -> Floats:
    spans_s = to_s - from_s
    means = (charge_at(course, to_s) - charge_at(course, from_s)) * _AS_PER_MAH / np.maximum(spans_s, 1e-9)
    return np.where(spans_s > least_s / 2.0, means, np.interp(from_s, course.time_s, course.values))


def _weights(guesses: Floats, truth: Floats, *, around: float, ridge: float = 0.05) -> Floats:
    """Weights that add up to one, by least squares drawn towards equal ones."""
    count = guesses.shape[1]
    reference, rest = guesses[:, 0], guesses[:, 1:]
    design = rest - reference[:, None]
    penalty = ridge * truth.size * (np.var(truth) + 1e-6 * around**2 + 1e-12)
    normal = design.T @ design + penalty * np.eye(count - 1)
    pull = penalty * np.full(count - 1, 1.0 / count)
    others = np.linalg.solve(normal, design.T @ (truth - reference) + pull)
    return np.concatenate(([1.0 - float(np.sum(others))], others))
