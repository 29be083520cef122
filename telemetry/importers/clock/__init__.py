"""Time columns → seconds: formats, midnight, restarts, gaps."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from telemetry.errors import BadLog
from telemetry.importers.clock.compact import compact_times, days_of
from telemetry.importers.clock.instants import SET_CLOCK_S, Times, read_times, zone_s
from telemetry.importers.clock.leaps import usual_of
from telemetry.importers.clock.order import Ordered, in_order, share_stamps
from telemetry.importers.clock.rate import rate_in, unsaid_unit
from telemetry.importers.clock.witnesses import Witnesses
from telemetry.importers.table import Table
from telemetry.importers.units import Unit
from telemetry.importers.wording import Wording
from telemetry.sentences import say
from telemetry.trace import Decision, Floats, Note, Stretch

__all__ = ["Timed", "find_time", "gaps_of", "unsaid_unit"]


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
    """

    columns: tuple[int, ...]
    seconds: Floats
    unit: str
    score: float
    reason: str
    wraps_s: tuple[float, ...] = ()
    doubtful: bool = False
    zone: str = ""


@dataclass(frozen=True, slots=True)
class Timed:
    """A table with its clock.

    Attributes
    ----------
    table : rows in order of time.
    time_s : (n,) from the first row, never falling. [s]
    first_own_s : what the file's own clock said at the first row; None without a clock. [s]
    columns : the columns the time came from.
    unit, reason : for the report.
    starts : index of the first row of each run of the recorder, 0 among them.
    doubtful : True when the unit is a guess between equals.
    zone : of the stamps, as "+02:00"; "" when nothing says so.
    jumps : where the clock leapt, each undone, or open where nothing tells which way it really went.
    """

    table: Table
    time_s: Floats
    first_own_s: float | None
    columns: tuple[int, ...]
    unit: str
    reason: str
    starts: tuple[int, ...] = (0,)
    doubtful: bool = False
    zone: str = ""
    jumps: tuple[Decision, ...] = ()


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
    if "time" not in wording.kinds and named is None:
        return None
    if wording.aside or (wording.kinds - {"time"} and (named is None or not wording.bare)):
        return None
    if named is None and wording.bare and units:
        return None
    finite = numbers[np.isfinite(numbers)]
    if finite.size < 2 or finite[0] == finite[-1] == np.median(finite):
        return None
    offset_s = 0.0
    words = 3.0 * ("time" in wording.kinds) + 2.0 * (named is not None) + 0.5 * ("total" in wording.subjects)
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
        if guess is None:
            return None
        factor, unit, reason, doubtful, offset_s = (
            guess.factor,
            guess.name,
            guess.reason,
            guess.doubtful,
            guess.offset_s,
        )
    wraps = tuple(factor * 2.0**bits for bits in (16, 24, 31, 32))
    return Stamps((index,), numbers * factor + offset_s, unit, words, reason, wraps, doubtful)


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


def _quality(stamps: Stamps) -> float:
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


def _candidates(table: Table, wordings: tuple[Wording, ...]) -> list[Stamps]:
    found: list[Stamps] = []
    for i, (column, wording) in enumerate(zip(table.columns, wordings, strict=True)):
        if column.texts is not None and not wording.aside:
            times = read_times(list(column.texts))
            if times is not None:
                found.append(_from_texts(i, times, wording))
                continue
        spoken = not wording.aside and (
            "time" in wording.kinds
            or "date" in wording.kinds
            or any(u.dimension == "time" for u in wording.units)
        )
        stamps = (_from_compact(i, column.numbers, wording) if spoken else None) or _from_numbers(
            i, column.numbers, wording, wording.units
        )
        if stamps is not None:
            found.append(stamps)
    dates = [s for s in found if s.unit == "date"]
    clocks = [s for s in found if s.unit in ("hh:mm:ss",) and len(s.columns) == 1]
    if dates and clocks:
        found.append(_joined(dates[0], max(clocks, key=_quality)))
    return [s for s in found if s.unit != "date"]


def _steady(table: Table, wordings: tuple[Wording, ...]) -> list[Stamps]:
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
            )
            found.append(stamps)
    return found


def _zoned(stamps: Stamps, headers: Sequence[str], *, dated_from_s: float = 1e8) -> Stamps:
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


