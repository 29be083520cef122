"""Thousands of different logs from one invented flight whose truth is known.

    written = write_log(17)
    written.raw, written.expected, written.why

Each seed crosses dialect × language × unit × time × cell layout × defect. The flight is
not the project's simulator's: a plain twin on five cells, worked out here.
"""

from __future__ import annotations

import importlib.util
import math
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from random import Random

import numpy as np

_spec = importlib.util.spec_from_file_location(
    "generator_words", Path(__file__).with_name("generator_words.py")
)
_words = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_words)
SIDES, WORDS = _words.SIDES, _words.WORDS

Key = tuple[str, str]


@dataclass
class Flown:
    """The truth: values by quantity and position, on one clock."""

    time_s: np.ndarray
    values: dict[Key, np.ndarray]
    consumed_mah: float


def _throttle(time_s: np.ndarray, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    end = time_s[-1]
    knots = [0.0, 12.0, 13.0, 20.0, 22.0, 34.0]
    level = [0.0, 0.0, 0.25, 0.2, 0.95, 0.9]
    at = 36.0
    while at < end - 32:
        knots += [at, at + 4.0]
        level += [float(rng.uniform(0.3, 0.85))] * 2
        at += float(rng.uniform(5.0, 10.0))
    knots += [end - 26, end - 22, end - 14, end - 12, end]
    level += [0.25, 0.12, 0.1, 0.0, 0.0]
    return np.interp(time_s, knots, level)


@cache
def fly(seed: int, *, cells: int = 5, seconds: float = 150.0, rate_hz: float = 10.0) -> Flown:
    """One flight of a twin: two unequal motors, cells of unlike resistance, one clock."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, seconds, 1 / rate_hz)
    command = _throttle(time_s, seed)
    slow = np.convolve(np.pad(command, (8, 0), mode="edge"), np.ones(9) / 9, mode="valid")[: time_s.size]
    airborne = np.clip((time_s - 26) / 6, 0, 1) * np.clip((seconds - 16 - time_s) / 6, 0, 1)
    load = (1.0 - 0.25 * airborne) * (
        1 + 0.02 * np.sin(time_s / 1.7) + 0.015 * rng.standard_normal(time_s.size)
    )
    values: dict[Key, np.ndarray] = {}
    lean = {"left": 1.0, "right": 1.0 + float(rng.uniform(-0.06, 0.06))}
    total = 0.35 + 0.02 * rng.standard_normal(time_s.size)
    for side, share in lean.items():
        values["current_a", side] = 42.0 * share * slow**2.4 * load
        total = total + values["current_a", side]
    values["current_a", ""] = total
    step = np.diff(time_s)
    charge = np.concatenate([[0.0], np.cumsum(step * (total[1:] + total[:-1]) / 2)]) / 3.6
    values["charge_mah", ""] = charge
    used = charge / 5200.0
    slow_current = np.zeros_like(total)
    for i in range(1, total.size):
        slow_current[i] = slow_current[i - 1] + (total[i] - slow_current[i - 1]) * (1 - math.exp(-0.1 / 8.0))
    pack = np.zeros_like(total)
    for cell in range(1, cells + 1):
        ohm = 0.0022 * float(rng.uniform(0.85, 1.2))
        resting = 4.19 - 0.004 * float(rng.uniform(0, 3)) - 0.62 * used - 0.25 * used**4
        values["cell_voltage_v", str(cell)] = resting - ohm * total - 0.5 * ohm * slow_current
        pack = pack + values["cell_voltage_v", str(cell)]
    values["pack_voltage_v", ""] = pack
    values["power_w", ""] = pack * total
    power = values["power_w", ""]
    values["energy_wh", ""] = np.concatenate([[0.0], np.cumsum(step * (power[1:] + power[:-1]) / 2)]) / 3600
    values["throttle_fraction", ""] = command
    for side, share in lean.items():
        values["rpm", side] = (
            11_000 * slow**0.85 * (pack / 20) * (2 - share) * (1 + 0.002 * rng.standard_normal(time_s.size))
        )
        heat = np.convolve(np.pad(total, (400, 0)), np.exp(-np.arange(401) / 250) / 250, mode="valid")[
            : time_s.size
        ]
        values["motor_temperature_c", side] = 17.0 + 1.1 * heat * share
        values["controller_temperature_c", side] = 19.0 + 0.8 * heat * share
    values["pack_temperature_c", ""] = 21.0 + 0.4 * heat
    values["air_temperature_c", ""] = 16.0 - 0.4 * airborne + 0.05 * np.sin(time_s / 20)
    values["receiver_voltage_v", ""] = (
        5.96 + 0.02 * rng.standard_normal(time_s.size) + 0.03 * np.sin(time_s / 3)
    )
    climb = (
        3.0
        * np.gradient(
            np.convolve(np.pad(airborne, (20, 20), mode="edge"), np.ones(41) / 41, mode="valid"), time_s
        )
        * 14
    )
    climb = climb + airborne * 1.4 * np.sin(time_s / 6)
    values["climb_mps", ""] = climb
    height = np.concatenate([[0.0], np.cumsum(step * (climb[1:] + climb[:-1]) / 2)])
    values["altitude_m", ""] = height - airborne * 0.0
    values["airspeed_mps", ""] = airborne * (17 + 3 * np.sin(time_s / 9)) + 0.4
    values["ground_speed_mps", ""] = airborne * (17 + 5 * np.sin(time_s / 14)) + 0.1
    values["link_fraction", ""] = np.clip(0.97 - 0.1 * np.abs(np.sin(time_s / 11)), 0, 1)
    return Flown(time_s, values, float(charge[-1] - charge[0]))


# ---------------------------------------------------------------- units: (text, scale, offset, decimals)
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


@dataclass
class Part:
    """One column to be written."""

    key: Key
    header: str
    unit: str
    cells: list[str]
    certain: bool = True
    expected: Key | None = None


@dataclass
class Written:
    """A log and what must be read from it.

    `expected` holds the truth of each channel by key; `uncertain` the keys a reader may leave
    out; nothing else may be used. `clock_shift_s` is what the file's clock reads first.
    """

    raw: bytes
    expected: dict[Key, np.ndarray]
    uncertain: set[Key]
    time_s: np.ndarray
    consumed_mah: float
    why: dict[str, object] = field(default_factory=dict)
    refused: bool = False


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


def _number(value: float, decimals: int, decimal: str, thousands: str = "") -> str:
    if not math.isfinite(value):
        return ""
    text = f"{value:,.{decimals}f}" if thousands else f"{value:.{decimals}f}"
    if thousands:
        return text.replace(",", "\x00").replace(".", decimal).replace("\x00", thousands)
    return text.replace(".", decimal)


def _times(
    rng: Random, style: str, time_s: np.ndarray, decimal: str, why: dict[str, object]
) -> tuple[list[tuple[str, str, list[str]]], np.ndarray]:
    """The time columns as (word, unit, cells), and the true time of each row as it can be known."""
    start = rng.choice([0.0, 0.0, 3.2, 57.0])
    t = time_s + start
    day = 1_750_000_000 - 1_750_000_000 % 86_400
    if style in ("s", "s unsaid"):
        return [
            (
                "",
                "s" if style == "s" else "",
                [
                    _number(x, rng.choice([2, 3]), decimal) if i == 0 else _number(x, 2, decimal)
                    for i, x in enumerate(t)
                ],
            )
        ], time_s
    if style in ("ms", "ms unsaid"):
        return [("", "ms" if style == "ms" else "", [str(round(1000 * x)) for x in t])], time_s
    if style == "µs":
        return [("", "µs", [str(round(1e6 * x)) for x in t])], time_s
    if style == "mm:ss":
        return [
            ("", "", [f"{int(x // 60):02d}:{_number(x % 60, 2, decimal).zfill(5)}" for x in np.round(t, 2)])
        ], time_s
    if style in ("hh:mm:ss", "midnight", "whole seconds", "date apart"):
        begin = 86_400 - 60.0 if style == "midnight" else 14 * 3600 + 23 * 60 + 11.0
        clock = np.round(t - start + begin, 3) % 86_400
        if style == "whole seconds":
            clock = np.floor(clock)
            texts = [f"{int(x // 3600):02d}:{int(x // 60 % 60):02d}:{int(x % 60):02d}" for x in clock]
        else:
            texts = [
                f"{int(x // 3600):02d}:{int(x // 60 % 60):02d}:"
                f"{_number(x % 60, 3, rng_decimal(decimal)).zfill(6)}"
                for x in np.round(clock, 3)
            ]
        columns = [("", "", texts)]
        if style == "date apart":
            columns.insert(0, ("Date", "", ["14.06.2025"] * len(texts)))
        return columns, time_s
    if style == "iso":
        stamps = np.datetime64("2025-06-14T14:23:11.000") + np.round(1000 * time_s).astype("timedelta64[ms]")
        joint = rng.choice(["T", " "])
        return [("", "", [str(s).replace("T", joint) for s in stamps])], time_s
    if style == "epoch s":
        return [("", rng.choice(["s", ""]), [_number(day + 40_000 + x, 2, decimal) for x in time_s])], time_s
    if style == "epoch ms":
        return [("", rng.choice(["ms", ""]), [str(round(1000 * (day + 40_000 + x))) for x in time_s])], time_s
    if style == "wrap":
        return [("", "ms", [str(round(1000 * x + 40_000) % 65_536) for x in time_s])], time_s
    raise ValueError(style)


def rng_decimal(decimal: str) -> str:
    """Fractions of a second are written with a point by most, whatever the decimal sign."""
    return "." if decimal == "." else ","
