"""`keep`, `flights`, `edit`, `remove`, `restore`, `check`: the folder of kept logs."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from telemetry.cli.options import (
    DOUBT,
    AircraftName,
    AsJson,
    Configuration,
    LogbookFolder,
    Logs,
    PackName,
    SheetFile,
    carrying,
    logbook_folder,
    print_json,
    refuse_missing,
    sheet_from,
)
from telemetry.cli.paths import sort_out
from telemetry.errors import BadUse
from telemetry.history import LARGEST_CHARGE_MAH
from telemetry.sentences import say

if TYPE_CHECKING:
    from telemetry.logbook import Logbook
    from telemetry.sheet import Sheet

Numbers = Annotated[
    list[int],
    typer.Argument(metavar="FLIGHT...", help="Numbers of flights in the logbook.", show_default=False),
]


When = Annotated[
    str | None, typer.Option("--date", metavar="WHEN", help="When it was flown, as 2026-06-14T10:03.")
]
Temperature = Annotated[
    float | None,
    typer.Option("--temperature", metavar="C", help="Of the pack or the air, °C.", min=-60, max=120),
]
OfAircraft = Annotated[
    str | None, typer.Option("--aircraft", metavar="NAME", help="Only the flights of this aircraft.")
]


def keep(
    logs: Logs,
    together: Annotated[
        bool, typer.Option("--together", help="The logs are one flight's, from several recorders.")
    ] = False,
    another: Annotated[
        bool,
        typer.Option("--another", help="The log is a flight of its own, however much it is like a kept one."),
    ] = False,
    sheet: SheetFile = None,
    configuration: Configuration = None,
    pack: PackName = None,
    put_back: Annotated[
        float | None,
        typer.Option("--put-back", metavar="MAH", help="What the charger put back after the flight.", min=0),
    ] = None,
    date: When = None,
    temperature: Temperature = None,
    aircraft: AircraftName = None,
    logbook: LogbookFolder = None,
) -> None:
    """Add logs to the logbook. The originals stay as they are; copies are kept."""
    from telemetry.answers import Answers
    from telemetry.logbook import KeepOutcome, Logbook

    known = sheet_from(sheet, aircraft, logbook, pack=pack)
    if known is not None:
        known = carrying(known, pack, logbook_folder(logbook))
        known.setup(configuration, pack)
    flown = _written_date(date)
    good, no_logs = sort_out(logs)
    for refusal in no_logs:
        typer.echo(refusal, err=True)
    if not good or (together and no_logs):
        raise typer.Exit(2)
    book = Logbook(logbook_folder(logbook), settled=Answers())
    outcome = KeepOutcome()
    for paths, own in _with_sheets(book, good, known, aircraft, together=together, pack=pack):
        outcome += book.keep(
            paths,
            together=together,
            sheet=own,
            configuration=configuration or "",
            pack=pack or "",
            put_back_mah=put_back,
            another=another,
            date=flown,
            temperature_c=temperature,
        )
    for refusal in outcome.refused:
        typer.echo(refusal, err=True)
    if not outcome.kept:
        raise typer.Exit(2)
    for remark in outcome.remarks:
        typer.echo(remark, err=True)
    for kept in outcome.kept:
        typer.echo(f"Flight {kept.id}: {kept.headline}")
    if no_logs or outcome.refused or outcome.in_doubt:
        raise typer.Exit(DOUBT)


def _with_sheets(
    book: Logbook,
    logs: Sequence[Path],
    known: Sheet | None,
    aircraft: str | None,
    *,
    together: bool,
    pack: str | None,
) -> Iterator[tuple[list[Path], Sheet | None]]:
    """Logs with the sheet they were flown with: the one given, or the aircraft's in force on their day; those
    of one sheet at a time, in the order given. A pack of the logbook goes along where a sheet does not know
    it.
    """
    if aircraft is None:
        yield list(logs), known
        return
    in_force = ((path, book.sheet_of_aircraft(aircraft, date=_day_of(path))) for path in logs)
    dated = [(path, book.with_pack(sheet, pack or "")) for path, sheet in in_force]
    if together:
        yield list(logs), dated[0][1]
        return
    for _, group in groupby(dated, key=lambda one: one[1].text):
        each = list(group)
        yield [path for path, _ in each], each[0][1]


def _day_of(log: Path) -> str:
    """When a log was flown, "" where that is not known or it cannot be read, which `keep` then says."""
    from telemetry.answers import Answers
    from telemetry.errors import SaglineError
    from telemetry.importers.log import read_log
    from telemetry.signals.dates import date_of

    try:
        return date_of(read_log(log, kept=Answers())).text
    except SaglineError:
        return ""


def flights(
    as_json: AsJson = False,
    export: Annotated[
        Path | None, typer.Option("--export", metavar="FILE", help="Write the list as .csv or .parquet.")
    ] = None,
    aircraft: OfAircraft = None,
    logbook: LogbookFolder = None,
) -> None:
    """List what is kept, a flight a line."""
    from telemetry.cli.listing import flight_table
    from telemetry.estimate import plain
    from telemetry.logbook import Logbook
    from telemetry.made import made_by

    book = Logbook(logbook_folder(logbook))
    kept = book.flights()
    if aircraft is not None:
        book.sheet_of_aircraft(aircraft)  # an unknown name gets the known ones
        kept = tuple(f for f in kept if f.aircraft == aircraft)
    if export is not None:
        book.export(export, aircraft=aircraft)
    if as_json:
        listed, undecided = plain({"schema": "sagline.flights/1", "made_by": made_by(), "flights": kept})
        print_json({**listed, "undecided": undecided})
    else:
        typer.echo(flight_table(kept))
        if any(flight.alarm_s is not None for flight in kept):
            typer.echo(f"\n{say('list', 'timers')}")


def edit(
    flight: Numbers,
    configuration: Configuration = None,
    pack: PackName = None,
    date: When = None,
    put_back: Annotated[
        float | None,
        typer.Option("--put-back", metavar="MAH", help="What the charger put back after the flight.", min=0),
    ] = None,
    temperature: Temperature = None,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="A note on the flight.")] = "",
    tag: Annotated[
        list[str] | None, typer.Option("--tag", metavar="WORD", help="A word to find it by.")
    ] = None,
    clear: Annotated[
        list[str] | None, typer.Option("--clear", metavar="KEY", help="Settle its open check of that key.")
    ] = None,
    logbook: LogbookFolder = None,
) -> None:
    """Say something else of kept flights, or settle an open check."""
    from telemetry.logbook import Edits, Logbook

    folder = logbook_folder(logbook)
    refuse_missing(folder)
    change = Edits(
        _written_date(date), _put_back(put_back), temperature, note, tuple(tag or ()), tuple(clear or ())
    )
    changed = Logbook(folder).edit(flight, change=change, configuration=configuration, pack=pack)
    for kept in changed:
        typer.echo(f"Flight {kept.id}: {kept.headline}")


def remove(flight: Numbers, logbook: LogbookFolder = None) -> None:
    """Take kept flights out of every figure; nothing is deleted."""
    from telemetry.logbook import Logbook

    folder = logbook_folder(logbook)
    refuse_missing(folder)
    for kept in Logbook(folder).remove(flight):
        typer.echo(say("removing", "removed", number=kept.id))


def restore(flight: Numbers, logbook: LogbookFolder = None) -> None:
    """Take removed flights back into every figure."""
    from telemetry.logbook import Logbook

    folder = logbook_folder(logbook)
    refuse_missing(folder)
    for kept in Logbook(folder).restore(flight):
        typer.echo(say("removing", "restored", number=kept.id))


def _written_date(text: str | None) -> str:
    """A date as the logbook writes it: the day, with the time of day where it was given."""
    if text is None:
        return ""
    try:
        when = datetime.datetime.fromisoformat(text.strip())
    except ValueError:
        raise BadUse(f"'{text}' is no date", "Write it as 2026-06-14 or 2026-06-14T10:03.") from None
    return f"{when:%Y-%m-%d}" if len(text.strip()) <= 10 else f"{when:%Y-%m-%d %H:%M %Z}".strip()


def _put_back(charge_mah: float | None) -> float | None:
    if charge_mah is not None and not 0 < charge_mah < LARGEST_CHARGE_MAH:
        raise BadUse(f"{charge_mah:g} mAh cannot have been put back", "Give what the charger says, in mAh.")
    return charge_mah


def check(
    anew: Annotated[
        bool,
        typer.Option("--anew", help="Review every flight again and list which figures moved."),
    ] = False,
    logbook: LogbookFolder = None,
) -> None:
    """Verify the logbook and rebuild what can be rebuilt."""
    from telemetry.logbook import Logbook

    folder = logbook_folder(logbook)
    refuse_missing(folder)
    said = Logbook(folder).check(anew=anew)
    for line in said:
        typer.echo(line)
    if not said:
        typer.echo("The logbook is whole.")
