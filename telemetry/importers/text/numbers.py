"""Cells as written → numbers, and which sign a column uses for the decimals."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from telemetry.trace import Floats

MISSING = frozenset(
    {
        "",
        "-",
        "--",
        "---",
        "----",
        "–",
        "—",
        "n/a",
        "na",
        "n.a.",
        "nan",
        "null",
        "none",
        "nil",
        "*",
        "**",
        "***",
        "?",
        "x",
        "#n/a",
        "#nv",
        "#value!",
        "-nan",
        "nan(ind)",
        "-nan(ind)",
        "inf",
        "-inf",
        "+inf",
        "k.a.",
        "n.v.",
        "n/d",
        "s/d",
        "//",
        "///",
    }
)
"""Marks that stand for "no value", in lower case."""

_SPACES = "\u00a0\u202f\u2009 '\u2019"
_WITHOUT_SPACES = {ord(c): None for c in _SPACES}
_NARROW = "\u00a0\u202f\u2009'\u2019"
_BODY = rf"[+\-\u2212]?(?:\d{{1,3}}(?: \d{{3}})+(?:[.,]\d+)?|\d[\d.,{_NARROW}]*|[.,]\d+)(?:[eE][+\-]?\d+)?"
_NUMBER = re.compile(rf"^{_BODY}$")
_WITH_UNIT = re.compile(rf"^({_BODY})\s*([^\d\s.,;:+\-(\[][^\d\s,;:]{{0,5}}|(?<=\s)1/\w{{1,3}})$")
_PLAIN = re.compile(r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$")


def is_missing(cell: str) -> bool:
    """Whether the cell says that there is no value."""
    return cell.strip().lower() in MISSING


@lru_cache(maxsize=20_000)
def is_number(cell: str) -> bool:
    """Whether the cell is one number, with any decimal sign, perhaps with its unit."""
    text = cell.strip()
    return bool(_NUMBER.match(text) or _WITH_UNIT.match(text))


@dataclass(frozen=True, slots=True)
class NumberStyle:
    """How a column writes numbers: its decimal sign, and the unit that its cells carry."""

    decimal: str
    unit: str = ""


_MARKED = re.compile(r"[.,]")
_GROUPED = re.compile(r"^[+\-\u2212]?[1-9]\d{0,2}([.,])\d{3}(?:\1\d{3})*$")


def decimal_votes(cells: Iterable[str]) -> tuple[int, int, bool]:
    """How many cells can only have a decimal point, only a decimal comma, and whether thousands marks are
    certain.

    A mark followed by other than three digits, after a leading zero, or met together
    with the other mark before it is a decimal sign. Marks before groups of three are
    certain to mark thousands when they come twice in a number, or when the column
    also holds whole numbers of three digits without a mark (but for 999 and negative ones,
    which stand for no value), more than one to a hundred with it.
    """
    point = comma = 0
    grouped = bare = 0
    twice = False
    for cell in cells:
        text = cell.strip()
        marks = _MARKED.findall(text)
        if not marks:
            bare += len(text) < 9 and text.isdecimal() and 100 <= int(text) < 999
            continue
        if len(set(marks)) == 2:
            point, comma = point + (marks[-1] == "."), comma + (marks[-1] == ",")
        elif _GROUPED.match(text):
            grouped += 1
            twice = twice or len(marks) > 1
        elif len(marks) == 1:
            point, comma = point + (marks[0] == "."), comma + (marks[0] == ",")
    certain = grouped > 0 and point == comma == 0 and (twice or bare > 0.01 * grouped)
    return point, comma, certain


def style_of(cells: Sequence[str], file_decimal: str, *, looked_at: int = 1500) -> NumberStyle:
    """The number style of one column, given the file's decimal sign where the column has no say.

    Parameters
    ----------
    cells : its distinct cells; of many, `looked_at` evenly spread ones are judged.
    """
    units: dict[str, int] = {}
    bodies: list[str] = []
    for cell in cells[:: max(1, len(cells) // looked_at)]:
        text = cell.strip()
        if _NUMBER.match(text):
            bodies.append(text)
        elif found := _WITH_UNIT.match(text):
            units[found[2]] = units.get(found[2], 0) + 1
            bodies.append(found[1].strip())
    point, comma, thousands = decimal_votes(bodies)
    decimal = file_decimal
    if point != comma:
        decimal = "." if point > comma else ","
    elif thousands:
        mark = next(m for b in bodies for m in _MARKED.findall(b))
        decimal = "," if mark == "." else "."
    unit = max(units, key=lambda u: units[u]) if units and 2 * sum(units.values()) > len(bodies) else ""
    return NumberStyle(decimal, unit)


def _slow(cell: str, style: NumberStyle) -> float:
    text = cell.strip()
    if style.unit and (found := _WITH_UNIT.match(text)) and found[2] == style.unit:
        text = found[1]
    if not _NUMBER.match(text):
        return np.nan
    text = text.replace("\u2212", "-").translate(_WITHOUT_SPACES)
    thousands = "," if style.decimal == "." else "."
    head, sign, tail = text.partition(style.decimal)
    if thousands in head:
        groups = head.lstrip("+-").split(thousands)
        if not (1 <= len(groups[0]) <= 3 and all(len(g) == 3 for g in groups[1:])):
            return np.nan
        head = head.replace(thousands, "")
    plain = f"{head}.{tail}" if sign else head
    return float(plain) if _PLAIN.match(plain) else np.nan


BEYOND = 1e30
"""No recorder counts so far; such a number is a broken cell."""


def to_numbers(cells: Sequence[str], style: NumberStyle) -> Floats:
    """Numbers of one column, NaN where a cell is missing or not a number in this style."""
    if style.decimal == "." and not style.unit:
        try:
            values = np.array([float(c) if c else np.nan for c in cells])
        except ValueError:
            pass
        else:
            values[~(np.abs(values) < BEYOND)] = np.nan
            return values
    memory: dict[str, float] = {}
    values = np.empty(len(cells))
    for i, cell in enumerate(cells):
        number = memory.get(cell)
        if number is None:
            number = memory[cell] = _slow(cell, style)
        values[i] = number
    values[~(np.abs(values) < BEYOND)] = np.nan
    return values
