"""What is open while the dashboard runs: the logbook, the sheet being worked on, and logs just dropped.

Nothing is at module level: each app has its own workspace, found through the server it belongs to.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from flask import current_app

from dashboard import demo
from dashboard.drops import Batch, DroppedFile, Drops, Job, settled
from dashboard.other_files import refusal
from dashboard.texts import say
from telemetry.debrief import Review, review
from telemetry.errors import BadLogbook, BadSheet, SaglineError
from telemetry.logbook import (
    Earlier,
    Edits,
    KeptFlight,
    LikelyAnswers,
    Logbook,
    Pack,
    in_order_flown,
    likely_answers,
)
from telemetry.season.open_checks import OpenCheck
from telemetry.season.trends import Trends, season_trends
from telemetry.sheet import Setup, Sheet, read_sheet
from telemetry.trace import Trace
from telemetry.whole_files import make_folder, write_text

SHEET = "set-up.toml"
"""The sheet being worked on, beside the logs in the logbook's folder."""
SHEETS = "sheets"
"""The sheet of each aircraft as it was saved last, in a folder there."""
REMEMBERED = 12
"""Reviews held in memory; another one is made anew from its trace."""


@dataclass(frozen=True, slots=True)
class Said:
    """What the owner says of a log as it is kept.

    Attributes
    ----------
    configuration, pack : of its sheet, "" for the sheet as it stands.
    date : ISO, "" where the log tells it.
    put_back_mah : what the charger put back, None where that is not known. [mAh]
    another : it is a flight of its own, however much it is like a kept one.
    """

    configuration: str = ""
    pack: str = ""
    date: str = ""
    put_back_mah: float | None = None
    another: bool = False


