"""Adding logs to a logbook: each read, reviewed, copied and written, or refused with a sentence."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypedDict

from telemetry.answers import Answers
from telemetry.debrief import Review
from telemetry.errors import BadLog, BadLogbook, BadUse, SaglineError
from telemetry.importers.alignment import align
from telemetry.importers.log import read_log
from telemetry.logbook.database import KeptLog
from telemetry.logbook.fingerprint import fingerprint, same_flight
from telemetry.logbook.folder import Edits, Entry, KeptFile, SetAside, key_of, sha256_of
from telemetry.logbook.kept_logs import KeptLogs
from telemetry.logbook.records import KeepOutcome, KeptFlight
from telemetry.logbook.twins import looks_like_one_flight
from telemetry.sentences import say
from telemetry.sheet import Sheet
from telemetry.sheet.writing import TEMPLATE_NAME
from telemetry.trace import Source, Trace


class Said(TypedDict, total=False):
    """What may be said of logs that are kept.

    Attributes
    ----------
    configuration, pack : of the sheet; "" is the sheet as it stands.
    put_back_mah : what the charger put back, where a log holds one flight. [mAh]
    answers : what the owner settled about the columns of a file, by its name: header → "quantity@position",
        or "ignore".
    another : whether a log is a flight of its own, however much it is like a kept one.
    date : ISO, when it was flown, where the log does not tell it or tells it wrong.
    temperature_c : of the pack or the air, likewise. [°C]
    """

    configuration: str
    pack: str
    put_back_mah: float | None
    answers: Mapping[str, Mapping[str, str]] | None
    another: bool
    date: str
    temperature_c: float | None


@dataclass(frozen=True, slots=True)
class Given:
    """What goes with the logs of one `keep`."""

    sheet: Sheet | None = None
    configuration: str = ""
    pack: str = ""
    put_back_mah: float | None = None
    answers: Mapping[str, Mapping[str, str]] | None = None
    settled: Answers | None = None
    another: bool = False
    date: str = ""
    temperature_c: float | None = None

    def refuse_nonsense(self) -> None:
        """Raises BadUse for a configuration, pack or charge that cannot be."""
        if self.sheet is not None:
            self.sheet.setup(self.configuration or None, self.pack or None)
        elif self.configuration or self.pack:
            raise BadUse(
                "a configuration or pack was named without a set-up sheet", "Give the sheet with --sheet."
            )
        if self.put_back_mah is not None and not 0 < self.put_back_mah < 200_000:
            raise BadUse(
                f"{self.put_back_mah:g} mAh cannot have been put back", "Give what the charger says, in mAh."
            )

    def answers_for(self, name: str) -> dict[str, str]:
        """What was said of the columns of the file of this name."""
        return dict((self.answers or {}).get(name, {}))

    def file(self, path: Path) -> KeptFile:
        """An original by its bytes, with what was said of its columns. Raises BadLog."""
        return KeptFile(_hash(path), path.name, self.answers_for(path.name))

    def about(self, file: KeptFile, source: Source) -> KeptFile:
        """The same with what was settled about its recorder, and newly said of it, besides."""
        recorder = self.settled.for_headers([c.header for c in source.columns]) if self.settled else {}
        return replace(file, answers={**recorder, **file.answers, **self.answers_for(file.name)})

    def over(self, entry: Entry) -> Entry:
        """An entry with what is newly said in the place of what was said before."""
        put_back_mah = self.put_back_mah if self.put_back_mah is not None else entry.put_back_mah
        return replace(
            entry,
            edits=self.edits(entry, len(entry.flights)),
            sheet_name=self.sheet.file if self.sheet else entry.sheet_name,
            sheet_text=self.sheet.text if self.sheet else entry.sheet_text,
            configuration=self.configuration or entry.configuration,
            pack=self.pack or entry.pack,
            put_back_mah=put_back_mah,
            another=self.another or entry.another,
        )

    def edits(
        self, entry: Entry, flights: int, again: Mapping[int, int] | None = None
    ) -> Mapping[str, Edits]:
        """What is said of each flight of a log, with the date and temperature that were given, and with the
        number of the kept flight that one is once more.
        """
        own = {place: entry.edits_of(place) for place in range(flights)}
        if self.date:
            own = {place: replace(edits, date=self.date) for place, edits in own.items()}
        if self.temperature_c is not None:
            own = {place: replace(edits, temperature_c=self.temperature_c) for place, edits in own.items()}
        own |= {place: replace(own[place], again=number) for place, number in (again or {}).items()}
        return {str(place): edits for place, edits in own.items() if edits != Edits()}


def keep(logs: KeptLogs, groups: Sequence[Sequence[Path]], given: Given) -> KeepOutcome:
    """Add groups of logs, each the logs of one flight or one log alone.

    Raises
    ------
    BadUse : what was given with them cannot be used; nothing is kept then.
    BadLogbook : the logbook can't be written; nothing is kept then. Where that comes after some are kept, the
        others are refused.
    """
    given.refuse_nonsense()
    outcome, read = KeepOutcome(), []
    for k, group in enumerate(groups):
        try:
            one, trace = _keep_group(logs, group, given)
        except (BadLog, BadUse) as error:
            outcome = replace(outcome, refused=(*outcome.refused, str(error)))
            continue
        except BadLogbook as error:
            if not outcome.kept:
                raise
            names = ", ".join(path.name for left in groups[k:] for path in left)
            outcome = replace(outcome, refused=(*outcome.refused, f"{names}: {error}"))
            break
        read.append((group[0].name, trace))
        outcome += one
    new = (*looks_like_one_flight(read), *_order_unknown(logs, outcome), *_unnamed(given))
    return replace(outcome, remarks=(*outcome.remarks, *new))


def _order_unknown(logs: KeptLogs, outcome: KeepOutcome) -> tuple[str, ...]:
    """A remark on flights without a date where there are others beside them."""
    undated = [f for f in outcome.kept if not f.date]
    beside = {f.aircraft for f in undated}
    if not undated or sum(f.aircraft in beside for f in logs.flights()) < 2:
        return ()
    names = dict.fromkeys(name for f in undated for name in f.files)
    return (say("keeping", "undated", names=", ".join(names)),)


def _unnamed(given: Given) -> tuple[str, ...]:
    """A remark on a sheet that still carries a new sheet's name."""
    unnamed = given.sheet is not None and given.sheet.name == TEMPLATE_NAME
    return (say("keeping", "template_name", name=TEMPLATE_NAME),) if unnamed else ()


