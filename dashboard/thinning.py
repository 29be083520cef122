"""Fewer points, extremes kept: the one thing the dashboard computes."""

from __future__ import annotations

import numpy as np
from tsdownsample import MinMaxLTTBDownsampler

from dashboard.drawings.marks import Floats

Kept = np.ndarray[tuple[int], np.dtype[np.intp]]


def window(x: Floats, start: float, end: float) -> slice:
    """The part of a rising x between two values, with one more point at each side."""
    first = int(np.searchsorted(x, start, side="left"))
    last = int(np.searchsorted(x, end, side="right"))
    return slice(max(0, first - 1), min(x.size, last + 1))


def keep(x: Floats, y: Floats, points: int) -> Kept:
    """Which points to draw so that the curve looks the same and its extremes stay.

    Parameters
    ----------
    x : (n,) never falling.
    y : (n,) NaN where the curve is broken.
    points : about how many to keep.

    Returns
    -------
    (m,) rising indices, m ≤ n. Both extremes, both ends and every break are among them.
    """
    if x.size <= points:
        return np.arange(x.size)
    whole = np.isfinite(y)
    values = np.ascontiguousarray(np.where(whole, y, np.nanmean(y) if whole.any() else 0.0), dtype=np.float64)
    chosen = (
        MinMaxLTTBDownsampler()
        .downsample(np.ascontiguousarray(x, dtype=np.float64), values, n_out=max(4, points))
        .astype(np.intp)
    )
    breaks = np.flatnonzero(~whole)
    extremes = np.array([values.argmin(), values.argmax(), 0, x.size - 1])
    return np.unique(np.concatenate([chosen, extremes, breaks[:points]]))
