"""The list of flights as a table that spreadsheets open and `--history` reads back."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from telemetry.errors import BadUse
from telemetry.frames import unrun
from telemetry.logbook.frames import flights_frame
from telemetry.logbook.records import KeptFlight
from telemetry.whole_files import why_not, write_text, written

HEADER = (
    "duration_s",
    "consumed_mah",
    "configuration",
    "date",
    "put_back_mah",
    "pack",
    "temperature_c",
    "start_charge_fraction",
    "flight",
    "kind",
    "aircraft",
    "headline",
    "lowest_cell_v",
    "timer_alarm_s",
    "cells",
    "load",
    "pair",
    "prediction",
    "timer",
    "files",
)
REMOVED, OTHER_AIRCRAFT, AGAIN, CUT_OFF = "removed", "other aircraft", "kept already", "cut off"
"""The kinds of flights that are no evidence, so that `--history` leaves them out as the logbook does: removed
by the owner, or the log contradicts its sheet, holds a kept flight once more, or does not show the flight's
beginning or end.
"""


def write_list(flights: Iterable[KeptFlight], path: Path) -> None:
    """Write the list: as CSV, which `--history` reads back, or with every fact as Parquet where the path ends
    in `.parquet`. Raises BadUse when the file can't be written.
    """
    try:
        if path.suffix.lower() == ".parquet":
            with written(path) as part:
                flights_frame(tuple(flights)).to_parquet(part)
        else:
            write_text(path, csv_text(flights))
    except OSError as error:
        raise BadUse(
            f"the list cannot be written ({why_not(error)})",
            "Give another place with --export.",
            file=path.name,
        ) from None


def csv_text(flights: Iterable[KeptFlight]) -> str:
    """The table as text, a flight a line; numbers bare, texts so that no spreadsheet runs them."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEADER)
    for one in flights:
        verdicts = [
            one.verdicts.get(question, "") for question in ("cells", "load", "pair", "prediction", "timer")
        ]
        row = (
            one.duration_s,
            one.consumed_mah,
            one.configuration,
            one.date,
            one.put_back_mah,
            one.pack,
            one.temperature_c,
            one.start_charge_fraction,
            one.id,
            _kind(one),
            one.aircraft,
            one.headline,
            one.lowest_cell_v,
            one.alarm_s,
            *verdicts,
            " ".join(one.files),
        )
        writer.writerow([_cell(value) for value in row])
    return out.getvalue()


def _kind(one: KeptFlight) -> str:
    if one.removed:
        return REMOVED
    if one.contradicts_sheet:
        return OTHER_AIRCRAFT
    if one.again is not None:
        return AGAIN
    return CUT_OFF if one.kind == "flight" and one.cut_off != "none" else one.kind


def _cell(value: str | float | None) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return unrun(value)
    return f"{value:.10g}"