class Workspace:
    """The dashboard's side of one logbook. Safe to use from several threads.

    Parameters
    ----------
    folder : the logbook's folder, or None to work without one.
    """

    def __init__(self, folder: Path | None) -> None:
        self.own, self.folder = folder, folder
        self.book = Logbook(folder) if folder is not None else None
        self.making: demo.Making | None = None
        self._lock = threading.Lock()
        self.drops = Drops(self._review_dropped, self._kept_as)
        self._seen: OrderedDict[str, Review] = OrderedDict()
        self._sheet: Sheet | None = None

    def close(self) -> None:
        """Remove the copies of what was dropped and not kept."""
        self.drops.close()

    # -- which logbook ------------------------------------------------------

    def open(self, folder: Path | None) -> None:
        """Open another logbook; the one it started with is `own`."""
        with self._lock:
            self.folder, self.book = folder, Logbook(folder) if folder is not None else None
            self._sheet = None
            self._seen.clear()
        self.drops.forget_kept()

    def open_demo(self) -> None:
        """Make the invented logbook beside the owner's and open it; `making` says how far it
        is.
        """
        with self._lock:
            if self.making is not None and not self.making.message:
                return
            self.making = demo.Making()
        threading.Thread(target=self._make_demo, name="demo", daemon=True).start()

    def _make_demo(self) -> None:
        folder = demo.folder_beside(self.own)
        try:
            demo.make(folder, progress=self._show_making)
        except (SaglineError, OSError) as error:
            self.making = demo.Making(message=str(error))
            return
        self.open(folder)
        self.making = None

    def _show_making(self, making: demo.Making) -> None:
        self.making = making

    # -- flights ------------------------------------------------------------

    def flights(self) -> tuple[KeptFlight, ...]:
        """Kept flights, newest first."""
        return tuple(reversed(self.book.flights())) if self.book is not None else ()

    def review(self, key: str) -> Review | None:
        """The review behind an address: a flight's number, or a job's id; None when there is none."""
        job = self.drops.get(key)
        if job is not None:
            if job.review is not None and not job.seen:
                self.drops.put(replace(job, seen=True))
            return job.review
        with self._lock:
            if key in self._seen:
                self._seen.move_to_end(key)
                return self._seen[key]
        number = number_in(key)
        found = self.book.read(number) if self.book is not None and number is not None else None
        if found is not None:
            with self._lock:
                self._seen[key] = found
                while len(self._seen) > REMEMBERED:
                    self._seen.popitem(last=False)
        return found

    def latest_flown(self) -> KeptFlight | None:
        """The kept flight that was flown last."""
        return next(reversed(in_order_flown(self.flights())), None)

    def open_checks(self) -> tuple[OpenCheck, ...]:
        """Stops and checks of earlier flights that still stand."""
        return self.book.open_checks() if self.book is not None else ()

    def trends(self, aircraft: str) -> Trends:
        """What changed over the kept flights of one aircraft."""
        return self.book.trends(aircraft) if self.book is not None else season_trends(())

    def kept(self, key: str) -> KeptFlight | None:
        """The facts of one kept flight."""
        return next((f for f in self.flights() if str(f.id) == key), None)

    def set_removed(self, number: int, *, removed: bool) -> str:
        """Take a kept flight out of every figure, or back; a sentence where that cannot be done, else ""."""
        if self.book is None:
            return ""
        try:
            _ = self.book.remove([number]) if removed else self.book.restore([number])
        except SaglineError as error:
            return str(error)
        with self._lock:
            self._seen.clear()
        return ""

    def edit(self, number: int, change: Edits, *, configuration: str, pack: str) -> None:
        """Say something of a kept flight instead of what was said. Raises SaglineError."""
        if self.book is None:
            return
        self.book.edit([number], change=change, configuration=configuration, pack=pack, whole=True)
        with self._lock:
            self._seen.clear()

    def flown_later(self, kept: KeptFlight) -> int:
        """How many kept flights of its aircraft or with its pack were flown after a flight."""
        return sum(
            f.id != kept.id
            and not f.removed
            and not f.flown_before(kept.date, kept.id)
            and (
                f.aircraft == kept.aircraft or (bool(kept.pack_called) and f.pack_called == kept.pack_called)
            )
            for f in self.flights()
        )

    def earlier(self, setup: Setup, traces: Sequence[Trace] = ()) -> Earlier:
        """What the kept flights tell of the next flight of a set-up, or of a log under review."""
        return self.book.earlier(setup, traces) if self.book is not None else Earlier()

    def traces(self, aircraft: str, configuration: str, *, most: int = 6) -> list[Trace]:
        """The latest kept logs of one aircraft in one configuration, each once, the earliest first."""
        found: dict[str, Trace] = {}
        for kept in self.flights():
            if (
                kept.aircraft == aircraft
                and kept.configuration == configuration
                and kept.kind == "flight"
                and not kept.removed
                and len(found) < most
            ):
                one = self.review(str(kept.id))
                if one is not None:
                    found.setdefault(" ".join(s.sha256 for s in one.trace.sources), one.trace)
        return list(reversed(found.values()))

    # -- the sheet ----------------------------------------------------------

    def sheet(self) -> Sheet | None:
        """The set-up sheet being worked on; None before there is one."""
        if self._sheet is None and self.folder is not None:
            path = self.folder / SHEET
            if path.is_file():
                self._sheet = read_sheet(path)
            elif self.book is not None and (latest := self.book.flights()):
                self._sheet = self.book.sheet(latest[-1].id)
        return self._sheet

    def use_sheet(self, sheet: Sheet, *, save: bool = False) -> None:
        """Work on with this sheet, and write it beside the logs when asked to. Raises BadLogbook where that
        cannot be; the sheet is worked on with all the same.
        """
        self._sheet = sheet
        if save and self.book is not None:
            with self.book.folder.writing():
                write_text(self.book.folder.path / SHEET, sheet.text)
                make_folder(self.book.folder.path / SHEETS)
                write_text(self._own_place(sheet.name), sheet.text)

    def _own_place(self, aircraft: str) -> Path:
        """Where the sheet of an aircraft is saved; no name becomes a path."""
        assert self.book is not None
        return self.book.folder.path / SHEETS / f"{hashlib.sha256(aircraft.encode()).hexdigest()[:16]}.toml"

    def sheet_of(self, aircraft: str) -> Sheet | None:
        """The sheet of an aircraft: the one worked on, else as it was saved last, else as its last flight has
        it; "" is the one worked on.

        Raises
        ------
        SaglineError : it is not known, or cannot be read.
        """
        now = self.sheet()
        if not aircraft or (now is not None and now.name == aircraft):
            return now
        if self.book is None:
            return None
        path = self._own_place(aircraft)
        if path.is_file():
            return replace(read_sheet(path), file=f"{aircraft}.toml")
        return self.book.sheet_of_aircraft(aircraft)

    def aircraft(self) -> tuple[str, ...]:
        """The names of all aircraft that have a sheet, the one worked on first."""
        now = self.sheet()
        flown = [one.name for one in self.book.aircraft()] if self.book is not None else []
        saved = []
        for path in sorted((self.folder / SHEETS).glob("*.toml")) if self.folder is not None else ():
            with suppress(BadSheet):
                saved.append(read_sheet(path).name)
        return tuple(dict.fromkeys([*([now.name] if now is not None else []), *flown, *saved]))

    def packs(self) -> tuple[Pack, ...]:
        """The logbook's packs that are flown still."""
        return tuple(p for p in self.book.packs() if not p.retired) if self.book is not None else ()

    def with_pack(self, sheet: Sheet, pack: str) -> Sheet:
        """A sheet that also has a pack of the logbook. Raises BadUse."""
        return self.book.with_pack(sheet, pack) if self.book is not None else sheet

    def is_saved(self, sheet: Sheet) -> bool:
        """Whether a sheet stands beside the logs as it is worked on, or as the flight kept last has it."""
        if self.folder is None:
            return True
        try:
            path = self.folder / SHEET
            if path.is_file():
                return read_sheet(path).text == sheet.text
        except BadSheet:
            return False
        latest = self.flights()
        kept = self.book.sheet(latest[0].id) if latest and self.book is not None else None
        return kept is not None and kept.text == sheet.text

    # -- dropped logs -------------------------------------------------------

    def drop(
        self, files: Sequence[DroppedFile], *, together: bool = False, batch: Batch | None = None
    ) -> tuple[Job, ...]:
        """Start reading. One job for logs of one flight, else one each; a sheet among them is used at once,
        and a file that is no log by its name is refused.

        Parameters
        ----------
        together : they are one flight's, from several recorders.
        batch : what they were dropped with; None where they are all of it.
        """
        logs: list[DroppedFile] = []
        refused: list[DroppedFile] = []
        for file in files:
            why = refusal(file.name)
            if file.name.lower().endswith(".toml"):
                why = self._use_dropped_sheet(file)
            elif not why:
                logs.append(file)
            if why:
                refused.append(replace(file, state="failed", message=why))
        groups = [logs] if together and logs else [[one] for one in logs]
        return self.drops.add(
            groups, together=together, refused=refused, batch=batch, arrived=max(1, len(files))
        )

    def _use_dropped_sheet(self, file: DroppedFile) -> str:
        """Work on with a sheet that was dropped; "" or the sentence why it cannot be used."""
        try:
            self.use_sheet(replace(read_sheet(file.path), file=file.name), save=True)
        except (BadSheet, BadLogbook) as error:
            return str(error)
        return ""

    def _kept_as(self, traces: Sequence[Trace]) -> tuple[int, ...]:
        return self.book.kept_already(traces) if self.book is not None else ()

    def likely(self, traces: Sequence[Trace], *, written: str = "") -> LikelyAnswers:
        """The likely date, configuration and pack of what was dropped, each with why.

        Parameters
        ----------
        written : when its file was last written, ISO; "" where that is not known.
        """
        kept = self.book.flights() if self.book is not None else ()
        return likely_answers(kept, traces[0], self.sheet(), written=written)

    def _review_dropped(self, traces: Sequence[Trace]) -> tuple[Review, Sheet | None]:
        """What was dropped, with the sheet being worked on and the flights of its aircraft."""
        sheet = self.sheet()
        offered = self.likely(traces)
        configuration, pack = offered.configuration.answer, offered.pack.answer
        setup = sheet.setup(configuration, pack) if sheet is not None else None
        past = self.earlier(setup, traces) if setup is not None else Earlier()
        found = review(
            traces if len(traces) > 1 else traces[0],
            sheet,
            past.flights,
            configuration=configuration or None,
            pack=pack or None,
            standing=past.standing,
        )
        return found, sheet

    def keep(self, ident: str, said: Said) -> tuple[int | None, str]:
        """Keep a dropped log in the logbook, with what was said of it: its number there and what is to be
        told of it, or a sentence why not.
        """
        job = self.drops.get(ident)
        if job is None or self.book is None:
            return None, ""
        try:
            outcome = self.book.keep(
                [f.path for f in job.files if f.state == "read"],
                together=job.together and len(job.files) > 1,
                sheet=job.sheet,
                configuration=said.configuration,
                pack=said.pack,
                put_back_mah=said.put_back_mah,
                answers=settled(job),
                another=said.another,
                date=said.date,
            )
        except SaglineError as error:
            return None, str(error)
        if not outcome.kept:
            return None, " ".join(outcome.refused)
        self.drops.put(replace(job, kept_as=outcome.kept[0].id))
        return outcome.kept[0].id, " ".join(outcome.remarks)


def number_in(text: str) -> int | None:
    """The number of a flight in an address, None where it is none."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None


def called(kept: KeptFlight) -> str:
    """How a page calls a kept flight: a run on the ground is no flight."""
    return say(f"flight.number_{kept.kind}", n=kept.id)


def workspace() -> Workspace:
    """The workspace of the app that answers the present request."""
    found = current_app.extensions["sagline"]
    assert isinstance(found, Workspace)
    return found
