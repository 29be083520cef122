"""A stretch in which a sensor had stopped, and what it leaves of the channel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.sentences import say
from telemetry.trace import Channel, Floats, Key

VOLTAGES = ("pack_voltage_v", "cell_voltage_v")
WORKING = ("current_a", "power_w", "rpm")
COMMANDS = ("throttle_fraction",)
MOVING = ("altitude_m", "airspeed_mps", "ground_speed_mps")


@dataclass(frozen=True, slots=True)
class Freeze:
    """One channel that stands still.

    Attributes
    ----------
    key : the channel.
    first, last : its rows [first, last).
    value : what it reads there. [the quantity's unit]
    against : the header of what moved meanwhile, "" where nothing else shows it.
    with_all : whether every lively sensor stood still at once.
    """

    key: Key
    first: int
    last: int
    value: float
    against: str
    with_all: bool = False


def without(channel: Channel, freezes: Sequence[Freeze]) -> Channel:
    """The channel silent where it was frozen.

    Parameters
    ----------
    channel : as read.
    freezes : of this channel.

    Returns
    -------
    NaN and not fresh in each; the first row of each, which was still read, stays.
    """
    if not freezes:
        return channel
    silent = np.zeros(channel.values.size, dtype=np.bool_)
    for freeze in freezes:
        silent[freeze.first + 1 : freeze.last] = True
    return replace(channel, values=np.where(silent, np.nan, channel.values), fresh=channel.fresh & ~silent)


def stated(freeze: Freeze, time_s: Floats) -> str:
    """A freeze as a clause.

    Parameters
    ----------
    freeze : of a channel of this log.
    time_s : (n,) the log's clock. [s]

    Returns
    -------
    From when to when it stood, at which value, and what shows it.
    """
    to_the_end = freeze.last >= time_s.size
    return say(
        "decisions",
        "stuck_to_the_end" if to_the_end else "stuck",
        start_s=time_s[freeze.first],
        end_s=time_s[-1] if to_the_end else time_s[freeze.last - 1],
        value=freeze.value,
        others=say("decisions", "stuck_against", header=freeze.against)
        if freeze.against
        else say("decisions", "stuck_with_all" if freeze.with_all else "stuck_alone"),
    )


def top(values: Floats, *, most: int = 20_000) -> float:
    """Nearly the highest size of a channel's values.

    Parameters
    ----------
    values : (n,), NaN where silent.
    most : so many, evenly spread, are looked at in a long log.

    Returns
    -------
    The 99th percentile, 0 where all is silent. [the values' unit]
    """
    some = np.abs(values[:: max(1, values.size // most)])
    some = some[np.isfinite(some)]
    return float(np.percentile(some, 99.0)) if some.size else 0.0


def rests(channel: Channel, value: float, *, rest: float = 0.06) -> bool:
    """Whether a value is that of a motor at rest.

    Parameters
    ----------
    channel : of a motor or the pack.
    value : in the channel's unit.
    rest : the share of its highest up to which it rests.

    Returns
    -------
    Whether it is so small a share of the highest.
    """
    return abs(value) <= rest * top(channel.values)
