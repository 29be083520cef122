"""Verify a logbook and rebuild what can be rebuilt.

The originals and the entries are the logbook; traces and database are made from them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from telemetry.errors import BadLogbook, SaglineError
from telemetry.logbook.database import Database, KeptLog
from telemetry.logbook.folder import Entry, Folder, SetAside, sha256_of
from telemetry.logbook.kept_logs import KeptLogs
from telemetry.logbook.schema import DATABASE, OutOfReach, open_database
from telemetry.sentences import counted, say
from telemetry.whole_files import LOCK, PART

_OUR_NAME = re.compile(r"[0-9a-f]{64}(\.parquet)?")


def check(logs: KeptLogs) -> list[str]:
    """Verify a logbook, while nobody else writes to it.

    Returns
    -------
    What was mended, and what was set aside, a sentence each.

    Raises
    ------
    BadLogbook : an original is lost or damaged, or an entry and the database's row of it both are; another
        writer takes too long, or the logbook cannot be written.
    """
    folder = logs.folder
    if not folder.path.is_dir():
        return []
    if not any((folder.path / name).exists() for name in (DATABASE, LOCK)) and not folder.entries():
        raise BadLogbook(
            "this folder holds no logbook",
            "Name the logbook's folder with --logbook.",
            file=folder.path.name or folder.path.resolve().name,
        )
    with folder.writing():
        return _check(logs)


def _check(logs: KeptLogs) -> list[str]:
    folder = logs.folder
    folder.make()
    mended: list[str] = []
    lost: list[str] = []
    aside = SetAside(folder)
    database = _sound_database(folder, mended, aside)
    known = {log.entry.key: log for log in database.logs()}
    entries = _sound_entries(folder, known, mended, lost, aside)
    every_entry_read = not lost
    for entry in entries:
        originals_hold = _verify_originals(folder, entry, lost)
        _mend_log(logs, entry, known.get(entry.key), mended, lost, originals_hold=originals_hold)
    for path in [*_parts(folder), *(_unnamed(folder, entries) if every_entry_read else ())]:
        aside.take(path)
    if aside.count:
        mended.append(counted("repaired", "set_aside", count=aside.count, place=aside.place))
    if lost:
        raise BadLogbook("; ".join(lost), " ".join([say("lost", "remedy"), *mended]))
    return mended


def _sound_database(folder: Folder, mended: list[str], aside: SetAside) -> Database:
    """The database, a new one in the place of one that can't be used."""
    path = folder.path / DATABASE
    existed = path.exists()
    try:
        engine = open_database(folder.path, create=True)
        assert engine is not None
        database = Database(engine)
        if not existed or database.is_sound():
            if not existed and folder.entries():
                mended.append(say("repaired", "database_missing"))
            return database
        engine.dispose()
    except BadLogbook as error:
        if isinstance(error, OutOfReach) or "newer" in error.problem:
            raise
    journal = path.with_name(f"{DATABASE}-journal")
    if journal.exists():
        aside.take(journal)  # SQLite would play it back into the new one
    mended.append(say("repaired", "database_damaged", aside=aside.take(path)))
    engine = open_database(folder.path, create=True)
    assert engine is not None
    return Database(engine)


def _sound_entries(
    folder: Folder, known: dict[str, KeptLog], mended: list[str], lost: list[str], aside: SetAside
) -> tuple[Entry, ...]:
    """Every entry, those missing or damaged written anew from the database."""
    found: dict[str, Entry] = {}
    for path in folder.entries():
        entry = folder.read_entry(path)
        if entry is not None:
            found[entry.key] = entry
        elif path.stem not in known:
            lost.append(say("lost", "entry", log=path.stem[:8]))
    for key, log in known.items():
        if found.get(key) != log.entry:
            how = "entry_behind" if key in found else "entry_missing"
            mended.append(say("repaired", how, names=_names(log.entry)))
            if folder.entry(key).exists():
                aside.take(folder.entry(key))
            folder.keep_entry(log.entry)
            found[key] = log.entry
    return tuple(sorted(found.values(), key=lambda e: (e.flights[:1] or (1 << 30,), e.kept_at)))


def _verify_originals(folder: Folder, entry: Entry, lost: list[str]) -> bool:
    holds = True
    for file in entry.files:
        if not folder.holds(file.sha256):
            there = folder.original(file.sha256).exists()
            lost.append(say("lost", "original_changed" if there else "original_missing", name=file.name))
            holds = False
    return holds


def _mend_log(
    logs: KeptLogs,
    entry: Entry,
    log: KeptLog | None,
    mended: list[str],
    lost: list[str],
    *,
    originals_hold: bool,
) -> None:
    """A trace or facts that are missing or damaged, made anew."""
    folder = logs.folder
    trace_sha256 = log.trace_sha256 if log else ""
    path = folder.trace(entry.key)
    trace_holds = _readable(folder, entry.key) and (log is None or sha256_of(path) == log.trace_sha256)
    try:
        if not trace_holds:
            if not originals_hold:
                return
            trace_sha256 = folder.keep_trace(entry.key, logs.read_originals(entry))
            mended.append(say("repaired", "trace", names=_names(entry)))
        if log is None or not trace_holds:
            trace = folder.read_trace(entry.key)
            logs.write(entry, logs.review(trace, entry), trace, trace_sha256 or sha256_of(path))
            if log is None:
                mended.append(say("repaired", "facts", names=_names(entry)))
    except SaglineError as error:
        lost.append(say("lost", "not_made_anew", names=_names(entry), problem=error.problem))


def _readable(folder: Folder, key: str) -> bool:
    try:
        folder.read_trace(key)
    except BadLogbook:
        return False
    return True


def _parts(folder: Folder) -> Iterator[Path]:
    """What a writer that was killed had not finished."""
    for name in ("", "originals", "traces", "entries"):
        yield from sorted((folder.path / name).glob(f"{PART}*"))


def _unnamed(folder: Folder, entries: tuple[Entry, ...]) -> Iterator[Path]:
    """Originals and traces that no entry names, of a keep that was killed. What somebody else laid beside
    them under a name of his own is not the logbook's.
    """
    wanted = {folder.original(f.sha256) for e in entries for f in e.files}
    wanted |= {folder.trace(e.key) for e in entries}
    for name in ("originals", "traces"):
        for path in sorted((folder.path / name).iterdir()):
            if _OUR_NAME.fullmatch(path.name) and path not in wanted:
                yield path


def _names(entry: Entry) -> str:
    return " and ".join(f.name for f in entry.files)
