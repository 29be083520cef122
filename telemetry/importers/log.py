"""`read_log`: the steps in order, and nothing else."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from telemetry.answers import Answers, check_answers
from telemetry.errors import BadLog
from telemetry.estimate import Estimate
from telemetry.importers.clock import Timed, find_time, gaps_of
from telemetry.importers.columns import Understood, understand, untapped, wordings
from telemetry.importers.faults import above_start, clean
from telemetry.importers.freshness import freshness
from telemetry.importers.table import RawColumn, Table
from telemetry.importers.text import read_table
from telemetry.importers.text.bounds import bytes_of
from telemetry.importers.text.numbers import is_missing
from telemetry.importers.wording import Wording
from telemetry.quantities import ELECTRICAL
from telemetry.sentences import counted, say, undecided
from telemetry.trace import Channel, Clock, Column, Key, Source, Trace

__all__ = ["read_log"]

LONGEST_SHOWN = 20
"""So many characters of a cell that holds no number are shown."""


def read_log(
    path: str | Path, *, answers: Mapping[str, str] | None = None, kept: Answers | None = None
) -> Trace:
    """Read a recorder's CSV log. The file is only read.

    Parameters
    ----------
    path : the file.
    answers : what the user settled: header → "quantity@position", or "ignore".
    kept : answers of earlier logs; those for this log's headers hold where `answers` says nothing.

    Returns
    -------
    The log on its own clock, 0 at its first row; `sources[0]` says how each column was
    understood and why, and what was left out.

    Raises
    ------
    BadLog : no such file, or one that holds nothing to review.
    BadUse : an answer about a column that the log has not, or that names no quantity.
    """
    where = Path(path)
    raw = _bytes(where)
    table = read_table(raw, where.name)
    try:
        return _read(table, hashlib.sha256(raw).hexdigest(), answers, kept)
    except BadLog as error:
        error.columns = tuple((c.header, first_values(c)) for c in table.columns)
        raise


def _read(table: Table, sha256: str, answers: Mapping[str, str] | None, kept: Answers | None) -> Trace:
    """A table → its trace, step by step."""
    table, spoken = untapped(table, wordings(table))
    headers = [c.header for c in table.columns]
    check_answers(headers, answers or {})
    settled = {**(kept.for_headers(headers) if kept else {}), **(answers or {})}
    timed = find_time(table, spoken, settled)
    understood = understand(timed, spoken, settled or None)
    channels, columns = _channels(timed, understood)
    channels |= _events(timed, spoken, columns)
    _refuse_without_electrical(channels, columns, timed.table)
    columns = [_accounted(c, raw, timed.table) for c, raw in zip(columns, timed.table.columns, strict=True)]
    source = Source(
        table.file,
        sha256,
        table.rows + len(table.rejected),
        len(timed.table.rejected),
        table.dialect.encoding,
        table.dialect.delimiter,
        table.dialect.decimal,
        _clock(timed),
        tuple(columns),
        timed.table.rejected,
        timed.table.notes,
        tuple((h, settled[h]) for h in dict.fromkeys(headers) if h in settled),
        timed.jumps,
        sum(c.cells_unreadable for c in columns),
    )
    return Trace(
        timed.time_s,
        channels,
        (source,),
        gaps_of(timed.time_s) if timed.first_own_s is not None else (),
        timed.first_own_s is not None,
    )


def _accounted(column: Column, raw: RawColumn, table: Table) -> Column:
    """A column with its first values, an account of its cells, and what is said of those that hold no number.

    `cells_left_out` comes in as the number of those that are no readings of the column's quantity.
    """
    words = _words(raw)
    rows = _unreadable(raw, words)
    filled = int(np.count_nonzero(np.isfinite(raw.numbers))) + words.size - rows.size
    out = column.cells_left_out if column.status == "used" else filled
    shown = replace(
        column,
        first_values=first_values(raw),
        cells_read=filled - out,
        cells_left_out=out,
        cells_blank=raw.numbers.size - filled - rows.size,
    )
    if not rows.size or raw.texts is None:
        return shown
    line, cell = int(table.lines[rows[0]]), str(raw.texts[rows[0]])[:LONGEST_SHOWN]
    said = counted("importers", "values", "unreadable", count=rows.size, line=line, cell=cell)
    return replace(shown, cells_unreadable=int(rows.size), reason=f"{column.reason}; {said}")


def _words(raw: RawColumn) -> npt.NDArray[np.intp]:
    """The rows whose cells are neither a number nor a mark of no value."""
    silent = np.flatnonzero(~np.isfinite(raw.numbers))
    if raw.texts is None or not silent.size:
        return np.zeros(0, dtype=np.intp)
    spoken = np.array([not is_missing(str(text)) for text in raw.texts[silent]], dtype=np.bool_)
    return silent[spoken]


def _unreadable(raw: RawColumn, words: npt.NDArray[np.intp], *, share: float = 0.5) -> npt.NDArray[np.intp]:
    """Those rows in a column most of whose filled cells are numbers; marks and times are meant as words."""
    return words if words.size <= share * np.count_nonzero(np.isfinite(raw.numbers)) else words[:0]


def first_values(column: RawColumn, *, count: int = 3) -> tuple[str, ...]:
    """The first values that a column holds, marks for "no value" left out."""
    if column.texts is not None:
        return tuple(str(t) for t in column.texts[:2000] if not is_missing(str(t)))[:count]
    rows = np.flatnonzero(np.isfinite(column.numbers[:2000]))[:count]
    return tuple(f"{number:.10g}" for number in column.numbers[rows].tolist())


def _bytes(path: Path) -> bytes:
    try:
        return bytes_of(path)
    except FileNotFoundError:
        raise BadLog("there is no such file", "Check its name and folder.", file=path.name) from None
    except IsADirectoryError:
        raise BadLog("this is a folder", "Name the log in it.", file=path.name) from None
    except OSError as error:
        raise BadLog(
            f"the file cannot be read ({error.strerror})", "Check that you may read it.", file=path.name
        ) from None


def _clock(timed: Timed) -> Clock:
    if timed.first_own_s is None:
        nothing = undecided("log", "no_time_nor_rate")
        return Clock(nothing, nothing)
    exact = say("importers", "clock", "own")
    offset_s = Estimate.around(-timed.first_own_s, 0.0, exact)
    return Clock(offset_s, Estimate.around(0.0, 0.0, exact), timed.zone)


def _channels(timed: Timed, understood: Sequence[Understood]) -> tuple[dict[Key, Channel], list[Column]]:
    channels: dict[Key, Channel] = {}
    columns: list[Column] = []
    for raw, one in zip(timed.table.columns, understood, strict=True):
        candidate, column = one.candidate, one.column
        if candidate is not None:
            values = (
                raw.numbers
                if (candidate.factor, candidate.offset) == (1.0, 0.0)
                else raw.numbers * candidate.factor + candidate.offset
            )
            cleaned = clean(values, raw.numbers, candidate.quantity)
            if candidate.quantity == "altitude_m":
                cleaned = above_start(cleaned)
            if not np.isfinite(cleaned.values).any():
                reason = say("importers", "values", "none_reads", reason=column.reason)
                columns.append(replace(column, status="ignored", reason=reason))
                continue
            seen = freshness(timed.time_s, cleaned.values)
            key = (candidate.quantity, candidate.position)
            channels[key] = Channel(
                *key, cleaned.values, seen.fresh, raw.header, seen.refresh_interval_s, seen.step
            )
            tapped = next(
                (n.reason for n in timed.table.notes if n.step == "taps" and n.header == raw.header), ""
            )
            lost = np.isfinite(raw.numbers) & ~np.isfinite(cleaned.values)
            column = replace(
                column,
                reason="; ".join(filter(None, (tapped, column.reason, cleaned.said))),
                cells_left_out=int(np.count_nonzero(lost)),
            )
        columns.append(column)
    return channels, columns


def _events(timed: Timed, spoken: Sequence[Wording], columns: list[Column]) -> dict[Key, Channel]:
    """The first column of marks, kept as text."""
    for i, (raw, wording) in enumerate(zip(timed.table.columns, spoken, strict=True)):
        if raw.texts is None or "event" not in wording.kinds or i in timed.columns or wording.aside:
            continue
        texts = tuple(str(t) for t in raw.texts)
        said = np.array([bool(t) for t in texts])
        columns[i] = Column(raw.header, "event", "", "", "used", say("importers", "values", "marks"))
        return {
            ("event", ""): Channel(
                "event", "", np.where(said, 1.0, np.nan), _turns(raw, said), raw.header, 0.0, texts=texts
            )
        }
    return {}


def _turns(raw: RawColumn, said: np.ndarray) -> np.ndarray:
    texts = raw.texts
    assert texts is not None
    new = np.concatenate([[True], texts[1:] != texts[:-1]])
    return np.asarray(said & new, dtype=bool)


def _refuse_without_electrical(
    channels: Mapping[Key, Channel], columns: Sequence[Column], table: Table
) -> None:
    if any(quantity in ELECTRICAL for quantity, _ in channels):
        return
    doubtful = [c.header for c in columns if c.status == "doubtful"]
    raise BadLog(
        "no column is a voltage, current, charge or power",
        f"Say what {doubtful[0]} is." if doubtful else "Export the log with its voltages and currents.",
        file=table.file,
        line=table.header_line or 1,
    )
