"""Logs just dropped and the jobs that read them, each in a thread of its own."""

from __future__ import annotations

import itertools
import shutil
import tempfile
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from dashboard.choices import Unread, unread
from dashboard.texts import say
from telemetry.answers import Answers, signature
from telemetry.debrief import Review
from telemetry.errors import BadLog, SaglineError
from telemetry.importers.log import read_log
from telemetry.importers.text import read_table
from telemetry.importers.text.bounds import bytes_of
from telemetry.sheet import Sheet
from telemetry.trace import Column, Trace

MOST_JOBS = 40
"""A season's weekend of logs; two full drops at once."""
MOST_BYTES = 1 << 30
"""Held in memory by logs that were dropped and not kept. [bytes]"""

AT_ONCE = 2
"""Logs read at the same time; the others wait their turn."""

ReviewOf = Callable[[Sequence[Trace]], tuple[Review, Sheet | None]]
KeptAs = Callable[[Sequence[Trace]], tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Batch:
    """What is dropped at once, and comes file by file: its own name, and how many files it has in all."""

    name: str = ""
    count: int = 1


@dataclass(frozen=True, slots=True)
class DroppedFile:
    """One file of a job: what it is called, where its copy lies, how far it is.

    Attributes
    ----------
    state : waiting, reading, read or failed.
    written : when it was last written, ISO; "" where that is not known.
    columns : as last understood; of a log that was refused, those that it has.
    """

    name: str
    path: Path
    state: str = "waiting"
    message: str = ""
    written: str = ""
    columns: tuple[Column, ...] = ()

    @property
    def headers(self) -> list[str]:
        """The headings of its columns, in file order."""
        return [c.header for c in self.columns]


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
    unread : each column of numbers that is not used, by file and header.
    again : the kept flights that it is once more.
    review : when done, and the sheet it was held against.
    kept_as : its number in the logbook, once kept.
    seen : its flight page was opened.
    """

    id: str
    files: tuple[DroppedFile, ...]
    together: bool = False
    state: str = "reading"
    message: str = ""
    answers: dict[str, dict[str, str]] = field(default_factory=dict)
    traces: tuple[Trace, ...] = ()
    unread: dict[tuple[str, str], Unread] = field(default_factory=dict)
    again: tuple[int, ...] = ()
    review: Review | None = None
    sheet: Sheet | None = None
    kept_as: int | None = None
    seen: bool = False


class Drops:
    """The jobs of one run. Safe to use from several threads.

    Parameters
    ----------
    review_of : reviews what a job has read, and says with which sheet; raises SaglineError.
    kept_as : the kept flights that what a job has read holds; raises SaglineError.
    most_jobs, most_bytes : held at once; beyond them the oldest that were not dropped last are let go.
    """

    def __init__(
        self,
        review_of: ReviewOf,
        kept_as: KeptAs = lambda traces: (),
        *,
        most_jobs: int = MOST_JOBS,
        most_bytes: int = MOST_BYTES,
    ) -> None:
        self._review_of, self._kept_as = review_of, kept_as
        self._most = (most_jobs, most_bytes)
        self._let_go: list[str] = []
        self._lock = threading.Lock()
        self._jobs: dict[str, Job] = {}
        self._numbers = itertools.count(1)
        self._folder = Path(tempfile.mkdtemp(prefix="sagline-"))
        self._latest: tuple[str, ...] = ()
        self._batch, self._awaited = "", 0
        self._turns = threading.BoundedSemaphore(AT_ONCE)

    def close(self) -> None:
        """Remove the copies of what was dropped and not kept."""
        shutil.rmtree(self._folder, ignore_errors=True)

    def place(self) -> Path:
        """A fresh folder of our own for files to come; names of files never make a path."""
        return Path(tempfile.mkdtemp(dir=self._folder))

    def add(
        self,
        groups: Sequence[Sequence[DroppedFile]],
        *,
        together: bool = False,
        refused: Sequence[DroppedFile] = (),
        batch: Batch | None = None,
        arrived: int = 1,
    ) -> tuple[Job, ...]:
        """Start reading: one job a group of logs, and a failed one for each file that was refused before.

        Parameters
        ----------
        together : the logs of a group are one flight's.
        batch : what they were dropped with; None where they are all of it.
        arrived : so many of its files came with this.
        """
        jobs = [Job(self._name(), tuple(group), together) for group in groups]
        jobs += [Job(self._name(), (one,), state="failed") for one in refused]
        if batch is None or batch.name != self._batch:
            self._latest, self._batch = (), batch.name if batch is not None else ""
            self._awaited = batch.count if batch is not None else arrived
        self._awaited -= arrived
        self._latest = (*self._latest, *(job.id for job in jobs))[-self._most[0] :]
        for job in jobs:
            self.put(job)
            if job.state == "reading":
                self._start(job)
        return tuple(jobs)

    def _name(self) -> str:
        return f"d{next(self._numbers)}"

    def all(self) -> tuple[Job, ...]:
        """All jobs of this run, the latest first."""
        with self._lock:
            return tuple(reversed(self._jobs.values()))

    def latest(self) -> tuple[Job, ...]:
        """The jobs of the latest drop."""
        return tuple(job for job in self.all() if job.id in self._latest)

    def is_all_here(self) -> bool:
        """Whether every file of the latest drop has arrived."""
        return self._awaited <= 0

    def get(self, ident: str) -> Job | None:
        """One job, or None."""
        return self._jobs.get(ident)

    def put(self, job: Job) -> None:
        """Hold a job, in place of an earlier state of it."""
        with self._lock:
            self._jobs[job.id] = job
            gone = self._spare()
        for old in gone:
            for file in old.files:
                if file.path.is_relative_to(self._folder):
                    file.path.unlink(missing_ok=True)

    def let_go(self) -> tuple[str, ...]:
        """Names of the latest logs that were let go, unkept, to make room for others."""
        return tuple(self._let_go)

    def _spare(self, *, named: int = 20) -> list[Job]:
        """The jobs that make room: kept ones first, then the oldest; none at work, none just dropped."""
        most_jobs, most_bytes = self._most
        held = {ident: bytes_held(job) for ident, job in self._jobs.items()}
        may_go = [
            job
            for job in sorted(self._jobs.values(), key=lambda job: job.kept_as is None)
            if job.state in ("done", "failed") and job.id not in self._latest
        ]
        gone = []
        for job in may_go:
            if len(held) <= most_jobs and sum(held.values()) <= most_bytes:
                break
            del self._jobs[job.id], held[job.id]
            gone.append(job)
            if job.kept_as is None:
                self._let_go = [*self._let_go, *(file.name for file in job.files)][-named:]
        return gone

    def answer(
        self,
        ident: str,
        file: str,
        answers: Mapping[str, str],
        *,
        forget: Sequence[str] = (),
        remember: bool = False,
        sides: bool = False,
    ) -> None:
        """Settle columns of one file of a job, and read it again once.

        Parameters
        ----------
        answers : header → answer, as `telemetry.answers` has them.
        forget : headings whose answer holds no more, for this log nor for later ones.
        remember : keep the answers for logs with the same headings, `sides` those too that say which is left.
            Where they cannot be kept the job's message says so.
        """
        job = self._jobs.get(ident)
        dropped = next((f for f in job.files if f.name == file), None) if job is not None else None
        if job is None or dropped is None:
            return
        message = _forgotten(dropped, forget) or (_remembered(dropped, answers, sides) if remember else "")
        before = {h: a for h, a in job.answers.get(file, {}).items() if h not in forget}
        again = replace(
            job,
            answers=job.answers | {file: before | dict(answers)},
            state="reading",
            message=message,
            review=None,
            seen=False,
            files=tuple(replace(f, state="waiting", message="") for f in job.files),
        )
        self.put(again)
        self._start(again)

    def forget(self, ident: str) -> None:
        """Leave a dropped log where it is and drop the job."""
        with self._lock:
            self._jobs.pop(ident, None)

    def forget_kept(self) -> None:
        """Drop the jobs whose logs a logbook holds."""
        with self._lock:
            self._jobs = {key: job for key, job in self._jobs.items() if job.kept_as is None}

    def _start(self, job: Job) -> None:
        threading.Thread(target=self._work, args=(job,), name=f"read-{job.id}", daemon=True).start()

    def _work(self, job: Job) -> None:
        """Read and review one job. A fault of ours ends in a sentence too; its trace goes to the terminal,
        not to the page.
        """
        try:
            with self._turns:
                job = self._read(job)
                if job.state == "reviewing":
                    self._review(job)
        finally:
            left = self._jobs.get(job.id)
            if left is not None and left.state in ("reading", "reviewing"):
                self.put(replace(left, state="failed", message=say("bring.our_fault")))

    def _read(self, job: Job) -> Job:
        """Read every file of a job; what the user can put right becomes its message."""
        traces: list[Trace] = []
        for i, file in enumerate(job.files):
            job = self._with_file(job, i, "reading", "")
            try:
                trace = read_log(file.path, answers=job.answers.get(file.name) or None, kept=Answers())
            except SaglineError as error:
                has = refused_columns(error) or file.columns
                job = replace(job, unread=job.unread | unread_of(file, has))
                job = self._with_file(job, i, "failed", str(error), has)
                continue
            traces.append(trace)
            source = trace.sources[0]
            job = replace(job, unread=job.unread | unread_of(file, source.columns))
            counts = f"{source.rows_read - source.rows_rejected} {source.rows_rejected}"
            job = self._with_file(job, i, "read", counts, source.columns)
        job = replace(job, state="reviewing" if traces else "failed", traces=tuple(traces))
        self.put(job)
        return job

    def _review(self, job: Job) -> None:
        try:
            job = replace(job, again=self._kept_as(job.traces))
            self.put(job)
            found, sheet = self._review_of(job.traces)
        except SaglineError as error:
            self.put(replace(job, state="failed", message=str(error)))
            return
        self.put(replace(job, state="done", review=found, sheet=sheet))

    def _with_file(
        self, job: Job, index: int, state: str, message: str, columns: tuple[Column, ...] = ()
    ) -> Job:
        files = list(job.files)
        known = columns or files[index].columns
        files[index] = replace(files[index], state=state, message=message, columns=known)
        job = replace(job, files=tuple(files))
        self.put(job)
        return job


def _remembered(file: DroppedFile, answers: Mapping[str, str], sides: bool) -> str:
    """Keep answers for logs with the same headings; "" or a sentence on what is not kept and why."""
    try:
        unkept = Answers().save(file.headers, answers, file=file.name, sides=sides)
    except SaglineError as error:
        return str(error)
    return say("bring.sides_not_kept", headers=", ".join(unkept)) if unkept else ""


def _forgotten(file: DroppedFile, headers: Sequence[str]) -> str:
    """Forget what is remembered of these columns; "" or the sentence why that cannot be."""
    try:
        for header in headers:
            Answers().forget(signature(file.headers), header)
    except SaglineError as error:
        return str(error)
    return ""


def refused_columns(error: SaglineError) -> tuple[Column, ...]:
    """The columns of a log that was refused, so that they can be named; none where it has no table."""
    listed = error.columns if isinstance(error, BadLog) else ()
    return tuple(Column(header, None, "", "", "ignored", "", first) for header, first in listed)


def bytes_held(job: Job) -> int:
    """What the traces of a job take in memory; its review's few arrays are as long. [bytes]"""
    channels = (c for trace in job.traces for c in trace.channels.values())
    rows = sum(trace.time_s.nbytes for trace in job.traces)
    return 2 * (rows + sum(c.values.nbytes + c.fresh.nbytes for c in channels))


def unread_of(file: DroppedFile, columns: Sequence[Column]) -> dict[tuple[str, str], Unread]:
    """Each column of numbers that is not used, as it can be asked about."""
    left = {c.header: c for c in columns if c.status != "used"}
    if not left:
        return {}
    try:
        table = read_table(bytes_of(file.path), file.path.name)
    except SaglineError:
        return {}
    found = {
        (file.name, raw.header): unread(left[raw.header], raw) for raw in table.columns if raw.header in left
    }
    return {key: one for key, one in found.items() if one is not None}


def settled(job: Job) -> dict[str, dict[str, str]]:
    """What was answered about each log, in this job or for its recorder before."""
    sources = job.review.trace.sources if job.review is not None else ()
    return {
        s.file: {**Answers().for_headers([c.header for c in s.columns]), **(job.answers.get(s.file) or {})}
        for s in sources
    }
