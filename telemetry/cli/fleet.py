"""`aircraft`, `packs`: what the owner flies, and the packs that move between aircraft."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from telemetry.cli.options import AsJson, LogbookFolder, logbook_folder, print_json, refuse_missing
from telemetry.errors import BadUse

ChemistryChoice = Literal["lipo", "lihv", "li_ion", "lifepo4"]


def aircraft(as_json: AsJson = False, logbook: LogbookFolder = None) -> None:
    """List the aircraft of the logbook, with every version of their set-up sheets."""
    from telemetry.cli.listing import aircraft_table
    from telemetry.estimate import plain
    from telemetry.logbook import Logbook
    from telemetry.made import made_by

    found = Logbook(_there(logbook)).aircraft()
    if as_json:
        shown, undecided = plain({"aircraft": found})
        made = plain(made_by())[0]
        print_json({"schema": "sagline.aircraft/1", "made_by": made, **shown, "undecided": undecided})
    else:
        typer.echo(aircraft_table(found))


def packs(
    as_json: AsJson = False,
    add: Annotated[
        str | None,
        typer.Option("--add", metavar="NAME", help="A new pack, or what is newly said of one."),
    ] = None,
    cells: Annotated[
        int | None, typer.Option("--cells", metavar="N", help="Of the pack to add, in series.", min=1, max=14)
    ] = None,
    capacity: Annotated[
        float | None,
        typer.Option("--capacity", metavar="MAH", help="Of the pack to add.", min=50, max=200_000),
    ] = None,
    chemistry: Annotated[
        ChemistryChoice | None,
        typer.Option("--chemistry", metavar="C", help="lipo, lihv, li_ion or lifepo4."),
    ] = None,
    retire: Annotated[
        str | None, typer.Option("--retire", metavar="NAME", help="A pack that is flown no more.")
    ] = None,
    logbook: LogbookFolder = None,
) -> None:
    """List the packs of the logbook, add one, or retire one."""
    from telemetry.cli.listing import pack_table
    from telemetry.estimate import plain
    from telemetry.logbook import Logbook, SaidPack
    from telemetry.made import made_by

    if add is None and (cells is not None or capacity is not None or chemistry is not None):
        raise BadUse("cells, capacity and chemistry are those of a pack to add", "Name it with --add.")
    folder = logbook_folder(logbook) if add is not None else _there(logbook)
    book = Logbook(folder)
    if add is not None:
        if not add.strip():
            raise BadUse("the pack to add has no name", "Give it one, such as A.")
        book.say_pack(SaidPack(add.strip(), cells, capacity, chemistry, retired=False))
    if retire is not None:
        book.say_pack(SaidPack(retire, retired=True))
    found = book.packs()
    if as_json:
        shown, undecided = plain({"packs": found})
        made = plain(made_by())[0]
        print_json({"schema": "sagline.packs/1", "made_by": made, **shown, "undecided": undecided})
    else:
        typer.echo(pack_table(found))


def _there(logbook: Path | None) -> Path:
    folder = logbook_folder(logbook)
    refuse_missing(folder)
    return folder
