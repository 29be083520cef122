"""Options that several commands share, and what they turn into."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from telemetry.cli.paths import check_log, named, refuse_folder
from telemetry.errors import BadLogbook, BadUse

if TYPE_CHECKING:
    from collections.abc import Sequence

    from telemetry.logbook import Earlier
    from telemetry.sheet import Setup, Sheet
    from telemetry.trace import Trace

DOUBT = 3

Logs = Annotated[
    list[Path], typer.Argument(metavar="LOG...", help="CSV logs; they are only read.", show_default=False)
]
SheetFile = Annotated[Path | None, typer.Option("--sheet", metavar="S.toml", help="The set-up sheet.")]
HistoryFile = Annotated[
    Path | None, typer.Option("--history", metavar="FLIGHTS.csv", help="Earlier flights, a row each.")
]
Configuration = Annotated[
    str | None, typer.Option("--configuration", metavar="NAME", help="A configuration of the sheet.")
]
PackName = Annotated[str | None, typer.Option("--pack", metavar="NAME", help="A pack of the sheet.")]
AircraftName = Annotated[
    str | None,
    typer.Option("--aircraft", metavar="NAME", help="The logbook's sheet of this aircraft."),
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")]
LogbookFolder = Annotated[
    Path | None, typer.Option("--logbook", metavar="DIR", help="The folder of kept logs.")
]


def logbook_folder(given: Path | None) -> Path:
    """The logbook named, else SAGLINE_LOGBOOK, else the user's data folder. Raises BadLogbook for a file."""
    from_outside = os.environ.get("SAGLINE_LOGBOOK")
    if given is not None or from_outside:
        folder = given if given is not None else Path(str(from_outside))
        if folder.exists() and not folder.is_dir():
            raise BadLogbook(
                "this is a file, not a logbook",
                "Name the logbook's folder with --logbook.",
                file=named(folder),
            )
        return folder
    import platformdirs

    return Path(platformdirs.user_data_dir("sagline", appauthor=False)) / "logbook"


def read_sheet_file(path: Path) -> Sheet:
    """The sheet in a file."""
    from telemetry.sheet import read_sheet

    refuse_folder(path, "Name the set-up sheet in it.")
    return read_sheet(path)


def sheet_from(
    sheet: Path | None, aircraft: str | None, logbook: Path | None, *, date: str = "", pack: str | None = None
) -> Sheet | None:
    """The sheet in a file, or the logbook's of an aircraft: the latest, or that in force on a day, with a
    pack of the logbook that it does not know itself; None where neither was named.
    """
    if aircraft is None:
        return None if sheet is None else read_sheet_file(sheet)
    if sheet is not None:
        raise BadUse("both a set-up sheet and --aircraft were given", "Give the one the set-up stands in.")
    from telemetry.logbook import Logbook

    folder = logbook_folder(logbook)
    refuse_missing(folder)
    return carrying(Logbook(folder).sheet_of_aircraft(aircraft, date=date), pack, folder)


def carrying(sheet: Sheet, pack: str | None, logbook: Path) -> Sheet:
    """A sheet that also has the pack named, where the sheet has none of that name and the logbook does."""
    if not pack or pack in sheet.pack_names or not logbook.is_dir():
        return sheet
    from telemetry.logbook import Logbook

    return Logbook(logbook).with_pack(sheet, pack)


def told_logbook(logbook: Path | None, aircraft: str | None, history: Path | None = None) -> Path | None:
    """The logbook to take earlier flights from: the one named, or the one that knows the aircraft; None where
    a list has them.
    """
    if aircraft is None:
        return logbook
    return None if history is not None else logbook_folder(logbook)


def read_logs(logs: Sequence[Path], *, sheet_goes: str = "Give it with --sheet.") -> list[Trace]:
    """Every log, with the answers kept for its recorder."""
    from telemetry.answers import Answers
    from telemetry.importers.log import read_log

    for path in logs:
        check_log(path, sheet_goes=sheet_goes)
    return [read_log(path, kept=Answers()) for path in logs]


def read_past(
    history: Path | None, logbook: Path | None, *, traces: Sequence[Trace] = (), setup: Setup | None = None
) -> Earlier:
    """Earlier flights from a CSV, or what a logbook knows for this set-up when one is named.

    With the traces of the flight under review a logbook gives what was flown before it, and never itself.
    """
    from telemetry.logbook import Earlier, Logbook

    if history is not None and logbook is not None:
        raise BadUse("both --history and --logbook were given", "Give the one the earlier flights stand in.")
    if history is not None:
        from telemetry.history import read_history

        refuse_folder(history, "Name the list of flights in it.")
        return Earlier(read_history(history))
    if logbook is None:
        return Earlier()
    refuse_missing(logbook)
    book = Logbook(logbook)
    return book.earlier(setup, traces) if setup is not None else Earlier(book.history_for(traces))


def refuse_missing(logbook: Path) -> None:
    """Raises BadLogbook when there is no such folder: a slip of the pen must not look like a logbook without
    flights.
    """
    if not logbook.is_dir():
        raise BadLogbook(
            f"there is no logbook at {named(logbook)}", "Keep a log first, or name the folder with --logbook."
        )


def print_json(result: dict[str, Any]) -> None:
    """One object on stdout; a figure that is not there is null, never NaN."""
    typer.echo(json.dumps(result, ensure_ascii=False, allow_nan=False, indent=2))


def write_page(path: Path, page: str) -> None:
    """Write a page, or say in one sentence why not."""
    from telemetry.whole_files import why_not, write_text

    refuse_folder(path, "Name a file in it.")
    try:
        write_text(path, page)
    except OSError as error:
        raise BadUse(f"{named(path)} cannot be written ({why_not(error)})", "Name another place.") from None
