"""Columns → the bytes of a file, with what is wrong with its lines."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from .style import Part, Style

LATIN = {"en", "de", "fr", "es", "it", "nl", "pt", "sv", "symbol"}
PREAMBLES = (
    [],
    ["Flight log", "Model: invented twin", "Date: 14.06.2025"],
    [f"# line {i}: nothing to see" for i in range(50)],
)


@dataclass
class Page:
    """The rows of a log and the lines made of them; `lost` are the rows that no reader can have back."""

    style: Style
    rows: list[list[str]]
    widths: list[int]
    head: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    lost: list[int] = field(default_factory=list)

    def line(self, fields: list[str], *, header: bool = False) -> str:
        """Fields with delimiters, quoted as the style has it."""
        style = self.style
        if style.delimiter == " ":
            return "  ".join(f"{f:>{w}}" for f, w in zip(fields, self.widths, strict=False))
        out = io.StringIO()
        everything = style.quoted == "all" or (style.quoted == "header" and header)
        quoting = csv.QUOTE_ALL if everything else csv.QUOTE_MINIMAL
        csv.writer(out, delimiter=style.delimiter, quoting=quoting, lineterminator="").writerow(fields)
        return out.getvalue()


def _ragged(page: Page) -> None:
    n = len(page.rows)
    page.lost = page.style.rng.sample(range(5, n - 5), 3)
    for row in page.lost:
        page.lines[row] = page.line(page.rows[row][: len(page.widths) // 2])


def _truncated(page: Page) -> None:
    page.lost = [len(page.rows) - 1]
    page.lines[-1] = page.line(page.rows[-1][: max(1, len(page.widths) - 2)])


def _nul(page: Page) -> None:
    page.lost = [len(page.rows) // 2]
    page.lines[page.lost[0]] = "\x00" * 40


def _swapped(page: Page) -> None:
    at = page.style.rng.randrange(5, len(page.rows) - 5)
    page.lines[at], page.lines[at + 1] = page.lines[at + 1], page.lines[at]


def _gap(page: Page) -> None:
    n = len(page.rows)
    at = page.style.rng.randrange(n // 5, n - n // 5)
    page.lost = list(range(at, at + 15))
    del page.lines[at : at + 15]


def _inserted(page: Page) -> None:
    at = page.style.rng.randrange(10, len(page.rows) - 10)
    page.lines[at:at] = page.head if page.style.defect == "repeated header" else ["# mark set by the pilot"]


def _summary(page: Page) -> None:
    page.style.rng.randrange(10, len(page.rows) - 10)  # not used: every seed stays the log it was
    page.lines += ["", "Summary", "Max current: 80 A", "End of log"]


def _stray_byte(page: Page) -> None:
    at = len(page.rows) // 3
    page.lost = [at]
    before, delimiter, after = page.lines[at].rpartition(page.style.delimiter)
    page.lines[at] = f"{before}\ue000{delimiter}{after}"


DEFECTS_OF_LINES: dict[str, Callable[[Page], None]] = {
    "ragged": _ragged,
    "truncated": _truncated,
    "nul": _nul,
    "swapped rows": _swapped,
    "gap": _gap,
    "comments": _inserted,
    "repeated header": _inserted,
    "summary": _summary,
    "stray byte": _stray_byte,
}


def _page(style: Style, parts: list[Part]) -> Page:
    names, units = [p.header for p in parts], [p.unit for p in parts]
    rows = [list(row) for row in zip(*(p.cells for p in parts), strict=True)]
    if style.delimiter == " ":
        names = [n.replace(" ", "_") for n in names]
        rows = [[c.replace(" ", "T") or "-" for c in row] for row in rows]
    widths = [max(len(c) for c in column) for column in zip(names, units, *rows, strict=True)]
    page = Page(style, rows, widths)
    heads = (names, units) if style.place == "row" else (names,)
    page.head = [page.line(one, header=True) for one in heads]
    page.lines = [page.line(row) for row in rows]
    if style.rng.random() < 0.1 and style.delimiter != " ":
        page.lines = [line + style.delimiter for line in page.lines]
        if style.rng.random() < 0.5:
            page.head = [line + style.delimiter for line in page.head]
    return page


def write_lines(style: Style, parts: list[Part]) -> tuple[bytes, np.ndarray]:
    """The file, and the indices of the rows that it still holds."""
    rng = style.rng
    preamble = PREAMBLES[rng.choice([0, 0, 0, 1, 2])]
    page = _page(style, parts)
    if style.defect in DEFECTS_OF_LINES:
        DEFECTS_OF_LINES[style.defect](page)
    newline = rng.choice(["\n", "\r\n", "\r\n", "\r"])
    text = newline.join([*preamble, *page.head, *page.lines]) + rng.choice([newline, ""])
    encodings = ["utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le"]
    encodings += ["latin-1", "cp1252"] if style.language in LATIN else []
    encoding = "utf-8" if style.defect in ("stray byte", "nul") else rng.choice(encodings)
    style.why["encoding"], style.why["newline"] = encoding, newline
    raw = text.encode(encoding, errors="replace")
    if style.defect == "stray byte":
        raw = raw.replace("\ue000".encode(), b"\xff")
    return raw, np.setdiff1d(np.arange(len(page.rows)), page.lost)
