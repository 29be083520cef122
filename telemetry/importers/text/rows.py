"""Records below the header → columns of numbers; what is no row is left out and listed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.importers.table import RawColumn
from telemetry.importers.text.dialect import Record
from telemetry.importers.text.header import Header, is_comment
from telemetry.importers.text.numbers import is_missing, style_of, to_numbers
from telemetry.trace import Note, Rejected


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of one width.

    cells : a tuple of cells for each column.
    lines : the line of each row.
    """

    cells: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    rejected: tuple[Rejected, ...]
    notes: tuple[Note, ...]


def _why_not(fields: Sequence[str], width: int, header: Header) -> str | None:
    """Why a record is no row of readings, "" when it is to be passed over in silence, None when it is one."""
    if len(fields) != width:
        return f"{len(fields)} fields where the header has {width}"
    if all(is_missing(f) for f in fields):
        return ""
    return None


def sort_rows(found: Iterable[Record], header: Header, width: int) -> Rows:
    """Keep the rows of readings. Remarks, repeated headers and empty rows are passed over; the rest is
    rejected with its line.
    """
    names = tuple(n.strip() for n in header.names)
    kept: list[tuple[str, ...]] = []
    lines: list[int] = []
    rejected: list[Rejected] = []
    repeats = remarks = 0
    closed: list[bool] = []
    for record in found:
        fields = record.fields
        if any("\x00" in f for f in fields):
            if any(f.strip("\x00 ") for f in fields):
                rejected.append(
                    Rejected(record.line, "it holds NUL bytes: the power was lost while it was written")
                )
            continue
        is_closed = len(fields) == width + 1 and not fields[-1].strip()
        if is_closed:
            fields = fields[:-1]
        if len(fields) == width and any(fields):
            if fields[0].strip().strip('"') == names[0] and tuple(f.strip() for f in fields) == names:
                repeats += 1
            elif is_comment(fields[0]):
                remarks += 1
            else:
                kept.append(fields)
                lines.append(record.line)
                closed.append(is_closed)
            continue
        if is_comment(fields[0]):
            remarks += 1
        elif reason := _why_not(fields, width, header):
            rejected.append(Rejected(record.line, reason))
    kept, lines, open_rows = _all_closed(kept, lines, closed)
    rejected = sorted(rejected + open_rows, key=lambda r: r.line)
    notes = []
    if repeats:
        notes.append(
            Note(
                "header",
                "",
                "used",
                f"the header stands {repeats} times more between the rows: the recorder was restarted",
            )
        )
    if remarks:
        notes.append(Note("rows", "", "ignored", f"{remarks} lines are remarks"))
    columns = tuple(zip(*kept, strict=True)) if kept else ((),) * width
    return Rows(columns, tuple(lines), tuple(rejected), tuple(notes))


def _all_closed(
    kept: list[tuple[str, ...]], lines: list[int], closed: Sequence[bool], *, least: float = 0.95
) -> tuple[list[tuple[str, ...]], list[int], list[Rejected]]:
    """Where nearly every row ends in a delimiter, one that does not has lost a field: its others stand in
    wrong columns.
    """
    if all(closed) or sum(closed) < least * len(closed):
        return kept, lines, []
    lost = [
        Rejected(line, "a field is missing: it does not end in the delimiter as the others do")
        for line, one in zip(lines, closed, strict=True)
        if not one
    ]
    return (
        [r for r, one in zip(kept, closed, strict=True) if one],
        [n for n, one in zip(lines, closed, strict=True) if one],
        lost,
    )


def to_column(cells: Sequence[str], header: str, unit: str, group: str, decimal: str) -> RawColumn:
    """One column's numbers; its texts are kept when some cell is neither number nor blank."""
    distinct = list(dict.fromkeys(cells))
    style = style_of(distinct, decimal)
    numbers = to_numbers(cells, style)
    silent = np.isnan(numbers)
    plain = not silent.any() or all(is_missing(c) for c in {cells[int(i)] for i in np.flatnonzero(silent)})
    texts = None if plain else np.array([c.strip() for c in cells], dtype=object)
    return RawColumn(header, unit or style.unit, group, numbers, texts)
