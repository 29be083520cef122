"""Why a unit that no header names was taken: what physics, else the numbers' range, said for it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.evidence import ColumnEvidence

_TIES: dict[tuple[str, str], str] = {
    ("charge", "current_a"): "their sum over time is what the counter counts",
    ("charge", "charge_mah"): "they count what the current brings",
    ("power", "current_a"): "they make the logged power with the voltage",
    ("power", "power_w"): "they are current times voltage",
    ("power", "pack_voltage_v"): "they make the logged power with the current",
    ("energy", "energy_wh"): "they count current times voltage",
    ("motors", "current_a"): "the motors add up to the whole",
    ("cells", "pack_voltage_v"): "they are what the cells add up to",
    ("cells", "cell_voltage_v"): "the cells add up to the pack",
    ("sag", "pack_voltage_v"): "they sag with the current as a pack does",
    ("sag", "cell_voltage_v"): "they sag with the current as cells do",
    ("sag", "current_a"): "the voltage sags with them as a pack's does",
    ("beside", "cell_voltage_v"): "they lie beside one another as cells do",
    ("throttle", "throttle_fraction"): "they rest with the motors, and the current rises with them",
    ("climb", "altitude_m"): "they rise as the climb rate says",
    ("climb", "climb_mps"): "they are the slope of the height",
}
"""What a tie of `physics` says of a quantity's numbers. Those that speak of a unit; the surer first."""

_PLACES = {
    "pack_voltage_v": "a pack's voltage",
    "cell_voltage_v": "a cell's voltage",
    "receiver_voltage_v": "a receiver's supply",
    "current_a": "a motor's current",
    "charge_mah": "a flight's charge",
    "power_w": "a motor's power",
    "energy_wh": "a flight's energy",
    "throttle_fraction": "a throttle",
    "rpm": "a propeller's speed",
    "link_fraction": "a link's quality",
}


def with_reason(
    own: Candidate,
    chosen: Collection[Candidate],
    evidence: ColumnEvidence,
    *,
    most: int = 2,
    least: float = 0.5,
) -> Candidate:
    """The candidate with its reason told, where its unit is not the header's.

    Parameters
    ----------
    chosen : every reading that was taken; ties with others do not count.
    most : so many ties are named.
    least : a tie that brought less says nothing. [nats]
    """
    if own.stated:
        return own
    scores = evidence.ties_of(own, chosen)
    order = list(_TIES)
    found = sorted(
        (
            (name, own.quantity)
            for name, score in scores.items()
            if score > least and (name, own.quantity) in _TIES
        ),
        key=order.index,
    )
    if found:
        why = f"in {own.unit} " + " and ".join(_TIES[tie] for tie in found[:most])
    elif own.quantity in _PLACES:
        why = f"in {own.unit} they lie where those of {_PLACES[own.quantity]} do"
    elif own.quantity.endswith("temperature_c"):
        why = f"in {own.unit} they begin as warm as a day is"
    else:
        return own
    head, _, tail = own.reason.partition(f"the numbers are {own.unit}")
    if not tail and not own.reason.endswith(f"the numbers are {own.unit}"):
        return replace(own, reason=f"{own.reason}: {why}") if own.overrules else own
    return replace(own, reason=f"{head}{why}{tail}")
