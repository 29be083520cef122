"""Channels on one clock → a table of pandas'."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")

POINTS_A_SAMPLE, LEAST_POINTS = 20, 100_000
"""An even grid has at most so many points a sample, and the second number besides: a tenth of a second over
three hours, or a twentieth of the interval of any recorder.
"""


class Sampled(Protocol):
    """A channel: values (n,), whether each is fresh (n,), and marks as written (n,) or none."""

    @property
    def values(self) -> Floats: ...
    @property
    def fresh(self) -> npt.NDArray[np.bool_]: ...
    @property
    def texts(self) -> tuple[str, ...]: ...


def unrun(text: str) -> str:
    """A text that no spreadsheet takes for a formula.

    Parameters
    ----------
    text : anybody's.

    Returns
    -------
    With an apostrophe before it where it begins as a formula does.
    """
    return f"'{text}" if text.startswith(_STARTS_A_FORMULA) else text


def frame_of(
    time_s: Floats, channels: Mapping[tuple[str, str], Sampled], interval_s: float | None
) -> pd.DataFrame:
    """The channels as a table, a column each: "quantity@position", the quantity alone where it has none.

    Parameters
    ----------
    time_s : (n,), never falling. [s]
    channels : by (quantity, position), each (n,).
    interval_s : None for a row an instant, equal ones a row each; else an even grid of its whole multiples,
        straight lines between fresh samples, marks left out. [s]

    Returns
    -------
    Indexed by `time_s` [s]; NaN (None for marks) where a channel was not fresh, on a grid outside its own
    span.

    Raises
    ------
    ValueError : an interval not above zero, or so short that the table has no end.
    """
    import pandas as pd

    named = {"@".join(filter(None, key)): channel for key, channel in channels.items()}
    if interval_s is None:
        return pd.DataFrame({k: _fresh(c) for k, c in named.items()}, index=pd.Index(time_s, name="time_s"))
    grid_s = _grid(time_s, interval_s)
    even = {k: _even(time_s, c, grid_s) for k, c in named.items() if not c.texts}
    return pd.DataFrame(even, index=pd.Index(grid_s, name="time_s"))


def _fresh(channel: Sampled) -> npt.NDArray[Any]:
    if not channel.texts:
        return np.where(channel.fresh, channel.values, np.nan)
    marks = np.array(channel.texts, dtype=object)
    marks[~channel.fresh] = None
    return marks


def _grid(time_s: Floats, interval_s: float, *, most: int = 20_000_000) -> Floats:
    """Whole multiples of an interval within a log, at most `most`; rounding costs no last instant."""
    if not 0.0 < interval_s < np.inf:
        raise ValueError(f"an interval lies above zero, not at {interval_s} s")
    if not time_s.size:
        return time_s
    if float(time_s[-1] - time_s[0]) / interval_s > most and _points(time_s, interval_s) > most:
        raise ValueError(f"an interval of {interval_s} s makes more than {most} rows of this log")
    even = even_times(time_s / interval_s, 1.0, most_silent=max(3600.0 / interval_s, 1.0))
    first, last = np.ceil(time_s[0] / interval_s - 1e-9), np.floor(time_s[-1] / interval_s + 1e-9)
    whole = np.unique(np.clip(np.append(np.ceil(even - 1e-9), last), first, last))
    return np.round(interval_s * whole, 9)


def _points(time_s: Floats, interval_s: float) -> float:
    """How many points a grid has whose silences are cut short to an hour."""
    return float(np.sum(np.minimum(np.diff(time_s), max(3600.0, interval_s)))) / interval_s


def grid_step(span: float, step: float, samples: int) -> float:
    """The step of an even grid whose size hangs on samples, however long they are apart.

    Parameters
    ----------
    span : of the grid, in the unit of `step`.
    step : as fine as the method wants it.
    samples : that the grid is to show.

    Returns
    -------
    `step`, or as much more as `POINTS_A_SAMPLE` and `LEAST_POINTS` ask for.
    """
    return max(step, span / (POINTS_A_SAMPLE * samples + LEAST_POINTS))


def most_silent(longest: float, step: float, samples: int) -> float:
    """How much of a silence a grid of this step shows, in its unit: `longest`, or less by the same bound."""
    return min(longest, step * (POINTS_A_SAMPLE + LEAST_POINTS / max(samples, 1)))


def even_times(times: Floats, step: float, *, most_silent: float) -> Floats:
    """An even grid over instants, as many points as these deserve: a longer silence is cut short to
    `most_silent`, in whose middle the grid leaps.

    Parameters
    ----------
    times : (n,) rising, at least one.
    step, most_silent : in the unit of `times`.

    Returns
    -------
    (m,) from the first instant on, below the last.
    """
    lost = np.maximum(np.diff(times) - most_silent, 0.0)
    even = np.arange(times[0], times[-1] - float(lost.sum()), step)
    long = np.flatnonzero(lost)
    if not long.size:
        return np.asarray(even, dtype=np.float64)
    left_out = np.concatenate([[0.0], np.cumsum(lost[long])])
    middles = times[long] - left_out[:-1] + most_silent / 2.0
    return np.asarray(even + left_out[np.searchsorted(middles, even, side="right")])


def _even(time_s: Floats, channel: Sampled, grid_s: Floats) -> Floats:
    own_s, values = time_s[channel.fresh], channel.values[channel.fresh]
    if not own_s.size:
        return np.full(grid_s.size, np.nan)
    return np.interp(grid_s, own_s, values, left=np.nan, right=np.nan)
