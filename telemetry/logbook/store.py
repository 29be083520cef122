"""The logbook: a folder of kept logs, their traces and their facts."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from telemetry.answers import Answers
from telemetry.debrief import Review
from telemetry.errors import BadLogbook, BadUse
from telemetry.history import PastFlight
from telemetry.logbook.anew import review_anew
from telemetry.logbook.checking import check
from telemetry.logbook.database import KeptLog
from telemetry.logbook.exporting import write_csv
from telemetry.logbook.folder import Folder
from telemetry.logbook.keeping import Given, keep
from telemetry.logbook.kept_logs import KeptLogs, sheet_of
from telemetry.logbook.records import KeepOutcome, KeptFlight, in_order_flown, rows_of_history
from telemetry.logbook.schema import DATABASE
from telemetry.season.open_checks import OpenCheck, open_checks
from telemetry.season.trends import Trends, season_trends
from telemetry.sheet import Setup, Sheet
from telemetry.sheet.merged_text import setup_from_text
from telemetry.signals.dates import date_of
from telemetry.trace import Trace

if TYPE_CHECKING:
    import pandas as pd


def default_folder() -> Path:
    """What SAGLINE_LOGBOOK names, else the user's data folder."""
    named = os.environ.get("SAGLINE_LOGBOOK")
    if named:
        return Path(named)
    return Path(platformdirs.user_data_dir("sagline", appauthor=False)) / "logbook"


class Logbook:
    """A folder of kept logs. Nothing is made on the disk before the first log is kept.

    Parameters
    ----------
    folder : where it lives; None is what SAGLINE_LOGBOOK names, else the user's data folder.
    """

    def __init__(self, folder: str | Path | None = None) -> None:
        self.folder = Folder(Path(folder) if folder is not None else default_folder())
        self._logs = KeptLogs(self.folder)

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
        found = sheet if isinstance(sheet, Sheet) or sheet is None else Sheet.read(sheet)
        given = Given(found, configuration, pack, put_back_mah, answers, settled)
        self.flights()  # a logbook that cannot be read takes no more logs
        groups = [[Path(p) for p in paths]] if together else [[Path(p)] for p in paths]
        return keep(self._logs, groups, given)

    def flights(self) -> tuple[KeptFlight, ...]:
        """Every flight that is kept, in the order of its number.

        Raises
        ------
        BadLogbook : the database cannot be read, or is lost though logs are kept.
        """
        kept = self._logs.flights()
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

    def read(self, flight: int | str) -> Review | None:
        """The review of one kept flight, made anew from its trace and its sheet; None when there is no such
        flight.

        Raises
        ------
        BadLogbook : neither the trace nor the originals can be read.
        """
        found = self._log_of(flight)
        if found is None:
            return None
        log, place = found
        whole = self._logs.review(self._logs.trace_of(log), log.entry)
        return replace(whole, flights=whole.flights[place : place + 1])

    def sheet(self, flight: int | str) -> Sheet | None:
        """The set-up sheet that a flight was kept with; None without one, or without such a flight."""
        found = self._log_of(flight)
        return None if found is None else sheet_of(found[0].entry)

    def setup(self, flight: int | str) -> Setup | None:
        """The merged sheet that a flight was judged with: which motors, propellers and pack it flew.

        None without a sheet, without such a flight, or where the facts are older than this was noted;
        `check(anew=True)` then notes it.
        """
        database = self._logs.database()
        text = database.setup_text(int(flight)) if database and str(flight).isdecimal() else ""
        return setup_from_text(text) if text else None

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
            return rows_of_history(kept, aircraft)
        return rows_of_history(
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
        database = self._logs.database()
        if database is None or not whole:
            return ()
        kept = [database.log_with_file(source.sha256) for trace in whole for source in trace.sources]
        numbers = [log.entry.flights[0] for log in kept if log is not None]
        return rows_of_history(
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

    def check(self, *, anew: bool = False) -> list[str]:
        """Verify every original, trace and fact, and rebuild what can be rebuilt.

        Parameters
        ----------
        anew : also read and review every log again, with the sheet it was kept with.

        Returns
        -------
        A sentence for whatever was mended, and for each flight whose figures moved.

        Raises
        ------
        BadLogbook : something can't be mended.
        """
        found = check(self._logs)
        return [*found, *review_anew(self._logs)] if anew else found

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
        database = self._logs.database()
        if not position or database is None:
            return found
        placed = [(log.entry.flights, self._logs.trace_of(log)) for log in database.logs()]
        return with_positions(found, placed)

    def _log_of(self, flight: int | str) -> tuple[KeptLog, int] | None:
        """The log that a flight is in, and its place there; None without such a flight."""
        database = self._logs.database()
        if database is None or not str(flight).isdecimal():
            return None
        return database.log_of_flight(int(flight))
