"""The logbook: a folder of kept logs, their traces and their facts."""

from __future__ import annotations

import datetime
import hashlib
import os
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.answers import Answers
from telemetry.debrief import Review, review
from telemetry.errors import BadLog, BadLogbook, BadUse, SaglineError
from telemetry.history import PastFlight
from telemetry.importers.alignment import align
from telemetry.importers.log import read_log
from telemetry.logbook.database import Database, KeptLog
from telemetry.logbook.exporting import write_csv
from telemetry.logbook.facts import facts_of
from telemetry.logbook.folder import Entry, Folder, KeptFile, key_of, sha256_of
from telemetry.logbook.records import KeepOutcome, KeptFlight, in_order_flown
from telemetry.logbook.schema import DATABASE, open_database
from telemetry.logbook.twins import looks_like_one_flight
from telemetry.season.open_checks import OpenCheck, open_checks
from telemetry.season.trends import Trends, season_trends
from telemetry.sentences import say
from telemetry.sheet import Sheet
from telemetry.signals.dates import date_of
from telemetry.trace import Source, Trace

if TYPE_CHECKING:
    import pandas as pd


def default_folder() -> Path:
    """What SAGLINE_LOGBOOK names, else the user's data folder."""
    named = os.environ.get("SAGLINE_LOGBOOK")
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("sagline", appauthor=False)) / "logbook"


@dataclass(frozen=True, slots=True)
class Said:
    """What goes with the logs of one `keep`."""

    sheet: Sheet | None
    configuration: str
    pack: str
    put_back_mah: float | None
    answers: Mapping[str, Mapping[str, str]]
    settled: Answers | None = None

    def about(self, source: Source) -> dict[str, str]:
        """What was settled about the recorder of a log."""
        return (
            self.settled.for_headers([c.header for c in source.columns]) if self.settled is not None else {}
        )