def _keep_group(logs: KeptLogs, paths: Sequence[Path], given: Given) -> tuple[KeepOutcome, Trace | None]:
    """One log, or the logs of one flight. They are read before the logbook is closed to other writers."""
    files: Sequence[KeptFile] = [given.file(path) for path in paths]
    if len({f.sha256 for f in files}) < len(files):
        raise BadLog("the same log was given twice", "Give each recorder's log once.", file=paths[-1].name)
    read = None if _log_with(logs, files) else _read(paths, files, given)
    with logs.folder.writing():
        log = _log_with(logs, files)
        if log is not None:
            return _keep_again(logs, log, paths, files, given), None
        trace, files = read or _read(paths, files, given)
        return _add(logs, trace, paths, files, given), trace


def _log_with(logs: KeptLogs, files: Sequence[KeptFile]) -> KeptLog | None:
    """The kept log that one of these files belongs to."""
    database = logs.database()
    found = (database.log_with_file(f.sha256) for f in files) if database is not None else ()
    return next((log for log in found if log is not None), None)


def _read(paths: Sequence[Path], files: Sequence[KeptFile], given: Given) -> tuple[Trace, Sequence[KeptFile]]:
    """The logs of one flight on one clock, and what was settled about their columns. Raises BadLog."""
    traces = [
        read_log(p, answers=f.answers or None, kept=given.settled) for p, f in zip(paths, files, strict=True)
    ]
    about = [given.about(f, t.sources[0]) for f, t in zip(files, traces, strict=True)]
    return (traces[0] if len(traces) == 1 else align(traces)), about


def _add(
    logs: KeptLogs, trace: Trace, paths: Sequence[Path], files: Sequence[KeptFile], given: Given
) -> KeepOutcome:
    """Review a log, then put it on the disk: files first, the transaction last."""
    now = datetime.datetime.now(tz=datetime.UTC).isoformat(timespec="seconds")
    entry = given.over(Entry(files=tuple(files), kept_at=now))
    found = logs.review(trace, entry)
    again = {} if given.another else _kept_already(logs, found, trace)
    name, numbers = files[0].name, _listed(again.values())
    if again and len(again) == len(found.flights):
        return _join(logs, again, say("keeping", "again", name=name, numbers=numbers), given)
    entry = replace(entry, edits=given.edits(entry, len(found.flights), again))
    kept = _put_on_disk(logs, entry, found, trace, paths)
    doubtful = any(column.status == "doubtful" for source in trace.sources for column in source.columns)
    remarks = (say("keeping", "again_in_part", name=name, numbers=numbers),) if again else ()
    return KeepOutcome(kept, remarks=remarks, in_doubt=doubtful)


