"""A past flight as one row of facts, and the table that lists them.

History reaches a review or a timer as an argument: the command or the page reads
it from a CSV or asks the logbook for it.
"""

from __future__ import annotations

import csv
import datetime
import difflib
import io
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from telemetry.errors import BadHistory

NEEDED = ("duration_s", "consumed_mah", "configuration")
OPTIONAL = ("date", "put_back_mah", "pack", "temperature_c", "start_charge_fraction")
KIND, FLIGHT = "kind", "flight"

LONGEST_FLIGHT_S = 6 * 3600.0
"""Longer than any flight meant here: a longer one is a mistake of unit."""
LARGEST_CHARGE_MAH = 200_000.0
"""More than any model's pack holds."""


@dataclass(frozen=True, slots=True)
class FlownMotor:
    """One motor with its propeller or `ducted` fan, None for what its sheet left out. [rpm/V, Ω, m]"""

    position: str
    kv_rpm_per_v: float | None = None
    resistance_ohm: float | None = None
    diameter_m: float | None = None
    pitch_m: float | None = None
    blades: int | None = None
    ducted: bool = False


@dataclass(frozen=True, slots=True)
class FlownDrive:
    """What an aircraft was flown with, by the sheet of that flight; None for what the sheet left out.

    Attributes
    ----------
    is_named : whether its owner gave the aircraft a name; a new sheet's own stands for no aircraft.
    motors : () where nothing is known of them.
    capacity_mah : of the pack it was flown on. [mAh]
    mass_kg, drag_area_m2 : of the aircraft in that configuration. [kg, m²]
    """

    cells: int | None = None
    motors: tuple[FlownMotor, ...] = ()
    mass_kg: float | None = None
    drag_area_m2: float | None = None
    capacity_mah: float | None = None
    is_named: bool = True


@dataclass(frozen=True, slots=True)
class PastFlight:
    """One flight already flown.

    Attributes
    ----------
    duration_s : powered time. [s]
    consumed_mah : all that left the pack. [mAh]
    configuration : "" is the sheet as it stands.
    date : ISO date, or "" when not known.
    pack : the pack's name, or "" for the sheet's [pack].
    put_back_mah : what the charger put back, or None. [mAh]
    temperature_c : of the pack or the air, or None. [°C]
    drive : what it was flown with; None for a row of a list, whose owner vouches for it.
    start_charge_fraction : how full its pack began, None where nobody knows; the owner of a list that does
        not speak of it vouches for full packs.
    by_pack : position and charge of each pack that feeds one motor, where that is known; the row itself
        speaks of the one that limits. [mAh]
    """

    duration_s: float
    consumed_mah: float
    configuration: str = ""
    date: str = ""
    pack: str = ""
    put_back_mah: float | None = None
    temperature_c: float | None = None
    drive: FlownDrive | None = None
    start_charge_fraction: float | None = 1.0
    by_pack: tuple[tuple[str, float], ...] = ()

    def of_pack(self, place: str, name: str) -> PastFlight:
        """The flight as one of the packs flew it that feed one motor each.

        Parameters
        ----------
        place : the pack's position, such as "left_pack".
        name : of the pack.

        Returns
        -------
        A row of the sheet's own drive: with that pack's charge where it is known, else as it stands.
        """
        drawn = dict(self.by_pack).get(place)
        if drawn is None or drawn <= 0.0:
            return replace(self, drive=None, by_pack=())
        put_back = self.put_back_mah if self.pack == name else None
        return replace(self, consumed_mah=drawn, pack=name, put_back_mah=put_back, drive=None, by_pack=())

    @property
    def rate_mah_per_min(self) -> float:
        """Mean consumption over the powered time. [mAh/min]"""
        return self.consumed_mah / (self.duration_s / 60.0)


