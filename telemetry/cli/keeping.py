"""`keep`, `flights`, `check`: the folder of kept logs."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated

import typer

from telemetry.cli.options import (
    DOUBT,
    AsJson,
    Configuration,
    LogbookFolder,
    Logs,
    PackName,
    SheetFile,
    logbook_folder,
    print_json,
    read_sheet_file,
    refuse_missing,
)
from telemetry.cli.paths import sort_out
from telemetry.errors import BadUse
from telemetry.history import LARGEST_CHARGE_MAH


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
    logbook: LogbookFolder = None,
) -> None:
    """Add logs to the logbook. The originals stay as they are; copies are kept."""
    from telemetry.answers import Answers
    from telemetry.logbook import Logbook

    if sheet is not None:
        read_sheet_file(sheet).setup(configuration, pack)
    good, no_logs = sort_out(logs)
    for refusal in no_logs:
        typer.echo(refusal, err=True)
    if not good or (together and no_logs):
        raise typer.Exit(2)
    outcome = Logbook(logbook_folder(logbook), settled=Answers()).keep(
        good,
        together=together,
        sheet=sheet,
        configuration=configuration or "",
        pack=pack or "",
        put_back_mah=put_back,
        another=another,
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


def flights(
    as_json: AsJson = False,
    export: Annotated[
        Path | None, typer.Option("--export", metavar="FILE", help="Write the list as CSV.")
    ] = None,
    logbook: LogbookFolder = None,
) -> None:
    """List what is kept, a flight a line."""
    from telemetry.cli.listing import flight_table
    from telemetry.estimate import plain
    from telemetry.logbook import Logbook
    from telemetry.made import made_by
    from telemetry.sentences import say

    book = Logbook(logbook_folder(logbook))
    kept = book.flights()
    if export is not None:
        book.export(export)
    if as_json:
        listed, undecided = plain({"schema": "sagline.flights/1", "made_by": made_by(), "flights": kept})
        print_json({**listed, "undecided": undecided})
    else:
        typer.echo(flight_table(kept))
        if any(flight.alarm_s is not None for flight in kept):
            typer.echo(f"\n{say('list', 'timers')}")


def edit(
    flight: Annotated[
        list[int],
        typer.Argument(metavar="FLIGHT...", help="Numbers of flights in the logbook.", show_default=False),
    ],
    configuration: Configuration = None,
    pack: PackName = None,
    date: Annotated[
        str | None, typer.Option("--date", metavar="WHEN", help="When it was flown, as 2026-06-14T10:03.")
    ] = None,
    put_back: Annotated[
        float | None,
        typer.Option("--put-back", metavar="MAH", help="What the charger put back after the flight.", min=0),
    ] = None,
    temperature: Annotated[
        float | None, typer.Option("--temperature", metavar="C", help="Of the pack or the air, °C.")
    ] = None,
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
