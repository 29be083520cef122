"""Counters that stand still while current flows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from telemetry.physics.charge import charge_mah
from telemetry.signals.stuck.freeze import Freeze, without
from telemetry.signals.stuck.same_value import long_runs
from telemetry.trace import Channel, Floats, Key

_COUNTERS = {"charge_mah": 15.0, "energy_wh": 0.3}
"""Counters and how much must have passed before one that stands still is called frozen: far above their
steps.
"""


def stood(
    time_s: Floats, channels: Mapping[Key, Channel], found: Sequence[Freeze], *, least_s: float
) -> list[Freeze]:
    """Stretches in which a counter stood while its current carried far more than it can hide.

    Parameters
    ----------
    time_s : (n,) [s]
    channels : as read, each (n,).
    found : the freezes of the currents, which are no witnesses while they last.
    least_s : a shorter stretch is none. [s]

    Returns
    -------
    One freeze a stretch.
    """
    live = {
        key: without(c, [f for f in found if f.key == key])
        for key, c in channels.items()
        if key[0] == "current_a"
    }
    freezes = []
    for key, channel in channels.items():
        if key[0] in _COUNTERS:
            for first, last in long_runs(time_s, channel, least_s):
                against = _counts_past(channel, first, last, time_s, live)
                if against:
                    freezes.append(Freeze(key, first, last, float(channel.values[first]), against))
    return freezes


def _counts_past(
    counter: Channel, first: int, last: int, time_s: Floats, currents: Mapping[Key, Channel]
) -> str:
    """The current that flowed while a counter stood, by as much as the counter shows by far."""
    current = currents.get(("current_a", counter.position)) or currents.get(("current_a", ""))
    if current is None:
        return ""
    start_s, end_s = time_s[first], time_s[min(last, time_s.size) - 1]
    inside = (time_s >= start_s) & (time_s <= end_s) & np.isfinite(current.values)
    if inside.sum() < 5:
        return ""
    passed_mah = charge_mah(time_s[inside], current.values[inside])
    per_mah = 1.0 if counter.quantity == "charge_mah" else 0.01
    least = max(_COUNTERS[counter.quantity], 10.0 * counter.step)
    return current.header if passed_mah * per_mah > least else ""
