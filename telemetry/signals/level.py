"""The level that a channel stands at: the running median of its readings."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import median_filter

from telemetry.trace import Floats, Samples


def running_median(values: Floats, *, width: int) -> Floats:
    """The median of the values around each.

    Parameters
    ----------
    values : (n,), no NaN.
    width : how many, the one in the middle included; odd.

    Returns
    -------
    (n,); beyond either end the last value is held. [the values' unit]
    """
    return np.asarray(median_filter(values, size=width, mode="nearest"))


def level_of(samples: Samples, *, window_s: float = 3.0) -> Floats:
    """The level around each reading, whatever its sign: what is shorter than half a window does not move it.

    Parameters
    ----------
    samples : of one channel, at least two. [s, its unit]
    window_s : the span looked at; never fewer than five readings. [s]

    Returns
    -------
    (n,) sizes. [the channel's unit]
    """
    refresh_s = max(float(np.median(np.diff(samples.time_s))), 1e-3)
    width = max(5, 2 * round(0.5 * window_s / refresh_s) + 1)
    return running_median(np.abs(samples.values), width=width)
