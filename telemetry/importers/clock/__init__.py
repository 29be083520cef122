"""Time columns → seconds: formats, midnight, restarts, gaps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from telemetry.answers import Answer, parsed
from telemetry.errors import BadLog
from telemetry.importers.clock.leaps import usual_of
from telemetry.importers.clock.order import Ordered, in_order, share_stamps
from telemetry.importers.clock.rate import rate_in, unsaid_unit
from telemetry.importers.clock.stamps import (
    Stamps,
    as_answered,
    candidates,
    counted,
    falls,
    quality,
    steady,
    zoned,
)
from telemetry.importers.clock.witnesses import Witnesses
from telemetry.importers.table import Table
from telemetry.importers.wording import Wording
from telemetry.sentences import say
from telemetry.trace import Decision, Floats, Note, Stretch

__all__ = ["Timed", "find_time", "gaps_of", "unsaid_unit"]


@dataclass(frozen=True, slots=True)
class Timed:
    """A table with its clock.

    Attributes
    ----------
    table : rows in order of time.
    time_s : (n,) from the first row, never falling. [s]
    first_own_s : what the file's own clock said at the first row; None without a clock, or with one whose
        unit is in doubt: nothing is then integrated. [s]
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


def _is_time(given: Mapping[str, Answer], header: str, *, unsaid: bool = True) -> bool:
    """Whether the user calls a column the time, or `unsaid` where nothing is said of it."""
    return given[header].quantity == "time_s" if header in given else unsaid


def _best(table: Table, wordings: tuple[Wording, ...], given: Mapping[str, Answer]) -> Stamps | None:
    """The column that serves best as the time: the one that the user calls so, else by words and numbers."""
    told = next((i for i, c in enumerate(table.columns) if _is_time(given, c.header, unsaid=False)), None)
    if told is not None:
        return as_answered(table, wordings, told, given[table.columns[told].header].unit)
    options = candidates(table, wordings) or steady(table, wordings)
    left = [s for s in options if all(_is_time(given, table.columns[i].header) for i in s.columns)]
    best = max(left, key=quality, default=None)
    return counted(best, table, wordings) if best is not None and np.isfinite(quality(best)) else None


def _oldest_first(
    table: Table, wordings: tuple[Wording, ...], given: Mapping[str, Answer]
) -> tuple[Table, Stamps | None]:
    """The table with its stamps, turned round where it was saved with the newest row first: its clock falls
    over most of the rows.
    """
    best = _best(table, wordings, given)
    if best is not None and not falls(best):
        return table, best
    turned = table.take(np.arange(table.rows)[::-1])
    rising = _best(turned, wordings, given)
    if rising is None or falls(rising) or not np.isfinite(quality(rising)):
        return table, best
    return turned.noted(Note("rows", "", "used", say("importers", "clock", "newest_first"))), rising


def find_time(table: Table, wordings: tuple[Wording, ...], answers: Mapping[str, str] | None = None) -> Timed:
    """The table in order of time.

    Parameters
    ----------
    table : as read.
    wordings : of its columns.
    answers : what the user settled, header → "quantity@position in unit"; a column that is called something
        else is no time.

    Returns
    -------
    The rows in order, with their clock.

    Raises
    ------
    BadLog : neither a time, nor a rate, nor a counter of rows; or the column that is said to be the time is
        none.
    BadUse : a unit that is none of time.
    """
    given = {h: parsed(a) for h, a in (answers or {}).items()}
    table, best = _oldest_first(table, wordings, given)
    if best is None or not np.isfinite(quality(best)):
        return _without_time(table, wordings)
    best = zoned(best, [table.columns[i].header for i in best.columns])
    silent = ~np.isfinite(best.seconds)
    header = table.columns[best.columns[-1]].header
    kept = table.without(silent, say("importers", "clock", "no_time"), column=header, kind="time")
    seconds = best.seconds[~silent]
    ordered = in_order(
        seconds, best.wraps_s, Witnesses(kept, wordings, best.columns, usual_of(seconds).row_s)
    )
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
        None if best.doubtful else float(time_s[0]),
        best.columns,
        best.unit,
        "; ".join([best.reason, *(n.reason for n in (*notes, *leaps))]),
        ordered.starts,
        best.doubtful,
        best.zone,
    )
    jumps = _jumps(found.time_s, ordered, leaps) if leaps else ()
    if best.doubtful:
        jumps = (Decision("clock_open", "time_s", "", 0.0, float(found.time_s[-1]), best.reason), *jumps)
    return replace(found, jumps=jumps)


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
