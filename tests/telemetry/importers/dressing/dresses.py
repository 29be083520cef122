"""The dresses: each changes one thing about how a log is written."""

from __future__ import annotations

import random
from dataclasses import dataclass, fields, replace

from .clocks import FORMS
from .words import LANGUAGES


@dataclass(frozen=True)
class Dress:
    """How a log is written anew; what is empty stays as it was.

    Attributes
    ----------
    delimiter : "aligned" for columns that stand in line, parted by blanks.
    encoding, ends : of the letters and of the lines.
    quoting : "all" or "words".
    order : seed of the columns' order, 0 leaves it, -1 turns it round.
    units : another unit for each dimension, `manner` is how headings tell the unit.
    clock : one of `clocks.FORMS`.
    language : of the headings.
    above, below : lines before the headings and after the last row.
    broken : a row in the middle that is none, or a cell that is none.
    silent : a mark for no value in some cells; `told` where the owner has to say what it means.
    figures : how numbers are written.
    heads : how the headings' words are written.
    beside : columns that are no readings.
    layout : of the lines.
    turned : currents and powers out of the pack are negative.
    spelling : which other way of writing each unit.
    """

    delimiter: str = ""
    decimal: str = ""
    encoding: str = ""
    ends: str = ""
    quoting: str = ""
    order: int = 0
    units: tuple[tuple[str, str], ...] = ()
    manner: str = ""
    clock: str = ""
    language: str = ""
    above: str = ""
    below: str = ""
    broken: str = ""
    silent: str = ""
    told: bool = False
    figures: str = ""
    heads: str = ""
    beside: str = ""
    layout: str = ""
    turned: bool = False
    spelling: int = 0


MANNERS = ("[]", "()", "/", "_", "in", ",", "blank", "second row", "second row []")
ABOVE = ("title", "pairs", "cells of pairs", "# remarks", "blank lines", "long story")
BELOW = ("total", "statistics", "cut off", "blank lines", "remark", "pairs", "nul")
BROKEN = ("short", "long", "text", "glued", "no time", "headings again", "bad cell")
FIGURES = (
    "coarse",
    "zeros",
    "scientific",
    "plus",
    "no leading zero",
    "grouped",
    "grouped by blanks",
    "blanks around",
    "with unit",
)
HEADS = ("upper", "lower", "snake", "camel", "no accents", "two rows", "dots")
BESIDE = ("row number", "empty column", "constant", "remark", "same date", "version", "unnamed empty")
LAYOUT = ("trailing delimiter", "sep=", "blank lines between", "no end", "newest first", "blanks at the end")
MARKS = ("-9999", "65535", "NaN", "---", "n/a", "9999.99", "#N/A", "-32768")

_UNITS = {
    "mV": (("voltage", "mV"),),
    "mA": (("current", "mA"),),
    "Ah": (("charge", "Ah"), ("energy", "Wh")),
    "mAh": (("charge", "mAh"),),
    "°F": (("temperature", "°F"),),
    "K": (("temperature", "K"),),
    "ft": (("length", "ft"),),
    "km/h": (("speed", "km/h"),),
    "kt": (("speed", "kt"),),
    "mph": (("speed", "mph"),),
    "kW": (("power", "kW"), ("energy", "kWh")),
    "0..1": (("fraction", "0..1"),),
    "1/min": (("rotation", "1/min"),),
    "N": (("force", "N"),),
    "ozf": (("force", "ozf"),),
}

DRESSES: dict[str, Dress] = {
    **{
        f"delimiter {name}": Dress(delimiter=mark)
        for name, mark in {
            "comma": ",",
            "semicolon": ";",
            "tab": "\t",
            "pipe": "|",
            "blanks": "aligned",
        }.items()
    },
    **{
        f"decimal comma, {name}": Dress(delimiter=mark, decimal=",")
        for name, mark in {
            "comma": ",",
            "semicolon": ";",
            "tab": "\t",
            "pipe": "|",
            "blanks": "aligned",
        }.items()
    },
    **{
        f"encoding {name}": Dress(encoding=name)
        for name in (
            "utf-8",
            "utf-8-sig",
            "utf-16",
            "utf-16-le",
            "utf-16-be",
            "latin-1",
            "cp1252",
            "cp437",
            "mac-roman",
            "shift-jis",
        )
    },
    **{f"ends {name}": Dress(ends=e) for name, e in {"LF": "\n", "CRLF": "\r\n", "CR": "\r"}.items()},
    **{f"quoting {name}": Dress(quoting=name) for name in ("all", "words")},
    **{f"order {seed}": Dress(order=seed) for seed in (-1, 1, 2)},
    **{f"unit {name}": Dress(units=units) for name, units in _UNITS.items()},
    **{f"manner {manner}": Dress(manner=manner) for manner in MANNERS},
    **{f"clock {form}": Dress(clock=form) for form in FORMS},
    **{f"language {name}": Dress(language=name) for name in LANGUAGES},
    **{
        f"language {name}, {page}": Dress(language=name, encoding=page)
        for name, page in (
            ("de", "latin-1"),
            ("de", "cp1252"),
            ("fr", "latin-1"),
            ("fr", "cp1252"),
            ("es", "latin-1"),
            ("pt", "latin-1"),
            ("sv", "latin-1"),
            ("it", "latin-1"),
            ("pl", "cp1250"),
            ("cs", "cp1250"),
            ("pl", "iso8859-2"),
            ("cs", "iso8859-2"),
            ("cs", "utf-16"),
        )
    },
    **{f"above: {name}": Dress(above=name) for name in ABOVE},
    **{f"below: {name}": Dress(below=name) for name in BELOW},
    **{f"broken: {name}": Dress(broken=name) for name in BROKEN},
    **{f"no value {mark}": Dress(silent=mark) for mark in MARKS},
    **{f"figures {name}": Dress(figures=name) for name in FIGURES},
    "figures grouped, decimal comma": Dress(figures="grouped", decimal=",", delimiter=";"),
    **{f"heads {name}": Dress(heads=name) for name in HEADS},
    **{f"heads no accents, {name}": Dress(heads="no accents", language=name) for name in LANGUAGES[1:]},
    **{f"heads upper, {name}": Dress(heads="upper", language=name) for name in LANGUAGES[1:]},
    **{f"beside: {name}": Dress(beside=name) for name in BESIDE},
    **{f"layout {name}": Dress(layout=name) for name in LAYOUT},
    "currents turned": Dress(turned=True),
    **{f"spelling {n}": Dress(spelling=n) for n in (1, 2, 3)},
    **{f"no value told {mark}": Dress(silent=mark, told=True) for mark in ("-1", "ERR", "77.7")},
}


def drawn(seed: int) -> tuple[str, Dress]:
    """Two dresses worn at once, of different kinds."""
    chance = random.Random(seed)
    names = list(DRESSES)
    while True:
        one, other = chance.sample(names, 2)
        changed = [
            {f.name for f in fields(Dress) if getattr(DRESSES[n], f.name) != f.default} for n in (one, other)
        ]
        if not changed[0] & changed[1]:
            both = {name: getattr(DRESSES[other], name) for name in changed[1]}
            return f"{one} + {other}", replace(DRESSES[one], **both)