def read_history(path: str | Path) -> tuple[PastFlight, ...]:
    """Past flights from a CSV, in the order of the file.

    The header holds `duration_s`, `consumed_mah` and `configuration`, in any order, and may
    hold `date`, `put_back_mah`, `pack`, `temperature_c` and `start_charge_fraction`. Columns of
    another name are the owner's own notes and are left alone, unless the name is close to one of
    ours. Comma, semicolon and tab separate; with the last two a decimal comma is read as well. In the
    logbook's own export, whose `kind` says so, runs that were no flights are passed over.

    Raises
    ------
    BadHistory : the file is missing, is not text, lacks a column, or a row has a value that
        cannot be; the sentence names file, line and column and says what to do.
    """
    path = Path(path)
    text = _text_of(path)
    delimiter = _delimiter_of(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    flights: list[PastFlight] = []
    header: tuple[str, ...] = ()
    try:
        for fields in reader:
            if not any(field.strip() for field in fields):
                continue
            if not header:
                header = _header_of(fields, path.name, reader.line_num)
            elif (
                flight := _flight_of(fields, header, _Row(path.name, reader.line_num, delimiter != ","))
            ) is not None:
                flights.append(flight)
    except csv.Error as error:
        raise BadHistory(
            f"not a table of rows and columns ({error})",
            "Save it as CSV.",
            file=path.name,
            line=reader.line_num,
        ) from None
    if not header:
        raise BadHistory(
            "the file is empty",
            f"Give it the header {','.join(NEEDED)} and a row for each flight.",
            file=path.name,
        )
    return tuple(flights)


@dataclass(frozen=True, slots=True)
class _Row:
    """Where a row stands, for its errors. `decimal_comma` says that a comma may be the decimal sign."""

    file: str
    line: int
    decimal_comma: bool

    def refuse(self, column: str, problem: str, remedy: str) -> BadHistory:
        return BadHistory(problem, remedy, file=self.file, line=self.line, place=column)


def _text_of(path: Path) -> str:
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise BadHistory("no such file", "Check the path given to --history.", file=path.name) from None
    except OSError as error:
        raise BadHistory(
            f"cannot be read ({error.strerror or error})", "Give a CSV file.", file=path.name
        ) from None
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings: tuple[str, ...] = ("utf-16",)
    else:
        encodings = ("utf-8-sig", "latin-1")
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise BadHistory("not a text file", f"Give a CSV with the header {','.join(NEEDED)}.", file=path.name)


def _delimiter_of(text: str) -> str:
    head = next((line for line in text.splitlines() if line.strip()), "")
    return max(",;\t", key=head.count)


def _header_of(fields: Sequence[str], file: str, line: int) -> tuple[str, ...]:
    names = tuple(field.strip().lower() for field in fields)
    known = NEEDED + OPTIONAL
    for name in names:
        close = difflib.get_close_matches(name, known, n=1, cutoff=0.8)
        if name and name not in known and close:
            raise BadHistory(
                f"the header says '{name}'",
                f"Write {close[0]} if that is meant, or rename the column.",
                file=file,
                line=line,
                place=name,
            )
        if name in known and names.count(name) > 1:
            raise BadHistory(
                "the column stands there twice", "Remove one of them.", file=file, line=line, place=name
            )
    missing = [name for name in NEEDED if name not in names]
    if missing:
        raise BadHistory(
            f"the header lacks {' and '.join(missing)}",
            f"Give it the header {','.join(NEEDED)}, if known with {', '.join(OPTIONAL)}.",
            file=file,
            line=line,
        )
    return names


def _flight_of(fields: Sequence[str], header: Sequence[str], row: _Row) -> PastFlight | None:
    while len(fields) > len(header) and not fields[-1].strip():
        fields = fields[:-1]
    if len(fields) != len(header):
        raise BadHistory(
            f"{len(fields)} fields where the header has {len(header)}",
            "Give the row one field for each column.",
            file=row.file,
            line=row.line,
        )
    values = {name: _bare(field) for name, field in zip(header, fields, strict=True)}
    if values.get(KIND, FLIGHT) not in ("", FLIGHT):
        return None
    return PastFlight(
        duration_s=_number(
            values,
            "duration_s",
            row,
            lambda v: 0 < v <= LONGEST_FLIGHT_S,
            "the powered time in seconds, above 0 and within six hours",
        ),
        consumed_mah=_number(
            values,
            "consumed_mah",
            row,
            lambda v: 0 < v <= LARGEST_CHARGE_MAH,
            "the charge used in mAh, above 0",
        ),
        configuration=values["configuration"],
        date=_date(values.get("date", ""), row),
        pack=values.get("pack", ""),
        put_back_mah=_optional(
            values,
            "put_back_mah",
            row,
            lambda v: 0 < v <= LARGEST_CHARGE_MAH,
            "the charge put back in mAh, above 0, or leave it blank",
        ),
        temperature_c=_optional(
            values, "temperature_c", row, lambda v: -60 <= v <= 90, "a temperature in °C, or leave it blank"
        ),
        start_charge_fraction=_optional(
            values,
            "start_charge_fraction",
            row,
            lambda v: 0 <= v <= 1.2,
            "how full the pack began, 1 for full, or leave it blank where nobody knows",
        )
        if "start_charge_fraction" in values
        else 1.0,
    )


def _bare(field: str) -> str:
    """A field without the mark that keeps a spreadsheet from running it."""
    text = field.strip()
    return text[1:] if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@") else text


def _number(
    values: Mapping[str, str], column: str, row: _Row, sensible: Callable[[float], bool], wanted: str
) -> float:
    text = values[column]
    plain = text.replace(",", ".") if row.decimal_comma and "." not in text and text.count(",") == 1 else text
    try:
        number = float(plain)
    except ValueError:
        number = math.nan
    if not math.isfinite(number) or not sensible(number):
        found = f"'{text}' cannot be" if text else "nothing stands there"
        raise row.refuse(column, found, f"Give {wanted}.")
    return number


def _optional(
    values: Mapping[str, str], column: str, row: _Row, sensible: Callable[[float], bool], wanted: str
) -> float | None:
    return _number(values, column, row, sensible, wanted) if values.get(column) else None


def _date(text: str, row: _Row) -> str:
    """The calendar day of an ISO date or time stamp."""
    if not text:
        return ""
    try:
        if re.match(r"\d{4}-?\d{2}-?\d{2}", text):
            return datetime.datetime.fromisoformat(text.replace(" UTC", "")).date().isoformat()
    except ValueError:
        pass
    raise row.refuse(
        "date", f"'{text}' is not a date as 2026-06-14", "Write year-month-day, or leave it blank."
    )
