"""How one log is written: its dialect, language, units, times and defect, and what a column and a log are."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from random import Random

import numpy as np

from .flight import Key
from .words import WORDS

DEFECTS = (
    "none",
    "none",
    "none",
    "dead cell",
    "stuck",
    "sentinel",
    "spike",
    "wrong unit",
    "wrong scale",
    "negative current",
    "ragged",
    "truncated",
    "nul",
    "comments",
    "repeated header",
    "summary",
    "missing marks",
    "only refreshed",
    "duplicate column",
    "empty column",
    "stray byte",
    "swapped rows",
    "duplicate stamps",
    "gap",
    "nameless voltages",
    "aside columns",
    "zero dropouts",
    "held",
    "cells from zero",
    "event text",
)
TIMES = (
    "s",
    "s",
    "s",
    "ms",
    "ms unsaid",
    "s unsaid",
    "µs",
    "mm:ss",
    "hh:mm:ss",
    "whole seconds",
    "date apart",
    "iso",
    "epoch s",
    "epoch ms",
    "midnight",
    "wrap",
)
LAYOUTS = ("cells", "pack", "both", "taps", "both", "pack")
MOTORS = ("total", "motors", "both")
# between a word and its unit; "in" elsewhere
JOINTS = {"fr": "en", "es": "en", "pt": "em", "sv": "i", "pl": "w"}


@dataclass
class Part:
    """One column to be written."""

    key: Key
    header: str
    unit: str
    cells: list[str]
    certain: bool = True
    expected: Key | None = None
    truth: np.ndarray | None = None


@dataclass
class Written:
    """A log and what must be read from it.

    `expected` holds the truth of each channel by key; `uncertain` the keys a reader may leave
    out; nothing else may be used.
    """

    raw: bytes
    expected: dict[Key, np.ndarray]
    uncertain: set[Key]
    time_s: np.ndarray
    consumed_mah: float
    why: dict[str, object] = field(default_factory=dict)
    refused: bool = False


def number(value: float, decimals: int, decimal: str, thousands: str = "") -> str:
    if not math.isfinite(value):
        return ""
    text = f"{value:,.{decimals}f}" if thousands else f"{value:.{decimals}f}"
    if thousands:
        return text.replace(",", "\x00").replace(".", decimal).replace("\x00", thousands)
    return text.replace(".", decimal)


@dataclass
class Style:
    """One way to write a log. `place` is where a unit stands, `why` goes into reports."""

    rng: Random
    language: str
    delimiter: str
    decimal: str
    quoted: str
    thousands: str
    place: str
    time: str
    defect: str
    why: dict[str, object] = field(default_factory=dict)

    def named(self, word: str, unit: str) -> tuple[str, str]:
        """A column's header and its cell in the row of units."""
        shown = {"%±": "%", "1": ""}.get(unit, unit)
        if not shown or self.place == "none":
            return word, ""
        if self.place == "row":
            return word, shown
        return {
            "()": f"{word} ({shown})",
            "[]": f"{word} [{shown}]",
            "/": f"{word}/{shown}",
            "_": f"{word}_{shown}",
            "in": f"{word} {JOINTS.get(self.language, 'in')} {shown}",
            "[ ]": f"{word}[{shown}]",
        }[self.place], ""

    def word(self, quantity: str) -> str:
        """A word for a quantity, drawn."""
        return self.rng.choice(WORDS[self.language][quantity]).format()

    def rewrite(self, part: Part, values: np.ndarray, decimals: int) -> None:
        """Give a column other numbers."""
        part.cells = [number(v, decimals, self.decimal) for v in values.tolist()]


def draw_style(
    seed: int, *, defect: str | None = None, language: str | None = None, time: str | None = None
) -> Style:
    """The style of a seed; its generator is ready for the columns."""
    rng = Random(seed)
    language = language or rng.choice(list(WORDS))
    delimiter = rng.choice([",", ",", ";", ";", "\t", "|", " "])
    decimal = rng.choice([".", ","]) if delimiter in (";", "\t", "|", " ") else "."
    quoted = rng.choice(["none", "none", "header", "all"])
    if delimiter == "," and quoted == "all" and rng.random() < 0.4:
        decimal = ","
    may_group = quoted == "all" or delimiter != ","
    thousands = rng.choice(["", "", "." if decimal == "," else ","]) if may_group else ""
    place = rng.choice(["()", "[]", "[ ]", "/", "_", "in", "row", "none"])
    if delimiter == " ":
        place, quoted, thousands = rng.choice(["[ ]", "_", "row"]), "none", ""
    style = Style(
        rng, language, delimiter, decimal, quoted, thousands, place, time or rng.choice(TIMES), defect or ""
    )
    style.defect = defect or rng.choice(DEFECTS)
    names = ("language", "delimiter", "decimal", "quoted", "place", "time", "defect")
    style.why = {"seed": seed} | {{"place": "unit"}.get(n, n): getattr(style, n) for n in names}
    return style
