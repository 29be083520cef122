"""Units as recorders write them → factors to the units of the quantities."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from telemetry.errors import BadUse
from telemetry.quantities import QUANTITIES
from telemetry.sentences import column_words, say


@dataclass(frozen=True, slots=True)
class Unit:
    """value in the quantity's unit = factor · value as written + offset."""

    name: str
    dimension: str
    factor: float
    offset: float = 0.0


_PER = re.compile(r"(?<=\w)[\s_]per[\s_](?=\w)|(?<=\w)_(?=\w)|(?<=[A-Za-z])[\s\-](?=[A-Za-z])")
"""What stands for the sign between two units where a name may hold letters alone."""


@cache
def vocabulary_file() -> dict[str, Any]:
    """The words and units of each language, as written in `vocabulary.toml`."""
    text = resources.files("telemetry.importers").joinpath("vocabulary.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _table() -> dict[str, tuple[Unit, ...]]:
    found: dict[str, list[Unit]] = {}
    for dimension, units in vocabulary_file()["units"].items():
        for name, size in units.items():
            factor, offset = (size, 0.0) if not isinstance(size, list) else size
            found.setdefault(name, []).append(Unit(name, dimension, float(factor), float(offset)))
    return {name: tuple(units) for name, units in found.items()}


@cache
def _folded() -> dict[str, tuple[Unit, ...]]:
    found: dict[str, list[Unit]] = {}
    for name, units in _table().items():
        found.setdefault(_fold(name), []).extend(units)
    return {name: tuple(units) for name, units in found.items()}


_SIGNS = str.maketrans("\u00b5\u03bc\u00ba\u00b9\u00b2\u207b\u2212\u00b7", "uu°12--.")
"""Signs that are written in several ways: micro, degree, powers, minus, the point of a product."""


def _fold(name: str) -> str:
    return name.strip().lower().translate(_SIGNS).replace(" ", "").rstrip(".")


def units_named(text: str) -> tuple[Unit, ...]:
    """Every unit this may be, exact spelling first; empty when it is none. Brackets around it are taken
    off. An underscore inside stands for the stroke, else for the point: "m_s" is m/s, "mA_h" mA·h; so does
    what joins "oz-in" or "lbf ft".
    """
    name = text.strip().strip("[](){}<>").strip()
    for spelling in dict.fromkeys((name, *(_PER.sub(sign, name) for sign in "/."))):
        exact = _table().get(spelling, ())
        folded = _folded().get(_fold(spelling), ())
        if exact or folded:
            return exact + tuple(u for u in folded if u not in exact)
    return ()


def is_unit(text: str) -> bool:
    """Whether a cell of a unit row names a unit, or says that there is none."""
    return text.strip().strip("[](){}") in ("-", "--", "1", "") or bool(units_named(text))


def unit_of(said: str, quantity: str, dimensions: Sequence[str]) -> Unit:
    """The unit that the user says a column is in.

    Parameters
    ----------
    said : as the user writes it.
    quantity : what the column is.
    dimensions : of the units that the quantity can have.

    Returns
    -------
    The first unit of that name.

    Raises
    ------
    BadUse : there is none.
    """
    found = next((u for u in units_named(said) if u.dimension in dimensions), None)
    if found is None:
        raise BadUse(
            say("unit_answer", "no_unit", unit=said, quantity=column_words(quantity)),
            say("unit_answer", "usual", unit=QUANTITIES[quantity].unit),
        )
    return found
