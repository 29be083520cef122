"""Sensors that stop partway: they hold their last value, or fall to zero, while what they hang together with
goes on moving.
"""

from __future__ import annotations

from collections.abc import Mapping

from telemetry.signals.stuck.aloft import flies_on
from telemetry.signals.stuck.counters import stood
from telemetry.signals.stuck.freeze import MOVING, VOLTAGES, WORKING, Freeze, stated, without
from telemetry.signals.stuck.moves_on import Movement
from telemetry.signals.stuck.same_value import long_runs, longest
from telemetry.signals.stuck.unwitnessed import all_at_once, unwitnessed
from telemetry.trace import Channel, Floats, Key

__all__ = ["Freeze", "find_freezes", "stated", "without"]


def find_freezes(
    time_s: Floats, channels: Mapping[Key, Channel], *, least_s: float = 5.0
) -> tuple[Freeze, ...]:
    """Every stretch in which a sensor had stopped.

    A steady reading alone proves nothing: a model at rest is steady. A channel is frozen where it keeps one
    value to the last digit while another moves as it does when both move together; where a height never
    wavers again; where all stand at once; where a busy current stands far longer than it ever does; and a
    counter, where current flowed past it.

    Parameters
    ----------
    time_s : (n,) [s]
    channels : as read, each (n,).
    least_s : a shorter stretch is none, where another channel is the witness. [s]

    Returns
    -------
    In no order; a channel may have several.
    """
    if time_s.size < 40 or time_s[-1] - time_s[0] < 3 * least_s:
        return ()
    movement = Movement.of(time_s, channels)
    found: list[Freeze] = []
    for key, channel in channels.items():
        if key[0] not in (*VOLTAGES, *WORKING, *MOVING):
            continue
        for first, last in longest(time_s, long_runs(time_s, channel, least_s)):
            against = (
                flies_on(channel, first, last, time_s, channels)
                if key[0] in MOVING
                else movement.against(key, first, last)
            )
            if against:
                found.append(Freeze(key, first, last, float(channel.values[first]), against))
    found += all_at_once(time_s, channels, found)
    found += unwitnessed(time_s, channels, found)
    return (*found, *stood(time_s, channels, found, least_s=least_s))
