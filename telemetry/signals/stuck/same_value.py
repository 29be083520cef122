"""Runs of one value: where a channel keeps a reading to the last digit, and for how long it usually does."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import numpy.typing as npt

from telemetry.frames import even_times, most_silent
from telemetry.signals.stuck.freeze import top
from telemetry.trace import Channel, Flags, Floats

SILENT_S = 60.0
"""Of a longer silence nothing is to be learnt, and no grid holds it."""


def first_of_each(values: Floats) -> npt.NDArray[np.intp]:
    """Where each run of one value begins.

    Parameters
    ----------
    values : (n,), no NaN, at least one.

    Returns
    -------
    (runs,) indices, the first of them 0.
    """
    return np.concatenate(([0], np.flatnonzero(values[1:] != values[:-1]) + 1))


def long_runs(time_s: Floats, channel: Channel, least_s: float) -> Iterator[tuple[int, int]]:
    """Runs of one value of at least so long.

    Parameters
    ----------
    time_s : (n,) [s]
    channel : (n,), NaN where silent.
    least_s : a shorter one is none. [s]

    Returns
    -------
    Rows [first, last) in order; one that lasts to the channel's last reading lasts to the log's end.
    """
    finite = np.isfinite(channel.values)
    whole = bool(finite.all())
    rows = (
        np.flatnonzero(finite & _may_stand(time_s, channel.values, least_s))
        if whole
        else np.flatnonzero(finite)
    )
    if rows.size < 2:
        return
    ends_at = int(np.flatnonzero(finite)[-1])
    values = channel.values[rows]
    new = values[1:] != values[:-1]
    if whole:
        new |= np.diff(rows) > 1
    starts = np.concatenate(([0], np.flatnonzero(new) + 1))
    ends = np.append(starts[1:], values.size) - 1
    for k in np.flatnonzero(time_s[rows[ends]] - time_s[rows[starts]] >= least_s):
        yield int(rows[starts[k]]), time_s.size if rows[ends[k]] == ends_at else int(rows[ends[k]]) + 1


def longest(time_s: Floats, found: Iterable[tuple[int, int]], *, most: int = 60) -> list[tuple[int, int]]:
    """The longest runs, in order: a sensor that stopped stands longer than one that is merely slow.

    Parameters
    ----------
    time_s : (n,) [s]
    found : runs as rows [first, last).
    most : how many are kept.

    Returns
    -------
    Runs as rows [first, last).
    """
    ranked = sorted(found, key=lambda run: time_s[run[0]] - time_s[run[1] - 1])
    return sorted(ranked[:most])


def usual_run_s(time_s: Floats, channel: Channel, *, most: int = 50_000) -> float:
    """How long a working sensor keeps a value at most, but for one run in twenty.

    Parameters
    ----------
    time_s : (n,) [s]
    channel : (n,), NaN where silent.
    most : so many rows from the middle of a long log say it.

    Returns
    -------
    The 95th percentile, infinite where fewer than twenty runs tell. [s]
    """
    margin = max(0, channel.values.size - most) // 2
    time_s, own = time_s[margin : margin + most], channel.values[margin : margin + most]
    rows = np.flatnonzero(np.isfinite(own))
    if rows.size < 20:
        return np.inf
    values = own[rows]
    starts = first_of_each(values)
    busy = np.abs(values[starts]) > 0.06 * top(channel.values)
    seconds = np.diff(np.append(time_s[rows[starts]], time_s[rows[-1]]))[busy]
    return float(np.percentile(seconds, 95)) if seconds.size >= 20 else np.inf


def _may_stand(time_s: Floats, values: Floats, least_s: float) -> Flags:
    """Rows that can lie in a run of `least_s`: those around looks, half of that apart, that found the same
    value twice.
    """
    step_s = least_s / 2.0
    silent_s = most_silent(SILENT_S, step_s, time_s.size)
    looks = np.searchsorted(time_s, even_times(time_s, step_s, most_silent=silent_s))
    looks = np.append(looks, time_s.size - 1)
    same = np.concatenate(([False], values[looks[1:]] == values[looks[:-1]], [False]))
    near = np.zeros(time_s.size, dtype=np.bool_)
    for k in np.flatnonzero(same).tolist():
        near[looks[max(k - 2, 0)] : looks[min(k + 1, looks.size - 1)] + 1] = True
    return near
