"""Columns read as time: what each could be, how well it serves, and what the user says of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.errors import BadLog
from telemetry.importers.clock.compact import compact_times, days_of
from telemetry.importers.clock.counted import counted_unit, paced_unit
from telemetry.importers.clock.instants import SET_CLOCK_S, Times, read_times, zone_s
from telemetry.importers.clock.leaps import usual_of
from telemetry.importers.clock.rate import unsaid_unit
from telemetry.importers.table import Table
from telemetry.importers.units import Unit, unit_of
from telemetry.importers.wording import Wording
from telemetry.sentences import say
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Stamps:
    """One column read as time.

    Attributes
    ----------
    columns : which columns it takes, by index.
    seconds : (n,) as the file writes them. [s]
    unit : as it is said in the report.
    score : how well it serves; words, order and fineness.
    reason : why it is read so.
    wraps_s : where it may start again from zero, in seconds.
    doubtful : True when the unit is a guess between equals.
    zone : in which a stamp was written, as "+02:00"; "" when nothing says so.
    guessed : True when no word says the unit of a column of numbers.
    other : the unit that a doubtful one may be as well.
    """

    columns: tuple[int, ...]
    seconds: Floats
    unit: str
    score: float
    reason: str
    wraps_s: tuple[float, ...] = ()
    doubtful: bool = False
    zone: str = ""
    guessed: bool = False
    other: str = ""


_UTC = re.compile(r"(?<![^\W_])(utc|gmt)(?![^\W_])", re.IGNORECASE)
_SORT_UNITS = {"clock": "hh:mm:ss", "minutes": "mm:ss", "moment": "date and time", "date": "date"}
_WRAPS = {"clock": (86_400.0, 43_200.0), "minutes": (3600.0,), "moment": (), "date": ()}


def _from_texts(index: int, times: Times, wording: Wording) -> Stamps:
    words = 3.0 if "time" in wording.kinds or "date" in wording.kinds else 0.0
    written = say("importers", "clock", "written_as", form=_SORT_UNITS[times.sort])
    reasons = (written, times.doubt)
    return Stamps(
        (index,),
        times.seconds,
        _SORT_UNITS[times.sort],
        words + 2.0,
        "; ".join(filter(None, reasons)),
        _WRAPS[times.sort],
        zone=times.zone,
    )


def _from_compact(index: int, numbers: Floats, wording: Wording) -> Stamps | None:
    """A column of numbers that are times or days without marks."""
    if "date" in wording.kinds and (days := days_of(numbers)) is not None:
        return Stamps((index,), days, "date", 3.0, say("importers", "clock", "days_in_numbers"), ())
    found = compact_times(numbers)
    if found is None:
        return None
    words = 3.0 if wording.kinds & {"time", "date"} else 0.0
    reason = say("importers", "clock", "compact", form=found.unit)
    return Stamps(
        (index,),
        found.seconds,
        "date and time" if found.dated else "hh:mm:ss",
        words + 2.5,
        reason,
        () if found.dated else _WRAPS["clock"],
    )


def _from_numbers(index: int, numbers: Floats, wording: Wording, units: tuple[Unit, ...]) -> Stamps | None:
    named = next((u for u in units if u.dimension == "time"), None)
    if not wording.kinds & {"time", "date"} and named is None:
        return None
    if wording.aside or (wording.kinds - {"time", "date"} and (named is None or not wording.bare)):
        return None
    if named is None and wording.bare and units:
        return None
    finite = numbers[np.isfinite(numbers)]
    if finite.size < 2 or finite[0] == finite[-1] == np.median(finite):
        return None
    offset_s, guessed, other = 0.0, False, ""
    words = (
        3.0 * bool(wording.kinds & {"time", "date"})
        + 2.0 * (named is not None)
        + 0.5 * ("total" in wording.subjects)
    )
    if named is not None and named.name.count(":") == 0 and not named.name.startswith("hh"):
        factor, unit, doubtful = named.factor, named.name, False
        reason = say("importers", "clock", "header_says")
        better = unsaid_unit(finite[:50_000], said=named.factor, span=usual_of(finite).span_s)
        if better is not None:
            factor, unit, reason, doubtful = (
                better.factor,
                better.name,
                say("importers", "clock", "header_but", unit=named.name, reason=better.reason),
                better.doubtful,
            )
    else:
        guess = unsaid_unit(finite[:50_000], span=usual_of(finite).span_s)
        if guess is None or ("time" not in wording.kinds and guess.name != "days"):
            return None
        guessed, other = True, guess.other
        factor, unit, reason, doubtful, offset_s = (
            guess.factor,
            guess.name,
            guess.reason,
            guess.doubtful,
            guess.offset_s,
        )
    seconds = numbers * factor + offset_s
    return Stamps(
        (index,), seconds, unit, words, reason, _wraps(factor), doubtful, guessed=guessed, other=other
    )


def _wraps(factor: float) -> tuple[float, ...]:
    """Where counters of that step are full. [s]"""
    return tuple(factor * 2.0**bits for bits in (16, 24, 31, 32))


def _joined(date: Stamps, clock: Stamps) -> Stamps:
    # The date may turn a row before or after the clock does; the clock alone counts the days after the first
    # row whose date was set.
    both = np.flatnonzero(np.isfinite(date.seconds) & np.isfinite(clock.seconds))
    days = date.seconds[both]
    was_set = days[(days >= SET_CLOCK_S[0]) & (days < SET_CLOCK_S[1])]
    first = next(iter([*was_set[:1], *days[:1]]), 0.0)
    return replace(
        clock,
        columns=date.columns + clock.columns,
        seconds=clock.seconds + first - (zone_s(clock.zone) if clock.zone else 0.0),
        unit="date and time",
        score=clock.score + 1.0,
        reason=say("importers", "clock", "apart", reason=date.reason),
        wraps_s=(86_400.0,),
    )


def falls(stamps: Stamps) -> bool:
    """Whether the stamps fall over most rows that differ from the one before."""
    steps = np.diff(stamps.seconds[np.isfinite(stamps.seconds)])
    return 2 * int(np.count_nonzero(steps < 0)) > int(np.count_nonzero(steps))


def quality(stamps: Stamps) -> float:
    seconds = stamps.seconds[np.isfinite(stamps.seconds)]
    if seconds.size < 2:
        return -np.inf
    steps = np.diff(seconds)
    falls = int(np.sum(steps < 0))
    if falls > max(20, 0.05 * steps.size):
        return -np.inf
    distinct = (np.count_nonzero(steps) + 1) / seconds.size
    return float(
        stamps.score + 2.0 * distinct - min(3.0, 0.5 * falls) - 4.0 * (1 - seconds.size / stamps.seconds.size)
    )


def _speaks_of_time(wording: Wording) -> bool:
    """Whether a header, by its words or its unit, may speak of time, and of nothing else."""
    named = any(u.dimension == "time" for u in wording.units)
    others = wording.kinds - {"time", "date"}
    return not wording.aside and bool(named or wording.kinds) and (not others or (named and wording.bare))


def candidates(table: Table, wordings: tuple[Wording, ...]) -> list[Stamps]:
    found: list[Stamps] = []
    for i, (column, wording) in enumerate(zip(table.columns, wordings, strict=True)):
        if column.texts is not None and not wording.aside:
            times = read_times(list(column.texts))
            if times is not None:
                found.append(_from_texts(i, times, wording))
                continue
        if not _speaks_of_time(wording):
            continue
        stamps = _from_compact(i, column.numbers, wording) or _from_numbers(
            i, column.numbers, wording, wording.units
        )
        if stamps is not None:
            found.append(stamps)
    dates = [s for s in found if s.unit == "date"]
    clocks = [s for s in found if s.unit in ("hh:mm:ss",) and len(s.columns) == 1]
    if dates and clocks:
        found.append(_joined(dates[0], max(clocks, key=quality)))
    return [s for s in found if s.unit != "date"]


def steady(table: Table, wordings: tuple[Wording, ...]) -> list[Stamps]:
    """Columns that no word calls a time, but that rise in even steps as nothing else in a log does."""
    found = []
    for i, (column, wording) in enumerate(zip(table.columns, wordings, strict=True)):
        if (wording.kinds and not wording.bare) or wording.aside or wording.units:
            continue
        numbers = column.numbers[np.isfinite(column.numbers)]
        steps = np.diff(numbers)
        if numbers.size < max(10, 0.9 * table.rows) or np.mean(steps > 0) < 0.97:
            continue
        compact = _from_compact(i, column.numbers, wording)
        if compact is not None:
            found.append(compact)
            continue
        step = float(np.median(steps))
        guess = unsaid_unit(numbers)
        if step != 1.0 and guess is not None and np.mean(np.abs(steps - step) < 0.3 * step) > 0.9:
            stamps = Stamps(
                (i,),
                column.numbers * guess.factor,
                guess.name,
                0.0,
                say("importers", "clock", "even_steps", reason=guess.reason),
                (),
                guess.doubtful,
                guessed=True,
                other=guess.other,
            )
            found.append(stamps)
    return found


def zoned(stamps: Stamps, headers: Sequence[str], *, dated_from_s: float = 1e8) -> Stamps:
    """The zone of stamps that hold a date, said; Unix time counts in UTC (POSIX.1, from memory).

    Parameters
    ----------
    headers : over the stamps' columns.
    dated_from_s : seconds that no recorder counts from its start: three years.
    """
    few = stamps.seconds[:: max(1, stamps.seconds.size // 1000)]
    if not np.nanmedian(few) > dated_from_s:
        return stamps
    named = stamps.unit.startswith("Unix") or any(_UTC.search(header) for header in headers)
    zone = stamps.zone or ("+00:00" if named else "")
    said = say("importers", "clock", "zone" if zone else "no_zone", zone=zone)
    return replace(stamps, zone=zone, reason=f"{stamps.reason}; {said}")


def counted(stamps: Stamps, table: Table, wordings: tuple[Wording, ...]) -> Stamps:
    """Stamps of a unit that no word says, in the one that a charge counter or the pack's fall leaves."""
    numbers = table.columns[stamps.columns[0]].numbers
    told, how = (counted_unit(table, wordings, numbers) if stamps.guessed else None), "counted_unit"
    if told is None and stamps.doubtful:
        told, how = paced_unit(table, wordings, numbers, (stamps.unit, stamps.other)), "paced_unit"
    if told is None:
        if not stamps.doubtful:
            return stamps
        doubt = say("importers", "clock", "unit_open", other=stamps.other)
        return replace(stamps, reason=f"{stamps.reason}; {doubt}")
    unit, factor, header = told
    reason = say("importers", "clock", how, unit=unit, header=header)
    return replace(
        stamps, seconds=numbers * factor, unit=unit, reason=reason, wraps_s=_wraps(factor), doubtful=False
    )


def as_answered(table: Table, wordings: tuple[Wording, ...], column: int, said: str) -> Stamps:
    """The column that the user says is the time, in the unit that is said, else in the one it seems to have.

    Raises
    ------
    BadLog : it does not rise as a time does.
    """
    header = table.columns[column].header
    alone = replace(wordings[column], kinds=frozenset({"time"}), aside="", bare=True, units=())
    numbers = table.columns[column].numbers
    if said:
        unit = unit_of(said, "time_s", ("time",))
        reason = say("importers", "columns", "answered")
        return Stamps((column,), numbers * unit.factor, unit.name, 9.0, reason, _wraps(unit.factor))
    texts = table.columns[column].texts
    times = read_times(list(texts)) if texts is not None else None
    found = _from_texts(column, times, alone) if times is not None else None
    found = (
        found
        or _from_compact(column, numbers, alone)
        or _from_numbers(column, numbers, alone, wordings[column].units)
    )
    if found is None:
        raise BadLog(
            say("importers", "clock", "no_time_there", header=header),
            say("importers", "clock", "answer_unit"),
            file=table.file,
            line=table.header_line or 1,
        )
    return replace(found, doubtful=False)
