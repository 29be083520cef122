"""Sensors whose stop no other channel shows: all stand at once, or a busy current stands too long."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from telemetry.signals.curve import busy
from telemetry.signals.stuck.freeze import VOLTAGES, WORKING, Freeze, rests
from telemetry.signals.stuck.moves_on import command_stands
from telemetry.signals.stuck.same_value import first_of_each, long_runs, usual_run_s
from telemetry.trace import Channel, Floats, Key, runs


def all_at_once(
    time_s: Floats,
    channels: Mapping[Key, Channel],
    found: Sequence[Freeze],
    *,
    least_s: float = 3.0,
    lively_s: float = 1.0,
) -> list[Freeze]:
    """Stretches in which every lively sensor of working motors stands still at once: the link to the recorder
    was lost.

    Parameters
    ----------
    time_s : (n,) [s]
    channels : as read, each (n,).
    found : freezes that are known; their channels are not asked.
    least_s : a shorter stretch is none. [s]
    lively_s : a sensor that usually keeps a value longer tells nothing. [s]

    Returns
    -------
    One freeze a lively channel and stretch.
    """
    alone = {f.key for f in found}
    lively = [
        k
        for k, c in channels.items()
        if k[0] in (*VOLTAGES, *WORKING) and k not in alone and usual_run_s(time_s, c) <= lively_s
    ]
    if len(lively) < 3 or not any(k[0] in WORKING for k in lively):
        return []
    still = np.ones(time_s.size, dtype=np.bool_)
    for key in lively:
        own = np.zeros(time_s.size, dtype=np.bool_)
        for first, last in long_runs(time_s, channels[key], least_s):
            own[first:last] = True
        still &= own
    freezes: list[Freeze] = []
    for first, last in runs(still):
        working = any(
            k[0] in WORKING and not rests(channels[k], float(channels[k].values[first]), rest=0.25)
            for k in lively
            if np.isfinite(channels[k].values[first])
        )
        if working and time_s[last - 1] - time_s[first] >= least_s:
            freezes += [Freeze(k, first, last, float(channels[k].values[first]), "", True) for k in lively]
    return freezes


def unwitnessed(
    time_s: Floats,
    channels: Mapping[Key, Channel],
    found: Sequence[Freeze],
    *,
    least_s: float = 1.5,
    runs_longer: float = 4.0,
    least: int = 8,
    coarse: float = 0.01,
) -> list[Freeze]:
    """Busy currents that keep their value to the last digit far longer than they usually do, whatever else
    the log holds.

    Parameters
    ----------
    time_s : (n,) [s]
    channels : as read, each (n,).
    found : freezes that are known and not found again.
    least_s : shorter stretches are single lost readings. [s]
    runs_longer : as often as the longest 5 % of the other runs of one value.
    least : readings in a run that can be called stuck.
    coarse : at a command that stands still, a sensor whose step is this share of the reading may stand too.

    Returns
    -------
    One freeze a stretch.
    """
    freezes: list[Freeze] = []
    for key, channel in channels.items():
        if key[0] not in ("current_a", "power_w") or np.count_nonzero(channel.fresh) < 2:
            continue
        rows = np.flatnonzero(channel.fresh)
        values = channel.values[rows]
        starts = first_of_each(values)
        lengths = np.diff(np.append(starts, values.size))
        working = busy(values[starts], values)
        if not working.any():
            continue
        usual = float(np.percentile(lengths[working], 95))
        seconds = time_s[rows[starts + lengths - 1]] - time_s[rows[starts]]
        long = working & (lengths >= max(least, runs_longer * usual)) & (seconds > least_s)
        known = [(f.first, f.last) for f in found if f.key == key]
        for k in np.flatnonzero(long).tolist():
            first, last = int(rows[starts[k]]), int(rows[starts[k] + lengths[k] - 1]) + 1
            at = float(values[starts[k]])
            if channel.step >= coarse * abs(at) and command_stands(
                channels, time_s, float(time_s[first]), float(time_s[last - 1])
            ):
                continue
            if not any(a <= first < b for a, b in known):
                freezes.append(Freeze(key, first, last, at, ""))
    return freezes
