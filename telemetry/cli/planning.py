"""`predict`, `recalibrate`, `timer`: from a sheet to what the next flight will do."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from telemetry.cli.options import (
    AircraftName,
    AsJson,
    Configuration,
    HistoryFile,
    LogbookFolder,
    PackName,
    SheetFile,
    print_json,
    read_logs,
    read_past,
    sheet_from,
    told_logbook,
    write_page,
)
from telemetry.cli.paths import named
from telemetry.errors import BadUse

if TYPE_CHECKING:
    from telemetry.logbook import Earlier
    from telemetry.prediction import Prediction
    from telemetry.sheet import Setup


def predict(
    sheet: Annotated[
        Path | None, typer.Argument(metavar="S.toml", help="The set-up sheet.", show_default=False)
    ] = None,
    new: Annotated[
        Path | None, typer.Option("--new", metavar="S.toml", help="Write a commented sheet to fill in.")
    ] = None,
    configuration: Configuration = None,
    pack: PackName = None,
    as_json: AsJson = False,
    card: Annotated[
        Path | None, typer.Option("--card", metavar="CARD.html", help="Write the field card to print.")
    ] = None,
    aircraft: AircraftName = None,
    logbook: LogbookFolder = None,
) -> None:
    """Predict current, speed, thrust, voltage and time in the air from a set-up sheet."""
    if new is not None:
        _write_new(new)
        return
    known = sheet_from(sheet, aircraft, logbook, pack=pack)
    if known is None:
        raise BadUse("no set-up sheet was named", "Give one, or make one with sagline predict --new S.toml.")
    from telemetry.prediction import predict as predict_setup
    from telemetry.season.open_checks import listed

    setup = known.setup(configuration, pack)
    past = read_past(None, told_logbook(logbook, aircraft), setup=setup)
    found = predict_setup(setup)
    if card is not None:
        _write_card(card, found, setup, past)
    if as_json:
        print_json({**found.to_dict(), "open_checks": listed(past.standing)})
    else:
        from telemetry.cli.terminal import open_checks_text, prediction_text

        typer.echo("\n".join([*open_checks_text(past.standing), prediction_text(found, setup)]))


def _write_card(path: Path, found: Prediction, setup: Setup, past: Earlier) -> None:
    """The field card, with the timer it must carry. Raises BadUse where there is none."""
    from dashboard.card import page
    from telemetry.debrief import next_timer
    from telemetry.estimate import Undecided
    from telemetry.made import made_by

    standing = past.standing
    timer = next_timer(setup, found, past.flights, facts=past.facts, standing=standing, beside=True)
    if isinstance(timer, Undecided):
        raise BadUse(f"no card without a timer: {timer.reason}", "Nothing was written.")
    write_page(path, page(found, setup, timer, made=made_by(setup, history=past.flights), standing=standing))


def _write_new(path: Path) -> None:
    from telemetry.sheet import new_sheet_text

    if path.exists():
        raise BadUse(f"{named(path)} is there already", "Give a name that is free; nothing was written.")
    write_page(path, new_sheet_text())
    typer.echo(f"Wrote {path.name}. Fill in what you know; what you leave out is assumed, and said.")


def recalibrate(
    sheet: Annotated[
        Path,
        typer.Argument(
            metavar="S.toml", help="The set-up sheet, only read; not with --aircraft.", show_default=False
        ),
    ],
    output: Annotated[
        Path,
        typer.Option(
            "-o", "--output", metavar="NEW.toml", help="Where the new sheet goes.", show_default=False
        ),
    ],
    logs: Annotated[
        list[Path] | None,
        typer.Argument(metavar="LOG...", help="Logs of flights in this configuration.", show_default=False),
    ] = None,
    configuration: Configuration = None,
    pack: PackName = None,
    insist: Annotated[
        bool, typer.Option("--insist", help="Learn from flights that would be left out too.")
    ] = False,
    as_json: AsJson = False,
    aircraft: AircraftName = None,
    logbook: LogbookFolder = None,
) -> None:
    """Learn from flights what the sheet could not know, and write a new sheet."""
    from telemetry.comparison.recalibration import recalibrate as learn

    given = list(logs or [])
    if aircraft is not None:
        given = [sheet, *given]
    if not given:
        raise BadUse("LOG... is missing", "Give logs of flights in this configuration behind the sheet.")
    old = sheet_from(None if aircraft is not None else sheet, aircraft, logbook, pack=pack)
    assert old is not None
    if output.exists() and output.resolve() == sheet.resolve():
        raise BadUse(
            f"{output.name} is the sheet itself", "Give another name with -o; the old sheet stays as it is."
        )
    traces = read_logs(given, sheet_goes="Give one set-up sheet, and the logs behind it.")
    today = date.today().isoformat()
    calibration = learn(old, traces, configuration=configuration, pack=pack, date=today, insist=insist)
    write_page(output, calibration.sheet_text())
    if as_json:
        print_json(calibration.to_dict())
    else:
        from telemetry.cli.terminal import calibration_text

        typer.echo(calibration_text(calibration, output.name))
    if calibration.left_out:
        raise typer.Exit(3)


def timer(
    sheet: SheetFile = None,
    aircraft: AircraftName = None,
    history: HistoryFile = None,
    configuration: Configuration = None,
    pack: PackName = None,
    as_json: AsJson = False,
    logbook: LogbookFolder = None,
) -> None:
    """The longest timer the evidence supports for the next flight."""
    from telemetry.debrief import next_timer
    from telemetry.made import made_by
    from telemetry.prediction import predict as predict_setup
    from telemetry.season.open_checks import listed
    from telemetry.season.timer import timer_to_dict

    known = sheet_from(sheet, aircraft, logbook, pack=pack)
    if known is None:
        raise BadUse("no set-up sheet was named", "Give it with --sheet, or the logbook's with --aircraft.")
    setup = known.setup(configuration, pack)
    past = read_past(history, told_logbook(logbook, aircraft, history), setup=setup)
    found = next_timer(setup, predict_setup(setup), past.flights, facts=past.facts, standing=past.standing)
    if as_json:
        carried = timer_to_dict(found, made_by(setup, history=past.flights))
        print_json({**carried, "open_checks": listed(past.standing)})
    else:
        from telemetry.cli.terminal import open_checks_text, timer_text

        typer.echo("\n".join([*open_checks_text(past.standing), timer_text(found)]))
