"""What each sample log says, by a reading of its own: nothing here is shared with the importer."""

from __future__ import annotations

import csv
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path

Key = tuple[str, str]

SAMPLE_LOGS = Path(__file__).parents[4] / "sample_logs"
INVENTED_START = datetime(2026, 3, 14, 10, 20, 30)
"""The day of a log that names none, where a dress wants one."""


@dataclass(frozen=True)
class Column:
    """A column of a log: its heading without the unit, what it is, its unit, and its cells with a decimal
    point; `key` is ("", "") where it is carried along as it stands.
    """

    name: str
    key: Key
    unit: str
    cells: tuple[str, ...]
    heading: str


@dataclass(frozen=True)
class SampleLog:
    """A log as its file says: columns but the clock's, seconds from the first row, the moment of that row;
    `clocks` are the headings that the clock had.
    """

    path: Path
    columns: tuple[Column, ...]
    seconds: tuple[Decimal, ...]
    start: datetime | None
    clocks: tuple[str, ...]


def _of(quantity: str, position: str = "") -> Key:
    return quantity, position


_CELLS = {f"cell {n}": _of("cell_voltage_v", str(n)) for n in range(1, 6)}
_ENGLISH = {
    "throttle": _of("throttle_fraction"),
    "rudder": _of("rudder_fraction"),
    "pack voltage": _of("pack_voltage_v"),
    "pack current": _of("current_a"),
    "charge used": _of("charge_mah"),
    **_CELLS,
    "port motor current": _of("current_a", "left"),
    "starboard motor current": _of("current_a", "right"),
    "port propeller speed": _of("rpm", "left"),
    "starboard propeller speed": _of("rpm", "right"),
    "port motor temperature": _of("motor_temperature_c", "left"),
    "starboard motor temperature": _of("motor_temperature_c", "right"),
    "height": _of("altitude_m"),
    "airspeed": _of("airspeed_mps"),
}
_GERMAN = {
    "Gas": _of("throttle_fraction"),
    "Seitenruder": _of("rudder_fraction"),
    "Akkuspannung": _of("pack_voltage_v"),
    "Gesamtstrom": _of("current_a"),
    "Entnommene Ladung": _of("charge_mah"),
    **{f"Zelle {n}": _of("cell_voltage_v", str(n)) for n in range(1, 6)},
    "Strom links": _of("current_a", "left"),
    "Strom rechts": _of("current_a", "right"),
    "Drehzahl links": _of("rpm", "left"),
    "Drehzahl rechts": _of("rpm", "right"),
    "Motortemperatur links": _of("motor_temperature_c", "left"),
    "Motortemperatur rechts": _of("motor_temperature_c", "right"),
    "Höhe": _of("altitude_m"),
    "Fluggeschwindigkeit": _of("airspeed_mps"),
}
_SHORT = {
    **{f"Cell{n}": _of("cell_voltage_v", str(n)) for n in range(1, 6)},
    "Current": _of("current_a"),
    "Current left": _of("current_a", "left"),
    "Current right": _of("current_a", "right"),
    "Speed left": _of("rpm", "left"),
    "Speed right": _of("rpm", "right"),
    "Throttle": _of("throttle_fraction"),
    "Altitude": _of("altitude_m"),
}
_ONE_SIDE = {
    name: key
    for side in ("left", "right")
    for name, key in {
        f"{side} throttle": _of("throttle_fraction", side),
        "supply": _of("pack_voltage_v"),
        f"{side} motor": _of("current_a", side),
        f"{side} motor speed": _of("rpm", side),
        f"{side} controller": _of("controller_temperature_c", side),
    }.items()
}
_CELL_TEST = {
    "Current": _of("current_a", "into"),
    "Voltage": _of("pack_voltage_v"),
    "DChg. Cap.": _of("charge_mah"),
    "DChg. Energy": _of("energy_wh"),
    "Power": _of("power_w", "into"),
}
_SWEEP = {
    "command": _of("throttle_fraction"),
    "thrust": _of("thrust_n"),
    "voltage": _of("pack_voltage_v"),
    "current": _of("current_a"),
    "electrical speed": _of("electrical_speed"),
}
_TUNNEL = {
    "airspeed": _of("airspeed_mps"),
    "rpm": _of("rpm", "centre"),
    "voltage": _of("pack_voltage_v"),
    "current": _of("current_a"),
}
_TUNNEL_UNITS = {"airspeed": "m/s", "rpm": "rpm", "voltage": "V", "current": "A"}


