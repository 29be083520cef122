"""What is open while the dashboard runs: the logbook, logs just dropped, and jobs that read them.

Nothing is at module level: each app has its own workspace, found through the server it belongs to.
"""

from __future__ import annotations

import itertools
import shutil
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from flask import current_app

from dashboard import demo
from dashboard.texts import say
from telemetry.answers import Answers
from telemetry.debrief import Review, review
from telemetry.errors import BadSheet, SaglineError
from telemetry.history import PastFlight
from telemetry.importers.log import read_log
from telemetry.importers.text import read_table
from telemetry.logbook import KeptFlight, Logbook, in_order_flown
from telemetry.season.open_checks import OpenCheck
from telemetry.season.trends import Trends, season_trends
from telemetry.sheet import Sheet, read_sheet
from telemetry.trace import Trace

SHEET = "set-up.toml"
"""The sheet being worked on, beside the logs in the logbook's folder."""
REMEMBERED = 12
"""Reviews held in memory; another one is made anew from its trace."""


@dataclass(frozen=True, slots=True)
class DroppedFile:
    """One file of a job: what it is called, where its copy lies, how far it is."""

    name: str
    path: Path
    state: str = "waiting"
    words: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """Logs dropped together, on their way to a review.

    Attributes
    ----------
    id : "d1", "d2", ...; also the address of the flight page.
    files : one entry a file.
    together : they are one flight's, from several recorders.
    state : reading, reviewing, done or failed.
    answers : what the user settled, by file name, header → quantity@position.
    curves : of each column in doubt, by file and header, some of its numbers in order, for a small drawing.
    review : when done, and the sheet it was held against.
    kept_as : its number in the logbook, once kept.
    seen : its flight page was opened.
    """

    id: str
    files: tuple[DroppedFile, ...]
    together: bool = False
    state: str = "reading"
    words: str = ""
    answers: dict[str, dict[str, str]] = field(default_factory=dict)
    traces: tuple[Trace, ...] = ()
    curves: dict[tuple[str, str], tuple[float, ...]] = field(default_factory=dict)
    review: Review | None = None
    sheet: Sheet | None = None
    kept_as: int | None = None
    seen: bool = False


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
        self._jobs: dict[str, Job] = {}
        self._numbers = itertools.count(1)
        self._seen: OrderedDict[str, Review] = OrderedDict()
        self._drops = Path(tempfile.mkdtemp(prefix="sagline-"))
        self._sheet: Sheet | None = None
        self._chosen = ("", "")
        self._latest: tuple[str, ...] = ()

    def close(self) -> None:
        """Remove the copies of what was dropped and not kept."""
        shutil.rmtree(self._drops, ignore_errors=True)

    # -- which logbook ------------------------------------------------------

    def open(self, folder: Path | None) -> None:
        """Open another logbook; the one it started with is `own`."""
        with self._lock:
            self.folder, self.book = folder, Logbook(folder) if folder is not None else None
            self._sheet, self._chosen = None, ("", "")
            self._seen.clear()
            self._jobs = {key: job for key, job in self._jobs.items() if job.kept_as is None}

    def open_demo(self) -> None:
        """Make the invented logbook beside the owner's and open it; `making` says how far it
        is.
        """
        with self._lock:
            if self.making is not None and not self.making.words:
                return
            self.making = demo.Making()
        threading.Thread(target=self._make_demo, name="demo", daemon=True).start()

    def _make_demo(self) -> None:
        folder = demo.folder_beside(self.own)
        try:
            demo.make(folder, told=self._told_of_demo)
        except (SaglineError, OSError) as error:
            self.making = demo.Making(words=str(error))
            return
        self.open(folder)
        self.making = None

    def _told_of_demo(self, making: demo.Making) -> None:
        self.making = making

    # -- flights ------------------------------------------------------------

    def flights(self) -> tuple[KeptFlight, ...]:
        """Kept flights, newest first."""
        return tuple(reversed(self.book.flights())) if self.book is not None else ()

    def review(self, key: str) -> Review | None:
        """The review behind an address: a flight's number, or a job's id; None when there is none."""
        job = self._jobs.get(key)
        if job is not None:
            if job.review is not None and not job.seen:
                self._put(replace(job, seen=True))
            return job.review
        with self._lock:
            if key in self._seen:
                self._seen.move_to_end(key)
                return self._seen[key]
        found = self.book.read(key) if self.book is not None and key.isdecimal() else None
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

    def history(self, aircraft: str | None = None) -> tuple[PastFlight, ...]:
        """Kept flights as rows of history, of one aircraft or all."""
        return self.book.history(aircraft=aircraft) if self.book is not None else ()

    def traces(self, aircraft: str, configuration: str, *, most: int = 6) -> list[Trace]:
        """The latest kept logs of one aircraft in one configuration, each once, the earliest first."""
        found: dict[str, Trace] = {}
        for kept in self.flights():
            if (
                kept.aircraft == aircraft
                and kept.configuration == configuration
                and kept.kind == "flight"
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
        """Work on with this sheet, and write it beside the logs when asked to."""
        self._sheet = sheet
        if save and self.folder is not None:
            self.folder.mkdir(parents=True, exist_ok=True)
            (self.folder / SHEET).write_text(sheet.text, encoding="utf-8")

    def chosen(self, sheet: Sheet) -> tuple[str, str]:
        """The configuration and pack looked at, as far as the sheet has them."""
        configuration, pack = self._chosen
        return (
            configuration if configuration in sheet.configuration_names else "",
            pack if pack in sheet.pack_names else "",
        )

    def choose(self, *, configuration: str | None = None, pack: str | None = None) -> None:
        """Look at another configuration or pack from now on."""
        before = self._chosen
        self._chosen = (
            before[0] if configuration is None else configuration,
            before[1] if pack is None else pack,
        )

    # -- dropped logs -------------------------------------------------------

    def place_for_drop(self) -> Path:
        """A fresh folder of our own for files to come; names of files never make a path."""
        return Path(tempfile.mkdtemp(dir=self._drops))

    def drop(self, files: Sequence[tuple[str, Path]], *, together: bool = False) -> tuple[Job, ...]:
        """Start reading. One job for logs of one flight, else one each; a sheet among them is used at
        once.
        """
        sheets = [(n, p) for n, p in files if n.lower().endswith(".toml")]
        logs = [(n, p) for n, p in files if not n.lower().endswith(".toml")]
        refused: list[DroppedFile] = []
        for name, path in sheets:
            try:
                self.use_sheet(replace(read_sheet(path), file=name), save=True)
            except BadSheet as error:
                refused.append(DroppedFile(name, path, "failed", str(error)))
        groups = [logs] if together and logs else [[one] for one in logs]
        jobs = [
            Job(f"d{next(self._numbers)}", tuple(DroppedFile(n, p) for n, p in group), together)
            for group in groups
        ]
        if refused:
            jobs.append(Job(f"d{next(self._numbers)}", tuple(refused), state="failed"))
        self._latest = tuple(job.id for job in jobs)
        for job in jobs:
            self._put(job)
            if job.state == "reading":
                self._start(job)
        return tuple(jobs)

    def jobs(self) -> tuple[Job, ...]:
        """All jobs of this run, the latest first."""
        with self._lock:
            return tuple(reversed(self._jobs.values()))

    def latest(self) -> tuple[Job, ...]:
        """The jobs of the latest drop."""
        return tuple(job for job in self.jobs() if job.id in self._latest)

    def job(self, ident: str) -> Job | None:
        """One job, or None."""
        return self._jobs.get(ident)

    def answer(self, ident: str, file: str, answers: dict[str, str], *, remember: bool = False) -> None:
        """Settle doubtful columns of one file of a job, and read it again; `remember` keeps the answers for
        logs with the same header.
        """
        job = self._jobs.get(ident)
        if job is None:
            return
        source = next((s for t in job.traces for s in t.sources if s.file == file), None)
        if remember and source is not None:
            Answers().save([c.header for c in source.columns], answers)
        merged = job.answers | {file: job.answers.get(file, {}) | answers}
        again = replace(
            job,
            answers=merged,
            state="reading",
            review=None,
            seen=False,
            files=tuple(replace(f, state="waiting", words="") for f in job.files),
        )
        self._put(again)
        self._start(again)

    def forget(self, ident: str) -> None:
        """Leave a dropped log where it is and drop the job."""
        with self._lock:
            self._jobs.pop(ident, None)

    def keep(self, ident: str, *, put_back_mah: float | None = None) -> tuple[int | None, str]:
        """Keep a dropped log in the logbook, with what the charger put back: its number there, or a sentence
        why not.
        """
        job = self._jobs.get(ident)
        if job is None or self.book is None:
            return None, ""
        setup = job.review.setup if job.review is not None else None
        pack = (
            setup.pack.name
            if setup is not None and job.sheet is not None and setup.pack.name in job.sheet.pack_names
            else ""
        )
        try:
            outcome = self.book.keep(
                [f.path for f in job.files if f.state == "read"],
                together=job.together and len(job.files) > 1,
                sheet=job.sheet,
                configuration=setup.configuration if setup is not None else "",
                pack=pack,
                put_back_mah=put_back_mah,
                answers=_settled(job),
            )
        except SaglineError as error:
            return None, str(error)
        if not outcome.kept:
            return None, " ".join(outcome.refused)
        self._put(replace(job, kept_as=outcome.kept[0].id))
        return outcome.kept[0].id, ""

    def _put(self, job: Job) -> None:
        with self._lock:
            self._jobs[job.id] = job

    def _start(self, job: Job) -> None:
        threading.Thread(target=self._work, args=(job,), name=f"read-{job.id}", daemon=True).start()

    def _work(self, job: Job) -> None:
        """Read and review one job. A fault of ours ends in a sentence too; its trace goes to the terminal,
        not to the page.
        """
        try:
            self._reading(job)
        finally:
            left = self._jobs.get(job.id)
            if left is not None and left.state in ("reading", "reviewing"):
                self._put(replace(left, state="failed", words=say("bring.our_fault")))

    def _reading(self, job: Job) -> None:
        """Read every file of a job, then review; what the user can put right becomes words."""
        traces: list[Trace] = []
        for i, file in enumerate(job.files):
            job = self._told(job, i, "reading", "")
            try:
                traces.append(read_log(file.path, answers=job.answers.get(file.name) or None, kept=Answers()))
            except SaglineError as error:
                job = self._told(job, i, "failed", str(error))
                continue
            source = traces[-1].sources[0]
            job = replace(job, curves=job.curves | curves_in_doubt(file, traces[-1]))
            job = self._told(
                job, i, "read", f"{source.rows_read - source.rows_rejected} {source.rows_rejected}"
            )
        if not traces:
            self._put(replace(job, state="failed"))
            return
        job = replace(job, state="reviewing", traces=tuple(traces))
        self._put(job)
        try:
            sheet = self.sheet()
            configuration, pack = self.chosen(sheet) if sheet is not None else ("", "")
            past = self.history(sheet.setup().name) if sheet is not None else ()
            found = review(
                traces if len(traces) > 1 else traces[0],
                sheet,
                past,
                configuration=configuration or None,
                pack=pack or None,
            )
        except SaglineError as error:
            self._put(replace(job, state="failed", words=str(error)))
            return
        self._put(replace(job, state="done", review=found, sheet=sheet))

    def _told(self, job: Job, index: int, state: str, words: str) -> Job:
        files = tuple(
            replace(f, state=state, words=words) if i == index else f for i, f in enumerate(job.files)
        )
        job = replace(job, files=files)
        self._put(job)
        return job


def curves_in_doubt(file: DroppedFile, trace: Trace) -> dict[tuple[str, str], tuple[float, ...]]:
    """A few numbers of each column in doubt, as the file has them."""
    headers = {c.header for s in trace.sources for c in s.columns if c.status == "doubtful"}
    if not headers:
        return {}
    found = {}
    for column in read_table(file.path.read_bytes(), file.path.name).columns:
        numbers = column.numbers[np.isfinite(column.numbers)]
        if column.header in headers and numbers.size > 1:
            found[file.name, column.header] = tuple(numbers[:: max(1, numbers.size // 80)].tolist())
    return found


def called(kept: KeptFlight) -> str:
    """How a page calls a kept flight: a run on the ground is no flight."""
    return say(f"flight.number_{kept.kind}", n=kept.id)


def workspace() -> Workspace:
    """The workspace of the app that answers the present request."""
    found = current_app.extensions["sagline"]
    assert isinstance(found, Workspace)
    return found


def _settled(job: Job) -> dict[str, dict[str, str]]:
    """What was answered about each log, in this job or for its recorder before."""
    sources = job.review.trace.sources if job.review is not None else ()
    return {
        s.file: {**Answers().for_headers([c.header for c in s.columns]), **(job.answers.get(s.file) or {})}
        for s in sources
    }
