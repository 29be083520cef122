"""An account of every cell: read, blank, left out or unreadable; rows left out, with their text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from telemetry.importers.clock import Timed
from telemetry.importers.table import RawColumn, Table
from telemetry.importers.text.bounds import lines_of
from telemetry.importers.text.encoding import decode
from telemetry.importers.text.numbers import is_missing
from telemetry.sentences import counted, say
from telemetry.trace import Channel, Column, Flags, Key, Note, Rejected, UnreadableCell

CELLS = ("cells_unreadable", "cells_read", "cells_blank", "cells_left_out")
"""What each cell counts as, in the order of a source's last fields."""

LONGEST_SHOWN = 20
"""So many characters of a cell that holds no number are shown."""

LONGEST_ROW = 200
"""So many characters of a row that was left out are kept."""


def told_missing(table: Table, marks: Mapping[str, Sequence[str]]) -> Table:
    """The table without the cells that hold a mark of which the user said that it stands for no value.

    Parameters
    ----------
    marks : by heading; a number stands for every way of writing it.
    """
    columns, notes = list(table.columns), []
    for i, column in enumerate(columns):
        own = marks.get(column.header, ())
        gone = _is_any(column, own) if own else np.zeros(0, dtype=np.bool_)
        if not gone.any():
            continue
        texts = None if column.texts is None else np.where(gone, "", column.texts)
        if texts is not None and all(is_missing(str(t)) for t in texts[np.isnan(column.numbers)]):
            texts = None
        columns[i] = replace(column, numbers=np.where(gone, np.nan, column.numbers), texts=texts)
        shown = say("events", "and").join(own)
        reason = say("importers", "values", "told_missing", count=int(gone.sum()), marks=shown)
        notes.append(Note("missing", column.header, "used", reason))
    return replace(table, columns=tuple(columns)).noted(*notes)


def _is_any(column: RawColumn, marks: Sequence[str]) -> Flags:
    """Which cells hold one of the marks, (n,)."""
    found = np.zeros(column.numbers.size, dtype=np.bool_)
    for mark in marks:
        if column.texts is not None:
            found |= column.texts == mark
        try:
            found |= column.numbers == float(mark.replace(",", "."))
        except ValueError:
            continue
    return found


def accounted(columns: Sequence[Column], timed: Timed, channels: Mapping[Key, Channel]) -> tuple[Column, ...]:
    """The columns with their first values and what became of each cell; cells that hold no number are said.

    Parameters
    ----------
    columns : as they were understood, in file order.
    timed : the table they were read from, in order of time.
    channels : what was taken of them.
    """
    return tuple(
        _accounted(column, raw, timed, channels, is_time=i in timed.columns)
        for i, (column, raw) in enumerate(zip(columns, timed.table.columns, strict=True))
    )


def _accounted(
    column: Column, raw: RawColumn, timed: Timed, channels: Mapping[Key, Channel], *, is_time: bool
) -> Column:
    channel = channels.get((column.quantity or "", column.position)) if column.status == "used" else None
    blank = _blank(raw)
    if is_time:
        read = ~blank
    elif channel is None:
        read = np.zeros(raw.numbers.size, dtype=np.bool_)
    else:
        read = np.isfinite(channel.values)
    unreadable = ~read & ~blank & np.isnan(raw.numbers)
    if column.status != "used" and 2 * np.count_nonzero(unreadable) > np.count_nonzero(~blank):
        # A column of words was never meant to hold numbers.
        unreadable[:] = False
    reasons = [n.reason for n in timed.table.notes if n.step == "missing" and n.header == raw.header]
    rows = np.flatnonzero(unreadable)
    cells = _first_unreadable(raw, rows, timed.table.lines)
    if cells:
        line, text = cells[0].line, cells[0].text[:LONGEST_SHOWN]
        reasons.append(
            counted("importers", "values", "unreadable", count=int(rows.size), line=line, cell=text)
        )
    return replace(
        column,
        first_values=first_values(raw),
        reason="; ".join([column.reason, *reasons]),
        cells_unreadable=int(rows.size),
        cells_read=int(np.count_nonzero(read)),
        cells_blank=int(np.count_nonzero(blank & ~read)),
        cells_left_out=int(np.count_nonzero(~read & ~blank & ~unreadable)),
        unreadable=cells,
    )


def _blank(raw: RawColumn) -> Flags:
    """Which cells say that there is no value, (n,)."""
    silent = np.isnan(raw.numbers)
    if raw.texts is not None:
        rows = np.flatnonzero(silent)
        distinct = {text: is_missing(str(text)) for text in set(raw.texts[rows].tolist())}
        silent[rows] = [distinct[text] for text in raw.texts[rows].tolist()]
    return silent


def _first_unreadable(
    raw: RawColumn, rows: npt.NDArray[np.intp], lines: npt.NDArray[np.int64], *, most: int = 3
) -> tuple[UnreadableCell, ...]:
    if raw.texts is None:
        return ()
    return tuple(UnreadableCell(int(lines[i]), str(raw.texts[i])[:LONGEST_ROW]) for i in rows[:most])


def first_values(column: RawColumn, *, count: int = 3) -> tuple[str, ...]:
    """The first values that a column holds, marks for "no value" left out."""
    if column.texts is not None:
        return tuple(str(t) for t in column.texts[:2000] if not is_missing(str(t)))[:count]
    rows = np.flatnonzero(np.isfinite(column.numbers[:2000]))[:count]
    return tuple(f"{number:.10g}" for number in column.numbers[rows].tolist())


def with_texts(rejected: Sequence[Rejected], raw: bytes) -> tuple[Rejected, ...]:
    """Rows that were left out, with their text as the file has it.

    Parameters
    ----------
    raw : the whole file.
    """
    if not rejected:
        return ()
    wanted = {r.line for r in rejected}
    texts = {
        number: line.strip("\r\n")[:LONGEST_ROW]
        for number, line in enumerate(lines_of(decode(raw).text), start=1)
        if number in wanted
    }
    return tuple(replace(r, text=texts.get(r.line, "")) for r in rejected)