@dataclass(frozen=True)
class _Form:
    """How a sample's file is written: its words, its clock's headings and forms, where its names stand."""

    words: dict[str, Key]
    clocks: tuple[str, ...]
    form: str
    encoding: str = "utf-8-sig"
    delimiter: str = ","
    above: int = 0
    units_below: bool = False


_FORMS = {
    "bench_runup.csv": _Form(_ENGLISH, ("elapsed (s)",), "s"),
    "heavier_right_propeller.csv": _Form(
        _GERMAN,
        ("Flugtag", "Uhrzeit"),
        "%d.%m.%Y %H:%M:%S.%f",
        encoding="latin-1",
        delimiter=";",
        units_below=True,
    ),
    "maiden.csv": _Form(_ENGLISH, ("moment",), "%Y-%m-%dT%H:%M:%S.%f"),
    "on_skis.csv": _Form(_ENGLISH, ("flown at",), "%d/%m/%Y %H:%M:%S.%f"),
    "three_recorders_left.csv": _Form(_ONE_SIDE, ("time ms",), "ms"),
    "three_recorders_right.csv": _Form(_ONE_SIDE, ("time ms",), "ms"),
    "three_recorders_receiver.csv": _Form(_ENGLISH, ("UTC",), "%Y-%m-%dT%H:%M:%S.%fZ"),
    "weak_cell.csv": _Form(_SHORT, ("Day", "Clock"), "%Y-%m-%d %H:%M:%S.%f", delimiter="\t", above=3),
    "discharge_13A.csv": _Form(_CELL_TEST, ("Total Time(s)", "Time(s)", "Date"), "s"),
    "discharge_59A.csv": _Form(_CELL_TEST, ("Total Time(s)", "Time(s)", "Date"), "s"),
    "drive_in_tunnel.csv": _Form(_TUNNEL, ("t",), "s"),
    **{
        f"{name}.csv": _Form(_SWEEP, ("time (s)",), "s")
        for name in ("a3_7", "b2_11", "e4_7", "g5_7", "k3_11")
    },
}


def sample_paths() -> tuple[Path, ...]:
    """Every sample log, and every open one where they are at hand."""
    found = [p for p in sorted(SAMPLE_LOGS.glob("*.csv")) if p.name != "history.csv"]
    open_data = os.environ.get("SAGLINE_OPEN_DATA")
    return (*found, *(sorted(Path(open_data).glob("*/*.csv")) if open_data else ()))


def _seconds(form: _Form, rows: dict[str, list[str]]) -> tuple[tuple[Decimal, ...], datetime | None]:
    texts = rows[form.clocks[0]]
    if form.form in ("s", "ms"):
        size = Decimal(1) if form.form == "s" else Decimal("0.001")
        return tuple((Decimal(t) - Decimal(texts[0])) * size for t in texts), None
    if len(form.clocks) == 2:
        texts = [f"{day} {clock}" for day, clock in zip(texts, rows[form.clocks[1]], strict=True)]
    moments = [datetime.strptime(t.replace(",", "."), form.form) for t in texts]
    if form.form.endswith("Z"):
        moments = [m.replace(tzinfo=UTC) for m in moments]
    return tuple(Decimal((m - moments[0]) // timedelta(microseconds=1)) / 10**6 for m in moments), moments[0]


def _named(heading: str, unit: str) -> tuple[str, str]:
    """A heading's words and its unit."""
    if unit:
        return heading, unit
    if heading in _TUNNEL_UNITS:
        return heading, _TUNNEL_UNITS[heading]
    if "(" in heading:
        name, _, rest = heading.partition("(")
        return name.strip(), rest.rstrip(")")
    name, _, last = heading.rpartition(" ")
    if heading.endswith("motor rpm"):
        return f"{name} speed", last
    return (name, last) if name and last in ("V", "mV", "A", "rpm", "%", "m", "°C") else (heading, "")


@cache
def sample(path: Path) -> SampleLog:
    """A sample log, read."""
    form = _FORMS[path.name]
    lines = path.read_text(encoding=form.encoding).splitlines()[form.above :]
    headings, *rows = csv.reader(lines, delimiter=form.delimiter)
    units = rows.pop(0) if form.units_below else [""] * len(headings)
    cells = {h: [r[i] for r in rows] for i, h in enumerate(headings)}
    seconds, start = _seconds(form, cells)
    columns = []
    for heading, unit in zip(headings, units, strict=True):
        if heading not in form.clocks:
            name, unit = _named(heading, unit)
            own = tuple(c.replace(",", ".") if form.units_below else c for c in cells[heading])
            columns.append(Column(name, form.words.get(name, ("", "")), unit, own, heading))
    return SampleLog(path, tuple(columns), seconds, start, form.clocks)
