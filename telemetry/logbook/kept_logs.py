"""How a kept log is read, reviewed and written down. Keeping, checking and the logbook itself stand on it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace

from telemetry.debrief import OwnerSaid, Review, review
from telemetry.errors import SaglineError
from telemetry.importers.alignment import align
from telemetry.importers.log import read_log
from telemetry.logbook.database import Database, KeptLog
from telemetry.logbook.facts import facts_of
from telemetry.logbook.folder import Edits, Entry, Folder, KeptFile
from telemetry.logbook.records import KeptFlight, in_order_flown, rows_of_history
from telemetry.logbook.schema import open_database
from telemetry.season.open_checks import standing_for
from telemetry.sheet import Sheet
from telemetry.sheet.merged_text import setup_text
from telemetry.signals.dates import date_of
from telemetry.trace import Trace


@dataclass(frozen=True, slots=True)
class KeptLogs:
    """The logs of a folder, each with its entry, trace and facts."""

    folder: Folder

    def database(self) -> Database | None:
        """The facts, brought up to date; None before the first log is kept. Raises BadLogbook."""
        engine = open_database(self.folder.path, create=False)
        return None if engine is None else Database(engine)

    def made_database(self) -> Database:
        """The facts, made with their folder where there are none yet. Raises BadLogbook."""
        self.folder.make()
        engine = open_database(self.folder.path, create=True)
        assert engine is not None
        return Database(engine)

    def flights(self) -> tuple[KeptFlight, ...]:
        """Every flight that the database holds, in the order of its number. Raises BadLogbook."""
        database = self.database()
        return () if database is None else database.flights()

    def trace_of(self, log: KeptLog) -> Trace:
        """The kept trace, else the originals read anew. Raises BadLogbook or BadLog."""
        try:
            return _as_said(self.folder.read_trace(log.entry.key), log.entry.files)
        except SaglineError:
            return self.read_originals(log.entry)

    def read_originals(self, entry: Entry) -> Trace:
        """The logs of an entry read anew, under the names they came with. Raises BadLog."""
        traces = [
            _as_said(read_log(self.folder.original(f.sha256), answers=f.answers or None), (f,))
            for f in entry.files
        ]
        return traces[0] if len(traces) == 1 else align(traces)

    def review(self, trace: Trace, entry: Entry) -> Review:
        """The review of a log with what was said of it, after what was flown before it."""
        sheet, flights = sheet_of(entry), self.flights()
        configuration, pack = entry.configuration or None, entry.pack or None
        date = entry.edits_of(0).date or date_of(trace).text
        number = entry.flights[0] if entry.flights else sys.maxsize
        earlier = rows_of_history(flights, sheet.name if sheet else "", date=date, number=number)
        setup = sheet.setup(configuration, pack) if sheet else None
        judged = [f.in_judgement for f in in_order_flown(flights) if f.flown_before(date, number)]
        standing = standing_for(judged, setup) if setup else ()
        said = {int(place): _said(one) for place, one in entry.edits.items()}
        return review(
            trace, sheet, earlier, configuration=configuration, pack=pack, standing=standing, said=said
        )

    def write(self, entry: Entry, found: Review, trace: Trace, trace_sha256: str) -> tuple[KeptFlight, ...]:
        """Put a reviewed log into the database and its entry beside it. Raises BadLogbook.

        Parameters
        ----------
        entry, found : what was said of the log, and its review.
        trace, trace_sha256 : as it was read, and the hash of its file.
        """
        database = self.made_database()
        rows = [facts_of(found, place, trace, entry) for place in range(len(found.flights))]
        judged_with = setup_text(found.setup) if found.setup is not None else ""
        written = database.write(entry, trace_sha256, rows, setup_text=judged_with)
        self.folder.keep_entry(written)
        return tuple(f for f in database.flights() if f.id in written.flights)


def sheet_of(entry: Entry) -> Sheet | None:
    """The set-up sheet a log was kept with; None without one."""
    return Sheet.from_text(entry.sheet_text, file=entry.sheet_name) if entry.sheet_text else None


def _said(edits: Edits) -> OwnerSaid:
    """What the owner said of a flight that its review must know."""
    return OwnerSaid(edits.cleared, counts=not edits.removed and edits.again is None)


def _as_said(trace: Trace, files: Sequence[KeptFile]) -> Trace:
    """A trace with the names its logs came with, and what was answered of their columns."""
    sources = [
        replace(source, file=file.name, answers=tuple(file.answers.items()))
        for source, file in zip(trace.sources, files, strict=True)
    ]
    return replace(trace, sources=tuple(sources))
