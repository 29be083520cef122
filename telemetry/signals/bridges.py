"""What passed while the sensor was silent: from other sensors, the neighbours, or the logged counter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.physics.charge import AS_PER_MAH, charge_mah
from telemetry.signals.counter import Counter
from telemetry.signals.curve import Curve, charge_at, levelled
from telemetry.signals.stand_ins import Told, told_by_others
from telemetry.trace import Floats, Span, Stretch, Trace


@dataclass(frozen=True, slots=True)
class Bridge:
    """One silence of the current and what is taken to have passed in it. `sd_mah` is its standard error; `by`
    is counter, others or neighbours.
    """

    start_s: float
    end_s: float
    charge_mah: float
    sd_mah: float
    by: str


@dataclass(frozen=True, slots=True)
class Bridged:
    """A current curve without silences, and how each was filled."""

    curve: Curve
    bridges: tuple[Bridge, ...]


def bridge(
    trace: Trace, curve: Curve, counter: Counter | None, powered: Span | None, *, position: str = ""
) -> Bridged:
    """Fill every silence of a current.

    By the counter where it went on counting and tells more than the rest: what it counted from its last
    sample before to its first after, less what the current itself carried between those samples and the
    silence. Else by what the other sensors tell of the current, and by the neighbours: with what it did just
    before and after. What may hide is measured, not assumed: stretches of the same length are hidden in the
    logged part, bridged the same way, and compared with what was logged.

    Parameters
    ----------
    trace : cleaned; its other sensors may tell of the current.
    curve : the current with its silences. [s, A]
    counter : that counts what the curve carries, or None.
    powered : first throttle-up to last motor stop, None where no motor ran.
    position : of the curve's own channel, "" for the pack.

    Returns
    -------
    The curve with each silence at one level, and a bridge a silence with its charge and standard error.
    """
    found = []
    for silence in curve.silent:
        best = _by_neighbours(curve, silence, powered)
        told = told_by_others(trace, curve, silence, position=position)
        if told is not None:
            by_others = _by_others(curve, silence, powered, told)
            best = by_others if by_others.sd_mah < best.sd_mah else best
        by_counter = _by_counter(curve, counter, silence, best) if counter else None
        found.append(by_counter or best)
    levels = [b.charge_mah * AS_PER_MAH / (b.end_s - b.start_s) for b in found]
    return Bridged(levelled(curve, levels)._replace(silent=()), tuple(found))


def _by_others(
    curve: Curve,
    silence: Stretch,
    powered: Span | None,
    told: Told,
    *,
    step_s: float = 0.1,
    most: int = 20_000,
) -> Bridge:
    """What the other sensors tell, and the neighbours of what they leave over.

    Parameters
    ----------
    step_s : as fine as most recorders write. [s]
    most : steps; more would only show the lines between samples, whatever a silence lasts.
    """
    count = int(np.clip((silence.end_s - silence.start_s) / step_s, 2, most))
    within_s = np.linspace(silence.start_s, silence.end_s, count + 1)
    told_mah = charge_mah(within_s, told(within_s))
    left_over = curve._replace(values=curve.values - told(curve.time_s))
    rest = _by_neighbours(left_over, silence, powered, like=curve)
    return Bridge(silence.start_s, silence.end_s, told_mah + rest.charge_mah, 1.2 * rest.sd_mah, "others")


def _by_neighbours(
    curve: Curve,
    silence: Stretch,
    powered: Span | None,
    *,
    like: Curve | None = None,
    sides_s: tuple[float, ...] = (0.0, 1.0, 4.0, 12.0),
) -> Bridge:
    """The weighted mean of what the current did just before and after, the weights learnt on hidden stretches
    of the log.

    Parameters
    ----------
    like : the current itself, when the curve is what others leave over of it.
    sides_s : how much of either side is averaged; 0 is the last and the next sample alone.
    """
    length_s = silence.end_s - silence.start_s
    around = _guesses(curve, np.array([silence.start_s]), length_s, sides_s)
    starts = _hidden_starts(curve, length_s, powered)
    load = like or curve
    first, last = np.interp([silence.start_s, silence.end_s], load.time_s, load.values)
    idle_a = 0.06 * float(np.max(load.values))
    at_rest = max(first, last) < idle_a
    if starts.size:
        ends = np.interp(np.concatenate((starts, starts + length_s)), load.time_s, load.values).reshape(2, -1)
        starts = starts[(np.max(ends, axis=0) < idle_a) == at_rest]
    if starts.size < 8:
        level = float(around[0, 0])
        calm = curve.values[load.values < idle_a] if at_rest else curve.values
        sd = float(np.std(calm)) if calm.size > 1 else abs(level)
        return Bridge(
            silence.start_s,
            silence.end_s,
            level * length_s / AS_PER_MAH,
            sd * length_s / AS_PER_MAH,
            "neighbours",
        )
    truth = (charge_at(curve, starts + length_s) - charge_at(curve, starts)) * AS_PER_MAH / length_s
    guesses = _guesses(curve, starts, length_s, sides_s)
    weights = _weights(guesses, truth, around=float(np.median(truth)))
    off = guesses @ weights - truth
    # The hidden stretches overlap: as many are independent as fit side by side, less the weights learnt from
    # them.
    independent = max(starts.size * float(np.median(np.diff(starts))) / length_s, 2.0)
    sd = float(np.sqrt(np.mean(off**2) * (1.0 + 2.0 / independent)))
    return Bridge(
        silence.start_s,
        silence.end_s,
        float((around @ weights)[0]) * length_s / AS_PER_MAH,
        sd * length_s / AS_PER_MAH,
        "neighbours",
    )


def _by_counter(
    curve: Curve, counter: Counter, silence: Stretch, other: Bridge, *, stood_still: float = 0.4
) -> Bridge | None:
    """What the counter says passed, or None where it is silent too, restarted, stood still, or is the coarser
    of the two.

    Parameters
    ----------
    stood_still : a counter that gained less than this share of what is expected, and less than the doubt of
        that allows, was not counting.
    """
    before = int(np.searchsorted(counter.time_s, silence.start_s, side="right")) - 1
    after = int(np.searchsorted(counter.time_s, silence.end_s, side="left"))
    if before < 0 or after >= counter.time_s.size:
        return None
    first_s, last_s = float(counter.time_s[before]), float(counter.time_s[after])
    if any(first_s < at <= last_s for at in counter.restarts_s):
        return None
    counted = float(counter.counted_mah[after] - counter.counted_mah[before])
    edges = charge_at(curve, np.array([first_s, silence.start_s, silence.end_s, last_s]))
    passed = counted - float(edges[1] - edges[0]) - float(edges[3] - edges[2])
    ends_a = np.interp([silence.start_s, silence.end_s], curve.time_s, curve.values)
    # Two readings of a rounded counter, and each as late as its refresh allows.
    late = (
        0.3
        * counter.refresh_s
        * (abs(float(ends_a[1] - ends_a[0])) + 0.3 * float(np.max(np.abs(ends_a))))
        / AS_PER_MAH
    )
    sd = float(np.hypot(counter.step_mah / np.sqrt(6.0), late))
    still = passed < stood_still * other.charge_mah and passed < other.charge_mah - 2.0 * other.sd_mah
    if still or sd > other.sd_mah:
        return None
    return Bridge(silence.start_s, silence.end_s, passed, sd, "counter")


def _hidden_starts(curve: Curve, length_s: float, powered: Span | None) -> Floats:
    """Starts of stretches as long as the silence that the log does cover, with a neighbour on either side."""
    start_s, end_s = float(curve.time_s[0]), float(curve.time_s[-1])
    starts = np.arange(start_s, end_s - length_s, max(length_s / 5.0, curve.refresh_s))[:2000]
    clear = np.ones(starts.size, dtype=bool)
    for silence in curve.silent:
        clear &= (starts + length_s <= silence.start_s) | (starts >= silence.end_s)
    if powered is not None:
        clear &= (starts >= powered.start_s - length_s) & (starts <= powered.end_s)
    return starts[clear]


def _guesses(curve: Curve, starts: Floats, length_s: float, sides_s: tuple[float, ...]) -> Floats:
    """Mean current over each stretch as its neighbours suggest, (k, sides). [A]"""
    first_s, last_s = float(curve.time_s[0]), float(curve.time_s[-1])
    columns = []
    for side in sides_s:
        if side == 0.0:
            before, after = (
                np.interp(starts, curve.time_s, curve.values),
                np.interp(starts + length_s, curve.time_s, curve.values),
            )
        else:
            before = _mean_a(curve, np.maximum(starts - side, first_s), starts, curve.refresh_s)
            after = _mean_a(
                curve, starts + length_s, np.minimum(starts + length_s + side, last_s), curve.refresh_s
            )
        columns.append((before + after) / 2.0)
    return np.stack(columns, axis=1)


def _mean_a(curve: Curve, from_s: Floats, to_s: Floats, least_s: float) -> Floats:
    spans_s = to_s - from_s
    means = (charge_at(curve, to_s) - charge_at(curve, from_s)) * AS_PER_MAH / np.maximum(spans_s, 1e-9)
    return np.where(spans_s > least_s / 2.0, means, np.interp(from_s, curve.time_s, curve.values))


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
