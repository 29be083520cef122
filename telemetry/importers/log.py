"""`read_log`: the steps in order, and nothing else."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from operator import attrgetter
from pathlib import Path

import numpy as np

from telemetry.answers import Answers, check_answers, joined, parsed, without_marks
from telemetry.errors import BadLog
from telemetry.estimate import Estimate
from telemetry.importers.account import CELLS, accounted, first_values, told_missing, with_texts
from telemetry.importers.clock import Timed, find_time, gaps_of
from telemetry.importers.columns import Understood, understand, untapped, wordings
from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.faults import above_start, clean, shared_marks
from telemetry.importers.freshness import freshness
from telemetry.importers.table import RawColumn, Table
from telemetry.importers.text import read_table
from telemetry.importers.text.bounds import bytes_of
from telemetry.importers.wording import Wording
from telemetry.quantities import ELECTRICAL
from telemetry.sentences import say, undecided
from telemetry.trace import Channel, Clock, Column, Floats, Key, Source, Trace

__all__ = ["read_log"]


def read_log(
    path: str | Path, *, answers: Mapping[str, str] | None = None, kept: Answers | None = None
) -> Trace:
    """Read a recorder's CSV log. The file is only read.

    Parameters
    ----------
    path : the file.
    answers : what the user settled: header → "quantity@position", "ignore", or "missing" and the marks that
        stand for no value.
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
        return _read(table, raw, answers, kept)
    except BadLog as error:
        error.columns = tuple((c.header, first_values(c)) for c in table.columns)
        raise


def _read(table: Table, raw: bytes, answers: Mapping[str, str] | None, kept: Answers | None) -> Trace:
    """A table → its trace, step by step."""
    headers = [c.header for c in table.columns]
    check_answers(headers, answers or {})
    settled = joined(kept.for_headers(headers) if kept else {}, answers or {})
    named = {header: said for header, answer in settled.items() if (said := without_marks(answer))}
    table = told_missing(table, {header: parsed(answer).missing for header, answer in settled.items()})
    table, spoken = untapped(table, wordings(table))
    timed = find_time(table, spoken, named)
    understood = understand(timed, spoken, named or None)
    channels, columns = _channels(timed, understood)
    channels |= _events(timed, spoken, columns)
    _refuse_without_electrical(channels, columns, timed.table)
    accounts = accounted(columns, timed, channels)
    source = Source(
        table.file,
        hashlib.sha256(raw).hexdigest(),
        table.rows + len(table.rejected),
        len(timed.table.rejected),
        table.dialect.encoding,
        table.dialect.delimiter,
        table.dialect.decimal,
        _clock(timed),
        accounts,
        with_texts(timed.table.rejected, raw),
        timed.table.notes,
        tuple((h, settled[h]) for h in dict.fromkeys(headers) if h in settled),
        timed.jumps,
        *(sum(map(attrgetter(name), accounts)) for name in CELLS),
    )
    return Trace(
        timed.time_s,
        channels,
        (source,),
        gaps_of(timed.time_s) if timed.first_own_s is not None else (),
        timed.first_own_s is not None,
    )


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
    read = [
        None if one.candidate is None else _in_units(raw.numbers, one.candidate)
        for raw, one in zip(timed.table.columns, understood, strict=True)
    ]
    marks = shared_marks(
        (values, raw.numbers)
        for raw, values in zip(timed.table.columns, read, strict=True)
        if values is not None
    )
    for raw, one, values in zip(timed.table.columns, understood, read, strict=True):
        candidate, column = one.candidate, one.column
        if candidate is not None and values is not None:
            cleaned = clean(values, raw.numbers, candidate.quantity, marks)
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


def _in_units(numbers: Floats, candidate: Candidate) -> Floats:
    """A column's numbers in the unit of the quantity it is taken for."""
    if (candidate.factor, candidate.offset) == (1.0, 0.0):
        return numbers
    return numbers * candidate.factor + candidate.offset


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
