"""What the owner says of kept flights afterwards; the originals stay as they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

from telemetry.errors import BadUse
from telemetry.logbook.database import KeptLog
from telemetry.logbook.folder import Edits, Entry
from telemetry.logbook.kept_logs import KeptLogs, sheet_of
from telemetry.logbook.records import KeptFlight


def edit(
    logs: KeptLogs,
    numbers: Sequence[int],
    change: Edits,
    *,
    configuration: str | None = None,
    pack: str | None = None,
) -> tuple[KeptFlight, ...]:
    """Say something else of kept flights, and review their logs again with it.

    Parameters
    ----------
    change : what is newly said of each of them; what it leaves at its default stays. Keys that it clears are
        added to those cleared before.
    configuration, pack : of the logs that they came from; None leaves it.

    Raises
    ------
    BadUse : there is no such flight, or one has no stop or check of that key; nothing is changed then.
    BadLogbook : the logbook can't be written.
    """
    _refuse_unknown(logs.flights(), numbers, change.cleared)
    with logs.folder.writing():
        return _edit(logs, numbers, change, configuration, pack)


def _edit(
    logs: KeptLogs, numbers: Sequence[int], change: Edits, configuration: str | None, pack: str | None
) -> tuple[KeptFlight, ...]:
    changed: dict[int, tuple[KeptLog, Entry]] = {}
    for log, place in _places(logs, numbers):
        entry = changed[log.id][1] if log.id in changed else log.entry
        edits = {**entry.edits, str(place): _over(entry.edits_of(place), change)}
        entry = replace(entry, edits=edits)
        if configuration is not None:
            entry = replace(entry, configuration=configuration)
        if pack is not None:
            entry = replace(entry, pack=pack)
        changed[log.id] = log, entry
    for _, entry in changed.values():
        _refuse_names(entry)
    for log, entry in changed.values():
        trace = logs.trace_of(log)
        logs.write(entry, logs.review(trace, entry), trace, log.trace_sha256)
    return tuple(f for f in logs.flights() if f.id in numbers)


def _over(before: Edits, change: Edits) -> Edits:
    """What was said before, with what is newly said in its place."""
    default = Edits()
    new = {
        f.name: getattr(change, f.name)
        for f in fields(Edits)
        if getattr(change, f.name) != getattr(default, f.name)
    }
    cleared = tuple(dict.fromkeys((*before.cleared, *change.cleared)))
    return replace(before, **{**new, "cleared": cleared})


def _places(logs: KeptLogs, numbers: Sequence[int]) -> list[tuple[KeptLog, int]]:
    database = logs.database()
    found = [database.log_of_flight(number) for number in numbers] if database is not None else []
    return [one for one in found if one is not None]


def _refuse_names(entry: Entry) -> None:
    sheet = sheet_of(entry)
    if sheet is not None:
        sheet.setup(entry.configuration or None, entry.pack or None)
    elif entry.configuration or entry.pack:
        raise BadUse("the flight was kept without a set-up sheet", "Keep its log again with --sheet.")


def _refuse_unknown(kept: Sequence[KeptFlight], numbers: Sequence[int], keys: Sequence[str]) -> None:
    by_number = {f.id: f for f in kept}
    for number in numbers:
        if number not in by_number:
            raise BadUse(f"the logbook has no flight {number}", "sagline flights lists what it has.")
        known = list(dict.fromkeys(raised.key for raised in by_number[number].raised))
        for key in keys:
            if key not in known:
                has = f"It has {', '.join(known)}." if known else "It has none."
                raise BadUse(f'flight {number} has no stop or check "{key}"', has)
