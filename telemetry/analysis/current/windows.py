"""The largest mean over windows of many lengths, exact, and quick on long logs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.physics.charge import LargestMean, largest_mean, product_integral, running_integral
from telemetry.signals.curve import cut
from telemetry.trace import Flags, Floats, Samples, Stretch, runs

ASKED_WINDOWS_S = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0)
"""Always in the curve where they fit: those that ratings speak of."""


@dataclass(frozen=True, slots=True)
class Sustained:
    """The largest mean current over any window of this length, and where that window starts."""

    window_s: float
    max_mean_a: float
    start_s: float


def sustained(samples: Samples, *, per_decade: int = 8) -> tuple[Sustained, ...]:
    """The curve of largest means: windows spaced evenly in their logarithm, from one sample to the whole, and
    those asked for.

    Parameters
    ----------
    samples : at least two, else the curve is empty.
    per_decade : windows to a factor of ten; steps of a third are finer than any rating.
    """
    if samples.time_s.size < 2 or samples.time_s[-1] <= samples.time_s[0]:
        return ()
    steps_s = np.diff(samples.time_s)
    step_s = float(np.median(steps_s[steps_s > 0.0]))
    span_s = float(samples.time_s[-1] - samples.time_s[0])
    count = max(int(np.ceil(per_decade * np.log10(max(span_s / step_s, 1.0)))) + 1, 2)
    spaced = np.geomspace(step_s, span_s, count)
    asked = [w for w in ASKED_WINDOWS_S if w <= span_s]
    near = [any(abs(np.log(w / a)) < 0.08 for a in asked) for w in spaced[:-1]]
    windows = sorted(
        {*(float(w) for w, close in zip(spaced[:-1], near, strict=True) if not close), *asked, span_s}
    )
    search = Search(samples)
    found = ((w, search.largest(w)) for w in windows)
    return tuple(Sustained(w, best.mean, best.start_s) for w, best in found if best is not None)


class Search:
    """One course, searched for its largest mean over windows of many lengths; linear between samples,
    silences included.

    Most starts are ruled out first. The charge that a window gains changes with its start by no more than the
    current's range per second: a cell of starts whose two ends, and half that range over its width, stay
    below the best found cannot hold a better one. Nor can one in whose reach no sample lies above the best
    mean. What is left is searched exactly.
    """

    def __init__(self, samples: Samples, *, samples_per_cell: int = 12, most_cells: int = 4000) -> None:
        self._samples = samples
        time_s, values = samples
        self._integral = running_integral(time_s, values)
        self._cells = min(time_s.size // samples_per_cell, most_cells)
        self._range = float(np.ptp(values)) if values.size else 0.0

    def largest(self, window_s: float, *, fewest_cells: int = 20) -> LargestMean | None:
        """The largest mean over a window, and where it starts; None where the course is shorter."""
        time_s, values = self._samples
        if self._cells < fewest_cells or window_s <= 0.0 or window_s >= time_s[-1] - time_s[0]:
            return largest_mean(time_s, values, window_s)
        starts = np.linspace(float(time_s[0]), float(time_s[-1]) - window_s, self._cells + 1)
        gained = self._integral.at(starts + window_s) - self._integral.at(starts)
        best = float(np.max(gained))
        dust = 1e-9 * max(abs(best), 1.0)
        alive = (gained[1:] + gained[:-1]) / 2.0 + self._range * float(
            starts[1] - starts[0]
        ) / 2.0 >= best - dust
        alive &= self._holds_one_above(starts, window_s, (best - dust) / window_s)
        found: LargestMean | None = None
        for first, last in runs(alive):
            part = cut(self._samples, Stretch(float(starts[first]), float(starts[last]) + window_s))
            candidate = largest_mean(
                part.time_s, part.values, min(window_s, float(part.time_s[-1] - part.time_s[0]))
            )
            if candidate is not None and (found is None or candidate.mean > found.mean):
                found = candidate
        return found

    def _holds_one_above(self, starts: Floats, window_s: float, level: float) -> Flags:
        """Whether a window that starts in a cell, (cells,), or the step before or after it, holds a sample at
        or above a level.
        """
        time_s, values = self._samples
        above = np.flatnonzero(values >= level)
        first = np.maximum(np.searchsorted(time_s, starts[:-1], side="left") - 1, 0)
        last = np.minimum(np.searchsorted(time_s, starts[1:] + window_s, side="right") + 1, time_s.size)
        return np.asarray(
            np.searchsorted(above, last, side="left") > np.searchsorted(above, first, side="left")
        )


def largest(samples: Samples, window_s: float) -> LargestMean | None:
    """The largest mean over one window."""
    return Search(samples).largest(window_s)


def rms_a(samples: Samples) -> float | None:
    """Root of the mean square, exact for lines between samples; None for no time at all."""
    if samples.time_s.size < 2 or samples.time_s[-1] <= samples.time_s[0]:
        return None
    curve = running_integral(*samples)
    return float(np.sqrt(product_integral(curve, curve) / (samples.time_s[-1] - samples.time_s[0])))
