"""Which readings need another column's word: those whose header says something besides, or another unit."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.evidence import ColumnEvidence
from telemetry.importers.columns.groups import siblings
from telemetry.importers.columns.meanings import KIND_OF_DIMENSION
from telemetry.importers.columns.reasons import TIES
from telemetry.importers.wording import Wording
from telemetry.quantities import ELECTRICAL
from telemetry.sentences import say

LEAST_TIE = 1.0
"""So much must a relation with another column say for such a reading. [nats]"""

_SHORTEST_WORD = 3
"""A shorter mark nobody knows names a channel or a place, no other thing."""

_OF_ONE_RECORDER = frozenset({"rotation", "throttle", "temperature", "thrust", "torque"})
"""What a motor's own columns speak of beside its voltage and current."""


def in_doubt(
    readings: Sequence[Candidate | None],
    spoken: Sequence[Wording],
    open_places: frozenset[int],
    evidence: ColumnEvidence,
) -> dict[int, str]:
    """Columns that are asked about although their numbers lie where the quantity's do, and why.

    Parameters
    ----------
    readings : of each column, None of one that has none.
    spoken : the wordings of their headers.
    open_places : what `recorders` found.
    """
    chosen = [r for r in readings if r is not None]
    why = {
        i: _uncorroborated(own, wording, chosen, evidence)
        for i, (own, wording) in enumerate(zip(readings, spoken, strict=True))
        if own is not None
    }
    why |= dict.fromkeys(open_places, say("importers", "columns", "recorders"))
    packs = [i for i, r in enumerate(readings) if r is not None and r.quantity == "pack_voltage_v"]
    if packs and all(why.get(i) for i in packs):
        why |= {
            i: why.get(i) or say("importers", "columns", "receiver_or_pack")
            for i, own in enumerate(readings)
            if own is not None
            and own.quantity == "receiver_voltage_v"
            and "receiver" not in spoken[i].subjects
        }
    return {i: clause for i, clause in why.items() if clause}


def _uncorroborated(
    own: Candidate, wording: Wording, chosen: Collection[Candidate], evidence: ColumnEvidence
) -> str:
    """Why an electrical quantity's header or unit speaks against a reading; "" where it doesn't, or where a
    relation with another column speaks for the reading.
    """
    if own.quantity not in ELECTRICAL:
        return ""
    another = next((word for word in wording.unknown if len(word) >= _SHORTEST_WORD), "")
    if not own.overrules and (not another or own.position):
        return ""
    ties = evidence.ties_of(own, chosen)
    known = {name for name, quantity in TIES if quantity == own.quantity}
    if max((score for name, score in ties.items() if name in known), default=0.0) >= LEAST_TIE:
        return ""
    if own.overrules:
        return say("importers", "columns", "other_unit", unit=wording.unit_text, fits=own.unit)
    return say("importers", "columns", "other_thing", word=another)


def recorders(spoken: Sequence[Wording]) -> frozenset[int]:
    """Columns of several recorders that headers tell apart by a number alone: U1, I1, U2, I2.

    They may stand on one wire, before and behind a converter, or on two packs: their places cannot be told.
    Numbered speeds, commands or temperatures beside them tell of motors, and so does the word itself.
    """
    found: dict[str, list[int]] = {}
    for group in siblings(spoken):
        first = spoken[group[0]]
        kind = next(iter(first.kinds or {KIND_OF_DIMENSION.get(u.dimension, "") for u in first.units}), "")
        if first.subjects or any(spoken[i].positions for i in group):
            if kind in _OF_ONE_RECORDER or "motor" in first.subjects:
                return frozenset()
            continue
        if kind in _OF_ONE_RECORDER:
            return frozenset()
        found.setdefault(kind, []).extend(group)
    places = [{spoken[i].number for i in found.get(kind, ())} for kind in ("voltage", "current")]
    if not places[0] or places[0] != places[1]:
        return frozenset()
    return frozenset(
        i for kind in ("voltage", "current", "power", "charge", "energy") for i in found.get(kind, ())
    )
