"""Every kept log read and reviewed again, and which figures moved by it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields

from telemetry.errors import BadLogbook, SaglineError
from telemetry.estimate import Estimate
from telemetry.logbook.database import KeptLog
from telemetry.logbook.kept_logs import KeptLogs
from telemetry.logbook.records import KeptFlight, in_order_flown
from telemetry.made import version
from telemetry.sentences import counted, say

NOT_FIGURES = {
    "id",
    "files",
    "made_by",
    "open",
    "headline",
    "first_finding",
    "least_margin_part",
    "raised",
    "judged",
    "spark_a",
    "kept_at",
    "note",
    "tags",
    "cleared",
    "drive",
    "pack_facts",
}
"""Names, sentences and drawings: a better word moves no figure."""


def review_anew(logs: KeptLogs, mended: Sequence[str] = ()) -> list[str]:
    """Read and review every kept log again, in the order flown, each with the sheet it was kept with, and
    write its facts anew. The originals stay as they are.

    Parameters
    ----------
    mended : what was mended before, a sentence each.

    Returns
    -------
    What was mended, a sentence for each flight of which figures moved; then how many.

    Raises
    ------
    BadLogbook : the logbook can't be written, or a flight can't be reviewed again: its facts stay as they
        were, and all others are reviewed and said.
    """
    moved: list[str] = []
    refused: list[str] = []
    database = logs.database()
    kept = {f.id: f for f in logs.flights()}
    for log in logs_in_order_flown(database.logs() if database else (), kept.values()):
        before = {number: kept[number] for number in log.entry.flights if number in kept}
        try:
            trace = logs.read_originals(log.entry)
            found = logs.review(trace, log.entry)
        except SaglineError as error:
            refused += [
                say("anew", "refused", flight=_name(f), problem=error.problem) for f in before.values()
            ]
            continue
        after = logs.write(log.entry, found, trace, logs.folder.keep_trace(log.entry.key, trace))
        moved += _told(before, {f.id: f for f in after})
    done = len(kept) - len(refused)
    said = [
        *mended,
        *moved,
        counted("anew", "reviewed", count=len(moved), done=done, all=len(kept), version=version()),
    ]
    if refused:
        raise BadLogbook("; ".join(refused), " ".join([say("anew", "as_it_was"), *said]))
    return said


def logs_in_order_flown(logs: Iterable[KeptLog], kept: Iterable[KeptFlight]) -> list[KeptLog]:
    """The earliest first, so that each finds the history it now has."""
    place = {flight.id: k for k, flight in enumerate(in_order_flown(tuple(kept), removed=True))}
    return sorted(logs, key=lambda log: [place.get(number, len(place)) for number in log.entry.flights])


def _told(before: Mapping[int, KeptFlight], after: Mapping[int, KeptFlight]) -> Iterator[str]:
    """What became of the flights of one log, a sentence each where anything did."""
    for number, old in before.items():
        if number not in after:
            yield say("anew", "gone", flight=_name(old))
            continue
        was, now = dict(figures(old)), dict(figures(after[number]))
        steps = [
            f"{name} {was.get(name, NOTHING)} → {now.get(name, NOTHING)}"
            for name in dict.fromkeys([*was, *now])
            if was.get(name, NOTHING) != now.get(name, NOTHING)
        ]
        if steps:
            yield f"{_name(old)}: {'; '.join(steps)}."
    for number in after.keys() - before.keys():
        yield say("anew", "new", number=number, files=say("events", "and").join(after[number].files))


def _name(flight: KeptFlight) -> str:
    files = say("events", "and").join(flight.files)
    if flight.made_by:
        return say("anew", "flight", number=flight.id, files=files, version=flight.made_by.version)
    return say("anew", "flight_of_old", number=flight.id, files=files)


NOTHING = "nothing"


def figures(flight: KeptFlight) -> Iterator[tuple[str, str]]:
    """Every figure and verdict of a flight by its name in `flights --json`, to six digits: what moves behind
    them is the arithmetic of another machine.
    """
    for field in fields(flight):
        if field.name not in NOT_FIGURES:
            yield from _leaves(field.name, getattr(flight, field.name))
    for one in flight.raised:
        yield f"{one.key} of {one.subject}" if one.subject else one.key, one.severity


def _leaves(name: str, value: object) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for key, part in value.items():
            yield from _leaves(f"{name}.{key}", part)
    elif isinstance(value, tuple):
        for k, part in enumerate(value):
            yield from _leaves(f"{name}[{k}]", part)
    elif isinstance(value, Estimate):
        yield name, f"{value.value:.6g} ({value.low:.6g} to {value.high:.6g})"
    elif value is not None:
        yield name, f"{value:.6g}" if isinstance(value, float) else str(value) or NOTHING
