"""The same figures in other units, in decimal arithmetic, with as many digits as the dress carries."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache

SIZES: dict[str, dict[str, tuple[str, str]]] = {
    "voltage": {"V": ("1", "0"), "mV": ("0.001", "0")},
    "current": {"A": ("1", "0"), "mA": ("0.001", "0")},
    "charge": {"mAh": ("1", "0"), "Ah": ("1000", "0")},
    "power": {"W": ("1", "0"), "kW": ("1000", "0")},
    "energy": {"Wh": ("1", "0"), "kWh": ("1000", "0")},
    # NIST SP 811 (2008), appendix B, from memory: foot, knot, mile, ounce of force, all exact but the last
    "length": {"m": ("1", "0"), "ft": ("0.3048", "0")},
    "speed": {
        "m/s": ("1", "0"),
        "km/h": ("0.27777777777777777778", "0"),
        "kt": ("0.51444444444444444444", "0"),
        "mph": ("0.44704", "0"),
    },
    "fraction": {"%": ("0.01", "0"), "0..1": ("1", "0")},
    "force": {"N": ("1", "0"), "gf": ("0.00980665", "0"), "ozf": ("0.2780138509537812", "0")},
    "rotation": {"rpm": ("1", "0"), "1/min": ("1", "0")},
    "temperature": {
        "°C": ("1", "0"),
        "°F": ("0.55555555555555555556", "-17.77777777777777777778"),
        "K": ("1", "-273.15"),
    },
}
"""value = size · as written + offset."""

SPELLINGS = {
    "V": ("Volt", "volts", "VDC"),
    "mV": ("millivolt", "mV", "mV"),
    "A": ("Ampere", "amps", "Amp"),
    "mAh": ("mA·h", "mAh", "mA h"),
    "Ah": ("A·h", "Ah", "Ah"),
    "%": ("percent", "pct", "%"),
    "rpm": ("RPM", "1/min", "min⁻¹"),
    "1/min": ("rpm", "min^-1", "r/min"),
    "°C": ("degC", "deg C", "Celsius"),
    "m": ("metres", "meter", "m"),
    "m/s": ("m s⁻¹", "mps", "m·s⁻¹"),
    "km/h": ("kmh", "kph", "km/h"),
    "W": ("Watt", "watts", "W"),
    "s": ("sec", "seconds", "s"),
    "ms": ("msec", "milliseconds", "ms"),
}
"""Other ways in which units are written."""


def spelt(unit: str, n: int) -> str:
    """The n-th other way of writing a unit, from 1."""
    return SPELLINGS[unit][n - 1] if n and unit in SPELLINGS else unit


@cache
def dimension_of(unit: str) -> str:
    """The dimension that a unit is of, "" where it has no other in any dress."""
    return next((d for d, units in SIZES.items() if unit in units), "")


def size_of(unit: str) -> Decimal:
    """How much one of the unit is of its quantity's."""
    dimension = dimension_of(unit)
    return Decimal(SIZES[dimension][unit][0]) if dimension else Decimal(1)


def finest(cells: tuple[str, ...]) -> Decimal:
    """The last digit that a column carries."""
    places = max((len(c.partition(".")[2]) for c in cells if "e" not in c.lower()), default=0)
    return Decimal(1).scaleb(-places)


@cache
def converted(cells: tuple[str, ...], unit: str, to: str) -> tuple[str, ...]:
    """A column in another unit of its dimension, rounded to the first power of ten below its last digit."""
    if unit == to:
        return cells
    sizes = SIZES[dimension_of(unit)]
    (own, off), (size, start) = (map(Decimal, sizes[u]) for u in (unit, to))
    step = finest(cells) * own / size
    digit = Decimal(1).scaleb(step.adjusted())
    if off != start:
        digit = min(digit, Decimal("0.01") if to == "K" else Decimal("0.1"))
    known = {
        cell: str(((Decimal(cell) * own + off - start) / size).quantize(digit, ROUND_HALF_EVEN))
        for cell in dict.fromkeys(cells)
        if cell
    }
    return tuple(known.get(cell, "") for cell in cells)
