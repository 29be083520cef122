"""Which delimiter splits the text into the most rows of equally many numbers."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from telemetry.importers.clock.instants import is_time
from telemetry.importers.text.bounds import lines_of
from telemetry.importers.text.numbers import decimal_votes, is_missing, is_number

DELIMITERS = (",", ";", "\t", "|", " ")
_BLANKS = re.compile(r"\s{2,}|\t")


@dataclass(frozen=True, slots=True)
class Record:
    """One record of the file: the line it starts on, its fields; its text where blanks split it."""

    line: int
    fields: tuple[str, ...]
    text: str = ""


def records(text: str, delimiter: str, *, quoting: bool = True, file: str = "") -> Iterator[Record]:
    """The records of a text, by the rules of RFC 4180; blank lines are left out.

    Line ends may be CR, LF or CRLF. With the delimiter " " runs of blanks split.

    Raises
    ------
    BadLog : a line longer than any row.
    csv.Error : quotes that do not close.
    """
    source = lines_of(text, file=file)
    if delimiter == " ":
        for number, text_line in enumerate(source, start=1):
            if text_line.strip():
                yield Record(number, tuple(text_line.split()), text_line)
        return
    reader = csv.reader(source, delimiter=delimiter, quoting=csv.QUOTE_MINIMAL if quoting else csv.QUOTE_NONE)
    line = 1
    for fields in reader:
        if any(fields) or len(fields) > 1:
            yield Record(line, tuple(fields))
        line = reader.line_num + 1


def is_value(cell: str) -> bool:
    """Whether a cell can stand in a row of readings."""
    return is_missing(cell) or is_number(cell) or is_time(cell)


@dataclass(frozen=True, slots=True)
class Split:
    """How well one delimiter does: `score` 0…1, the usual number of fields."""

    delimiter: str
    score: float
    width: int
    quoting: bool


def _score(found: list[Record]) -> tuple[float, int]:
    # Rows of readings only: at least half of what they hold is a number or a time.
    readings: list[tuple[int, int, int]] = []
    found = found[:80] + found[80 :: max(1, len(found) // 60)]
    for record in found:
        filled = [f for f in record.fields if not is_missing(f)]
        numeric = sum(is_number(f) or is_time(f) for f in filled)
        if len(record.fields) > 1 and numeric and 2 * numeric >= len(filled):
            readings.append((len(record.fields), numeric, len(filled)))
    if not readings:
        return 0.0, 0
    width, same = Counter(w for w, _, _ in readings).most_common(1)[0]
    at_width = [(numeric, filled) for w, numeric, filled in readings if w == width]
    purity = sum(n for n, _ in at_width) / max(1, sum(f for _, f in at_width))
    consistency = same / len(readings)
    presence = min(1.0, len(readings) / max(1.0, 0.5 * len(found)))
    return purity**2 * consistency * (0.5 + 0.5 * presence), width


def split_by(text: str, delimiter: str) -> Split:
    """Judge one delimiter on the head of a file."""
    quoting = delimiter != " "
    try:
        found = list(records(text, delimiter, quoting=quoting))
        runaway = any("\n" in f and f.count("\n") > 4 for r in found for f in r.fields)
    except csv.Error:
        runaway = True
    if runaway:
        quoting = False
        found = list(records(text, delimiter, quoting=False))
    score, width = _score(found)
    return Split(delimiter, score, width, quoting)


def best_split(text: str) -> Split:
    """The delimiter of a text. Ties go to the wider table, then to the order of `DELIMITERS`."""
    splits = [split_by(text, d) for d in DELIMITERS]
    return max(splits, key=lambda s: (round(s.score, 2), s.delimiter != " ", s.width))


def decimal_of(found: list[Record], delimiter: str) -> str:
    """The file's decimal sign, by the cells that can have only one."""
    point, comma, _ = decimal_votes(f for r in found for f in r.fields if is_number(f))
    if point == comma == 0:
        marks = Counter(m for r in found for f in r.fields if is_number(f) for m in f if m in ".,")
        if marks:
            return marks.most_common(1)[0][0]
        return "," if delimiter == ";" else "."
    return "." if point >= comma else ","
