"""A log as one pack sees it that feeds one motor alone, and what all such packs give together.

Every analysis of a pack takes the pack's channels where a single pack has them, so that two packs are two
views of one log.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from telemetry.quantities import PACK_POSITIONS, QUANTITIES, fed_motor, pack_part
from telemetry.sentences import say
from telemetry.sheet.setup import Setup
from telemetry.signals.curve import total
from telemetry.signals.flow import Flow
from telemetry.trace import Channel, Decision, Floats, Key, Samples, Trace

_OF_A_PACK = ("current_a", "charge_mah")
"""What a motor that a pack feeds alone has in common with its pack."""


def fed_packs(keys: Iterable[Key]) -> tuple[str, ...]:
    """The packs that feed one motor each, as far as a log names them.

    Parameters
    ----------
    keys : quantity and position of its channels.

    Returns
    -------
    Positions, left first.
    """
    found = {pack_part(position)[0] for _, position in keys}
    return tuple(p for p in PACK_POSITIONS if p in found)


def packs_of(trace: Trace, setup: Setup | None) -> tuple[str, ...]:
    """The packs that feed one motor each: the sheet's, else those that the log names.

    Parameters
    ----------
    trace : one log, or several on one clock.
    setup : None without a sheet.

    Returns
    -------
    Positions, left first; empty where one pack feeds all.
    """
    of_sheet = tuple(one.position for one in setup.packs) if setup is not None else ()
    return of_sheet or fed_packs(trace.channels)


def in_terms_of_packs(trace: Trace, setup: Setup | None) -> Trace:
    """A log whose packs are those of the sheet.

    Parameters
    ----------
    trace : one log, or several on one clock.
    setup : None without a sheet.

    Returns
    -------
    The same samples. Where no sheet has packs that feed one motor each and the log no voltage of one, "left
    battery current" is what the left motor drew.
    """
    if setup is not None and setup.packs:
        return trace
    if any(pack_part(p)[0] for q in ("pack_voltage_v", "cell_voltage_v") for p in trace.positions(q)):
        return trace
    return of_the_aircraft(trace, fed_packs(trace.channels))


def of_the_aircraft(trace: Trace, packs: Sequence[str]) -> Trace:
    """A log without the channels of packs that feed one motor each.

    Parameters
    ----------
    trace : one log, or several on one clock.
    packs : positions of such packs; none leaves the log as it is.

    Returns
    -------
    The same samples; a motor whose own current or charge was not logged has its pack's.
    """
    if not packs:
        return trace
    channels = {key: c for key, c in trace.channels.items() if not pack_part(key[1])[0]}
    for pack in packs:
        for quantity in _OF_A_PACK:
            _stand_in(channels, trace.channels.get((quantity, pack)), fed_motor(pack))
    decisions = tuple(d for d in trace.decisions or () if not pack_part(d.position)[0])
    return replace(trace, channels=channels, decisions=None if trace.decisions is None else decisions)


def seen_by(trace: Trace, pack: str) -> Trace:
    """A log as one of the packs that feed one motor each sees it.

    Parameters
    ----------
    trace : one log, or several on one clock.
    pack : its position, such as "left_pack".

    Returns
    -------
    The same samples: this pack's channels as a single pack has them, its motor's, and all that belongs to no
    pack and no motor. A pack whose own current or charge was not logged has its motor's.
    """
    channels: dict[Key, Channel] = {}
    for (quantity, position), channel in trace.channels.items():
        place = place_seen_by(pack, quantity, position)
        if place is not None:
            channels[quantity, place] = replace(channel, position=place)
    for quantity in _OF_A_PACK:
        _stand_in(channels, trace.channels.get((quantity, fed_motor(pack))), "")
    if trace.decisions is None:
        return replace(trace, channels=channels)
    seen = (
        replace(d, position=place)
        for d in trace.decisions
        if (place := place_seen_by(pack, d.quantity, d.position)) is not None
    )
    return replace(trace, channels=channels, decisions=tuple(seen))


def place_seen_by(pack: str, quantity: str, position: str) -> str | None:
    """Where one pack that feeds one motor sees a channel.

    Parameters
    ----------
    pack : its position, such as "left_pack".
    quantity, position : of the channel.

    Returns
    -------
    The position, None where the channel is another pack's, another motor's or that of all packs together.
    """
    own, place = pack_part(position)
    if own:
        return place if own == pack else None
    sort = QUANTITIES[quantity].positions
    if sort in ("cell", "pack") or (sort in ("pack or motor", "whole or motor") and _is_electric(quantity)):
        return position if position == fed_motor(pack) else None
    if sort in ("motor", "whole or motor") and position not in ("", fed_motor(pack)):
        return None
    return position


def _is_electric(quantity: str) -> bool:
    """Whether the whole aircraft's is the sum of its packs'."""
    return quantity in ("current_a", "charge_mah", "power_w", "energy_wh")


def _stand_in(channels: dict[Key, Channel], other: Channel | None, position: str) -> None:
    """Give a place a channel that it has not."""
    if other is not None and (other.quantity, position) not in channels:
        channels[other.quantity, position] = replace(other, position=position)


def together(flows: Mapping[str, Flow]) -> Flow:
    """What flowed out of all packs.

    Parameters
    ----------
    flows : each pack's, by its position, at least one.

    Returns
    -------
    The sum; its charge is the sum of theirs.
    """
    each = tuple(flows.values())
    base = max((flow.fresh for flow in each), key=lambda fresh: fresh.time_s.size)
    earlier = np.unique(np.concatenate([flow.before.time_s for flow in each]))
    return Flow(
        curve=total([flow.curve for flow in each]),
        fresh=Samples(base.time_s, _sum(base.time_s, [flow.fresh for flow in each])),
        before=Samples(earlier, _sum(earlier, [flow.before for flow in each])),
        sd_mah=float(np.hypot.reduce([flow.sd_mah for flow in each])),
        how=say("derived", "packs"),
        bridges=tuple(b for flow in each for b in flow.bridges),
    )


def _sum(at_s: Floats, parts: Sequence[Samples]) -> Floats:
    each = [np.interp(at_s, *part) if part.time_s.size else 0.0 * at_s for part in parts]
    return np.asarray(np.sum(each, axis=0))


def as_logged(decision: Decision, pack: str) -> Decision:
    """A decision on one pack's channel as it stands in the log.

    Parameters
    ----------
    decision : made on the pack's own view.
    pack : its position.

    Returns
    -------
    The same at the position of the log: "" is the pack, a number its cell.
    """
    if QUANTITIES[decision.quantity].positions not in ("pack", "pack or motor", "cell"):
        return decision
    if not decision.position:
        return replace(decision, position=pack)
    return (
        replace(decision, position=f"{pack}.{decision.position}") if decision.position.isdigit() else decision
    )
