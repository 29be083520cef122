"""Units as recorders write them → factors to the units of the quantities."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any


@dataclass(frozen=True, slots=True)
class Unit:
    """value in the quantity's unit = factor · value as written + offset."""

    name: str
    dimension: str
    factor: float
    offset: float = 0.0


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


def _fold(name: str) -> str:
    text = (
        name.strip()
        .lower()
        .replace("\u00b5", "u")
        .replace("\u03bc", "u")
        .replace("\u00ba", "°")
        .replace("\u00b2", "2")
        .replace("\u00b7", ".")
    )
    return text.replace(" ", "").rstrip(".")


def units_named(text: str) -> tuple[Unit, ...]:
    """Every unit this may be, exact spelling first; empty when it is none. Brackets around it are taken
    off.
    """
    name = text.strip().strip("[](){}<>").strip()
    exact = _table().get(name, ())
    folded = _folded().get(_fold(name), ())
    return exact + tuple(u for u in folded if u not in exact)


def is_unit(text: str) -> bool:
    """Whether a cell of a unit row names a unit, or says that there is none."""
    return text.strip().strip("[](){}") in ("-", "--", "1", "") or bool(units_named(text))
