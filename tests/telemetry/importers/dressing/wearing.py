"""A sample log put into a dress: its bytes, and what a reader must find in them."""

from __future__ import annotations

import csv
import io
import random
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from .clocks import Clock, clock_of
from .dresses import Dress
from .figures import rewritten
from .samples import Column, Key, SampleLog
from .units import converted, dimension_of, finest, size_of, spelt
from .words import cased, headings, two_rows

PREAMBLES = {
    "title": ["Flight log of an invented aircraft"],
    "pairs": ["aircraft: Saltmarsh Mail", "cells: 5", "capacity: 2800 mAh", "recorded: 2026-03-14 10:20", ""],
    "cells of pairs": ["aircraft\tSaltmarsh Mail", "cells\t5", "capacity mAh\t2800", "interval s\t0.1"],
    "# remarks": ["# recorder 3, invented", "# 1, 2, 3", "#"],
    "blank lines": ["", "", ""],
    "long story": [f"Line {n} of the recorder's own story, version 1.{n}" for n in range(1, 31)],
}
TAILS = {
    "blank lines": ["", "", ""],
    "remark": ["# end of log"],
    "pairs": ["Flight time: 00:05:40", "Max: 36 A"],
}
LETTERS = {"°C": "degC", "°F": "degF", "%": "percent", "m/s": "m_s", "km/h": "km_h", "0..1": "fraction"}


@dataclass(frozen=True)
class Expected:
    """A channel: its readings by the file's own figures (rows,), NaN where silent, and what half of its last
    digit is.
    """

    values: np.ndarray
    half_digit: float


@dataclass(frozen=True)
class Worn:
    """A log in a dress.

    Attributes
    ----------
    raw : the file.
    expected : by quantity and position; a current "into" the pack has its sign turned by the reader.
    silenced : the rows of each channel that the dress took the reading from.
    kept : the sample's rows that the file still holds.
    step_s : what its stamps are rounded to.
    rejected : lines that are no rows.
    answers : what the owner has to say once.
    headings : the file's, in order, with the unit that stands in them.
    """

    raw: bytes
    expected: dict[Key, Expected]
    silenced: dict[Key, tuple[int, ...]]
    kept: np.ndarray
    step_s: float
    rejected: tuple[int, ...]
    answers: dict[str, str]
    headings: tuple[str, ...]


def heading_of(name: str, unit: str, manner: str) -> str:
    """A heading that tells its unit, in one of the manners."""
    if not unit or manner.startswith("second row"):
        return name
    if manner == "_":
        return f"{name.replace(' ', '_')}_{LETTERS.get(unit, unit)}"
    joint = {"[]": " [{}]", "()": " ({})", "/": " / {}", "in": " in {}", ",": ", {}", "blank": " {}"}
    return name + joint[manner].format(unit)


@dataclass
class _Sheet:
    """The cells of a file column by column, and what heads them."""

    heads: list[str]
    units: list[str]
    cells: list[list[str]]
    keys: list[Key]


def _body(log: SampleLog, worn: Dress, clock: Clock | None) -> tuple[_Sheet, dict[Key, Expected]]:
    sheet, expected = _Sheet([], [], [], []), {}
    anew = worn.units or worn.language or worn.heads or worn.spelling
    manner = worn.manner or ("()" if anew else "")
    units = dict(worn.units)
    words = headings(worn.language) if worn.language else {}
    for column in log.columns:
        if words and column.key not in words:
            continue
        unit = units.get(dimension_of(column.unit), column.unit)
        cells = converted(column.cells, column.unit, unit)
        name = cased(words.get(column.key, column.name), worn.heads)
        shown = spelt(unit, worn.spelling)
        told = heading_of(name, shown, manner) if manner else column.heading
        if not manner and log.path.name.startswith("heavier"):
            told = heading_of(column.name, column.unit, "()")
        if worn.figures == "with unit" and not manner:
            told = name
        turned = worn.turned and column.key[0] in ("current_a", "power_w")
        if column.key[0]:
            cells = rewritten(cells, worn.figures, unit, turned=turned)
            expected[column.key] = _expected(column, cells, unit, coarse=worn.figures == "coarse")
        _add(sheet, told, shown, list(cells), column.key)
    _add_clock(sheet, log, clock, words, worn, manner or "()")
    _add_beside(sheet, worn.beside, len(log.seconds))
    return sheet, expected


