"""Bytes → table: encoding, preamble, delimiter, decimal sign, header, unit row, broken rows."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np

from telemetry.errors import BadLog
from telemetry.importers.table import Dialect, Table
from telemetry.importers.text.bounds import lines_of, refuse_long_names, refuse_many_lines, refuse_wide
from telemetry.importers.text.bulk import bulk_columns
from telemetry.importers.text.dialect import Record, Split, best_split, decimal_of, records
from telemetry.importers.text.encoding import decode, refuse_binary
from telemetry.importers.text.header import Header, find_header
from telemetry.importers.text.rows import sort_rows, to_column

HEAD = 65_536
"""The dialect is decided from this many letters."""

__all__ = ["read_table"]


def _head(text: str) -> str:
    if len(text) <= HEAD:
        return text
    cut = max(text.rfind("\n", 0, HEAD), text.rfind("\r", 0, HEAD))
    return text[: cut if cut > 0 else HEAD]


@dataclass(frozen=True, slots=True)
class _Layout:
    """What the head of a file says about all of it."""

    split: Split
    header: Header
    found: tuple[Record, ...]
    decimal: str


def _layout(text: str, file: str) -> _Layout:
    head = _head(text)
    split = best_split(head)
    if split.width < 2:
        raise _no_numbers(head, file)
    refuse_wide(split.width, file)
    try:
        found = tuple(islice(records(head, split.delimiter, quoting=split.quoting), 2000))
    except csv.Error as error:
        raise _unsplit(error, file) from None
    header = find_header(found, split.width, file)
    refuse_long_names((*header.names, *header.groups, *header.units), header.line, file)
    below = [r for r in found if r.line >= header.first_row_line]
    return _Layout(split, header, found, decimal_of(below[:: max(1, len(below) // 200)], split.delimiter))


def read_table(raw: bytes, file: str, *, bulk_from: int = 2_000_000) -> Table:
    """The table that a file's bytes hold.

    Parameters
    ----------
    raw : the whole file.
    file : its name, for messages.
    bulk_from : files of so many bytes are first tried in one go, which only clean ones survive.

    Raises
    ------
    BadLog : empty, not text, without rows of numbers, with more fields than names, or beyond the limits of
        rows, columns, and letters in a line or heading.
    """
    if not raw[:HEAD].strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise BadLog("the file is empty", "Copy the log from the recorder again.", file=file)
    refuse_binary(raw[:4096], file)
    refuse_many_lines(raw, file)
    if len(raw) >= bulk_from:
        table = _in_bulk(raw, file)
        if table is not None:
            return table
    return _carefully(raw, file)


def _in_bulk(raw: bytes, file: str) -> Table | None:
    cut = raw.rfind(b"\n", 0, HEAD) + 1
    decoded = decode(raw[:cut])
    if not cut or decoded.encoding.startswith(("utf-16", "utf-32")) or decoded.notes:
        return None
    layout = _layout(decoded.text, file)
    header = layout.header
    columns = bulk_columns(raw, cut, layout.split, header, layout.found, layout.decimal)
    if columns is None:
        return None
    lines = np.arange(header.first_row_line, header.first_row_line + columns[0].numbers.size, dtype=np.int64)
    dialect = Dialect(decoded.encoding, layout.split.delimiter, layout.decimal, layout.split.quoting)
    return Table(
        file, columns, lines, dialect, _preamble(layout.found, header), header.line, (), header.notes
    )


def _carefully(raw: bytes, file: str) -> Table:
    decoded = decode(raw)
    layout = _layout(decoded.text, file)
    split, header = layout.split, layout.header
    rows_found = (
        r
        for r in records(decoded.text, split.delimiter, quoting=split.quoting, file=file)
        if r.line >= header.first_row_line
    )
    try:
        rows = sort_rows(rows_found, header, len(header.names))
    except csv.Error as error:
        raise _unsplit(error, file) from None
    if not rows.lines or len(rows.rejected) > len(rows.lines):
        worst = rows.rejected[0]
        raise BadLog(worst.reason, "Remove such lines, or export the log again.", file=file, line=worst.line)
    named = zip(rows.cells, header.names, header.units, header.groups, strict=True)
    columns = tuple(to_column(cells, name, unit, group, layout.decimal) for cells, name, unit, group in named)
    dialect = Dialect(decoded.encoding, split.delimiter, layout.decimal, split.quoting)
    notes = decoded.notes + header.notes + rows.notes
    return Table(
        file,
        columns,
        np.array(rows.lines, dtype=np.int64),
        dialect,
        _preamble(layout.found, header),
        header.line,
        rows.rejected,
        notes,
    )


def _unsplit(error: csv.Error, file: str) -> BadLog:
    return BadLog(f"the text cannot be split into fields ({error})", "Export the log again.", file=file)


def _preamble(found: Sequence[Record], header: Header) -> tuple[str, ...]:
    first = header.line or header.first_row_line
    return tuple(" ".join(r.fields).strip() for r in found if r.line < first)


def _no_numbers(head: str, file: str) -> BadLog:
    widths = [len(re.split("[,;\t|]", line)) for line in lines_of(head) if line.strip()]
    refuse_wide(max(widths, default=0), file)
    if widths and widths[0] > 1 and len(widths) <= 2:
        return BadLog(
            "a header and no rows below it",
            "Copy the log from the recorder again, after a run.",
            file=file,
            line=1,
        )
    return BadLog("no line holds a row of numbers", "Give the CSV that the recorder wrote.", file=file)
