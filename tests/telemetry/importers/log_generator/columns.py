"""The columns of one log, drawn: units, words, which of them, and the truth of each."""

from __future__ import annotations

import numpy as np

from .defects import DEFECTS_OF_COLUMNS
from .flight import Key, TwinFlight
from .style import LAYOUTS, MOTORS, Part, Style, number
from .words import SIDES, WORDS

# text, scale, offset, decimals
UNITS: dict[str, list[tuple[str, float, float, int]]] = {
    "pack_voltage_v": [("V", 1, 0, 2), ("V", 1, 0, 3), ("mV", 1000, 0, 0)],
    "cell_voltage_v": [("V", 1, 0, 3), ("mV", 1000, 0, 0)],
    "receiver_voltage_v": [("V", 1, 0, 2), ("mV", 1000, 0, 0)],
    "current_a": [("A", 1, 0, 1), ("A", 1, 0, 2), ("mA", 1000, 0, 0)],
    "charge_mah": [("mAh", 1, 0, 0), ("mAh", 1, 0, 1), ("Ah", 0.001, 0, 3)],
    "power_w": [("W", 1, 0, 0), ("W", 1, 0, 1), ("kW", 0.001, 0, 4)],
    "energy_wh": [("Wh", 1, 0, 2)],
    "throttle_fraction": [
        ("%", 100, 0, 0),
        ("%", 100, 0, 1),
        ("µs", 1000, 1000, 0),
        ("%±", 200, -100, 0),
        ("1", 1, 0, 3),
    ],
    "rpm": [
        ("rpm", 1, 0, 0),
        ("1/min", 1, 0, 0),
        ("krpm", 0.001, 0, 3),
        ("min-1", 1, 0, 0),
        ("U/min", 1, 0, 0),
        ("tr/min", 1, 0, 0),
    ],
    "motor_temperature_c": [("°C", 1, 0, 0), ("°C", 1, 0, 1), ("°F", 1.8, 32, 0), ("C", 1, 0, 1)],
    "altitude_m": [("m", 1, 0, 1), ("ft", 1 / 0.3048, 0, 0)],
    "climb_mps": [("m/s", 1, 0, 1), ("m/s", 1, 0, 2)],
    "airspeed_mps": [
        ("m/s", 1, 0, 1),
        ("km/h", 3.6, 0, 0),
        ("kt", 1 / 0.514444, 0, 1),
        ("mph", 1 / 0.44704, 0, 1),
    ],
    "link_fraction": [("%", 100, 0, 0)],
}
for _name in ("controller_temperature_c", "pack_temperature_c", "air_temperature_c"):
    UNITS[_name] = UNITS["motor_temperature_c"]
UNITS["ground_speed_mps"] = UNITS["airspeed_mps"]
# Single letters and endings of other languages than those everyone reads stay uncertain.
UNCERTAIN_SIDES = (("G", "D"), ("izq", "der"), ("esq", "dir"), ("li", "re"), ("lewego", "prawego"))
CHANCES = {
    "charge_mah": 0.7,
    "power_w": 0.3,
    "energy_wh": 0.2,
    "throttle_fraction": 0.7,
    "receiver_voltage_v": 0.4,
    "pack_temperature_c": 0.3,
    "air_temperature_c": 0.2,
    "altitude_m": 0.5,
    "climb_mps": 0.3,
    "airspeed_mps": 0.3,
    "ground_speed_mps": 0.2,
    "link_fraction": 0.2,
}
NO_UNIT_NO_TELLING = ("altitude_m", "airspeed_mps", "ground_speed_mps", "climb_mps")


def _column(
    style: Style,
    key: Key,
    values: np.ndarray,
    *,
    word: str = "",
    unit: tuple[str, float, float, int] | None = None,
    certain: bool = True,
) -> Part:
    name, scale, offset, decimals = unit or style.rng.choice(UNITS[key[0]])
    header, row = style.named(word or style.word(key[0]), name)
    grouped = style.thousands if key[0] == "rpm" and name != "krpm" and decimals == 0 else ""
    shown = values * scale + offset
    cells = [number(v, decimals, style.decimal, grouped) for v in shown.tolist()]
    return Part(key, header, row, cells, certain, key, (np.round(shown, decimals) - offset) / scale)


