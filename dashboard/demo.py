"""The invented logbook of the Saltmarsh Mail, in a folder of its own, for those who have no log yet."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from telemetry.logbook import KeptFlight, Logbook, default_folder
from telemetry.samples import SAMPLES, SHEET, sample_folder


@dataclass(frozen=True, slots=True)
class Making:
    """How far the invented logbook is: logs kept of all, and a sentence when it could not be made."""

    kept: int = 0
    of: int = len(SAMPLES)
    message: str = ""


def folder_beside(own: Path | None) -> Path:
    """Where it is made: beside the owner's logbook, never in it."""
    beside = (own or default_folder()).absolute()
    return beside.with_name("demo") if beside.name != "demo" else beside.with_name("demo-invented")


def make(folder: Path, *, progress: Callable[[Making], None] = lambda _: None) -> None:
    """Keep the sample logs there, those that are there already passed over.

    Parameters
    ----------
    progress : hears after each log how many are kept.

    Raises
    ------
    SaglineError : the samples are not installed, or the folder can't be written.
    """
    book, samples = Logbook(folder), sample_folder()
    there = {name for flight in book.flights() for name in flight.files}
    for number, sample in enumerate(SAMPLES, start=1):
        if not there.issuperset(sample.files):
            logs = [samples / name for name in sample.files]
            book.keep(
                logs,
                together=len(logs) > 1,
                sheet=samples / SHEET,
                configuration=sample.configuration,
                pack=sample.pack,
            )
        progress(Making(number))


def is_invented(kept: Iterable[KeptFlight]) -> bool:
    """Whether a logbook holds the sample logs and nothing else."""
    names = {name for flight in kept for name in flight.files}
    return bool(names) and names <= {name for sample in SAMPLES for name in sample.files}
