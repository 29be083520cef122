"""Time integrals and means over irregular samples, taken as linear between them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from telemetry.physics.arrays import Flags, Floats, Number

AS_PER_MAH = 3.6
"""1 mAh = 3.6 A·s, exact (SI)."""

WS_PER_WH = 3600.0
"""1 Wh = 3600 W·s, exact (SI)."""


class LargestMean(NamedTuple):
    """The largest mean over a window, and where that window starts. [unit of the values, s]"""

    mean: float
    start_s: float


@dataclass(frozen=True, slots=True, eq=False)
class RunningIntegral:
    """The integral of a curve from its first sample to any time, exact for lines between samples.

    Two samples of one instant are a jump. Nothing passes before the first sample, after the last, or within a
    gap. `running_integral` makes one.

    Attributes
    ----------
    time_s : (n,) never falling. [s]
    values : (n,) at the samples.
    sums : (n,) the integral at each sample, 0 at the first. [unit · s]
    starts, slopes : (n − 1,) of each line between samples, 0 within a gap. [unit, unit/s]
    """

    time_s: Floats
    values: Floats
    sums: Floats
    starts: Floats
    slopes: Floats

    @property
    def total(self) -> float:
        """From the first sample to the last, 0 with fewer than two. [unit · s]"""
        return float(self.sums[-1]) if self.sums.size else 0.0

    def _piece(self, at_s: Floats, *, right: bool) -> npt.NDArray[np.intp]:
        piece = np.searchsorted(self.time_s, at_s, side="right" if right else "left") - 1
        return np.clip(piece, 0, self.slopes.size - 1)

    def value(self, at_s: Floats, *, right: bool = True) -> Floats:
        """The curve just after times (just before them with `right` false): they differ at a jump.

        Parameters
        ----------
        at_s : (k,), within the samples; beyond them the outermost lines go on. [s]

        Returns
        -------
        (k,), 0 within a gap.

        Raises
        ------
        IndexError : fewer than two samples.
        """
        piece = self._piece(at_s, right=right)
        return np.asarray(self.starts[piece] + self.slopes[piece] * (at_s - self.time_s[piece]))

    def at(self, at_s: Floats) -> Floats:
        """The integral up to any times.

        Parameters
        ----------
        at_s : (k,) or a single one. [s]

        Returns
        -------
        As `at_s`, 0 throughout with fewer than two samples. [unit · s]
        """
        if self.slopes.size == 0:
            return np.zeros_like(at_s, dtype=float)
        at_s = np.clip(at_s, self.time_s[0], self.time_s[-1])
        piece = self._piece(at_s, right=True)
        past_s = at_s - self.time_s[piece]
        return np.asarray(
            self.sums[piece] + past_s * (self.starts[piece] + self.slopes[piece] * past_s / 2.0)
        )

    def mean(self, start_s: Floats, end_s: Floats) -> Floats:
        """Means over spans; the first and last value hold beyond the samples.

        Parameters
        ----------
        start_s, end_s : (k,), no end before its start; for a span of no length the value there. [s]

        Returns
        -------
        (k,). A gap counts as 0 over its length.

        Raises
        ------
        IndexError : no sample at all.
        """
        first_s, last_s = self.time_s[0], self.time_s[-1]
        span_s = end_s - start_s
        passed = self.at(end_s) - self.at(start_s)
        passed = passed + self.values[0] * np.clip(first_s - start_s, 0.0, span_s)
        passed = passed + self.values[-1] * np.clip(end_s - last_s, 0.0, span_s)
        lasts = span_s > 0.0
        there = np.interp(start_s, self.time_s, self.values)
        return np.where(lasts, passed / np.where(lasts, span_s, 1.0), there)


def running_integral(time_s: Floats, values: Floats, *, gaps_s: npt.ArrayLike = ()) -> RunningIntegral:
    """The running integral of a sampled curve.

    Parameters
    ----------
    time_s : (n,) never falling. [s]
    values : (n,) no NaN, linear between samples.
    gaps_s : (k, 2) start and end of silent stretches; nothing counts from the last sample before one to the
        first after it. [s]

    Returns
    -------
    Exact at any time, by the trapezoidal rule.
    """
    steps_s, rises = np.diff(time_s), np.diff(values)
    starts = values[:-1].astype(float)
    slopes = np.divide(rises, steps_s, out=np.zeros(steps_s.size), where=steps_s > 0)
    pieces = steps_s * (values[1:] + values[:-1]) / 2.0
    silent = broken_steps(time_s, gaps_s)
    starts[silent] = slopes[silent] = pieces[silent] = 0.0
    sums = np.concatenate((np.zeros(min(time_s.size, 1)), np.cumsum(pieces)))
    return RunningIntegral(time_s, values, sums, starts, slopes)


def mean_over(time_s: Floats, values: Floats, start_s: Number, end_s: Number) -> Number:
    """Mean of a sampled curve over one span, or over several.

    Parameters
    ----------
    time_s, values : (n,) as `running_integral`, at least one sample. [s]
    start_s, end_s : one span, or (k,) spans; as `RunningIntegral.mean`. [s]

    Returns
    -------
    A number, or (k,), in the unit of the values.

    Raises
    ------
    IndexError : no sample at all.
    """
    found = running_integral(time_s, values).mean(np.asarray(start_s), np.asarray(end_s))
    return float(found) if found.ndim == 0 else found  # type: ignore[return-value]


def product_integral(first: RunningIntegral, second: RunningIntegral) -> float:
    """Integral of the product of two curves over the time that both have: energy, of a voltage and a current.

    Parameters
    ----------
    first, second : each with samples of its own.

    Returns
    -------
    0 where they share no time. [product of the units · s]

    Notes
    -----
    Exact: the product of two lines is a parabola, which Simpson's rule integrates exactly. A curve with
    itself gives the mean square.

    Source: Simpson's rule, calculus.
    """
    if min(first.slopes.size, second.slopes.size) == 0:
        return 0.0
    start_s, end_s = (
        max(first.time_s[0], second.time_s[0]),
        min(first.time_s[-1], second.time_s[-1]),
    )
    grid_s = np.unique(np.clip(np.concatenate((first.time_s, second.time_s)), start_s, max(start_s, end_s)))
    (a0, a1), (b0, b1) = (
        (curve.value(grid_s[:-1]), curve.value(grid_s[1:], right=False)) for curve in (first, second)
    )
    return float(np.sum(np.diff(grid_s) * (2.0 * a0 * b0 + a0 * b1 + a1 * b0 + 2.0 * a1 * b1) / 6.0))


def charge_mah(time_s: Floats, current_a: Floats, *, gaps_s: npt.ArrayLike = ()) -> float:
    """Charge that passed from the first sample to the last.

    Parameters
    ----------
    time_s, gaps_s : as `running_integral`. [s]
    current_a : (n,) no NaN, linear between samples. [A]

    Returns
    -------
    Charge, 0 with fewer than two samples. [mAh]
    """
    return running_integral(time_s, current_a, gaps_s=gaps_s).total / AS_PER_MAH


def largest_mean(
    time_s: Floats, values: Floats, window_s: float, *, gaps_s: npt.ArrayLike = ()
) -> LargestMean | None:
    """The largest mean over any window of a length, exact for values linear between samples.

    The mean is stationary where the values at both ends of the window are equal, and its slope is
    linear while neither end meets a sample. So the windows that start or end at a sample, and the one
    stationary point between two such windows, are all there is to try.

    Parameters
    ----------
    time_s : (n,) never falling. [s]
    values : (n,) no NaN.
    window_s : above zero; zero gives the largest sample. [s]
    gaps_s : (k, 2) silent stretches; no window reaches across one. [s]

    Returns
    -------
    The mean and the start of its window (the first, of several equal), or None where no unbroken stretch is
    that long.

    Raises
    ------
    ValueError : a window below zero.

    Source: "mean maximal power" of the cycling sciences for the idea; the exact search is calculus.
    """
    if window_s < 0:
        raise ValueError(f"a window is not shorter than nothing, so not {window_s} s")
    best: LargestMean | None = None
    for first, last in _stretches(time_s, gaps_s):
        found = _largest_in_stretch(time_s[first:last], values[first:last], window_s)
        if found is not None and (best is None or found.mean > best.mean):
            best = found
    return best


def broken_steps(time_s: Floats, gaps_s: npt.ArrayLike) -> Flags:
    """Which steps between samples reach into a gap.

    Parameters
    ----------
    time_s : (n,) never falling. [s]
    gaps_s : (k, 2) start and end of silent stretches. [s]

    Returns
    -------
    (n − 1,).
    """
    gaps = np.asarray(gaps_s, dtype=float).reshape(-1, 2)
    broken = np.zeros(max(time_s.size - 1, 0), dtype=bool)
    for start_s, end_s in gaps:
        broken |= (time_s[:-1] < end_s) & (time_s[1:] > start_s)
    return broken


def _stretches(time_s: Floats, gaps_s: npt.ArrayLike) -> list[tuple[int, int]]:
    """Index ranges of the samples between gaps."""
    cuts = np.flatnonzero(broken_steps(time_s, gaps_s)) + 1
    edges = [0, *cuts.tolist(), time_s.size]
    return [(first, last) for first, last in pairwise(edges) if last > first]


def _largest_in_stretch(time_s: Floats, values: Floats, window_s: float) -> LargestMean | None:
    if window_s == 0:
        peak = int(np.argmax(values))
        return LargestMean(float(values[peak]), float(time_s[peak]))
    span_s = float(time_s[-1] - time_s[0])
    if window_s > span_s * (1.0 + 1e-12):
        return None
    latest_s = max(float(time_s[-1]) - window_s, float(time_s[0]))
    starts = np.concatenate(
        (time_s[time_s <= latest_s], time_s[time_s >= time_s[0] + window_s] - window_s, [latest_s])
    )
    starts = np.sort(np.clip(starts, time_s[0], latest_s), kind="stable")
    integral = running_integral(time_s, values)
    gained = integral.at(starts + window_s) - integral.at(starts)
    best = int(np.argmax(gained))
    best_start, best_gain = float(starts[best]), float(gained[best])
    near = _promising(starts, gained, float(np.ptp(values)))
    turning = _turning_points(starts[:-1][near], starts[1:][near], integral, window_s)
    if turning.size:
        gained = integral.at(turning + window_s) - integral.at(turning)
        best = int(np.argmax(gained))
        if gained[best] > best_gain:
            best_start, best_gain = float(turning[best]), float(gained[best])
    return LargestMean(best_gain / window_s, best_start)


def _promising(starts: Floats, gained: Floats, swing: float) -> Flags:
    """Which steps between neighbouring starts may hide a window better than the best: what is gained changes
    by `swing` a second at most.
    """
    hidden = np.maximum(gained[1:], gained[:-1]) + swing * np.diff(starts) / 2.0
    return np.asarray(hidden > np.max(gained))


def _turning_points(earlier: Floats, later: Floats, integral: RunningIntegral, window_s: float) -> Floats:
    """Starts strictly between neighbours at which the values at both ends of the window meet, rising before
    and falling after.
    """
    slope_after = integral.value(earlier + window_s) - integral.value(earlier)
    slope_before = integral.value(later + window_s, right=False) - integral.value(later, right=False)
    turns = (slope_after > 0) & (slope_before < 0)
    share = slope_after[turns] / (slope_after[turns] - slope_before[turns])
    return np.asarray(earlier[turns] + share * (later - earlier)[turns])
