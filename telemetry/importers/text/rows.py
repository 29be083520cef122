"""Records below the header → columns of numbers; what is no row is left out and listed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from telemetry.importers.table import RawColumn
from telemetry.importers.text.bounds import long_cell
from telemetry.importers.text.dialect import Record
from telemetry.importers.text.header import Header, is_comment, is_reading
from telemetry.importers.text.numbers import is_missing, style_of, to_numbers
from telemetry.sentences import say
from telemetry.trace import Note, Rejected

_FAULT = re.compile(r"#[A-Za-z/0]+[!?]?$")
"""What a table program writes for a cell that it could not work out: #VALUE!, #DIV/0! (ECMA-376 part 1,
18.17.3, from memory).
"""

_Verdict = Literal["row", "header", "remark", "empty", "broken"]


@dataclass(frozen=True, slots=True)
class ReadingRows:
    """Rows of one width.

    cells : a tuple of cells for each column.
    lines : the line of each row.
    """

    cells: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    rejected: tuple[Rejected, ...]
    notes: tuple[Note, ...]


def _judge(record: Record, names: Sequence[str], width: int) -> tuple[_Verdict, Rejected | None]:
    """What a record is, and why where it is broken. A delimiter after the last field is forgiven."""
    fields = record.fields

    def broken(kind: str, place: int, reason: str) -> tuple[_Verdict, Rejected]:
        column = names[place] if place < len(names) else ""
        return "broken", Rejected(record.line, reason, column, kind)

    if any("\x00" in f for f in fields):
        if not any(f.strip("\x00 ") for f in fields):
            return "empty", None
        return broken("nul", next(i for i, f in enumerate(fields) if "\x00" in f), _say("nul_bytes"))
    if len(fields) == width + 1 and not fields[-1].strip():
        fields = fields[:-1]
    full = len(fields) == width and any(fields)
    if full and fields[0].strip().strip('"') == names[0] and tuple(f.strip() for f in fields) == names:
        return "header", None
    if is_comment(fields[0]) and not (full and is_reading(fields[1:]) and _FAULT.match(fields[0].strip())):
        return "remark", None
    if len(fields) != width:
        return broken("fields", len(fields), _say("fields", count=len(fields), width=width))
    if full and (reason := long_cell(fields)):
        return broken("long_cell", max(range(width), key=lambda i: len(fields[i])), reason)
    return ("row" if full else "empty"), None


def sort_rows(found: Iterable[Record], header: Header, width: int) -> ReadingRows:
    """Keep the rows of readings. Remarks, repeated headers and empty rows are passed over; the rest is
    rejected with its line.

    Parameters
    ----------
    found : the records below the header.
    width : how many fields a row has.

    Returns
    -------
    The rows of readings by column, each (rows,), with what was left out.
    """
    names = tuple(n.strip() for n in header.names)
    kept: list[Record] = []
    once: dict[str, str] = {}
    rejected: list[Rejected] = []
    seen: Counter[_Verdict] = Counter()
    for record in found:
        verdict, why = _judge(record, names, width)
        seen[verdict] += 1
        if verdict == "row":
            # Equal cells share one text: a log of many rows would take ten times its file.
            kept.append(Record(record.line, tuple(once.setdefault(f, f) for f in record.fields)))
        elif why is not None:
            rejected.append(why)
    kept, unclosed = _all_closed(kept, width)
    notes = []
    if repeats := seen["header"]:
        notes.append(Note("header", "", "used", _say("header_again", count=repeats)))
    if remarks := seen["remark"]:
        notes.append(Note("rows", "", "ignored", _say("remarks", count=remarks)))
    columns = tuple(zip(*(r.fields[:width] for r in kept), strict=True)) if kept else ((),) * width
    return ReadingRows(
        columns,
        tuple(r.line for r in kept),
        tuple(sorted(rejected + unclosed, key=lambda r: r.line)),
        tuple(notes),
    )


def _say(key: str, **values: Any) -> str:
    return say("importers", "text", key, **values)


def _all_closed(
    kept: list[Record], width: int, *, least: float = 0.95
) -> tuple[list[Record], list[Rejected]]:
    """Where nearly every row ends in a delimiter, one that does not has lost a field: its others stand in
    wrong columns.
    """
    unclosed = [r for r in kept if len(r.fields) == width]
    if not unclosed or len(kept) - len(unclosed) < least * len(kept):
        return kept, []
    reason = _say("unclosed")
    return [r for r in kept if len(r.fields) > width], [
        Rejected(r.line, reason, kind="unclosed") for r in unclosed
    ]


def to_column(cells: Sequence[str], header: str, unit: str, group: str, decimal: str) -> RawColumn:
    """One column's numbers; its texts are kept when some cell is neither number nor blank."""
    distinct = list(dict.fromkeys(cells))
    style = style_of(distinct, decimal)
    numbers = to_numbers(cells, style)
    silent = np.isnan(numbers)
    plain = not silent.any() or all(is_missing(c) for c in {cells[int(i)] for i in np.flatnonzero(silent)})
    texts = None if plain else np.array([c.strip() for c in cells], dtype=object)
    return RawColumn(header, unit or style.unit, group, numbers, texts)