def _add(sheet: _Sheet, head: str, unit: str, cells: list[str], key: Key) -> None:
    sheet.heads.append(head)
    sheet.units.append(unit)
    sheet.cells.append(cells)
    sheet.keys.append(key)


def _expected(column: Column, cells: tuple[str, ...], unit: str, *, coarse: bool) -> Expected:
    """What the column says; a unit that divides it otherwise, or fewer digits, round it."""
    plain = converted(column.cells, column.unit, unit)
    half = float(finest(cells if coarse else plain) * size_of(unit)) / 2
    half = half if coarse or plain != column.cells else 0.0
    values = np.array([float(c) if c else np.nan for c in column.cells]) * float(size_of(column.unit))
    return Expected(values, half * 1.0001 + 1e-9)


def _add_clock(
    sheet: _Sheet, log: SampleLog, clock: Clock | None, words: dict[Key, str], worn: Dress, manner: str
) -> None:
    """The columns of time, before all others."""
    if clock is None:
        clock = clock_of(log, "s" if log.start is None else "iso" if log.start.tzinfo is None else "iso Z")
    words = words or headings("en")
    for place, (sort, cells) in enumerate(zip(clock.sorts, clock.cells, strict=True)):
        head = heading_of(cased(words["time", sort], worn.heads), spelt(clock.unit, worn.spelling), manner)
        sheet.heads.insert(place, head)
        sheet.units.insert(place, clock.unit)
        sheet.cells.insert(place, list(cells))
        sheet.keys.insert(place, ("time", sort))


def _add_beside(sheet: _Sheet, beside: str, rows: int) -> None:
    """A column that is no reading: a number of the row before all others, the rest after them."""
    added = {
        "row number": ("No.", [str(i + 1) for i in range(rows)]),
        "empty column": ("spare", [""] * rows),
        "unnamed empty": ("", [""] * rows),
        "constant": ("firmware", ["3"] * rows),
        "version": ("version", ["1.2.7"] * rows),
        "remark": ("remark", ["taxi" if i % 700 == 5 else "" for i in range(rows)]),
        "same date": ("saved on", ["2026-03-15"] * rows),
    }.get(beside)
    if added is None:
        return
    _add(sheet, added[0], "", added[1], ("", ""))
    if beside == "row number":
        for name in ("heads", "units", "cells", "keys"):
            getattr(sheet, name).insert(0, getattr(sheet, name).pop())


