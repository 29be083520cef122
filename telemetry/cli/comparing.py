"""`compare`: what changed between two groups of kept flights."""

from __future__ import annotations

from typing import Annotated

import typer

from telemetry.cli.options import AsJson, LogbookFolder, logbook_folder, print_json, refuse_missing


def compare(
    first: Annotated[
        str,
        typer.Argument(metavar="FLIGHTS", help="Numbers of flights, as 2-5 or 2,4,7-9.", show_default=False),
    ],
    second: Annotated[
        str,
        typer.Argument(metavar="FLIGHTS", help="Those to compare with them.", show_default=False),
    ],
    as_json: AsJson = False,
    logbook: LogbookFolder = None,
) -> None:
    """What changed between two groups of flights, figure by figure."""
    from telemetry.cli.listing import comparison_table
    from telemetry.estimate import plain
    from telemetry.logbook import Logbook, numbers_of
    from telemetry.made import made_by

    groups = numbers_of(first), numbers_of(second)
    folder = logbook_folder(logbook)
    refuse_missing(folder)
    found = Logbook(folder).compare(*groups)
    if as_json:
        shown, undecided = plain(found)
        print_json(
            {"schema": "sagline.compare/1", "made_by": plain(made_by())[0], **shown, "undecided": undecided}
        )
    else:
        typer.echo(comparison_table(found))
