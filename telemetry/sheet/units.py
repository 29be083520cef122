"""The units a key of the sheet may be written in, and how each becomes the unit of record.

A length may be `_m`, `_mm` or `_in`, a mass `_kg` or `_g`, a resistance `_ohm` or
`_mohm`, a wire `area_mm2` or `awg`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel

from telemetry.physics import wire
from telemetry.sheet import tables

MM_PER_INCH = 25.4

_LENGTHS_M = {"m": 1.0, "mm": 1e-3, "in": MM_PER_INCH * 1e-3}
_MASSES_KG = {"kg": 1.0, "g": 1e-3}
_RESISTANCES_OHM = {"ohm": 1.0, "mohm": 1e-3}
_FAMILIES = (_LENGTHS_M, _MASSES_KG, _RESISTANCES_OHM)

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Written:
    """How a value stood in the sheet before its unit was changed: its key, its value, and the way back for a
    limit.
    """

    key: str
    value: Any
    back: Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Normal:
    """A sheet in units of record, and what was rewritten, by path."""

    content: dict[str, Any]
    rewritten: dict[Path, Written] = field(default_factory=dict)


def spellings(key: str) -> tuple[str, ...]:
    """Every way to write a key of record, its own first: `diameter_in` → diameter_in, diameter_m,
    diameter_mm.
    """
    if key == "area_mm2":
        return ("area_mm2", "awg")
    stem, _, unit = key.rpartition("_")
    for family in _FAMILIES:
        if stem and unit in family:
            return (key, *(f"{stem}_{other}" for other in family if other != unit))
    return (key,)


def stem_of(key: str) -> str:
    """A key without its unit."""
    stem, _, _ = key.rpartition("_")
    return stem or key


_GAUGES = range(-3, 41)


def _gauge_of(area_mm2: float) -> float:
    """The gauge whose copper comes nearest to an area."""
    return float(min(_GAUGES, key=lambda gauge: abs(wire.awg_area_mm2(gauge) - area_mm2)))


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _rewrite(key: str, record: str, value: Any) -> tuple[Any, Written]:
    """A value written under `key` in the unit of `record`."""
    if not _is_number(value):
        return value, Written(key, value, lambda limit: limit)
    if key == "awg":
        written = Written(key, value, _gauge_of)
        return (wire.awg_area_mm2(value) if value in _GAUGES else 0.0), written
    family = next(f for f in _FAMILIES if record.rpartition("_")[2] in f)
    factor = family[key.rpartition("_")[2]] / family[record.rpartition("_")[2]]
    return value * factor, Written(key, value, lambda limit: float(limit / factor))


def _model_of(annotation: Any) -> type[BaseModel] | None:
    """The table model inside an annotation such as `tuple[LoadTable, ...] | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _model_of(part)
        if found is not None:
            return found
    return None


def model_at(path: Iterable[str | int]) -> type[BaseModel] | None:
    """The model of the table at a path of the sheet, or None where there is none."""
    model: type[BaseModel] | None = tables.SheetTables
    for step in path:
        if isinstance(step, int):
            continue
        if model is None or step not in model.model_fields:
            return None
        model = _model_of(model.model_fields[step].annotation)
    return model


class Clash(ValueError):
    """One value written twice in two units. Holds the path and both keys."""

    def __init__(self, path: Path, first: str, second: str) -> None:
        super().__init__(f"{first} and {second}")
        self.path, self.first, self.second = path, first, second


def normalise(content: Mapping[str, Any]) -> Normal:
    """The sheet in units of record, flat keys of a motor put under motor, propeller or controller.

    Raises
    ------
    Clash : a value that stands there twice.
    """
    rewritten: dict[Path, Written] = {}
    return Normal(_table(content, (), tables.SheetTables, rewritten), rewritten)


def _table(
    content: Mapping[str, Any], path: Path, model: type[BaseModel], rewritten: dict[Path, Written]
) -> dict[str, Any]:
    known = {spelling: record for record in model.model_fields for spelling in spellings(record)}
    result: dict[str, Any] = {}
    source: dict[str, str] = {}
    for key, value in _nest_motor_keys(content, model).items():
        record = known.get(key, key)
        if record in source:
            raise Clash(path, source[record], key)
        source[record] = key
        inner = _model_of(model.model_fields[record].annotation) if record in model.model_fields else None
        if inner is not None:
            result[record] = _inside(value, (*path, record), inner, rewritten)
        elif key != record:
            result[record], rewritten[(*path, record)] = _rewrite(key, record, value)
        elif key == "logged_as" and isinstance(value, int):
            result[record] = str(value)
        else:
            result[record] = value
    return result


def _inside(value: Any, path: Path, model: type[BaseModel], rewritten: dict[Path, Written]) -> Any:
    if isinstance(value, Mapping):
        if path[-1] == "drag":
            return {
                name: dict(entry) if isinstance(entry, Mapping) else entry for name, entry in value.items()
            }
        return _table(value, path, model, rewritten)
    if isinstance(value, list):
        return [
            _table(entry, (*path, i), model, rewritten) if isinstance(entry, Mapping) else entry
            for i, entry in enumerate(value)
        ]
    return value


def _nest_motor_keys(content: Mapping[str, Any], model: type[BaseModel]) -> dict[str, Any]:
    """A flat key of [[motors]] goes to the first of motor, propeller and controller that knows it."""
    if model is not tables.MotorPositionTable:
        return dict(content)
    result = {key: dict(value) if isinstance(value, Mapping) else value for key, value in content.items()}
    for name in ("motor", "propeller", "controller"):
        part = _model_of(tables.MotorPositionTable.model_fields[name].annotation)
        if part is None or not isinstance(result.get(name, {}), dict):
            continue
        spelled = {spelling for record in part.model_fields for spelling in spellings(record)}
        for key in [k for k in result if k in spelled]:
            result.setdefault(name, {})[key] = result.pop(key)
    return result
