"""The logbook: a folder of kept logs, their traces and their facts."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Unpack

import platformdirs

from telemetry.answers import Answers
from telemetry.debrief import Review
from telemetry.errors import BadLogbook, BadUse
from telemetry.history import PastFlight
from telemetry.logbook.anew import review_anew
from telemetry.logbook.checking import check
from telemetry.logbook.database import Database, KeptLog
from telemetry.logbook.editing import edit, set_removed
from telemetry.logbook.exporting import write_list
from telemetry.logbook.fingerprint import fingerprint, same_flight
from telemetry.logbook.fleet import (
    Aircraft,
    Pack,
    SaidPack,
    aircraft_of,
    packs_of,
    read_said,
    unknown_pack,
    with_pack,
    with_said,
    write_said,
)
from telemetry.logbook.folder import Edits, Folder
from telemetry.logbook.groups import compare_groups
from telemetry.logbook.keeping import Given, Said, keep
from telemetry.logbook.kept_logs import KeptLogs, sheet_of
from telemetry.logbook.records import Earlier, KeepOutcome, KeptFlight, in_order_flown, rows_of_history
from telemetry.logbook.schema import DATABASE
from telemetry.season.comparing import Comparison
from telemetry.season.open_checks import OpenCheck, open_checks, standing_for, standing_of_packs
from telemetry.season.same_drive import of_this_drive, one_aircraft
from telemetry.season.timer import PackFacts
from telemetry.season.trends import Trends, season_trends
from telemetry.sheet import Setup, Sheet
from telemetry.sheet.merged_text import setup_from_text
from telemetry.sheet.setup import PackSetup
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
    settled : what the owner settled about recorders, which holds for every log with their headers.
    wait_s : how long a change waits for another writer of the same folder; None for the usual 30 s. [s]
    """

    def __init__(
        self,
        folder: str | Path | None = None,
        *,
        settled: Answers | None = None,
        wait_s: float | None = None,
    ) -> None:
        self.folder = Folder(Path(folder) if folder is not None else default_folder(), wait_s)
        self._logs = KeptLogs(self.folder)
        self._settled = settled

    def keep(
        self,
        paths: Sequence[str | Path],
        *,
        together: bool = False,
        sheet: str | Path | Sheet | None = None,
        **said: Unpack[Said],
    ) -> KeepOutcome:
        """Add logs to the logbook. The originals are only read; copies are kept.

        Each log is kept or refused on its own. A log that is there already is not doubled: what is newly said
        of it takes the place of what was said before. One that is a kept flight again by its content, or a
        part of it, is joined to that flight unless it is said to be another.

        Parameters
        ----------
        together : whether the logs are one flight's, from several recorders.
        sheet : the set-up sheet they were flown with, or its file.
        said : what is said of each of them, see `Said`.

        Raises
        ------
        BadSheet, BadUse : the sheet, configuration or pack can't be used; nothing is kept then.
        BadLogbook : the logbook can't be written.
        """
        found = sheet if isinstance(sheet, Sheet) or sheet is None else Sheet.read(sheet)
        given = Given(sheet=found, settled=self._settled, **said)
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

    def sheet_of_aircraft(self, name: str, *, date: str = "") -> Sheet:
        """The set-up sheet of an aircraft: its latest, or the one in force on a day.

        Parameters
        ----------
        name : as its sheets call it.
        date : ISO, as much of it as is known; "" for the latest. Before the first kept flight the earliest is
            in force.

        Raises
        ------
        BadUse : no flight was kept with a sheet of that name; the sentence names the known ones.
        """
        kept = in_order_flown(self.flights(), removed=True)
        ours = [f for f in kept if f.aircraft and f.aircraft == name]
        if not ours:
            known = list(dict.fromkeys(f.aircraft for f in kept if f.aircraft))
            raise BadUse(
                f'the logbook has no aircraft "{name}"',
                f"It has {', '.join(known)}." if known else "Keep a flight with its --sheet first.",
            )
        until = [f for f in ours if not date or f.date[: len(date)] <= date[: len(f.date)]]
        found = self.sheet((until or ours[:1])[-1].id)
        assert found is not None
        return found

    def aircraft(self) -> tuple[Aircraft, ...]:
        """Every aircraft with its flights and every version of its sheet, the one flown last first.

        Raises
        ------
        BadLogbook : the logbook cannot be read.
        """
        return aircraft_of(self.flights())

    def packs(self) -> tuple[Pack, ...]:
        """Every pack that has a name, whichever aircraft carried it, the one flown last first.

        Raises
        ------
        BadLogbook : the logbook cannot be read.
        """
        kept = self.flights()
        standing = standing_of_packs([f.in_judgement for f in in_order_flown(kept)])
        return packs_of(kept, read_said(self.folder.path), self._pack_setups(kept), standing)

    def say_pack(self, said: SaidPack) -> Pack:
        """Say something of a pack by itself: a new one's cells and capacity, or that it is retired.

        Parameters
        ----------
        said : None for what stays as it was said before.

        Returns
        -------
        The pack as the logbook knows it from now on.

        Raises
        ------
        BadUse : a pack that nobody knows is to be retired, or a new one's cells or capacity are missing.
        BadLogbook : the logbook can't be written.
        """
        with self.folder.writing():
            known = next((one for one in self.packs() if one.name == said.name), None)
            if known is None and (said.retired or said.cells is None or said.capacity_mah is None):
                raise unknown_pack(said, self.packs())
            write_said(self.folder.path, with_said(read_said(self.folder.path), said))
        return next(one for one in self.packs() if one.name == said.name)

    def with_pack(self, sheet: Sheet, name: str) -> Sheet:
        """A sheet that also has a pack of the logbook; as it is where it has that name itself.

        Raises
        ------
        BadUse : the logbook has no such pack, it is retired, or its cells and capacity are not known.
        """
        if not name or name in sheet.pack_names or sheet.feeds:
            return sheet
        found = next((one for one in self.packs() if one.name == name), None)
        return (
            sheet if found is None else with_pack(sheet, found, self._pack_setups(self.flights()).get(name))
        )

    def _pack_setups(self, kept: Sequence[KeptFlight]) -> dict[str, PackSetup]:
        """What the sheet of its last flight says of each pack, by name."""
        last = {f.pack_called: f.id for f in in_order_flown(kept) if f.pack_called and not f.pack_names}
        setups = {name: self.setup(number) for name, number in last.items()}
        return {name: setup.pack for name, setup in setups.items() if setup is not None}

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
        date, number, itself = self._place_of(database, whole)
        return rows_of_history(database.flights(), aircraft, date=date, number=number, but=itself)

    def _place_of(self, database: Database, traces: Sequence[Trace]) -> tuple[str, int, set[int]]:
        """Date and number by which a log under review was flown, and the kept flights that it holds itself,
        by its bytes or by its content.
        """
        logs = [database.log_with_file(source.sha256) for trace in traces for source in trace.sources]
        itself = {number for log in logs if log is not None for number in log.entry.flights}
        mine = [fingerprint(trace) for trace in traces]
        for number, known in database.fingerprints().items():
            if any(same_flight(one, known) for one in mine):
                itself.add(number)
        return date_of(traces[0]).text, min(itself, default=sys.maxsize), itself

    def kept_already(self, traces: Sequence[Trace]) -> tuple[int, ...]:
        """The numbers of the kept flights that a log under review holds, by its bytes or by its content.

        Parameters
        ----------
        traces : one flight's, the first sets the clock.

        Raises
        ------
        BadLogbook : the logbook cannot be read.
        """
        database = self._logs.database()
        if database is None or not traces:
            return ()
        return tuple(sorted(self._place_of(database, traces)[2]))

    def earlier(self, setup: Setup, traces: Sequence[Trace] = ()) -> Earlier:
        """What is known for the next flight of a set-up, or for a log under review: what was flown before it.

        Parameters
        ----------
        traces : of one flight, the first sets the clock; () for the next flight.
        """
        database = self._logs.database()
        if database is None:
            return Earlier()
        date, number, itself = self._place_of(database, traces) if traces else ("", sys.maxsize, set())
        flown = [f for f in in_order_flown(self.flights()) if f.id not in itself]
        before = [f for f in flown if f.flown_before(date, number)] if traces else flown
        packs = {"", *(one.pack.name for one in setup.packs)} if setup.packs else {setup.pack.name}
        ours = [f for f in before if f.aircraft == setup.name and f.pack_called in packs]
        last = [f for f in ours if f.past is not None and of_this_drive([f.past], setup)]
        return Earlier(
            rows_of_history(before, setup.name),
            standing_for([f.in_judgement for f in before], setup),
            _unjudged(_facts_for(setup, last)),
        )

    def edit(
        self,
        numbers: Sequence[int],
        *,
        change: Edits | None = None,
        configuration: str | None = None,
        pack: str | None = None,
        whole: bool = False,
    ) -> tuple[KeptFlight, ...]:
        """Say something else of kept flights, and review them again with it.

        Parameters
        ----------
        change : what is newly said of each of them; what it leaves at its default stays. Keys that it clears
            are added to those cleared before.
        configuration, pack : of the logs that they came from; None leaves it. A pack of the logbook will do
            that their sheet does not know.
        whole : whether `change` takes the place of all that was said of date, charge put back, temperature,
            note and tags.

        Raises
        ------
        BadUse : there is no such flight, or one has no stop or check of that key; nothing is changed then.
        BadLogbook : the logbook can't be written.
        """
        return edit(
            self._logs,
            numbers,
            change or Edits(),
            configuration=configuration,
            pack=pack,
            whole=whole,
            carry=self.with_pack,
        )

    def said_of(self, number: int) -> Edits:
        """What was said of a kept flight afterwards, or with its log: nothing where there is no such
        flight.
        """
        found = self._log_of(number)
        return found[0].entry.edits_of(found[1]) if found is not None else Edits()

    def remove(self, numbers: Sequence[int]) -> tuple[KeptFlight, ...]:
        """Take flights out of every figure: history, timers, trends, open checks. Nothing is deleted;
        `restore` brings them back.

        Raises
        ------
        BadUse : there is no such flight; nothing is changed then.
        BadLogbook : the logbook can't be written.
        """
        return set_removed(self._logs, numbers, removed=True)

    def restore(self, numbers: Sequence[int]) -> tuple[KeptFlight, ...]:
        """Take removed flights back into every figure. Raises as `remove`."""
        return set_removed(self._logs, numbers, removed=False)

    def trends(self, aircraft: str | None = None) -> Trends:
        """What changed over the kept flights of an aircraft, None for that of the flight flown last."""
        kept = in_order_flown([f for f in self.flights() if f.kind == "flight" and not f.contradicts_sheet])
        wanted = kept[-1].aircraft if aircraft is None and kept else aircraft
        named = [f for f in kept if f.aircraft == wanted and f.again is None]
        return season_trends([f.in_season for f in named if one_aircraft(f.drive, named[-1].drive)])

    def compare(self, first: Sequence[int], second: Sequence[int]) -> Comparison:
        """What changed between two groups of flights, by their numbers.

        Raises
        ------
        BadUse : there is no such flight, one is in both groups, or no flight of a group counts.
        """
        return compare_groups(self.flights(), first, second)

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
        BadLogbook : something can't be mended, or a flight can't be reviewed again.
        """
        found = check(self._logs)
        return review_anew(self._logs, found) if anew else found

    def export(self, path: str | Path, *, aircraft: str | None = None) -> None:
        """Write the list of flights: as CSV, which `--history` reads back, or every fact as Parquet.

        Parameters
        ----------
        path : its ending says which.
        aircraft : only this one's flights; None for all.

        Raises
        ------
        BadUse : the file can't be written.
        """
        write_list((f for f in self.flights() if aircraft in (None, f.aircraft)), Path(path))

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


def _facts_for(setup: Setup, flown: Sequence[KeptFlight]) -> PackFacts:
    """What the last of some flights measured of the set-up's pack, or of each by its name, wherever it then
    stood.
    """
    if not setup.packs:
        return flown[-1].pack_facts if flown else PackFacts()
    by_name = {
        flight.pack_names.get(place, ""): own
        for flight in flown
        for place, own in flight.pack_facts.packs.items()
    }
    return PackFacts(packs={f.position: by_name[f.pack.name] for f in setup.packs if f.pack.name in by_name})


def _unjudged(facts: PackFacts) -> PackFacts:
    """What a flight measured of its pack; which cell is weak is told by what still stands."""
    packs = {place: _unjudged(own) for place, own in facts.packs.items()}
    return replace(facts, cells=tuple(replace(cell, weak=False) for cell in facts.cells), packs=packs)