class Logbook:
    """A folder of kept logs. Nothing is made on the disk before the first log is kept.

    Parameters
    ----------
    folder : where it lives; None is what SAGLINE_LOGBOOK names, else the user's data folder.
    """

    def __init__(self, folder: str | Path | None = None) -> None:
        self.folder = Folder(Path(folder) if folder is not None else default_folder())

    def keep(
        self,
        paths: Sequence[str | Path],
        *,
        together: bool = False,
        sheet: str | Path | Sheet | None = None,
        configuration: str = "",
        pack: str = "",
        put_back_mah: float | None = None,
        answers: Mapping[str, Mapping[str, str]] | None = None,
        settled: Answers | None = None,
    ) -> KeepOutcome:
        """Add logs to the logbook. The originals are only read; copies are kept.

        Each log is kept or refused on its own; with `together` they are one flight's, from
        several recorders. A log that is there already is not doubled: what is newly said of it
        takes the place of what was said before. `answers` are what the owner settled about the
        columns of a file, by its name: header → "quantity@position", or "ignore"; `settled` what
        they settled about a recorder, which holds for every log with its headers.

        Raises
        ------
        BadSheet, BadUse : the sheet, configuration or pack can't be used; nothing is kept then.
        BadLogbook : the logbook can't be written.
        """
        said = replace(_checked(sheet, configuration, pack, put_back_mah, answers or {}), settled=settled)
        self.flights()  # a logbook that cannot be read takes no more logs
        groups = [[Path(p) for p in paths]] if together else [[Path(p)] for p in paths]
        outcome, read = KeepOutcome(), []
        for group in groups:
            try:
                one, trace = self._keep_group(group, said)
            except (BadLog, BadUse) as error:
                outcome = replace(outcome, refused=(*outcome.refused, str(error)))
                continue
            read.append((group[0].name, trace))
            outcome = KeepOutcome(
                (*outcome.kept, *one.kept),
                outcome.refused,
                (*outcome.remarks, *one.remarks),
                outcome.in_doubt or one.in_doubt,
            )
        return replace(outcome, remarks=(*outcome.remarks, *looks_like_one_flight(read)))

    def flights(self) -> tuple[KeptFlight, ...]:
        """Every flight that is kept, in the order of its number.

        Raises
        ------
        BadLogbook : the database cannot be read, or is lost though logs are kept.
        """
        kept = self._flights()
        if not kept and any(
            entry.flights
            for path in self.folder.entries()
            if (entry := self.folder.read_entry(path)) is not None
        ):
            raise BadLogbook(
                "the logbook's database is lost, though logs are kept",
                "Run sagline check to rebuild it from them.",
                file=DATABASE,
            )
        return kept

    def _flights(self) -> tuple[KeptFlight, ...]:
        database = self._database(create=False)
        return () if database is None else database.flights()

    def read(self, flight: int | str) -> Review | None:
        """The review of one kept flight, made anew from its trace and its sheet; None when there is no such
        flight.

        Raises
        ------
        BadLogbook : neither the trace nor the originals can be read.
        """
        database = self._database(create=False)
        number = int(flight) if str(flight).isdecimal() else 0
        found = database.log_of_flight(number) if database is not None else None
        if database is None or found is None:
            return None
        log, place = found
        whole = self._review(self._trace_of(log), log.entry, self.history(before=log.entry.flights[0]))
        return replace(whole, flights=whole.flights[place : place + 1])

    def sheet(self, flight: int | str) -> Sheet | None:
        """The set-up sheet that a flight was kept with; None without one, or without such a flight."""
        database = self._database(create=False)
        number = int(flight) if str(flight).isdecimal() else 0
        found = database.log_of_flight(number) if database is not None else None
        return _sheet_of(found[0].entry) if found is not None else None

    def history(
        self, before: int | str | None = None, *, aircraft: str | None = None
    ) -> tuple[PastFlight, ...]:
        """Kept flights as rows of history, the earliest first.

        Parameters
        ----------
        before : a flight's number; only what was flown earlier counts then.
        aircraft : only this one's, by its name in the sheet; None takes that of `before`, or all.
        """
        kept = self.flights()
        target = next((f for f in kept if str(f.id) == str(before)), None)
        if before is not None and target is None:
            raise BadUse(f"the logbook has no flight {before}", "sagline flights lists what it has.")
        if target is None:
            return _rows(kept, aircraft)
        return _rows(
            kept, target.aircraft if aircraft is None else aircraft, date=target.date, number=target.id
        )

    def history_for(
        self, traces: Trace | Sequence[Trace], *, aircraft: str | None = None
    ) -> tuple[PastFlight, ...]:
        """Rows of history for a log under review, kept or not: what was flown before it, and never itself.

        Parameters
        ----------
        traces : one flight's, the first sets the clock.
        aircraft : only this one's, by its name in the sheet; None takes all.
        """
        whole = (traces,) if isinstance(traces, Trace) else tuple(traces)
        database = self._database(create=False)
        if database is None or not whole:
            return ()
        kept = [database.log_with_file(source.sha256) for trace in whole for source in trace.sources]
        numbers = [log.entry.flights[0] for log in kept if log is not None]
        return _rows(
            database.flights(),
            aircraft,
            date=date_of(whole[0]).text,
            number=min(numbers, default=sys.maxsize),
        )

    def trends(self, aircraft: str | None = None) -> Trends:
        """What changed over the kept flights of an aircraft, None for that of the flight flown last."""
        kept = in_order_flown([f for f in self.flights() if f.kind == "flight" and not f.contradicts_sheet])
        wanted = kept[-1].aircraft if aircraft is None and kept else aircraft
        return season_trends([f.in_season for f in kept if f.aircraft == wanted])

    def open_checks(self) -> tuple[OpenCheck, ...]:
        """Stops and checks of earlier flights that no later one has cleared, for the aircraft flown last."""
        return open_checks([f.in_judgement for f in in_order_flown(self.flights())])

    def check(self) -> list[str]:
        """Verify every original, trace and fact, and rebuild what can be rebuilt; says what it mended.

        Raises
        ------
        BadLogbook : something can't be mended.
        """
        from telemetry.logbook.checking import check

        return check(self)

    def export(self, path: str | Path) -> None:
        """Write the list of flights as CSV; `--history` reads it back.

        Raises
        ------
        BadUse : the file can't be written.
        """
        write_csv(self.flights(), Path(path))

    def to_frame(self, *, position: bool = False) -> pd.DataFrame:
        """The kept flights as a table by their number, a fact a column; an estimate has `_low` and `_high`
        beside it, a list a column a place from 1. `position` adds where each log first knew its place. [°]
        """
        from telemetry.logbook.frames import flights_frame, with_positions

        found = flights_frame(self.flights())
        database = self._database(create=False)
        if not position or database is None:
            return found
        return with_positions(found, [(log.entry.flights, self._trace_of(log)) for log in database.logs()])

    def _database(self, *, create: bool) -> Database | None:
        if create:
            self.folder.make()
        engine = open_database(self.folder.path, create=create)
        return None if engine is None else Database(engine)

    def _keep_group(self, paths: list[Path], said: Said) -> tuple[KeepOutcome, Trace | None]:
        files = [KeptFile(_hash(p), p.name, dict(said.answers.get(p.name, {}))) for p in paths]
        if len({f.sha256 for f in files}) < len(files):
            raise BadLog(
                "the same log was given twice", "Give each recorder's log once.", file=paths[-1].name
            )
        database = self._database(create=False)
        for file in files:
            log = database.log_with_file(file.sha256) if database is not None else None
            if log is not None:
                return self._keep_again(log, file, key_of([f.sha256 for f in files]), said), None
        traces = [
            read_log(p, answers=f.answers or None, kept=said.settled)
            for p, f in zip(paths, files, strict=True)
        ]
        files = [
            replace(f, answers={**said.about(t.sources[0]), **f.answers})
            for f, t in zip(files, traces, strict=True)
        ]
        trace = traces[0] if len(traces) == 1 else align(traces)
        return self._add(trace, paths, files, said), trace

    def _add(self, trace: Trace, paths: list[Path], files: list[KeptFile], said: Said) -> KeepOutcome:
        """Review a log, then put it on the disk: files first, the transaction last."""
        entry = Entry(
            files=tuple(files),
            sheet_name=said.sheet.file if said.sheet else "",
            sheet_text=said.sheet.text if said.sheet else "",
            configuration=said.configuration,
            pack=said.pack,
            put_back_mah=said.put_back_mah,
            kept_at=datetime.datetime.now(tz=datetime.UTC).isoformat(timespec="seconds"),
            flights=(),
        )
        found = self._review(trace, entry, self._earlier(trace, entry))
        self.folder.make()
        for path, file in zip(paths, files, strict=True):
            self.folder.keep_original(path, file.sha256)
        trace_sha256 = self.folder.keep_trace(entry.key, trace)
        kept = self.write(entry, found, trace_sha256)
        doubtful = any(column.status == "doubtful" for source in trace.sources for column in source.columns)
        return KeepOutcome(kept, in_doubt=doubtful)

    def _keep_again(self, log: KeptLog, file: KeptFile, key: str, said: Said) -> KeepOutcome:
        numbers = " and ".join(str(n) for n in log.entry.flights)
        if log.entry.key != key:
            raise BadLog(
                f"it is kept already in flight {numbers}, with other logs or alone",
                "Keep it only once.",
                file=file.name,
            )
        trace, trace_sha256 = self._trace_of(log), log.trace_sha256
        by_file = zip(log.entry.files, trace.sources, strict=True)
        settled = tuple(
            replace(f, answers={**f.answers, **said.about(source), **said.answers.get(f.name, {})})
            for f, source in by_file
        )
        renewed = replace(
            log.entry,
            files=settled,
            sheet_name=said.sheet.file if said.sheet else log.entry.sheet_name,
            sheet_text=said.sheet.text if said.sheet else log.entry.sheet_text,
            configuration=said.configuration or log.entry.configuration,
            pack=said.pack or log.entry.pack,
            put_back_mah=said.put_back_mah if said.put_back_mah is not None else log.entry.put_back_mah,
        )
        remark = say("keeping", "already", name=file.name, numbers=numbers)
        if renewed == log.entry:
            kept = tuple(f for f in self.flights() if f.id in log.entry.flights)
            return KeepOutcome(kept, remarks=(f"{remark}.",))
        if settled != log.entry.files:
            trace = self.read_originals(renewed)
            trace_sha256 = self.folder.keep_trace(renewed.key, trace)
        found = self._review(trace, renewed, self.history(before=log.entry.flights[0]))
        return KeepOutcome(
            self.write(renewed, found, trace_sha256),
            remarks=(say("keeping", "noted", remark=remark),),
        )

    def renew(self, entry: Entry, trace: Trace, trace_sha256: str) -> None:
        """Review a kept log anew and write its facts."""
        self.write(entry, self._review(trace, entry, self._earlier(trace, entry)), trace_sha256)

    def write(self, entry: Entry, found: Review, trace_sha256: str) -> tuple[KeptFlight, ...]:
        """Put a reviewed log into the database and its entry beside it."""
        database = self._database(create=True)
        assert database is not None
        rows = [facts_of(found, place) for place in range(len(found.flights))]
        alone = sum(row["kind"] == "flight" for row in rows) == 1
        for row in rows:
            put_back = entry.put_back_mah if alone and row["kind"] == "flight" else None
            row.update(configuration=entry.configuration, pack=entry.pack, put_back_mah=put_back)
        sheet_sha256 = hashlib.sha256(entry.sheet_text.encode()).hexdigest() if entry.sheet_text else None
        written = database.write(entry, trace_sha256, sheet_sha256, rows)
        self.folder.keep_entry(written)
        return tuple(f for f in database.flights() if f.id in written.flights)

    def _review(self, trace: Trace, entry: Entry, history: tuple[PastFlight, ...]) -> Review:
        return review(
            trace,
            _sheet_of(entry),
            history,
            configuration=entry.configuration or None,
            pack=entry.pack or None,
        )

    def _trace_of(self, log: KeptLog) -> Trace:
        """The kept trace, else the originals read anew."""
        try:
            return self.folder.read_trace(log.entry.key)
        except SaglineError:
            return self.read_originals(log.entry)

    def read_originals(self, entry: Entry) -> Trace:
        """The logs of an entry read anew, under the names they came with."""
        traces = [
            _named(read_log(self.folder.original(f.sha256), answers=f.answers or None), f.name)
            for f in entry.files
        ]
        return traces[0] if len(traces) == 1 else align(traces)

    def _earlier(self, trace: Trace, entry: Entry) -> tuple[PastFlight, ...]:
        """Kept flights of the same aircraft that were flown before this log."""
        sheet = _sheet_of(entry)
        number = entry.flights[0] if entry.flights else sys.maxsize
        return _rows(
            self._flights(), sheet.setup().name if sheet else "", date=date_of(trace).text, number=number
        )


