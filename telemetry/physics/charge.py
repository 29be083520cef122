"""Integrals and means of a current over irregular samples, taken as linear between them."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_AS_PER_MAH = 3.6


class LargestMean(NamedTuple):
    """The largest mean over a window, and where that window starts. [unit of the values, s]"""

    mean: float
    start_s: float


def charge_mah(time_s: Floats, current_a: Floats, *, gaps_s: npt.ArrayLike = ()) -> float:
    """Charge that passed from the first sample to the last.

    Parameters
    ----------
    time_s : (n,) never falling. [s]
    current_a : (n,) no NaN, linear between samples. [A]
    gaps_s : (k, 2) start and end of silent stretches; what passed from the last sample
        before one to the first after it is not counted. [s]

    Returns
    -------
    Charge, 0 with fewer than two samples. 1 A·s is 1/3.6 mAh. [mAh]
    """
    return float(np.sum(_pieces(time_s, current_a, gaps_s))) / _AS_PER_MAH


def cumulative_mah(time_s: Floats, current_a: Floats, *, gaps_s: npt.ArrayLike = ()) -> Floats:
    """Charge that passed up to each sample: (n,), 0 at the first, level across a gap. [mAh]

    Parameters as `charge_mah`.
    """
    if time_s.size == 0:
        return np.zeros(0)
    return np.concatenate(([0.0], np.cumsum(_pieces(time_s, current_a, gaps_s)))) / _AS_PER_MAH


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


def broken_steps(time_s: Floats, gaps_s: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """Which steps between samples, (n − 1,), reach into a gap."""
    gaps = np.asarray(gaps_s, dtype=float).reshape(-1, 2)
    broken = np.zeros(max(time_s.size - 1, 0), dtype=bool)
    for start_s, end_s in gaps:
        broken |= (time_s[:-1] < end_s) & (time_s[1:] > start_s)
    return broken


def _pieces(time_s: Floats, current_a: Floats, gaps_s: npt.ArrayLike) -> Floats:
    """Trapezoids between samples, (n − 1,), zero across a gap. [A·s]"""
    pieces = np.diff(time_s) * (current_a[1:] + current_a[:-1]) / 2.0
    pieces[broken_steps(time_s, gaps_s)] = 0.0
    return pieces


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
    integral = RunningIntegral(time_s, values)
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


def _promising(starts: Floats, gained: Floats, swing: float) -> npt.NDArray[np.bool_]:
    """Which steps between neighbouring starts may hide a window better than the best: what is gained changes
    by `swing` a second at most.
    """
    hidden = np.maximum(gained[1:], gained[:-1]) + swing * np.diff(starts) / 2.0
    return np.asarray(hidden > np.max(gained))


def _turning_points(earlier: Floats, later: Floats, integral: RunningIntegral, window_s: float) -> Floats:
    """Starts strictly between neighbours at which the values at both ends of the window meet, rising before
    and falling after.
    """
    slope_after = integral.value(earlier + window_s, right=True) - integral.value(earlier, right=True)
    slope_before = integral.value(later + window_s, right=False) - integral.value(later, right=False)
    turns = (slope_after > 0) & (slope_before < 0)
    share = slope_after[turns] / (slope_after[turns] - slope_before[turns])
    return np.asarray(earlier[turns] + share * (later - earlier)[turns])


class RunningIntegral:
    """The running integral of a piecewise-linear curve, exact at any time."""

    def __init__(self, time_s: Floats, values: Floats) -> None:
        self.time_s = time_s
        self.values = values
        steps = np.diff(time_s)
        self.slopes = np.divide(np.diff(values), steps, out=np.zeros_like(steps), where=steps > 0)
        self.sums = np.concatenate(([0.0], np.cumsum(steps * (values[1:] + values[:-1]) / 2.0)))

    def _piece(self, at_s: Floats, *, right: bool) -> Indices:
        piece = np.searchsorted(self.time_s, at_s, side="right" if right else "left") - 1
        return np.clip(piece, 0, max(self.time_s.size - 2, 0))

    def value(self, at_s: Floats, *, right: bool) -> Floats:
        """The curve's value just after (or before) a time; they differ at two samples of one instant."""
        piece = self._piece(at_s, right=right)
        return np.asarray(self.values[piece] + self.slopes[piece] * (at_s - self.time_s[piece]))

    def at(self, at_s: Floats) -> Floats:
        piece = self._piece(at_s, right=True)
        past_s = at_s - self.time_s[piece]
        return np.asarray(
            self.sums[piece] + past_s * (self.values[piece] + self.slopes[piece] * past_s / 2.0)
        )
