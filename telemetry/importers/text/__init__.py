"""Bytes → table: encoding, preamble, delimiter, decimal sign, header, unit row, broken rows."""

from __future__ import annotations

import csv
from itertools import islice

import numpy as np

from telemetry.errors import BadLog
from telemetry.importers.table import Dialect, Table
from telemetry.importers.text.dialect import Record, best_split, decimal_of, records
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


def read_table(raw: bytes, file: str) -> Table:
    """The table that a file's bytes hold.

    Parameters
    ----------
    raw : the whole file.
    file : its name, for messages.

    Raises
    ------
    BadLog : empty, not text, without rows of numbers, or with more fields than names.
    """
    if not raw.strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise BadLog("the file is empty", "Copy the log from the recorder again.", file=file)
    refuse_binary(raw[:4096], file)
    decoded = decode(raw)
    text = decoded.text.replace("\x00", "")
    head = _head(text)
    split = best_split(head)
    if split.width < 2:
        raise _no_numbers(head, file)
    try:
        found = list(islice(records(head, split.delimiter, quoting=split.quoting), 2000))
        header = find_header(found, split.width, file)
        rows_found = (r for r in records(text, split.delimiter, quoting=split.quoting) if r.line >= header.first_row_line)
        width = len(header.names)
        rows = sort_rows(rows_found, header, width)
    except csv.Error as error:
        raise BadLog(f"the text cannot be split into fields ({error})", "Export the log again.", file=file) from None
    if not rows.lines or len(rows.rejected) > len(rows.lines):
        worst = rows.rejected[0]
        raise BadLog(worst.reason, "Remove such lines, or export the log again.", file=file, line=worst.line)
    below = [r for r in found if r.line >= header.first_row_line]
    decimal = decimal_of(below[:: max(1, len(below) // 200)], split.delimiter)
    columns = tuple(
        to_column(cells, name, unit, group, decimal) for cells, name, unit, group in zip(rows.cells, header.names, header.units, header.groups, strict=True)
    )
    dialect = Dialect(decoded.encoding, split.delimiter, decimal, split.quoting)
    return Table(
        file, columns, np.array(rows.lines, dtype=np.int64), dialect, _preamble(found, header), header.line, rows.rejected,
        decoded.notes + header.notes + rows.notes,
    )


def _preamble(found: list[Record], header: Header) -> tuple[str, ...]:
    first = header.line or header.first_row_line
    return tuple(" ".join(r.fields).strip() for r in found if r.line < first)


def _no_numbers(head: str, file: str) -> BadLog:
    widths = [best for best in (len(line.replace(";", ",").replace("\t", ",").split(",")) for line in head.splitlines() if line.strip())]
    if widths and widths[0] > 1 and len(widths) <= 2:
        return BadLog("a header and no rows below it", "Copy the log from the recorder again, after a run.", file=file, line=1)
    return BadLog("no line holds a row of numbers", "Give the CSV that the recorder wrote.", file=file)
