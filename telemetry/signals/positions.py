"""A log in the sheet's own terms."""

from __future__ import annotations

from dataclasses import replace

from telemetry.derived import motor_positions
from telemetry.sheet.setup import Setup
from telemetry.trace import Channel, Key, Trace


def in_sheet_terms(trace: Trace, setup: Setup) -> Trace:
    """A log whose motors stand under the sheet's sides and whose commands count from the sheet's neutral.

    A neutral near the middle belongs to a command of 0…1 whose lower half is reverse.

    Parameters
    ----------
    trace : one log, or several on one clock.
    setup : names the recorder's numbers and the controllers' neutral.

    Returns
    -------
    The same samples; a position that the log has already is not given twice.
    """
    taken = motor_positions(trace)
    sides = {d.logged_as: d.position for d in setup.drives if d.logged_as and d.position not in taken}
    neutral = next((d.controller.neutral_fraction for d in setup.drives), 0.0)
    channels: dict[Key, Channel] = {}
    for (quantity, position), channel in trace.channels.items():
        side = sides.get(position, position) if quantity != "cell_voltage_v" else position
        values = (
            (channel.values - neutral) / (1.0 - neutral)
            if quantity == "throttle_fraction" and neutral
            else channel.values
        )
        channels[(quantity, side)] = replace(channel, position=side, values=values)
    return replace(trace, channels=channels)