def _silence(sheet: _Sheet, worn: Dress, rows: int) -> tuple[dict[Key, tuple[int, ...]], dict[str, str]]:
    """Put the mark for no value into a stretch of the pack's current, or of the first current."""
    i = next(i for i, key in enumerate(sheet.keys) if key[0] == "current_a")
    first = rows // 3
    gone = tuple(range(first, first + max(1, min(40, rows // 12))))
    for row in gone:
        sheet.cells[i][row] = worn.silent
    answers = {sheet.heads[i]: f"missing {worn.silent}"} if worn.told else {}
    return {sheet.keys[i]: gone}, answers


def _ordered(sheet: _Sheet, order: int) -> None:
    places = list(range(len(sheet.heads)))
    if order < 0:
        places.reverse()
    elif order:
        random.Random(order).shuffle(places)
    for name in ("heads", "units", "cells", "keys"):
        setattr(sheet, name, [getattr(sheet, name)[i] for i in places])


def _middle(rows: list[list[str]], sheet: _Sheet, broken: str) -> tuple[int, list[int], list[list[str]]]:
    """What stands in the middle: how many rows it takes away, which lines of it are no rows, the lines."""
    at = len(rows) // 2
    row = rows[at]
    if broken == "short":
        return 0, [0], [row[: max(1, len(row) // 2)]]
    if broken == "long":
        return 0, [0], [[*row[:-1], "7", row[-1]]]
    if broken == "text":
        return 0, [0], [["recorder started again"]]
    if broken == "glued":
        return 2, [0], [[*row[:-1], row[-1] + rows[at + 1][0], *rows[at + 1][1:]]]
    if broken == "headings again":
        return 0, [], [list(sheet.heads)]
    torn = list(row)
    if broken == "no time":
        for i, key in enumerate(sheet.keys):
            torn[i] = "#ERR" if key[0] == "time" else torn[i]
        return 0, [0], [torn]
    i = next(i for i, key in enumerate(sheet.keys) if key[0] == "current_a")
    torn[i] = "4?.2"
    return 1, [], [torn]


def _statistics(rows: list[list[str]]) -> list[list[str]]:
    width = len(rows[0])
    return [[name, *rows[pick][1:width]] for name, pick in (("Min", 0), ("Max", len(rows) // 2), ("Mean", 1))]


def dress(log: SampleLog, worn: Dress) -> Worn | None:
    """A log in a dress, or None where the dress has no letter for its headings or changes nothing of it."""
    dimensions = {dimension_of(c.unit) for c in log.columns}
    if worn.units and not {d for d, _ in worn.units} & dimensions:
        return None
    if worn.layout and (worn.broken or worn.below or worn.delimiter == "aligned"):
        return None
    if worn.delimiter == "aligned" and (worn.figures or worn.beside or worn.clock.startswith("d Mon y, ")):
        return None
    clock = clock_of(log, worn.clock) if worn.clock else None
    sheet, expected = _body(log, worn, clock)
    silenced, answers = _silence(sheet, worn, len(log.seconds)) if worn.silent else ({}, {})
    _ordered(sheet, worn.order)
    kept = np.ones(len(log.seconds), dtype=bool)
    rows = [list(r) for r in zip(*sheet.cells, strict=True)]
    lines: list[list[str] | str] = list(sheet_top(sheet, worn))
    bad = []
    if worn.broken:
        taken, wrong, middle = _middle(rows, sheet, worn.broken)
        at = len(rows) // 2
        bad = [len(lines) + at + 1 + n for n in wrong]
        if worn.broken == "bad cell":
            key = next(k for k in sheet.keys if k[0] == "current_a")
            silenced = {**silenced, key: (*silenced.get(key, ()), at)}
        else:
            kept[at : at + taken] = False
        rows = rows[:at] + middle + rows[at + taken :]
    if worn.below == "cut off":
        kept[-1] = False
        rows[-1] = rows[-1][: max(1, len(rows[-1]) // 2)]
        bad.append(len(lines) + len(rows))
    lines += rows
    lines += sheet_end(rows, worn, len(sheet.heads))
    lines = laid_out(lines, worn.layout, worn.delimiter or ",")
    try:
        raw = _bytes(lines, worn, log)
    except UnicodeEncodeError:
        return None
    step = clock.step_s if clock else 0.0005
    return Worn(raw, expected, silenced, kept, step, tuple(bad), answers, tuple(sheet.heads))


def sheet_top(sheet: _Sheet, worn: Dress) -> list[list[str] | str]:
    """The lines above the first row."""
    above: list[list[str] | str] = [
        line.split("\t") if "\t" in line else line for line in PREAMBLES.get(worn.above, [])
    ]
    top = [*above, *(two_rows(sheet.heads) if worn.heads == "two rows" else [list(sheet.heads)])]
    if worn.manner.startswith("second row"):
        form = "[{}]" if "[" in worn.manner else "{}"
        top.append(
            [form.format(u) if u else ("-" if worn.delimiter == "aligned" else "") for u in sheet.units]
        )
    return top


def laid_out(lines: list[list[str] | str], layout: str, mark: str) -> list[list[str] | str]:
    """The lines as a program lays them out."""
    if layout == "sep=":
        return [f"sep={mark}", *lines]
    if layout == "trailing delimiter":
        return [[*line, ""] if isinstance(line, list) else line for line in lines]
    if layout == "blank lines between":
        return [part for line in lines for part in (line, "")]
    if layout == "newest first":
        first = next(i for i, line in enumerate(lines) if isinstance(line, list) and line[-1][-1:].isdigit())
        return [*lines[:first], *lines[first:][::-1]]
    return lines


def sheet_end(rows: list[list[str]], worn: Dress, width: int) -> list[list[str] | str]:
    """The lines below the last row."""
    if worn.below == "total":
        return [["Total", *[""] * (width - 1)]]
    if worn.below == "statistics":
        return list(_statistics(rows))
    return list(TAILS.get(worn.below, []))


def _bytes(lines: list[list[str] | str], worn: Dress, log: SampleLog) -> bytes:
    if worn.decimal == ",":
        rows_from = next(i for i, line in enumerate(lines) if isinstance(line, list) and len(line) > 4)
        lines = [
            [_comma(c) for c in line] if isinstance(line, list) and i > rows_from else line
            for i, line in enumerate(lines)
        ]
    text = _aligned(lines) if worn.delimiter == "aligned" else _separated(lines, worn)
    if worn.layout == "no end":
        text = text.rstrip("\n")
    if worn.layout == "blanks at the end":
        text = text.replace("\n", "  \n")
    ends = worn.ends or "\n"
    raw = text.replace("\n", ends).encode(worn.encoding or "utf-8")
    if worn.below == "nul":
        raw += b"\x00" * 512
    return raw


def _comma(cell: str) -> str:
    """A number, or the fraction of a second, with a comma; its thousands with a point."""
    head, mark, tail = cell.rpartition(".")
    if "," in cell and cell.replace(",", "").replace(".", "").replace("-", "").isdigit():
        return cell.translate(str.maketrans(",.", ".,"))
    return f"{head},{tail}" if mark and tail[:1].isdigit() and head.count(".") == 0 else cell


def _separated(lines: list[list[str] | str], worn: Dress) -> str:
    mark = worn.delimiter or ","
    quoting = {"all": csv.QUOTE_ALL, "words": csv.QUOTE_NONNUMERIC}.get(worn.quoting, csv.QUOTE_MINIMAL)
    file = io.StringIO()
    writer = csv.writer(file, delimiter=mark, quoting=quoting, lineterminator="\n")
    for line in lines:
        if isinstance(line, str):
            file.write(line + "\n")
        elif worn.quoting == "words":
            writer.writerow([_Number(c) if _is_plain(c) else c for c in line])
        else:
            writer.writerow(line)
    return file.getvalue()


class _Number(Decimal):
    """A number that is written as it stands."""

    def __new__(cls, text: str) -> _Number:
        made = super().__new__(cls, text)
        made.text = text
        return made

    def __str__(self) -> str:
        return self.text


def _is_plain(cell: str) -> bool:
    return cell.replace(".", "", 1).removeprefix("-").isdigit()


def _aligned(lines: list[list[str] | str]) -> str:
    """Columns in line, right-justified, two blanks apart; a silent cell is a dash, a heading's blanks stay
    single, the blank inside of a stamp is a T.
    """
    full = [line for line in lines if isinstance(line, list)]
    width = max(map(len, full))
    shown = [[c.replace(" ", "T") if i else c for c in line] for i, line in enumerate(full)]
    wide = [max((len(line[i]) for line in shown if i < len(line)), default=1) for i in range(width)]
    text, place = [], iter(shown)
    for line in lines:
        if isinstance(line, str):
            text.append(line)
        else:
            text.append("  ".join((c or "-").rjust(w) for c, w in zip(next(place), wide, strict=False)))
    return "\n".join(text) + "\n"
