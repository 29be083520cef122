"""Why a unit that no header names was taken: what physics, else the numbers' range, said for it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from telemetry.importers.columns.candidates import Candidate, numbers_are
from telemetry.importers.columns.evidence import ColumnEvidence
from telemetry.importers.columns.physics import ELECTRICAL
from telemetry.sentences import say

TIES = (
    ("charge", "current_a"),
    ("charge", "charge_mah"),
    ("power", "current_a"),
    ("power", "power_w"),
    ("power", "pack_voltage_v"),
    ("energy", "energy_wh"),
    ("motors", "current_a"),
    ("cells", "pack_voltage_v"),
    ("cells", "cell_voltage_v"),
    ("sag", "pack_voltage_v"),
    ("sag", "cell_voltage_v"),
    ("sag", "current_a"),
    ("beside", "cell_voltage_v"),
    ("throttle", "throttle_fraction"),
    ("climb", "altitude_m"),
    ("climb", "climb_mps"),
)
"""The ties of `physics` that speak of a quantity's unit, the surer first; the words tell what each says."""

PLACED = (*ELECTRICAL, "throttle_fraction", "rpm", "link_fraction")
"""Quantities that are told by where their numbers lie."""


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
    found = [tie for tie in TIES if tie[1] == own.quantity and scores.get(tie[0], 0.0) > least]
    if found:
        told = (say("importers", "columns", "ties", *tie) for tie in found[:most])
        why = say("events", "and").join(told)
    elif own.quantity in PLACED:
        why = say("importers", "columns", "placed", place=say("importers", "columns", "places", own.quantity))
    elif own.quantity.endswith("temperature_c"):
        why = say("importers", "columns", "warm")
    else:
        return own
    why = say("importers", "columns", "in_unit", unit=own.unit, why=why)
    if own.overrules:
        return replace(own, reason=f"{own.reason}: {why}")
    return replace(own, reason=own.reason.replace(numbers_are(own.unit), why))
