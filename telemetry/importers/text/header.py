"""Where the names stand: preamble, up to three rows of header, a row of units, then readings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NoReturn

from telemetry.errors import BadLog
from telemetry.importers.clock.instants import is_time
from telemetry.importers.text.dialect import Record, is_value
from telemetry.importers.text.numbers import is_missing, is_number
from telemetry.importers.units import is_unit
from telemetry.sentences import say
from telemetry.trace import Note

_COMMENT = ("#", "%", "//", ";;")


@dataclass(frozen=True, slots=True)
class Header:
    """The names over the columns.

    `names`, `units`, `groups` have one entry a column. `line` is 0 without a header.
    `first_row_line` is the line of the first readings.
    """

    names: tuple[str, ...]
    units: tuple[str, ...]
    groups: tuple[str, ...]
    line: int
    first_row_line: int
    notes: tuple[Note, ...] = ()


def is_comment(line: str) -> bool:
    """Whether a line is a remark between the rows."""
    return line.lstrip().startswith(_COMMENT)


def is_reading(fields: Sequence[str]) -> bool:
    """Whether a record is a row of readings: something in it is a number or a time, and hardly anything
    else.
    """
    filled = [f for f in fields if not is_missing(f)]
    values = sum(is_number(f) or is_time(f) for f in filled)
    return bool(values) and 2 * values >= len(filled)


def _first_reading(found: Sequence[Record], width: int) -> int | None:
    for i, record in enumerate(found):
        near = abs(len(record.fields) - width) <= 1
        following = [r for r in found[i + 1 : i + 8] if not is_comment(r.fields[0])][:4]
        steady = not following or sum(is_reading(r.fields) for r in following) * 2 >= len(following)
        if near and is_reading(record.fields) and steady:
            return i
    return None


def _clean(fields: Sequence[str]) -> tuple[str, ...]:
    cleaned = [" ".join(f.split()).strip('"').strip() for f in fields]
    if cleaned:
        cleaned[0] = cleaned[0].lstrip("#%/").strip() if cleaned[0].startswith(_COMMENT) else cleaned[0]
    return tuple(cleaned)


def _could_head(fields: Sequence[str]) -> bool:
    filled = [f for f in fields if f.strip()]
    words = [f for f in filled if not is_value(f)]
    return bool(filled) and 2 * len(words) >= len(filled)


def _is_unit_row(fields: Sequence[str]) -> bool:
    filled = [f for f in fields if f]
    return bool(filled) and sum(is_unit(f) for f in filled) >= 0.7 * len(filled)


def _spread(groups: Sequence[str]) -> tuple[str, ...]:
    """Words of an upper header row, carried over the empty cells to their right."""
    carried, last = [], ""
    for group in groups:
        last = group or last
        carried.append(last)
    return tuple(carried)


def _fit(fields: Sequence[str], width: int) -> tuple[str, ...]:
    return tuple(fields[:width]) + ("",) * max(0, width - len(fields))


def _aligned(record: Record, below: Record) -> Record:
    """A header line of a table aligned with blanks: its words by the columns of the numbers below it.

    Names may hold single blanks, and a row of units may leave places empty. A word goes to
    the column whose stretch of the line it overlaps, else to the one that ends nearest. A line without any
    two blanks together is a sentence above the table.
    """
    if not record.text or len(record.fields) == len(below.fields):
        return record
    wide = tuple(re.split(r"\s{2,}|\t", record.text.strip()))
    if len(wide) == len(below.fields):
        return Record(record.line, wide, record.text)
    if 2 * len(record.fields) < len(below.fields) or len(wide) < 2:
        return record
    spans = [m.span() for m in re.finditer(r"\S+", below.text)]
    placed = [""] * len(spans)
    for word in re.finditer(r"\S+", record.text):
        nearest = min(
            range(len(spans)),
            key=lambda i: (
                max(spans[i][0] - word.end(), word.start() - spans[i][1], 0),
                abs(spans[i][1] - word.end()),
            ),
        )
        placed[nearest] = f"{placed[nearest]} {word[0]}".strip()
    return Record(record.line, tuple(placed), record.text)


def _in_place(record: Record, below: Record) -> bool:
    """Whether the words of a line stand over the columns of numbers, each over its own."""
    if not record.text:
        return False
    words = [m.span() for m in re.finditer(r"\S+(?: \S+)*", record.text)]
    spans = [m.span() for m in re.finditer(r"\S+", below.text)]
    return len(words) == len(spans) and all(
        a < d and c < b for (a, b), (c, d) in zip(words, spans, strict=True)
    )


def _above(found: Sequence[Record], first: int, width: int, file: str) -> list[Record]:
    rows: list[Record] = []
    above = found[max(0, first - 3) : first]
    if any(_in_place(r, found[first]) for r in above):
        above = [_aligned(r, found[first]) for r in above]
    for record in reversed(above):
        fields, named = record.fields, sum(not _is_unit_row(r.fields) for r in rows)
        if record.text and len(fields) < width and not rows and _is_unit_row(fields):
            # A row of units with empty places, in a table whose columns do not stand in line: it cannot be
            # told which is whose.
            continue
        if (is_comment(fields[0]) and named) or not _could_head(fields):
            break
        # A table aligned with blanks has a name over each column; elsewhere a delimiter may be missing.
        if abs(len(fields) - width) > (0 if record.text else 1):
            if not named and len(rows) < 2 and len(fields) > 1:
                _refuse_names(len(fields), width, record.line, file)
            break
        rows.insert(0, record)
    return rows


def _refuse_names(names: int, width: int, line: int, file: str) -> NoReturn:
    raise BadLog(
        f"the header has {names} names and the rows have {width} fields",
        "Put a name over each field; if the commas between fields are decimal commas too, export with "
        "semicolons.",
        file=file,
        line=line,
    )


def find_header(found: Sequence[Record], width: int, file: str) -> Header:
    """The header above the first row of readings.

    Parameters
    ----------
    found : the file's records from the top.
    width : how many fields a row of readings has.

    Returns
    -------
    The names over the columns, their units and groups; numbered columns where the file names none.

    Raises
    ------
    BadLog : no row holds numbers, a header without rows, or names and fields that differ in number.
    """
    first = _first_reading(found, width)
    if first is None:
        raise BadLog("no line holds a row of numbers", "Give the CSV that the recorder wrote.", file=file)
    rows = [Record(r.line, _clean(r.fields)) for r in _above(found, first, width, file)]
    start_line = found[first].line
    if not rows:
        names = tuple(f"column {i + 1}" for i in range(width))
        note = Note("header", "", "used", say("importers", "text", "no_names"))
        return Header(names, ("",) * width, ("",) * width, 0, start_line, (note,))
    if trailing(found, width) and all(len(r.fields) <= width - 1 or not r.fields[-1] for r in rows):
        width -= 1
        rows = [Record(r.line, r.fields[:width]) for r in rows]
    units = next((r for r in reversed(rows) if len(rows) > 1 and _is_unit_row(r.fields)), None)
    *upper, bottom = [r for r in rows if r is not units]
    names = _names(bottom.fields, width, bottom.line, file)
    groups = _groups(upper, bottom, names)
    return Header(
        tuple(n or g for n, g in zip(names, groups, strict=True)),
        _fit(units.fields, width) if units else ("",) * width,
        tuple(g if n else "" for n, g in zip(names, groups, strict=True)),
        bottom.line,
        start_line,
        (Note("unit row", "", "used", say("importers", "text", "unit_row", line=units.line)),)
        if units
        else (),
    )


def _groups(upper: Sequence[Record], bottom: Record, names: Sequence[str]) -> tuple[str, ...]:
    """The words of the rows above the names, by column; a row that has more different words over the names
    than there are names is no group's.
    """
    named = sum(map(bool, bottom.fields))
    spread = [
        _spread(_fit(r.fields, len(names)))
        for r in upper
        if len(r.fields) >= len(names) - 1
        and len({w for w, n in zip(r.fields, names, strict=False) if w and n}) <= named
    ]
    return tuple(" ".join(row[c] for row in spread if row[c] not in ("", n)) for c, n in enumerate(names))


def trailing(found: Sequence[Record], width: int) -> bool:
    """Whether every row of this width ends in an empty field: a delimiter after the last value."""
    rows = [r.fields for r in found[:300] if len(r.fields) == width and is_reading(r.fields)]
    return bool(rows) and not any(f[-1].strip() for f in rows)


def _names(cleaned: Sequence[str], width: int, line: int, file: str) -> tuple[str, ...]:
    """The names, if there are as many as fields; a trailing delimiter on either side is forgiven."""
    names = list(cleaned)
    while len(names) > width and not names[-1]:
        names.pop()
    if len(names) != width:
        _refuse_names(len(names), width, line, file)
    return tuple(names)
