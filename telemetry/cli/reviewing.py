"""`review`, `columns`, `report`: from a log to its debrief."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from telemetry.cli.options import (
    DOUBT,
    AircraftName,
    AsJson,
    Configuration,
    HistoryFile,
    LogbookFolder,
    Logs,
    PackName,
    SheetFile,
    logbook_folder,
    print_json,
    read_logs,
    read_past,
    sheet_from,
    told_logbook,
    write_page,
)
from telemetry.cli.paths import check_log, refuse_folder
from telemetry.errors import BadLog, BadUse
from telemetry.sentences import say

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from telemetry.debrief import Review


def review(
    logs: Logs,
    sheet: SheetFile = None,
    as_json: AsJson = False,
    history: HistoryFile = None,
    configuration: Configuration = None,
    pack: PackName = None,
    bench: Annotated[bool, typer.Option("--bench", help="The log is a bench run-up.")] = False,
    aircraft: AircraftName = None,
    logbook: LogbookFolder = None,
) -> None:
    """Debrief a flight: what to do first, five answers, figures with intervals.

    Several LOGs are one flight's logs from several recorders; the first sets the clock.
    """
    found = _review(
        logs, sheet, history, configuration, pack, bench=bench, aircraft=aircraft, logbook=logbook
    )
    if as_json:
        print_json(found.to_dict())
    else:
        from telemetry.cli.terminal import debrief

        typer.echo(debrief(found))
    if _in_doubt(found):
        raise typer.Exit(DOUBT)


def _print_remembered(wanted: bool) -> None:
    from telemetry.answers import Answers
    from telemetry.cli.terminal import remembered_answers

    if wanted:
        typer.echo(remembered_answers(Answers().remembered()))
        raise typer.Exit


def columns(
    log: Annotated[Path, typer.Argument(metavar="LOG", help="A CSV log; it is only read.")],
    answer: Annotated[
        list[str] | None,
        typer.Option(
            "--answer",
            metavar='"HEADER=quantity@position"',
            help="Settle what a column is, with in UNIT where its unit is not sure; ignore leaves it out; "
            "missing MARK names what stands for no value.",
        ),
    ] = None,
    save: Annotated[bool, typer.Option("--save", help="Keep the answers for this recorder's logs.")] = False,
    sides: Annotated[
        bool, typer.Option("--sides", help="With --save, keep also which is left and which right.")
    ] = False,
    forget: Annotated[
        list[str] | None,
        typer.Option("--forget", metavar="HEADER", help="Forget the answer kept for this column."),
    ] = None,
    remembered: Annotated[
        bool,
        typer.Option(
            "--remembered",
            callback=_print_remembered,
            is_eager=True,
            help="List the kept answers of every recorder; needs no LOG.",
        ),
    ] = False,
) -> None:
    """Show how each column of LOG was understood, and why."""
    from telemetry.answers import Answers
    from telemetry.cli.terminal import column_table, columns_of_refused
    from telemetry.importers.log import read_log
    from telemetry.signals import cleaned

    check_log(log, sheet_goes="Name a log.", history_goes="Name a log.")
    answers = dict(_parse_answer(text) for text in answer or [])
    for header in forget or []:
        _forget(_headers(log), header)
    try:
        source = cleaned(read_log(log, answers=answers or None, kept=Answers())).sources[0]
    except BadLog as error:
        if error.columns:
            typer.echo(columns_of_refused(error.columns))
        raise
    headers = [c.header for c in source.columns]
    effects = _effects(log, answers) if answers else []
    if save:
        unkept = Answers().save(headers, answers, file=source.file, sides=sides)
        if unkept:
            typer.echo(say("answers", "sides", headers=", ".join(unkept)), err=True)
    typer.echo(column_table(source))
    for line in effects:
        typer.echo(line)
    if "doubtful" in [column.status for column in source.columns] + [note.status for note in source.notes]:
        raise typer.Exit(DOUBT)


def _headers(log: Path) -> list[str]:
    """The headings of a log, refused or not. Raises BadLog where it has none that can be read."""
    from telemetry.importers.log import read_log

    try:
        return [c.header for c in read_log(log).sources[0].columns]
    except BadLog as error:
        if not error.columns:
            raise
        return [header for header, _ in error.columns]


def _effects(log: Path, answers: Mapping[str, str]) -> list[str]:
    """What answers do to the numbers of their columns and of the log, a sentence each."""
    from telemetry.answers import Answers
    from telemetry.importers.outcome import column_effect, log_effect, outcome_of

    kept = Answers()
    try:
        before = outcome_of(log, {}, kept)
    except BadLog:
        before = None
    after = outcome_of(log, answers, kept)
    read = before.columns if before is not None else {}
    of_columns = [f"{h}: {column_effect(read.get(h), after.columns.get(h))}" for h in answers]
    return ["", *of_columns, *log_effect(before, after, answers)]


def _forget(headers: Sequence[str], header: str) -> None:
    """Forget a kept answer, and say so. Raises BadUse where there is none."""
    from telemetry.answers import Answers, signature

    kept = Answers().for_headers(headers)
    if header not in kept:
        raise BadUse(
            f"no answer is kept for '{header}' of this recorder",
            f"Kept are {', '.join(kept)}." if kept else "None is kept for it.",
        )
    Answers().forget(signature(headers), header)
    typer.echo(say("answers", "forgotten", header=header), err=True)


def report(
    flight: Annotated[
        list[str],
        typer.Argument(
            metavar="FLIGHT|LOG...",
            help="A flight of the logbook by its number, or logs.",
            show_default=False,
        ),
    ],
    output: Annotated[
        Path,
        typer.Option("-o", "--output", metavar="PAGE.html", help="Where the page goes.", show_default=False),
    ],
    sheet: SheetFile = None,
    history: HistoryFile = None,
    configuration: Configuration = None,
    pack: PackName = None,
    logbook: LogbookFolder = None,
) -> None:
    """Write a flight's debrief as one page to print."""
    from dashboard.report import page
    from telemetry.signals.dates import date_of

    if _is_number_of_a_flight(flight):
        if sheet or history or configuration or pack:
            raise BadUse(
                "a kept flight has its sheet and its history in the logbook",
                "Give its number alone, or the log itself with what goes with it.",
            )
        number, (found, date) = flight[0], _kept(flight[0], logbook)
    else:
        number, found = (
            "",
            _review([Path(name) for name in flight], sheet, history, configuration, pack),
        )
        flown = date_of(found.trace)
        date = flown.day if len(found.flights) > 1 else flown.text
    write_page(output, page(found, number=f"Flight {number}" if number else "", date=date))
    if _in_doubt(found):
        raise typer.Exit(DOUBT)


