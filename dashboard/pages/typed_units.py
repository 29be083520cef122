"""Numbers as people type them: a decimal comma, blanks in thousands, and a unit of their own liking."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import TypeVar

from dashboard.texts import say
from telemetry.physics.wire import awg_area_mm2

Known = TypeVar("Known")

_TYPED = re.compile(r"([+-]?[\d.,\s]*\d[\d.,]*(?:[eE][+-]?\d+)?|[+-]?[.,]\d+)\s*(.*)", re.DOTALL)
_GAUGE = re.compile(r"(?:(?P<after>\d{1,2})\s*awg|awg\s*(?P<before>\d{1,2}))", re.IGNORECASE)

_LENGTH = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "″": 0.0254, '"': 0.0254, "ft": 0.3048}
_MASS = {"kg": 1.0, "g": 0.001, "lb": 0.45359237, "oz": 0.028349523125}
_AREA = {
    "m²": 1.0,
    "m2": 1.0,
    "dm²": 0.01,
    "dm2": 0.01,
    "cm²": 1e-4,
    "cm2": 1e-4,
    "ft²": 0.09290304,
    "in²": 6.4516e-4,
}
_SMALL_AREA = {"mm²": 1.0, "mm2": 1.0}
_RESISTANCE = {"mΩ": 1.0, "mohm": 1.0, "Ω": 1000.0, "ohm": 1000.0}
_CHARGE = {"mAh": 1.0, "Ah": 1000.0}
_FORCE = {
    "N": 1.0,
    "gf": 0.00980665,
    "g": 0.00980665,
    "kgf": 9.80665,
    "kg": 9.80665,
    "ozf": 0.278013850953781,
}
_FORCE |= {"oz": 0.278013850953781, "lbf": 4.4482216152605, "lb": 4.4482216152605}
_TIME = {"s": 1.0, "min": 60.0, "h": 3600.0}
_SPEED = {"m/s": 1.0, "km/h": 1 / 3.6, "kt": 0.514444, "mph": 0.44704}
_PRESSURE = {"hPa": 1.0, "mbar": 1.0, "kPa": 10.0, "inHg": 33.8638866667}
"""Factors exact by definition (NIST SP 811, appendix B; the knot 1852 m an hour)."""

_FAMILIES: Mapping[str, Mapping[str, float]] = {
    "m": _LENGTH,
    "in": {unit: factor / 0.0254 for unit, factor in _LENGTH.items()},
    "kg": _MASS,
    "m²": _AREA,
    "mm²": _SMALL_AREA,
    "mΩ": _RESISTANCE,
    "mΩ a cell": _RESISTANCE,
    "mAh": _CHARGE,
    "N": _FORCE,
    "s": _TIME,
    "m/s": _SPEED,
    "hPa": _PRESSURE,
    "V": {"V": 1.0, "mV": 0.001},
    "V a cell": {"V": 1.0, "mV": 0.001},
    "A": {"A": 1.0, "mA": 0.001},
    "C": {"C": 1.0},
    "%": {"%": 1.0},
    "rpm": {"rpm": 1.0, "1/min": 1.0},
    "rpm/V": {"rpm/V": 1.0},
    "kg/m³": {"kg/m³": 1.0, "kg/m3": 1.0},
}
_SCALES: Mapping[str, Mapping[str, Callable[[float], float]]] = {
    "°C": {
        "°C": lambda t: t,
        "C": lambda t: t,
        "°F": lambda t: (t - 32.0) / 1.8,
        "F": lambda t: (t - 32.0) / 1.8,
        "K": lambda t: t - 273.15,
    }
}


def read_number(text: str) -> float | int | None:
    """A number as typed: blanks in thousands and a decimal comma are understood; None when it is none."""
    plain = (
        text.replace("\u202f", "").replace("\u00a0", "").replace(" ", "").replace("−", "-").replace(",", ".")
    )
    try:
        value = float(plain)
    except ValueError:
        return None
    return int(value) if value.is_integer() and "." not in plain and "e" not in plain.lower() else value


def in_unit(text: str, unit: str) -> tuple[float | int | None, str]:
    """A typed number in the unit of its field.

    Parameters
    ----------
    text : with or without a unit, such as "640 mm", "12 AWG" or "4,1".
    unit : of the field.

    Returns
    -------
    The value and ""; or None and what is wrong with it, as a sentence.
    """
    bare = read_number(text)
    if bare is not None:
        return bare, ""
    gauge = _GAUGE.fullmatch(text.strip())
    if gauge and unit == "mm²":
        return round(awg_area_mm2(int(gauge["after"] or gauge["before"])), 3), ""
    split = _TYPED.fullmatch(text.strip().replace("−", "-"))
    number = read_number(split[1]) if split else None
    if split is None or number is None:
        return None, say("sheet.no_number", text=text.strip())
    typed = split[2].strip()
    if (scale := _of(_SCALES.get(unit, {}), typed)) is not None:
        return round(scale(number), 6), ""
    factor = _of(_FAMILIES.get(unit, {}), typed)
    if factor is None:
        known = ", ".join([*_FAMILIES.get(unit, {}), *_SCALES.get(unit, {})]) or say("sheet.no_unit")
        return None, say("sheet.other_unit", text=typed, known=known)
    return (number if factor == 1.0 else float(f"{number * factor:.10g}")), ""


def _of(known: Mapping[str, Known], typed: str) -> Known | None:
    """What a unit stands for, its letters' case where nothing else differs."""
    if typed in known:
        return known[typed]
    alike = [value for unit, value in known.items() if unit.casefold() == typed.casefold()]
    return alike[0] if len(alike) == 1 else None