def _motor_parts(style: Style, flown: TwinFlight) -> list[Part]:
    rng = style.rng
    sides = rng.choice(SIDES[style.language])
    positions = ("1", "2") if sides[0] == "1" else ("left", "right")
    layout = rng.choice(MOTORS)
    style.why["motors"] = layout
    sorts = [("rpm", "rpm")] if rng.random() < 0.8 else []
    if layout != "total":
        sorts.insert(0, ("current_a", "motor_current_a"))
    for quantity in ("motor_temperature_c", "controller_temperature_c"):
        if rng.random() < 0.4:
            sorts.append((quantity, quantity))
    found = []
    for quantity, sort in sorts:
        word, unit = rng.choice(WORDS[style.language][sort]), rng.choice(UNITS[quantity])
        for side, text, position in zip(("left", "right"), sides, positions, strict=True):
            rng.randrange(10**9)  # not used: every seed stays the log it was
            key = (quantity, side)
            certain = sides not in UNCERTAIN_SIDES
            part = _column(
                style, key, flown.values[key], word=word.format(s=text), unit=unit, certain=certain
            )
            part.expected = (quantity, position)
            found.append(part)
    return found


def _cell_parts(style: Style, flown: TwinFlight, layout: str) -> list[Part]:
    quantity = "cell_voltage_v"
    word, unit = style.rng.choice(WORDS[style.language][quantity]), style.rng.choice(UNITS[quantity])
    first = 0 if style.defect == "cells from zero" else 1
    running = np.zeros(flown.time_s.size)
    found = []
    for n in range(1, 6):
        key = (quantity, str(n))
        running = running + flown.values[key]
        shown = running if layout == "taps" else flown.values[key]
        found.append(_column(style, key, shown, word=word.format(n=n - 1 + first), unit=unit))
        if layout == "taps":
            found[-1].truth = flown.values[key]
    if style.defect == "dead cell":
        for n in range(6, style.rng.choice([7, 9])):
            dead = np.zeros(flown.time_s.size)
            found.append(_column(style, (quantity, str(n)), dead, word=word.format(n=n), unit=unit))
            found[-1].expected = None
    return found


def _voltage_parts(style: Style, flown: TwinFlight) -> list[Part]:
    layout = style.rng.choice(LAYOUTS)
    if style.defect in ("dead cell", "zero dropouts", "cells from zero"):
        layout = style.rng.choice(["cells", "both"])
    style.why["cells"] = layout
    found: list[Part] = []
    if layout != "cells":
        found.append(_plain(style, flown, "pack_voltage_v"))
    if layout != "pack":
        found += _cell_parts(style, flown, layout)
    return found


def _plain(style: Style, flown: TwinFlight, quantity: str) -> Part:
    return _column(style, (quantity, ""), flown.values[quantity, ""])


def draw_parts(style: Style, flown: TwinFlight) -> tuple[list[Part], dict[Key, np.ndarray], set[Key]]:
    """The columns, the truth of each that must be read, and those a reader may leave out."""
    rng = style.rng
    parts = _voltage_parts(style, flown)
    motors = _motor_parts(style, flown)
    if style.why["motors"] != "motors":
        parts.append(_plain(style, flown, "current_a"))
    parts += motors
    for quantity, chance in CHANCES.items():
        if rng.random() < chance:
            parts.append(_plain(style, flown, quantity))
    if style.defect in DEFECTS_OF_COLUMNS:
        DEFECTS_OF_COLUMNS[style.defect](style, parts, flown)
    if rng.random() < 0.3:
        rng.shuffle(parts)
    sought = [p for p in parts if p.expected is not None]
    expected = {p.expected: p.truth for p in sought}
    uncertain = {p.expected for p in sought if not p.certain}
    # A reading that never moves cannot be told from a dead one.
    uncertain |= {k for k, v in expected.items() if np.isfinite(v).any() and np.nanmax(v) == np.nanmin(v)}
    if style.place == "none":
        # Without units anywhere these cannot be told from their like in other units by anyone.
        uncertain |= {k for k in expected if k[0] in NO_UNIT_NO_TELLING or k[0].endswith("temperature_c")}
    return parts, expected, uncertain
