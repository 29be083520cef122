"""`demo`, `serve`, `simulate`: the dashboard, and invented flights to look at."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Annotated

import typer

from telemetry.cli.options import LogbookFolder, logbook_folder
from telemetry.errors import BadUse

PORT = 8060

Port = Annotated[int, typer.Option("--port", metavar="N", help="Port on 127.0.0.1.", min=0, max=65535)]
NoBrowser = Annotated[bool, typer.Option("--no-browser", help="Print the address and open nothing.")]


def demo(port: Port = PORT, no_browser: NoBrowser = False, logbook: LogbookFolder = None) -> None:
    """Make the demo logbook if missing, and open the dashboard on it."""
    folder = logbook_folder(logbook) if logbook is not None else logbook_folder(None).parent / "demo"
    _make_demo(folder)
    _open_dashboard(folder, port, no_browser)


def _make_demo(folder: Path) -> None:
    """Keep the sample logs in a logbook of their own, once."""
    from dashboard.demo import make
    from telemetry.logbook import Logbook

    if Logbook(folder).flights():
        return
    typer.echo("Making the demo logbook from invented flights of the Saltmarsh Mail ...", err=True)
    make(folder)


def serve(port: Port = PORT, no_browser: NoBrowser = False, logbook: LogbookFolder = None) -> None:
    """Open the dashboard on the logbook. It listens on this computer only."""
    _open_dashboard(logbook_folder(logbook), port, no_browser)


def _open_dashboard(folder: Path, port: int, no_browser: bool) -> None:
    from dashboard.app import serve as serve_dashboard

    try:
        serve_dashboard(folder, port=port, open_browser=not no_browser)
    except OSError as error:
        if error.errno not in (errno.EADDRINUSE, errno.EACCES):
            raise
        raise BadUse(
            f"port {port} is taken or not allowed", "Close what uses it, or give another with --port."
        ) from None


def simulate(
    output: Annotated[
        Path, typer.Option("-o", "--output", metavar="DIR", help="Folder for the logs.", show_default=False)
    ],
    scenario: Annotated[
        str | None,
        typer.Option(
            "--scenario",
            metavar="NAME",
            help="glider, trainer_li_ion, four_motors or two_packs; saltmarsh, as without this, with what "
            "was true; or its bench, maiden, heavier_right_propeller, weak_cell, on_skis or three_recorders.",
        ),
    ] = None,
) -> None:
    """Write invented flights with their sheet and what was true, always the same bytes."""
    from telemetry.samples import write_samples

    for path in write_samples(output, scenario):
        typer.echo(path.name)