def _rows(
    kept: Sequence[KeptFlight], aircraft: str | None, *, date: str = "", number: int = sys.maxsize
) -> tuple[PastFlight, ...]:
    """Rows of history, the earliest first, of what was flown before a date or number."""
    earlier = [
        f for f in kept if f.flown_before(date, number) and (aircraft is None or f.aircraft == aircraft)
    ]
    return tuple(
        past for past in (f.past for f in sorted(earlier, key=lambda f: (f.date, f.id))) if past is not None
    )


def _sheet_of(entry: Entry) -> Sheet | None:
    return Sheet.from_text(entry.sheet_text, file=entry.sheet_name) if entry.sheet_text else None


def _checked(
    sheet: str | Path | Sheet | None,
    configuration: str,
    pack: str,
    put_back_mah: float | None,
    answers: Mapping[str, Mapping[str, str]],
) -> Said:
    found = sheet if isinstance(sheet, Sheet) or sheet is None else Sheet.read(sheet)
    if found is not None:
        found.setup(configuration or None, pack or None)
    elif configuration or pack:
        raise BadUse(
            "a configuration or pack was named without a set-up sheet", "Give the sheet with --sheet."
        )
    if put_back_mah is not None and not 0 < put_back_mah < 200_000:
        raise BadUse(f"{put_back_mah:g} mAh cannot have been put back", "Give what the charger says, in mAh.")
    return Said(found, configuration, pack, put_back_mah, answers)


def _hash(path: Path) -> str:
    try:
        return sha256_of(path)
    except FileNotFoundError:
        raise BadLog("no such file", "Check the path.", file=path.name) from None
    except OSError as error:
        raise BadLog(f"cannot be read ({error.strerror})", "Give a CSV log.", file=path.name) from None


def _named(trace: Trace, name: str) -> Trace:
    return replace(trace, sources=tuple(replace(source, file=name) for source in trace.sources))
