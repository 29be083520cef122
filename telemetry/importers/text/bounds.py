"""What no recorder writes and no step needs to bear: too many bytes, lines, columns, or letters in a cell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from io import StringIO
from pathlib import Path
from typing import Any

from telemetry.errors import BadLog
from telemetry.limits import LOG_BYTES, LOG_CELL_CHARACTERS, LOG_COLUMNS, LOG_ROWS, Limit
from telemetry.sentences import say

MOST_IN_A_LINE = int(LOG_COLUMNS.value * (LOG_CELL_CHARACTERS.value + 1))
"""Every cell as long as it may be, and a delimiter after each."""


def _beyond(key: str, most: float, file: str, *, line: int | None = None, **values: Any) -> BadLog:
    return BadLog(
        say("importers", "limits", key, most=f"{most:,.0f}", **values),
        say("importers", "limits", f"{key}_remedy"),
        file=file,
        line=line,
    )


def bytes_of(path: Path, *, limit: Limit = LOG_BYTES) -> bytes:
    """What a file holds.

    Raises
    ------
    BadLog : more than `limit`.
    OSError : it cannot be read.
    """
    with path.open("rb") as source:
        raw = source.read(int(limit.value) + 1)
    if len(raw) > limit.value:
        raise _beyond("bytes", limit.value / 2**20, path.name)
    return raw


def refuse_many_lines(raw: bytes, file: str, *, limit: Limit = LOG_ROWS) -> None:
    """Raises BadLog when a file has more lines than `limit`."""
    count = max(raw.count(b"\n"), raw.count(b"\r"))
    if count > limit.value:
        raise _beyond("rows", limit.value, file, count=f"{count:,}")


def lines_of(text: str, *, file: str = "") -> Iterator[str]:
    """The lines of a text with their ends: CR, LF or CRLF.

    Raises
    ------
    BadLog : a line longer than any row, before it is split.
    """
    for number, line in enumerate(StringIO(text, newline=""), start=1):
        if len(line) > MOST_IN_A_LINE:
            raise _beyond("line", MOST_IN_A_LINE, file, line=number, count=f"{len(line):,}")
        yield line


def refuse_wide(width: int, file: str) -> None:
    """Raises BadLog when a row has more fields than any log has columns."""
    if width > LOG_COLUMNS.value:
        raise _beyond("columns", LOG_COLUMNS.value, file, count=f"{width:,}")


def refuse_long_names(names: Sequence[str], line: int, file: str) -> None:
    """Raises BadLog when a heading is longer than any cell."""
    for column, name in enumerate(names, start=1):
        if len(name) > LOG_CELL_CHARACTERS.value:
            most = LOG_CELL_CHARACTERS.value
            raise _beyond("heading", most, file, line=line, column=column, count=f"{len(name):,}")


def long_cell(fields: Sequence[str]) -> str:
    """Why a row is left out of whose cells one is longer than any number or mark; "" where none is."""
    longest = max(map(len, fields))
    most = int(LOG_CELL_CHARACTERS.value)
    return "" if longest <= most else say("importers", "text", "long_cell", count=longest, most=most)
