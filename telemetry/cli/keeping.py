"""`keep`, `flights`, `check`: the folder of kept logs."""

from __future__ import annotations

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


def keep(
    logs: Logs,
    together: Annotated[
        bool, typer.Option("--together", help="The logs are one flight's, from several recorders.")
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
    outcome = Logbook(logbook_folder(logbook)).keep(
        good,
        together=together,
        sheet=sheet,
        configuration=configuration or "",
        pack=pack or "",
        put_back_mah=put_back,
        settled=Answers(),
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

    book = Logbook(logbook_folder(logbook))
    kept = book.flights()
    if export is not None:
        book.export(export)
    if as_json:
        listed, undecided = plain({"schema": "sagline.flights/1", "made_by": made_by(), "flights": kept})
        print_json({**listed, "undecided": undecided})
    else:
        typer.echo(flight_table(kept))


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
