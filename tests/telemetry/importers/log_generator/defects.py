"""What is wrong with the columns of a log: one function for each defect."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .flight import TwinFlight
from .style import Part, Style

STRUCK = ("current_a", "pack_voltage_v", "rpm", "motor_temperature_c", "cell_voltage_v", "altitude_m")
# numbers in one unit under the name of another of the same kind: name, scale, decimals
MISLABELLED = {
    "pack_voltage_v": ("V", 1000, 0),
    "cell_voltage_v": ("V", 1000, 0),
    "charge_mah": ("Ah", 1, 0),
    "current_a": ("A", 1000, 0),
}
MARKS = tuple(
    f"{left}{unit}{right}"
    for unit in ("mAh", "mV", "mA", "Ah", "V", "A")
    for left, right in (("(", ")"), ("[", "]"), ("/", ""), ("_", ""))
)


def _by(parts: list[Part], quantity: str) -> list[Part]:
    return [p for p in parts if p.key[0] == quantity and p.expected is not None]


def _strike(part: Part, rows: list[int], cell: str) -> None:
    """Write one text into some rows, whose truth is lost with that."""
    part.truth = part.truth.copy()
    for row in rows:
        part.cells[row] = cell
        part.truth[row] = np.nan


def _stuck(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    part, n = style.rng.choice(parts), flown.time_s.size
    part.cells = [part.cells[n // 2]] * n
    part.expected = None


def _strange_numbers(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    part = style.rng.choice([p for p in parts if p.key[0] in STRUCK])
    sentinel = style.rng.choice(["-999", "-2500", "65535", "32767", "9999"])
    cell = sentinel if style.defect == "sentinel" else f"6553{style.decimal}5"
    _strike(part, style.rng.sample(range(5, flown.time_s.size - 5), 4), cell)
    style.why["struck"] = part.header


def _wrong_unit(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    part = style.rng.choice([p for p in parts if p.key[0] in MISLABELLED])
    unit, scale, decimals = MISLABELLED[part.key[0]]
    for one in (part.key[0] == "cell_voltage_v" and _by(parts, "cell_voltage_v")) or [part]:
        bare = one.header
        for mark in MARKS:
            bare = bare.removesuffix(mark).strip() if bare.endswith(mark) else bare
        if bare == one.header and not one.unit:
            continue
        one.header, one.unit = (bare, unit) if style.place == "row" else (f"{bare} ({unit})", "")
        style.rewrite(one, np.round(one.truth * scale), decimals)
        one.truth = np.round(one.truth * scale) / scale
    style.why["struck"] = part.header


def _wrong_scale(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    for part in _by(parts, "current_a"):
        factor = style.rng.choice([10.0, 10.0, 100.0])
        style.rewrite(part, np.round(part.truth * factor), 0)
        part.truth = np.round(part.truth * factor) / factor
        part.certain = bool(_by(parts, "charge_mah") or _by(parts, "power_w")) and part.key[1] == ""


def _negative_current(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    for part in _by(parts, "current_a"):
        part.cells = ["-" + c if any(d in "123456789" for d in c) else c for c in part.cells]


def _missing_marks(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    n = flown.time_s.size
    mark = style.rng.choice(["-", "--", "---", "n/a", "NaN", "nan", "", "N/A"])
    for part in parts:
        _strike(part, style.rng.sample(range(1, n - 1), n // 25), mark)


def _only_refreshed(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    turn = np.arange(flown.time_s.size)
    for i, part in enumerate(parts):
        _strike(part, np.flatnonzero((turn + i) % 3 != 0).tolist(), "")


def _held(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    for part in parts:
        every = style.rng.choice([1, 2, 5])
        source = np.arange(flown.time_s.size) // every * every
        part.cells = [part.cells[i] for i in source]
        part.truth = part.truth[source]


def _duplicate_column(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    part = style.rng.choice(parts)
    parts.append(Part(part.key, part.header, part.unit, list(part.cells)))


def _empty_column(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    if style.delimiter != " ":
        at = style.rng.randrange(len(parts))
        header = style.rng.choice(["", "spare", "A4"])
        parts.insert(at, Part(("", ""), header, "", [""] * flown.time_s.size))


def _zero_dropouts(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    part = style.rng.choice(_by(parts, "cell_voltage_v"))
    _strike(part, style.rng.sample(range(5, flown.time_s.size - 5), 5), "0")


def _event_text(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    n = flown.time_s.size
    cells = [""] * n
    cells[n // 3] = "start"
    header = {"de": "Ereignis", "fr": "Événement"}.get(style.language, "Event")
    parts.append(Part(("event", ""), header, "", cells, True, ("event", ""), np.full(n, np.nan)))


def _aside_columns(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    low = np.min([flown.values["cell_voltage_v", str(c)] for c in range(1, 6)], axis=0)
    extra = [
        ("Lowest cell", low, 3),
        ("Internal resistance", 0 * low + 12 + low, 1),
        ("Satellites", np.round(8 + 2 * np.sin(flown.time_s / 20)), 0),
        ("RSSI (dB)", -60 - 10 * np.abs(np.sin(flown.time_s / 9)), 0),
        ("Max current", np.maximum.accumulate(flown.values["current_a", ""]), 1),
    ]
    for header, values, decimals in style.rng.sample(extra, 3):
        parts.append(Part(("", ""), header, "", []))
        style.rewrite(parts[-1], values, decimals)


def _nameless_voltages(style: Style, parts: list[Part], flown: TwinFlight) -> None:
    volts = [p for p in parts if p.key[0] in ("pack_voltage_v", "receiver_voltage_v")]
    if len(volts) == 2 and style.why["cells"] == "pack":
        for i, part in enumerate(volts):
            part.header, part.unit = f"U{i + 1}" + ("" if style.place == "row" else " [V]"), "V"
            style.rewrite(part, part.truth, 2)
            part.truth = np.round(part.truth, 2)


DEFECTS_OF_COLUMNS: dict[str, Callable[[Style, list[Part], TwinFlight], None]] = {
    "stuck": _stuck,
    "sentinel": _strange_numbers,
    "spike": _strange_numbers,
    "wrong unit": _wrong_unit,
    "wrong scale": _wrong_scale,
    "negative current": _negative_current,
    "missing marks": _missing_marks,
    "only refreshed": _only_refreshed,
    "held": _held,
    "duplicate column": _duplicate_column,
    "empty column": _empty_column,
    "zero dropouts": _zero_dropouts,
    "event text": _event_text,
    "aside columns": _aside_columns,
    "nameless voltages": _nameless_voltages,
}