def find_time(table: Table, wordings: tuple[Wording, ...]) -> Timed:
    """The table in order of time.

    Raises
    ------
    BadLog : neither a time, nor a rate, nor a counter of rows.
    """
    best = max(_candidates(table, wordings) or _steady(table, wordings), key=_quality, default=None)
    if best is None or not np.isfinite(_quality(best)):
        return _without_time(table, wordings)
    best = _zoned(best, [table.columns[i].header for i in best.columns])
    silent = ~np.isfinite(best.seconds)
    kept = table.without(silent, say("importers", "clock", "no_time"))
    seconds = best.seconds[~silent]
    ordered = in_order(
        seconds, best.wraps_s, Witnesses(kept, wordings, best.columns, usual_of(seconds).row_s)
    )
    header = table.columns[best.columns[-1]].header
    leaps = tuple(
        Note(
            "clock jump",
            header,
            "doubtful" if leap.is_open else "used",
            leap.reason(int(kept.lines[leap.first])),
        )
        for leap in ordered.leaps
    )
    time_s, shared = share_stamps(ordered.time_s)
    notes = tuple(Note("clock", header, "used", text) for text in (*ordered.said, shared) if text)
    found = Timed(
        (kept.take(ordered.rows) if _moved(ordered.rows) else kept).noted(*notes, *leaps),
        np.round(time_s - time_s[0], 6),
        float(time_s[0]),
        best.columns,
        best.unit,
        "; ".join([best.reason, *(n.reason for n in (*notes, *leaps))]),
        ordered.starts,
        best.doubtful,
        best.zone,
    )
    return replace(found, jumps=_jumps(found.time_s, ordered, leaps)) if leaps else found


def _moved(rows: npt.NDArray[np.int64]) -> bool:
    return bool(np.any(np.diff(rows) < 0))


def _jumps(time_s: Floats, ordered: Ordered, notes: Sequence[Note]) -> tuple[Decision, ...]:
    """Each leap where it stands on the clock that was made, by its note's reason."""
    place = np.argsort(ordered.rows)
    found = []
    for leap, note in zip(ordered.leaps, notes, strict=True):
        start_s, end_s = time_s[
            place[[leap.first - 1, min(max(leap.last, leap.first), time_s.size - 1)]]
        ].tolist()
        found.append(
            Decision("clock_open" if leap.is_open else "clock", "time_s", "", start_s, end_s, note.reason)
        )
    return tuple(found)


def _without_time(table: Table, wordings: tuple[Wording, ...]) -> Timed:
    interval_s = rate_in(table.preamble + tuple(c.header for c in table.columns))
    rows = np.arange(table.rows, dtype=float)
    counters = [
        i
        for i, w in enumerate(wordings)
        if "counter" in w.kinds and np.isfinite(table.columns[i].numbers).mean() > 0.9
    ]
    count = rows
    if counters:
        numbers = table.columns[counters[0]].numbers
        if np.all(np.isfinite(numbers)) and np.all(np.diff(numbers) > 0):
            count = numbers - numbers[0]
    if interval_s is not None:
        note = Note("clock", "", "used", say("importers", "clock", "rate", interval_s=interval_s))
        return Timed(table.noted(note), count * interval_s, 0.0, tuple(counters[:1]), "s", note.reason)
    charges = [i for i, w in enumerate(wordings) if w.kinds & {"charge", "energy"} and not w.aside]
    if not counters and not charges:
        raise BadLog(
            "no column is a time, and none counts rows or charge",
            "Export the log with its time column.",
            file=table.file,
            line=table.header_line or 1,
        )
    counted = table.columns[counters[0]].header if counters else ""
    note = Note("clock", counted, "doubtful", say("importers", "clock", "rows_counted"))
    return Timed(table.noted(note), rows, None, tuple(counters[:1]), "", note.reason)


def gaps_of(time_s: Floats, *, least_s: float = 1.0) -> tuple[Stretch, ...]:
    """Stretches in which nothing was logged: longer than five usual intervals, twice the long ones and
    `least_s`.
    """
    steps = np.diff(time_s)
    if steps.size < 3:
        return ()
    usual = float(np.median(steps))
    long = max(least_s, 5.0 * usual, 2.0 * float(np.percentile(steps, 95)))
    return tuple(Stretch(float(time_s[i]), float(time_s[i + 1])) for i in np.flatnonzero(steps > long))
