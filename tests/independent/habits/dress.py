"""How a log is written down: separators, decimals, encodings, marks of no reading, unit rows, preambles."""

from __future__ import annotations

import re
from dataclasses import replace
from random import Random

import numpy as np

from .clocks import Times
from .told import Told

MARKS = ("", "NaN", "---", "N/A", "-999", "65535", "-1", "9999")
PREAMBLES = (
    ["Test stand 3, run 12"],
    ["Recorded with a bench recorder", "Sample count: {n}", ""],
    ["# channel list below", "# battery 4, second use"],
    ["Operator;B.", "Room;14", ""],
)
UNIT = re.compile(r"^(.*?)\s*[\(\[]([^\(\)\[\]]*)[\)\]]$")


def _marked(rng: Random, column: Told, mark: str) -> Told:
    """A column with a few cells that hold a mark in place of a reading, where no reading can be that mark."""
    n = len(column.cells)
    try:
        number = float(mark)
    except ValueError:
        number = float("nan")
    readings = np.array([float(c) for c in column.cells])
    if np.isfinite(number) and (
        readings.min() <= number <= readings.max()
        or (abs(number) < 2 * np.abs(readings).max() and number > 0)
    ):
        return column
    if mark == "-1" and (column.quantity not in ("current_a", "rpm") or np.median(readings) < 6):
        return column
    rows = rng.sample(range(2, n - 1), max(1, n // rng.randint(40, 150)))
    cells = list(column.cells)
    values = column.values.copy()
    for row in rows:
        cells[row], values[row] = mark, np.nan
    return replace(column, cells=cells, values=values)


def _comma(cell: str) -> str:
    return cell.replace(".", ",") if re.fullmatch(r"-?\d+\.\d+", cell) else cell


def dressed(rng: Random, columns: list[Told], times: Times, habit: str) -> tuple[bytes, list[Told], str]:
    """The bytes of a log, its columns with the marks that were put in, and the mark."""
    said = []
    n = len(times.columns[0][1])
    mark = rng.choice(MARKS) if rng.random() < 0.35 and n > 60 else None
    if mark is not None:
        columns = [_marked(rng, c, mark) if c.quantity and rng.random() < 0.5 else c for c in columns]
        said.append(f"mark {mark!r}")
    european = habit in ("de", "fr", "es", "it", "nl", "pt", "sv", "pl") and rng.random() < 0.8
    delimiter = rng.choice([";", ";", "\t"]) if european else rng.choice([",", ",", ",", ";", "\t"])
    headings = [h for h, _ in times.columns] + [c.heading for c in columns]
    rows = [headings] if habit != "headerless" else []
    if habit in ("bench", "ride or boat", "de", "fr", "es") and rng.random() < 0.25:
        split = [UNIT.match(h) for h in headings]
        if all(m or i < len(times.columns) for i, m in enumerate(split)):
            rows = [[m[1] if m else h for m, h in zip(split, headings, strict=True)]]
            rows.append([m[2] if m else "" for m in split])
            said.append("unit row")
    cells = [c for _, c in times.columns] + [c.cells for c in columns]
    if european:
        cells = [[_comma(x) for x in column] for column in cells]
        said.append("decimal comma")
    rows += [list(r) for r in zip(*cells, strict=True)]
    if delimiter == "," and rng.random() < 0.15 and not any("," in h for h in headings):
        wide = [max(len(r[i]) for r in rows) for i in range(len(rows[0]))]
        lines = [", ".join(x.rjust(w) for x, w in zip(r, wide, strict=True)) for r in rows]
        said.append("aligned")
    else:
        quoted = [[f'"{x}"' if delimiter in x else x for x in r] for r in rows]
        lines = [delimiter.join(r) for r in quoted]
    if habit != "headerless" and rng.random() < 0.15:
        lines = [x.format(n=n) for x in rng.choice(PREAMBLES)] + lines
        said.append("preamble")
    end = rng.choice(["\n", "\n", "\r\n"])
    text = end.join(lines) + end
    encoding = rng.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252"])
    try:
        raw = text.encode(encoding)
    except UnicodeEncodeError:
        raw = text.encode("utf-8")
    return raw, columns, ", ".join(said)
