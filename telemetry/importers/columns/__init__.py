"""Table → quantities: words and units propose, physics decides, doubt is reported."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.importers.clock import Timed
from telemetry.importers.columns.assignment import Chosen, assign
from telemetry.importers.columns.candidates import Candidate, candidates, readings
from telemetry.importers.columns.evidence import Evidence, held, thinning
from telemetry.importers.faults import rough
from telemetry.importers.wording import Wording, read_header
from telemetry.importers.columns.groups import from_one, untapped
from telemetry.importers.table import RawColumn, Table
from telemetry.quantities import QUANTITIES
from telemetry.trace import Column

__all__ = ["Understood", "understand", "untapped", "wordings"]

LEAST_MARGIN = 1.5
"""A reading that beats the next by less, e^1.5 ≈ 4.5 to 1, is doubtful."""


@dataclass(frozen=True, slots=True)
class Understood:
    """How one column is read; `candidate` is None when it is not used."""

    column: Column
    candidate: Candidate | None


def wordings(table: Table) -> tuple[Wording, ...]:
    """What each header says, with the words of the header rows above it."""
    found = []
    for column in table.columns:
        spoken = f"{column.group} {column.header}" if column.group else column.header
        found.append(readings(*read_header(spoken, column.unit)))
    return from_one(found)


def _thinned(timed: Timed, *, most: int = 3000) -> Evidence:
    keep = thinning(timed.time_s.size, most)
    columns = tuple(held(rough(c.numbers))[keep] for c in timed.table.columns)
    return Evidence(timed.time_s[keep], columns, has_clock=timed.first_own_s is not None)


def _dead(column: RawColumn) -> str:
    """Why a column holds nothing to use, "" when it does."""
    values = column.numbers[np.isfinite(column.numbers)]
    if values.size == 0:
        return "no numbers in it"
    if values.min() == values.max():
        return "it reads 0 throughout" if values[0] == 0 else "it never changes"
    return ""


def _unconnected(column: RawColumn, wording: Wording, *, least: float = 0.5) -> bool:
    """Whether a voltage column reads next to nothing in whatever unit: its lead was not connected."""
    return "voltage" in wording.kinds and float(np.nanpercentile(np.abs(column.numbers), 99)) < least


def _answered(answer: str, column: int, wording: Wording) -> tuple[Candidate, ...]:
    if answer == "ignore":
        return ()
    quantity, _, position = answer.partition("@")
    return tuple(c for c in candidates(column, wording) if c.quantity == quantity) or _forced(column, quantity, position, wording)


def _forced(column: int, quantity: str, position: str, wording: Wording) -> tuple[Candidate, ...]:
    unit = wording.units[0] if wording.units else None
    return (Candidate(column, quantity, position, unit.name if unit else QUANTITIES[quantity].unit, unit.factor if unit else 1.0, unit.offset if unit else 0.0, 20.0,
                      "you said so"),)


def understand(timed: Timed, spoken: tuple[Wording, ...], answers: Mapping[str, str] | None = None) -> tuple[Understood, ...]:
    """How each column of a table on its clock is read, in file order."""
    evidence = _thinned(timed)
    given = answers or {}
    options: list[tuple[Candidate, ...]] = []
    for i, (column, wording) in enumerate(zip(timed.table.columns, spoken, strict=True)):
        if i in timed.columns or not np.isfinite(column.numbers).any():
            options.append(())
        elif column.header in given:
            options.append(_answered(given[column.header], i, wording))
        elif _dead(column) or _unconnected(column, wording):
            options.append(())
        else:
            options.append(candidates(i, wording))
    chosen = assign(options, evidence)
    reports = [_report(i, c, w, o, k, timed) for i, (c, w, o, k) in enumerate(zip(timed.table.columns, spoken, options, chosen, strict=True))]
    return tuple(_repeat(one, o, reports, evidence) for one, o in zip(reports, options, strict=True))


def _repeat(one: Understood, options: tuple[Candidate, ...], others: Sequence[Understood], evidence: Evidence, *, near: float = 0.02) -> Understood:
    """A column left over because another holds the same quantity: ignored, not doubtful, where both say the same."""
    if one.column.status != "doubtful" or one.column.quantity is not None:
        return one
    for other in others:
        used = other.candidate
        if used is None or other.column.status != "used":
            continue
        for candidate in options:
            if (candidate.quantity, candidate.position) == (used.quantity, used.position) and _agree(candidate, used, evidence, near):
                return replace(one, column=replace(one.column, status="ignored", reason=f"it says the same as {other.column.header}, which is used"))
    return one


def _agree(a: Candidate, b: Candidate, evidence: Evidence, near: float) -> bool:
    ours, theirs = evidence.values(a), evidence.values(b)
    both = np.isfinite(ours) & np.isfinite(theirs)
    size = float(np.max(np.abs(theirs[both]), initial=0.0))
    return bool(both.any()) and size > 0 and float(np.median(np.abs(ours[both] - theirs[both]))) < near * size


def _report(i: int, column: RawColumn, wording: Wording, options: tuple[Candidate, ...], chosen: Chosen, timed: Timed) -> Understood:
    if i in timed.columns:
        status = "doubtful" if timed.doubtful else "used"
        return Understood(Column(column.header, "time_s", "", timed.unit, status, timed.reason), None)
    own = chosen.candidate
    if own is None:
        status, reason = _left_out(column, wording, options)
        return Understood(Column(column.header, None, "", wording.unit_text, status, reason), None)
    if chosen.margin < LEAST_MARGIN and chosen.runner_up is not None:
        other = chosen.runner_up
        reason = f"it could be {own.quantity}{_at(own)} in {own.unit} or {other.quantity}{_at(other)} in {other.unit}; name it to use it"
        return Understood(Column(column.header, own.quantity, own.position, own.unit, "doubtful", reason), None)
    return Understood(Column(column.header, own.quantity, own.position, own.unit, "used", own.reason), own)


def _at(candidate: Candidate) -> str:
    return f"@{candidate.position}" if candidate.position else ""


def _left_out(column: RawColumn, wording: Wording, options: tuple[Candidate, ...]) -> tuple[str, str]:
    dead = _dead(column)
    if dead:
        return "ignored", dead
    if _unconnected(column, wording):
        return "ignored", "it reads 0 V: not connected"
    if wording.aside:
        return "ignored", wording.aside
    if "time" in wording.kinds or "date" in wording.kinds or "counter" in wording.kinds:
        return "ignored", "another column is the clock"
    if options:
        return "doubtful", "another column fits better with what it could be; name it to use it"
    if wording.kinds - {"event"}:
        return "doubtful", f"it speaks of {' and '.join(sorted(wording.kinds))}, but not of what; name it to use it"
    return "ignored", "no word or unit in it is known"
