"""A height or airspeed that never wavers again."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from telemetry.signals.stuck.freeze import COMMANDS, WORKING, rests
from telemetry.signals.stuck.same_value import first_of_each
from telemetry.trace import Channel, Floats, Key


def flies_on(
    channel: Channel,
    first: int,
    last: int,
    time_s: Floats,
    channels: Mapping[Key, Channel],
    *,
    least_s: float = 12.0,
    runs_longer: float = 5.0,
    wiggles: float = 0.05,
) -> str:
    """Whether a height or speed, not that of the ground, keeps its value to the end, far longer than it
    usually does, while a motor works.

    Parameters
    ----------
    channel : the height or speed, (n,).
    first, last : rows [first, last) in which it keeps one value.
    time_s : (n,) [s]
    channels : every channel of the log.
    least_s : a shorter stretch is none. [s]
    runs_longer : than all but 2 % of its other runs of one value, so many times.
    wiggles : share of its moves that go back on the one before: a sensor without noise may well stand still.

    Returns
    -------
    The header of the motor's channel that worked on, "" where it is no freeze.
    """
    stands_s = time_s[-1] - time_s[first]
    height = float(np.nanpercentile(np.abs(channel.values), 95.0))
    if last < time_s.size or abs(float(channel.values[first])) < 0.25 * height or stands_s < least_s:
        return ""
    rows = np.flatnonzero(np.isfinite(channel.values))
    high = channel.values[rows]
    starts = first_of_each(high)
    seconds = np.diff(np.append(time_s[rows[starts]], time_s[rows[-1]]))
    aloft = (np.abs(high[starts]) >= 0.25 * height) & (starts != np.searchsorted(rows, first))
    usual_s = float(np.percentile(seconds[aloft], 98)) if aloft.any() else np.inf
    moves = np.diff(high[starts][aloft])
    if (
        stands_s < runs_longer * usual_s
        or moves.size < 10
        or float(np.mean(moves[1:] * moves[:-1] < 0)) < wiggles
    ):
        return ""
    for key, other in channels.items():
        inside = other.values[first:last]
        if (
            key[0] in (*WORKING, *COMMANDS)
            and np.isfinite(inside).sum() > 5
            and not rests(other, float(np.nanmedian(inside)))
        ):
            return other.header
    return ""
