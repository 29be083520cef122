"""A recording as a CSV file, in one of many dialects."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from telemetry.quantities import pack_part
from telemetry.simulate.recorder import Recording
from telemetry.trace import Channel, Floats, Key


@dataclass(frozen=True, slots=True)
class Heading:
    """How a column is written.

    `text` stands in the header, `unit` in the unit row if there is one; shown = value · scale + offset.
    """

    text: str
    unit: str = ""
    scale: float = 1.0
    decimals: int = 2
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class CsvDialect:
    """A way to write a log.

    Attributes
    ----------
    headings : by (quantity, position); a channel without one is left out, unless `headings` is empty.
    time : "seconds", "milliseconds", "minutes" (mm:ss.ff) or "clock" (hh:mm:ss.fff, from `clock_start_s`
        after midnight).
    day : of the first midnight, written by `day_form` (of strftime) with a "clock": in a column of its own
        under `day_text`, or without one right before the time of day. `zone` stands behind the time of day.
    preamble : lines before the header. `unit_row` puts the units under it.
    missing : what stands for a silent sample.
    """

    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    newline: str = "\n"
    time: str = "seconds"
    time_text: str = "Time [s]"
    time_unit: str = "s"
    clock_start_s: float = 0.0
    day: date | None = None
    day_form: str = "%Y-%m-%d"
    day_text: str = ""
    zone: str = ""
    preamble: tuple[str, ...] = ()
    unit_row: bool = False
    missing: str = ""
    headings: Mapping[Key, Heading] = field(default_factory=dict)


_PLAIN = {
    "pack_voltage_v": ("Pack voltage", "V", 3),
    "cell_voltage_v": ("Cell", "V", 3),
    "current_a": ("Current", "A", 2),
    "charge_mah": ("Charge", "mAh", 1),
    "power_w": ("Power", "W", 1),
    "energy_wh": ("Energy", "Wh", 3),
    "throttle_fraction": ("Throttle", "%", 1),
    "rudder_fraction": ("Rudder", "%", 1),
    "rpm": ("Speed", "rpm", 0),
    "thrust_n": ("Thrust", "N", 2),
    "torque_nm": ("Torque", "N.m", 3),
    "motor_temperature_c": ("Motor temperature", "°C", 1),
    "controller_temperature_c": ("Controller temperature", "°C", 1),
    "pack_temperature_c": ("Pack temperature", "°C", 1),
    "air_temperature_c": ("Air temperature", "°C", 1),
    "receiver_voltage_v": ("Receiver voltage", "V", 2),
    "receiver_current_a": ("Receiver current", "A", 2),
    "altitude_m": ("Altitude", "m", 1),
    "climb_mps": ("Climb", "m/s", 1),
    "airspeed_mps": ("Airspeed", "m/s", 1),
    "ground_speed_mps": ("Ground speed", "m/s", 1),
    "course_deg": ("Course", "deg", 0),
    "acceleration_mps2": ("Acceleration", "m/s2", 2),
    "link_fraction": ("Link quality", "%", 0),
}


def plain_heading(key: Key) -> Heading:
    """Plain English words with the unit in brackets."""
    quantity, position = key
    word, unit, decimals = _PLAIN[quantity]
    pack, place = pack_part(position)
    if pack:
        of_pack = word.lower().removeprefix("pack ")
        text = f"{pack.replace('_', ' ').capitalize()} {of_pack}{' ' if place else ''}{place} [{unit}]"
        return Heading(text, unit, 100.0 if unit == "%" else 1.0, decimals)
    where = f" {position.replace('_', ' ')}" if position else ""
    return Heading(f"{word}{where} [{unit}]", unit, 100.0 if unit == "%" else 1.0, decimals)


def write(recording: Recording, path: Path, dialect: CsvDialect) -> Path:
    """Write a recording. The same recording and dialect give the same bytes."""
    headings = dict(dialect.headings) or {key: plain_heading(key) for key in recording.channels}
    columns = [*_days(dialect, recording.own_time_s), _times(dialect)(recording.own_time_s)]
    columns += [_numbers(recording.channels[key], heading, dialect) for key, heading in headings.items()]
    join = dialect.delimiter.join
    texts, units = [dialect.time_text], [dialect.time_unit]
    if dialect.day_text:
        texts, units = [dialect.day_text, *texts], ["", *units]
    lines = [
        *dialect.preamble,
        join([_quoted(t, dialect) for t in (*texts, *(h.text for h in headings.values()))]),
    ]
    if dialect.unit_row:
        lines.append(join([*units, *(h.unit for h in headings.values())]))
    lines += [join(row) for row in zip(*columns, strict=True)]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes((dialect.newline.join(lines) + dialect.newline).encode(dialect.encoding))
    return path


def _quoted(text: str, dialect: CsvDialect) -> str:
    return f'"{text}"' if dialect.delimiter in text else text


def _numbers(channel: Channel, heading: Heading, dialect: CsvDialect) -> list[str]:
    shown = np.round(channel.values * heading.scale + heading.offset, heading.decimals) + 0.0
    texts = [
        f"{value:.{heading.decimals}f}" if np.isfinite(value) else dialect.missing for value in shown.tolist()
    ]
    return [text.replace(".", dialect.decimal) for text in texts] if dialect.decimal != "." else texts


def _days(dialect: CsvDialect, times: Floats) -> list[list[str]]:
    """The column of dates, where they have one of their own."""
    return [_days_and_ms(dialect, times)[0]] if dialect.day_text else []


def _days_and_ms(dialect: CsvDialect, times: Floats) -> tuple[list[str], list[int]]:
    """The day of each row as it is written, "" without one, and the time of day. [ms]"""
    whole = [divmod(round((t + dialect.clock_start_s) * 1000), 86_400_000) for t in times.tolist()]
    day = dialect.day
    written = (
        {}
        if day is None
        else {n: (day + timedelta(days=n)).strftime(dialect.day_form) for n in {n for n, _ in whole}}
    )
    return [written.get(n, "") for n, _ in whole], [ms for _, ms in whole]


def _times(dialect: CsvDialect) -> Callable[[Floats], list[str]]:
    def seconds(times: Floats) -> list[str]:
        return [f"{t + 0.0:.3f}".replace(".", dialect.decimal) for t in times.tolist()]

    def milliseconds(times: Floats) -> list[str]:
        return [f"{round(t * 1000)}" for t in times.tolist()]

    def minutes(times: Floats) -> list[str]:
        cs = [round(t * 100) for t in times.tolist()]
        return [f"{t // 6000:02d}:{t % 6000 // 100:02d}{dialect.decimal}{t % 100:02d}" for t in cs]

    def clock(times: Floats) -> list[str]:
        days, ms = _days_and_ms(dialect, times)
        clocks = [
            f"{t // 3_600_000:02d}:{t // 60_000 % 60:02d}:{t // 1000 % 60:02d}"
            f"{dialect.decimal}{t % 1000:03d}{dialect.zone}"
            for t in ms
        ]
        return clocks if dialect.day_text else [day + clock for day, clock in zip(days, clocks, strict=True)]

    return {"seconds": seconds, "milliseconds": milliseconds, "minutes": minutes, "clock": clock}[
        dialect.time
    ]