def export(
    flight: Annotated[
        list[str],
        typer.Argument(
            metavar="FLIGHT|LOG...",
            help="A flight of the logbook by its number, or one flight's logs.",
            show_default=False,
        ),
    ],
    output: Annotated[
        Path,
        typer.Option("-o", "--output", metavar="FILE", help=".csv or .parquet.", show_default=False),
    ],
    position: Annotated[
        bool, typer.Option("--position", help="With latitude and longitude, left out otherwise.")
    ] = False,
    logbook: LogbookFolder = None,
) -> None:
    """Write the aligned channels as a table in SI units, for other programs."""
    from telemetry.channel_table import write_channels
    from telemetry.estimate import plain
    from telemetry.importers.alignment import align
    from telemetry.made import made_by

    within = None
    if _is_number_of_a_flight(flight):
        found, _ = _kept(flight[0], logbook)
        trace, within = found.trace, found.flights[0].flight
    else:
        trace = align(read_logs([Path(name) for name in flight]))
    refuse_folder(output, "Name a file in it.")
    made = plain(made_by(None, trace.sources, position=position))[0]
    write_channels(trace, output, made_by=made, within=within, position=position)


def _is_number_of_a_flight(given: list[str]) -> bool:
    """Whether a flight of the logbook is named; a file of that name goes before."""
    return len(given) == 1 and given[0].isdigit() and not Path(given[0]).exists()


def _review(
    logs: list[Path],
    sheet: Path | None,
    history: Path | None,
    configuration: str | None,
    pack: str | None,
    *,
    bench: bool = False,
    aircraft: str | None = None,
    logbook: Path | None = None,
) -> Review:
    from telemetry.debrief import review as review_traces
    from telemetry.signals.dates import date_of

    known = None if aircraft is not None else sheet_from(sheet, None, None)
    setup = None if known is None else known.setup(configuration, pack)
    traces = read_logs(logs)
    if aircraft is not None:
        known = sheet_from(sheet, aircraft, logbook, date=date_of(traces[0]).text, pack=pack)
        setup = None if known is None else known.setup(configuration, pack)
    past = read_past(history, told_logbook(logbook, aircraft, history), traces=traces, setup=setup)
    return review_traces(
        traces,
        known,
        past.flights,
        configuration=configuration,
        pack=pack,
        bench=bench,
        standing=past.standing,
    )


def _kept(number: str, logbook: Path | None) -> tuple[Review, str]:
    """A flight of the logbook, and when it was flown. Raises BadUse when there is none of this number."""
    from telemetry.logbook import Logbook

    book = Logbook(logbook_folder(logbook))
    found = book.read(number)
    if found is None:
        raise BadUse(f"the logbook has no flight {number}", "sagline flights lists what it has.")
    return found, next(f.date for f in book.flights() if f.id == int(number))


def _in_doubt(found: Review) -> bool:
    statuses = [one.status for source in found.trace.sources for one in source.columns]
    statuses += [note.status for source in found.trace.sources for note in source.notes]
    return "doubtful" in statuses


def _parse_answer(text: str) -> tuple[str, str]:
    header, equals, meaning = text.rpartition("=")
    if not equals or not header or not meaning:
        raise BadUse(
            f"--answer {text!r} is not HEADER=quantity@position",
            'Write it like --answer "Volt 3=cell_voltage_v@3".',
        )
    return header.strip(), meaning.strip()