def _put_on_disk(
    logs: KeptLogs, entry: Entry, found: Review, trace: Trace, paths: Sequence[Path]
) -> tuple[KeptFlight, ...]:
    """A new log's files and facts, or none of them: what was copied goes again where the facts cannot be
    written, as its owner has it still.
    """
    folder, aside, copied = logs.folder, SetAside(logs.folder), []
    folder.make()
    try:
        for path, file in zip(paths, entry.files, strict=True):
            if folder.keep_original(path, file.sha256, aside):
                copied.append(folder.original(file.sha256))
        if not folder.trace(entry.key).exists():
            copied.append(folder.trace(entry.key))
        return logs.write(entry, found, trace, folder.keep_trace(entry.key, trace))
    except SaglineError:
        if _log_with(logs, entry.files) is None:
            for path in copied:
                path.unlink(missing_ok=True)
        raise


def _kept_already(logs: KeptLogs, found: Review, trace: Trace) -> dict[int, int]:
    """The flights of a log that are kept already by their content: place in the log → number."""
    database = logs.database()
    known = database.fingerprints() if database is not None else {}
    mine = [fingerprint(trace, one.flight) for one in found.flights]
    again = {
        place: next((number for number, other in known.items() if same_flight(one, other)), 0)
        for place, one in enumerate(mine)
    }
    return {place: number for place, number in again.items() if number}


def _join(logs: KeptLogs, again: Mapping[int, int], remark: str, given: Given) -> KeepOutcome:
    """The flights that a log holds once more, with what is newly said of them; the log itself is not kept."""
    database = logs.database()
    assert database is not None
    there = [found[0] for number in again.values() if (found := database.log_of_flight(number)) is not None]
    kept: dict[int, KeptFlight] = {}
    for log in {log.id: log for log in there}.values():
        renewed = given.over(log.entry)
        if renewed != log.entry:
            trace = logs.trace_of(log)
            logs.write(renewed, logs.review(trace, renewed), trace, log.trace_sha256)
        kept |= {f.id: f for f in logs.flights() if f.id in again.values()}
    return KeepOutcome(tuple(kept.values()), remarks=(remark,))


def _listed(numbers: Iterable[int]) -> str:
    return " and ".join(str(n) for n in dict.fromkeys(numbers))


def _keep_again(
    logs: KeptLogs, log: KeptLog, paths: Sequence[Path], files: Sequence[KeptFile], given: Given
) -> KeepOutcome:
    """A log that is kept already: its originals restored where they need it, and what is newly said of it."""
    numbers = _listed(log.entry.flights)
    restored = _restored(logs, log, paths, files)
    if log.entry.key != key_of([f.sha256 for f in files]):
        if restored:
            kept = tuple(f for f in logs.flights() if f.id in log.entry.flights)
            return KeepOutcome(kept, remarks=restored)
        known = {f.sha256 for f in log.entry.files}
        raise BadLog(
            f"it is kept already in flight {numbers}, with other logs or alone",
            "Keep it only once.",
            file=next(f.name for f in files if f.sha256 in known),
        )
    trace, trace_sha256 = logs.trace_of(log), log.trace_sha256
    settled = tuple(given.about(f, s) for f, s in zip(log.entry.files, trace.sources, strict=True))
    renewed = replace(given.over(log.entry), files=settled)
    remark = say("keeping", "already", name=files[0].name, numbers=numbers)
    if renewed == log.entry:
        kept = tuple(f for f in logs.flights() if f.id in log.entry.flights)
        return KeepOutcome(kept, remarks=(f"{remark}.", *restored))
    if settled != log.entry.files:
        trace = logs.read_originals(renewed)
        trace_sha256 = logs.folder.keep_trace(renewed.key, trace)
    return KeepOutcome(
        logs.write(renewed, logs.review(trace, renewed), trace, trace_sha256),
        remarks=(say("keeping", "noted", remark=remark), *restored),
    )


def _restored(
    logs: KeptLogs, log: KeptLog, paths: Sequence[Path], files: Sequence[KeptFile]
) -> tuple[str, ...]:
    """The originals of a log that were missing or altered, put back from what was given; a sentence each."""
    folder, known, said = logs.folder, {f.sha256 for f in log.entry.files}, []
    folder.make()
    for path, file in zip(paths, files, strict=True):
        aside = SetAside(folder)
        if file.sha256 in known and folder.keep_original(path, file.sha256, aside):
            how = "altered" if aside.count else "missing"
            said.append(say("restored", how, name=file.name, place=aside.place))
    return tuple(said)


def _hash(path: Path) -> str:
    try:
        return sha256_of(path)
    except FileNotFoundError:
        raise BadLog("no such file", "Check the path.", file=path.name) from None
    except OSError as error:
        raise BadLog(f"cannot be read ({error.strerror})", "Give a CSV log.", file=path.name) from None
