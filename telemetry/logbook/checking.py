"""Verify a logbook and rebuild what can be rebuilt.

The originals and the entries are the logbook; traces and database are made from them.
"""

from __future__ import annotations

import re
import stat

from telemetry.errors import BadLogbook, SaglineError
from telemetry.logbook.database import Database, KeptLog
from telemetry.logbook.folder import Entry, Folder, sha256_of
from telemetry.logbook.kept_logs import KeptLogs
from telemetry.logbook.schema import DATABASE, open_database
from telemetry.sentences import counted, say

_OUR_NAME = re.compile(r"[0-9a-f]{64}(\.parquet)?|part-.*")


def check(logs: KeptLogs) -> list[str]:
    """Verify a logbook; gives what was mended, a sentence each.

    Raises
    ------
    BadLogbook : an original is lost or damaged, or an entry and the database's row of it both are.
    """
    folder = logs.folder
    if not folder.path.is_dir():
        return []
    if not (folder.path / DATABASE).exists() and not folder.entries():
        raise BadLogbook(
            "this folder holds no logbook",
            "Name the logbook's folder with --logbook.",
            file=folder.path.name or folder.path.resolve().name,
        )
    folder.make()
    mended: list[str] = []
    lost: list[str] = []
    database = _sound_database(folder, mended)
    known = {log.entry.key: log for log in database.logs()}
    entries = _sound_entries(folder, known, mended, lost)
    for entry in entries:
        originals_hold = _verify_originals(folder, entry, lost)
        _mend_log(logs, entry, known.get(entry.key), mended, lost, originals_hold=originals_hold)
    _sweep(folder, entries, mended)
    if lost:
        them = "it" if len(lost) == 1 else "them"
        raise BadLogbook(
            "; ".join(lost), f"Bring {them} back from a copy of the logbook; everything else is in order."
        )
    return mended


def _sound_database(folder: Folder, mended: list[str]) -> Database:
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
        if "newer" in error.problem:
            raise
    aside = path.with_suffix(".damaged")
    path.replace(aside)
    mended.append(say("repaired", "database_damaged", aside=aside.name))
    engine = open_database(folder.path, create=True)
    assert engine is not None
    return Database(engine)


def _sound_entries(
    folder: Folder, known: dict[str, KeptLog], mended: list[str], lost: list[str]
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
            folder.keep_entry(log.entry)
            found[key] = log.entry
    return tuple(sorted(found.values(), key=lambda e: (e.flights[:1] or (1 << 30,), e.kept_at)))


def _verify_originals(folder: Folder, entry: Entry, lost: list[str]) -> bool:
    holds = True
    for file in entry.files:
        path = folder.original(file.sha256)
        if not path.is_file():
            lost.append(say("lost", "original_missing", name=file.name))
        elif sha256_of(path) != file.sha256:
            lost.append(say("lost", "original_changed", name=file.name))
        else:
            continue
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


def _sweep(folder: Folder, entries: tuple[Entry, ...], mended: list[str]) -> None:
    """Remove what an interrupted keep left behind, and nothing that the logbook has not named itself."""
    wanted = {folder.original(f.sha256) for e in entries for f in e.files}
    wanted |= {folder.trace(e.key) for e in entries} | {folder.entry(e.key) for e in entries}
    made = [
        path
        for name in ("originals", "traces")
        for path in (folder.path / name).iterdir()
        if _OUR_NAME.fullmatch(path.name)
    ]
    left = [path for path in made if path not in wanted]
    left += [path for path in (folder.path / "entries").iterdir() if path.name.startswith("part-")]
    for path in left:
        path.chmod(stat.S_IRUSR | stat.S_IWUSR)
        path.unlink()
    if left:
        mended.append(counted("repaired", "swept", count=len(left)))


def _names(entry: Entry) -> str:
    return " and ".join(f.name for f in entry.files)
