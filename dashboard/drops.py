"""Logs just dropped and the jobs that read them, each in a thread of its own."""

from __future__ import annotations

import itertools
import shutil
import tempfile
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from dashboard.texts import say
from telemetry.answers import Answers
from telemetry.debrief import Review
from telemetry.errors import SaglineError
from telemetry.importers.log import read_log
from telemetry.importers.text import read_table
from telemetry.sheet import Sheet
from telemetry.trace import Source, Trace

MOST_JOBS = 40
"""A season's weekend of logs; two full drops at once."""
MOST_BYTES = 1 << 30
"""Held in memory by logs that were dropped and not kept. [bytes]"""

ReviewOf = Callable[[Sequence[Trace]], tuple[Review, Sheet | None]]


@dataclass(frozen=True, slots=True)
class DroppedFile:
    """One file of a job: what it is called, where its copy lies, how far it is."""

    name: str
    path: Path
    state: str = "waiting"
    message: str = ""


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
    message: str = ""
    answers: dict[str, dict[str, str]] = field(default_factory=dict)
    traces: tuple[Trace, ...] = ()
    curves: dict[tuple[str, str], tuple[float, ...]] = field(default_factory=dict)
    review: Review | None = None
    sheet: Sheet | None = None
    kept_as: int | None = None
    seen: bool = False


class Drops:
    """The jobs of one run. Safe to use from several threads.

    Parameters
    ----------
    review_of : reviews what a job has read, and says with which sheet; raises SaglineError.
    most_jobs, most_bytes : held at once; beyond them the oldest that were not dropped last are let go.
    """

    def __init__(
        self, review_of: ReviewOf, *, most_jobs: int = MOST_JOBS, most_bytes: int = MOST_BYTES
    ) -> None:
        self._review_of = review_of
        self._most = (most_jobs, most_bytes)
        self._let_go: list[str] = []
        self._lock = threading.Lock()
        self._jobs: dict[str, Job] = {}
        self._numbers = itertools.count(1)
        self._folder = Path(tempfile.mkdtemp(prefix="sagline-"))
        self._latest: tuple[str, ...] = ()

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
    ) -> tuple[Job, ...]:
        """Start reading: one job a group of logs, and a failed one for what was refused before.

        Parameters
        ----------
        together : the logs of a group are one flight's.
        """
        jobs = [Job(self._name(), tuple(group), together) for group in groups]
        if refused:
            jobs.append(Job(self._name(), tuple(refused), state="failed"))
        self._latest = tuple(job.id for job in jobs)
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

    def answer(self, ident: str, file: str, answers: dict[str, str], *, remember: bool = False) -> None:
        """Settle doubtful columns of one file of a job, and read it again; `remember` keeps the answers for
        logs with the same header. Where they cannot be kept the job's message says so.
        """
        job = self._jobs.get(ident)
        if job is None:
            return
        source = next((s for t in job.traces for s in t.sources if s.file == file), None)
        message = _remembered(source, answers) if remember and source is not None else ""
        merged = job.answers | {file: job.answers.get(file, {}) | answers}
        again = replace(
            job,
            answers=merged,
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
                job = self._with_file(job, i, "failed", str(error))
                continue
            traces.append(trace)
            source = trace.sources[0]
            job = replace(job, curves=job.curves | curves_in_doubt(file, trace))
            counts = f"{source.rows_read - source.rows_rejected} {source.rows_rejected}"
            job = self._with_file(job, i, "read", counts)
        job = replace(job, state="reviewing" if traces else "failed", traces=tuple(traces))
        self.put(job)
        return job

    def _review(self, job: Job) -> None:
        try:
            found, sheet = self._review_of(job.traces)
        except SaglineError as error:
            self.put(replace(job, state="failed", message=str(error)))
            return
        self.put(replace(job, state="done", review=found, sheet=sheet))

    def _with_file(self, job: Job, index: int, state: str, message: str) -> Job:
        files = list(job.files)
        files[index] = replace(files[index], state=state, message=message)
        job = replace(job, files=tuple(files))
        self.put(job)
        return job


def _remembered(source: Source, answers: dict[str, str]) -> str:
    """Keep answers for logs with the same header; "" or the sentence why that cannot be."""
    try:
        Answers().save([c.header for c in source.columns], answers)
    except SaglineError as error:
        return str(error)
    return ""


def bytes_held(job: Job) -> int:
    """What the traces of a job take in memory; its review's few arrays are as long. [bytes]"""
    channels = (c for trace in job.traces for c in trace.channels.values())
    rows = sum(trace.time_s.nbytes for trace in job.traces)
    return 2 * (rows + sum(c.values.nbytes + c.fresh.nbytes for c in channels))


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


def settled(job: Job) -> dict[str, dict[str, str]]:
    """What was answered about each log, in this job or for its recorder before."""
    sources = job.review.trace.sources if job.review is not None else ()
    return {
        s.file: {**Answers().for_headers([c.header for c in s.columns]), **(job.answers.get(s.file) or {})}
        for s in sources
    }
