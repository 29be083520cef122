"""`compare`: what changed between two groups of kept flights."""

from __future__ import annotations

import re
from typing import Annotated

import typer

from telemetry.cli.options import AsJson, LogbookFolder, logbook_folder, print_json, refuse_missing
from telemetry.errors import BadUse

_MOST = 100_000
"""A longer range is a slip of the pen. [flights]"""
_RANGE = re.compile(r"(\d+)(?:-(\d+))?")


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
    groups = numbers_of(first), numbers_of(second)
    from telemetry.cli.listing import comparison_table
    from telemetry.estimate import plain
    from telemetry.logbook import Logbook
    from telemetry.made import made_by

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


def numbers_of(text: str) -> tuple[int, ...]:
    """Numbers of flights, as "2-5" or "2,4,7-9".

    Raises
    ------
    BadUse : it is neither a number nor a range.
    """
    numbers: list[int] = []
    for part in text.replace(" ", "").split(","):
        found = _RANGE.fullmatch(part)
        if found is None or len(part) > 20:
            raise BadUse(f"'{text}' names no flights", "Write numbers and ranges, as 2-5 or 2,4,7-9.")
        low, high = int(found[1]), int(found[2] or found[1])
        if not low <= high <= low + _MOST:
            raise BadUse(f"'{part}' is no range of flights", "Write the lower number first, as 2-5.")
        numbers += range(low, high + 1)
    return tuple(dict.fromkeys(numbers))
