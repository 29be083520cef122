"""The rows of a large, clean file in one go, by pyarrow; anything odd sends the file the careful way."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv

from telemetry.importers.table import RawColumn
from telemetry.importers.text.dialect import Record, Split
from telemetry.importers.text.header import Header
from telemetry.importers.text.numbers import BEYOND, MISSING, decimal_votes, is_missing, style_of, to_numbers

_NULLS = sorted(
    {spelling for mark in MISSING for spelling in (mark, mark.upper(), mark.capitalize())}
    | {"NaN", "N/A", "n/A"}
)


def _first_byte(raw: bytes, line: int, head: int) -> int:
    return sum(len(text) for text in raw[:head].splitlines(keepends=True)[: line - 1])


def _types(below: Sequence[Record], width: int, decimal: str) -> list[pa.DataType] | None:
    """Number or text for each column, by the rows of the head; None when a number's decimal sign is in
    doubt.
    """
    types: list[pa.DataType] = []
    for i in range(width):
        filled = list(dict.fromkeys(r.fields[i] for r in below if not is_missing(r.fields[i])))
        style = style_of(filled, decimal, looked_at=200)
        numbers = to_numbers(filled, style)
        if style.unit or (style.decimal != decimal and any("." in f or "," in f for f in filled)):
            return None
        types.append(pa.float64() if filled and np.isfinite(numbers).all() else pa.string())
    return types


def bulk_columns(
    raw: bytes, head: int, split: Split, header: Header, found: Sequence[Record], decimal: str
) -> tuple[RawColumn, ...] | None:
    """The columns of a file whose every row is as its head, or None when one is not.

    Parameters
    ----------
    raw : the whole file, in an encoding that keeps ASCII as it is.
    head : how many bytes of it were looked at.
    found : the head's records.
    """
    width = len(header.names)
    below = [r for r in found if r.line >= header.first_row_line]
    point, comma, _ = decimal_votes(f for r in below[:: max(1, len(below) // 100)] for f in r.fields)
    if (
        split.delimiter == " "
        or not point + comma
        or any(len(r.fields) != width for r in below)
        or b"\n" not in raw[:head]
        or b"\x00" in raw[:head]
    ):
        return None
    types = _types(below, width, decimal)
    if types is None:
        return None
    start = _first_byte(raw, header.first_row_line, head)
    names = [str(i) for i in range(width)]
    try:
        table = pacsv.read_csv(
            pa.BufferReader(pa.py_buffer(raw).slice(start)),
            read_options=pacsv.ReadOptions(column_names=names, block_size=1 << 22),
            parse_options=pacsv.ParseOptions(
                delimiter=split.delimiter, quote_char='"' if split.quoting else False
            ),
            convert_options=pacsv.ConvertOptions(
                column_types=dict(zip(names, types, strict=True)),
                null_values=_NULLS,
                decimal_point=decimal,
                strings_can_be_null=False,
            ),
        )
    except pa.ArrowInvalid:
        return None
    lines = raw.count(b"\n", start) + (not raw.endswith(b"\n"))
    if table.num_rows != lines:
        return None
    return tuple(_column(table, i, header, decimal) for i in range(width))


def _column(table: pa.Table, i: int, header: Header, decimal: str) -> RawColumn:
    column = table.column(i)
    if column.type == pa.float64():
        numbers = np.concatenate([chunk.to_numpy(zero_copy_only=False) for chunk in column.chunks])
        if not (np.abs(numbers) < BEYOND).all():
            numbers[~(np.abs(numbers) < BEYOND)] = np.nan
        return RawColumn(header.names[i], header.units[i], header.groups[i], numbers)
    texts = np.array([t.strip() for t in column.to_pylist()], dtype=object)
    distinct = list(dict.fromkeys(texts))
    numbers = to_numbers(list(texts), style_of(distinct, decimal))
    plain = all(is_missing(t) for t in distinct)
    return RawColumn(header.names[i], header.units[i], header.groups[i], numbers, None if plain else texts)
