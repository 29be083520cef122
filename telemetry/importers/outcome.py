"""What a reading of a log comes to, in the few numbers that show whether a column is named rightly."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from telemetry.answers import Answers
from telemetry.derived import pack_current
from telemetry.importers.columns.answered import answered
from telemetry.importers.faults import above_start, clean
from telemetry.importers.log import read_log
from telemetry.importers.table import RawColumn
from telemetry.importers.wording import Wording
from telemetry.physics.charge import charge_mah
from telemetry.quantities import QUANTITIES
from telemetry.sentences import MINUS, clock, column_words, say
from telemetry.trace import Floats, Trace

NOTHING_SAID = Wording(frozenset(), frozenset(), frozenset(), "", None)


@dataclass(frozen=True, slots=True)
class Numbers:
    """A column's numbers: the first, the lowest, their mean and the highest. [the quantity's unit]"""

    first: float
    lowest: float
    mean: float
    highest: float


@dataclass(frozen=True, slots=True)
class ReadAs:
    """What one column is read as, and its numbers; where it is left out `quantity` is "", `numbers` None and
    `reason` says why.
    """

    quantity: str
    position: str
    unit: str
    numbers: Numbers | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A log as it was read.

    Attributes
    ----------
    columns : by heading; of columns that share one, the last.
    duration_s : from its first row to its last, None without a clock. [s]
    consumed_mah : the integral of the pack's current over it, None without one. [mAh]
    """

    columns: Mapping[str, ReadAs]
    duration_s: float | None
    consumed_mah: float | None


def numbers_of(values: Floats) -> Numbers | None:
    """First, lowest, mean and highest of the finite ones of (n,) values; None where there is none."""
    own = values[np.isfinite(values)]
    if not own.size:
        return None
    return Numbers(float(own[0]), float(own.min()), float(own.mean()), float(own.max()))


def numbers_as(column: RawColumn, answer: str) -> Numbers | None:
    """A column's numbers as an answer with a unit reads them; None where it leaves nothing to read.

    Raises
    ------
    BadUse : the unit is none of the quantity's.
    """
    found = answered(answer, 0, NOTHING_SAID)
    if not found:
        return None
    values = column.numbers * found[0].factor + found[0].offset
    cleaned = clean(values, column.numbers, found[0].quantity)
    return numbers_of((above_start(cleaned) if found[0].quantity == "altitude_m" else cleaned).values)


def outcome(trace: Trace) -> Outcome:
    """What one log came to.

    Parameters
    ----------
    trace : of one file.
    """
    by_key = {
        (c.quantity, c.position): c
        for s in trace.sources
        for c in s.columns
        if c.status == "used" and c.quantity
    }
    read = {
        c.header: ReadAs(c.quantity or "", c.position, c.unit, numbers_of(values))
        for key, c in by_key.items()
        if (values := _values(trace, key)) is not None
    }
    left = {
        c.header: ReadAs("", "", c.unit, None, c.reason)
        for s in trace.sources
        for c in s.columns
        if c.header not in read
    }
    current = pack_current(trace)
    drawn = None
    if trace.has_clock and current is not None and current.samples.time_s.size > 1:
        gaps = np.array([[g.start_s, g.end_s] for g in trace.gaps]).reshape(-1, 2)
        drawn = charge_mah(current.samples.time_s, current.samples.values, gaps_s=gaps)
    return Outcome({**left, **read}, trace.duration_s if trace.has_clock else None, drawn)


def _values(trace: Trace, key: tuple[str | None, str]) -> Floats | None:
    if key[0] == "time_s":
        return trace.time_s if trace.has_clock else None
    channel = trace.channels.get((key[0] or "", key[1]))
    return None if channel is None or channel.texts else channel.values


_SHOWN = {
    "Cel": (" °C", 1.0),
    "1": (" %", 100.0),
    "/min": (" rpm", 1.0),
    "m/s2": (" m/s²", 1.0),
    "deg": ("°", 1.0),
    "N.m": (" N·m", 1.0),
}
"""How a unit is shown that is written otherwise, and by what its numbers are multiplied for it."""


def numbers_words(quantity: str, numbers: Numbers) -> str:
    """A column's numbers as a clause with their unit: "first 21, lowest 21, mean 40.3, highest 52 °C".

    Parameters
    ----------
    quantity : what the column is.
    numbers : in its unit.
    """
    unit, times = _SHOWN.get(QUANTITIES[quantity].unit, (f" {QUANTITIES[quantity].unit}", 1.0))
    return say(
        "effect",
        "numbers",
        first=_written(numbers.first * times),
        lowest=_written(numbers.lowest * times),
        mean=_written(numbers.mean * times),
        highest=_written(numbers.highest * times),
        unit=unit,
    )


def _written(value: float) -> str:
    return (f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}").replace("-", MINUS)


def column_effect(before: ReadAs | None, after: ReadAs | None) -> str:
    """What an answer does to a column, in a sentence with its numbers before and after."""
    old, new = _read_words(before), _read_words(after)
    return say("effect", "same", before=old) if old == new else say("effect", "column", before=old, after=new)


def _read_words(read: ReadAs | None) -> str:
    if read is None or not read.quantity:
        why = read.reason if read is not None else ""
        return say("effect", "left_out", reason=why) if why else say("answers", "left_out")
    name = column_words(read.quantity, read.position)
    if read.numbers is None:
        return name
    return say("effect", "read", name=name, numbers=numbers_words(read.quantity, read.numbers))


def log_effect(before: Outcome | None, after: Outcome, asked: Collection[str]) -> tuple[str, ...]:
    """What answers do to the log: its duration and charge before and after, and each column that changes
    though it was not asked about.

    Parameters
    ----------
    before : None where the log was refused.
    asked : headings of the columns that the answers speak of.
    """
    new = _log_words(after)
    if before is None:
        return (say("effect", "log_refused", after=new),)
    old = _log_words(before)
    total = (
        say("effect", "log_same", before=old) if old == new else say("effect", "log", before=old, after=new)
    )
    moved = [
        say("effect", "also", header=header, change=column_effect(before.columns.get(header), read))
        for header, read in after.columns.items()
        if header not in asked and _place(before.columns.get(header)) != _place(read)
    ]
    return (total, *moved)


def _place(read: ReadAs | None) -> tuple[str, str, str]:
    return ("", "", "") if read is None or not read.quantity else (read.quantity, read.position, read.unit)


def _log_words(found: Outcome) -> str:
    duration = say("effect", "no_clock")
    if found.duration_s is not None:
        short = found.duration_s < 60.0
        key = "seconds" if short else "minutes"
        duration = say("effect", key, s=found.duration_s, text=clock(found.duration_s))
    drawn = say("effect", "no_charge")
    if found.consumed_mah is not None:
        drawn = say("effect", "charge", text=_written(found.consumed_mah))
    return say("effect", "of_log", duration=duration, charge=drawn)


def outcome_of(path: Path, answers: Mapping[str, str], kept: Answers | None = None) -> Outcome:
    """What a log would come to with these answers. Raises as `read_log`."""
    return outcome(read_log(path, answers=answers or None, kept=kept))
