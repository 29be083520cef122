"""What the owner says of kept flights afterwards; the originals stay as they are."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

from telemetry.errors import BadUse, SaglineError
from telemetry.logbook.anew import logs_in_order_flown
from telemetry.logbook.database import KeptLog
from telemetry.logbook.folder import Edits, Entry
from telemetry.logbook.kept_logs import KeptLogs, sheet_of
from telemetry.logbook.records import KeptFlight
from telemetry.sheet import Sheet


def edit(
    logs: KeptLogs,
    numbers: Sequence[int],
    change: Edits,
    *,
    configuration: str | None = None,
    pack: str | None = None,
    whole: bool = False,
    carry: Callable[[Sheet, str], Sheet] = lambda sheet, _: sheet,
) -> tuple[KeptFlight, ...]:
    """Say something else of kept flights, and review their logs again with it.

    Parameters
    ----------
    change : what is newly said of each of them; what it leaves at its default stays. Keys that it clears are
        added to those cleared before.
    configuration, pack : of the logs that they came from; None leaves it.
    whole : whether `change` takes the place of all that was said of date, charge put back, temperature, note
        and tags, so that what it leaves at its default is said no more.
    carry : gives a sheet that also has a pack by its name.

    Raises
    ------
    BadUse : there is no such flight, or one has no stop or check of that key; nothing is changed then.
    BadLogbook : the logbook can't be written.
    """
    _refuse_unknown(logs.flights(), numbers, change.cleared)
    of_log = {"configuration": configuration, "pack": pack}
    new: dict[str, Any] = {name: value for name, value in of_log.items() if value is not None}

    def renewed(entry: Entry, place: int) -> Entry:
        before = entry.edits_of(place)
        said = _in_place_of(before, change) if whole else _over(before, change)
        sheet = sheet_of(entry) if pack else None
        if sheet is not None and pack:
            entry = replace(entry, sheet_text=carry(sheet, pack).text)
        return replace(_with_edits(entry, place, said), **new)

    moves_others = whole or bool(new) or replace(change, note="", tags=()) != Edits()
    return _renew(logs, numbers, renewed, moves_others=moves_others)


def set_removed(logs: KeptLogs, numbers: Sequence[int], *, removed: bool) -> tuple[KeptFlight, ...]:
    """Take kept flights out of every figure, or back into them; nothing is deleted.

    Raises
    ------
    BadUse : there is no such flight; nothing is changed then.
    BadLogbook : the logbook can't be written.
    """
    _refuse_unknown(logs.flights(), numbers, ())

    def renewed(entry: Entry, place: int) -> Entry:
        return _with_edits(entry, place, replace(entry.edits_of(place), removed=removed))

    return _renew(logs, numbers, renewed, moves_others=True)


def _renew(
    logs: KeptLogs,
    numbers: Sequence[int],
    renewed: Callable[[Entry, int], Entry],
    *,
    moves_others: bool,
) -> tuple[KeptFlight, ...]:
    """Write what is newly said, and review again what it moves, the earliest flown first.

    Parameters
    ----------
    renewed : an entry with what is newly said of the flight at a place.
    moves_others : whether later flights rest on what is said; one that cannot be reviewed again stays as it
        is, and `check` tells it.
    """
    with logs.folder.writing():
        kept = {f.id: f for f in logs.flights()}
        changed: dict[int, Entry] = {}
        for log, place in _places(logs, numbers):
            changed[log.id] = renewed(changed.get(log.id, log.entry), place)
        for entry in changed.values():
            _refuse_names(entry)
        database = logs.database()
        for log in logs_in_order_flown(database.logs() if database is not None else (), kept.values()):
            entry = changed.get(log.id, log.entry)
            if log.id not in changed and not (
                moves_others and _is_moved(log, [kept[number] for number in numbers], kept)
            ):
                continue
            try:
                trace = logs.trace_of(log)
                found = logs.review(trace, entry)
            except SaglineError:
                if log.id in changed:
                    raise
                continue
            logs.write(entry, found, trace, log.trace_sha256)
        return tuple(f for f in logs.flights() if f.id in numbers)


def _is_moved(log: KeptLog, changed: Sequence[KeptFlight], kept: Mapping[int, KeptFlight]) -> bool:
    """Whether a log holds a flight of the same aircraft or pack, flown after one that is changed."""
    own = [kept[number] for number in log.entry.flights if number in kept]
    return any(
        not later.flown_before(one.date, one.id)
        and (later.aircraft == one.aircraft or (one.pack_called and later.pack_called == one.pack_called))
        for later in own
        for one in changed
    )


def _with_edits(entry: Entry, place: int, edits: Edits) -> Entry:
    return replace(entry, edits={**entry.edits, str(place): edits})


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


def _in_place_of(before: Edits, change: Edits) -> Edits:
    """What is newly said of a flight instead of what was; what its owner settled and removed stays."""
    return replace(
        before,
        date=change.date,
        put_back_mah=change.put_back_mah,
        temperature_c=change.temperature_c,
        note=change.note,
        tags=change.tags,
    )


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
