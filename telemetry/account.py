"""What became of the cells of a log, in words: read, unreadable, left out, blank."""

from __future__ import annotations

from telemetry.sentences import counted, say
from telemetry.trace import Column, Rejected, Source

SORTS = ("read", "unreadable", "left_out", "blank")


def column_account(column: Column) -> str:
    """What became of the cells of one column, as a clause: "4507 read, 40 unreadable".

    Parameters
    ----------
    column : as it was understood.
    """
    return _listed([getattr(column, f"cells_{sort}") for sort in SORTS])


def log_account(source: Source) -> str:
    """What became of the cells of all columns of a log and of the rows left out whole, in a sentence or two.

    Parameters
    ----------
    source : the log.
    """
    sums = [sum(getattr(column, f"cells_{sort}") for column in source.columns) for sort in SORTS]
    rows = counted("account", "rows", count=source.rows_rejected) if source.rows_rejected else ""
    return say("account", "total", cells=_listed(sums)) + rows


def cells_unreadable(column: Column) -> str:
    """How many cells of a column hold no number, with the line and text of the first."""
    first = column.unreadable[0]
    header, count = column.header, column.cells_unreadable
    return say("account", "column_unreadable", header=header, count=count, line=first.line, text=first.text)


def row_left_out(row: Rejected) -> str:
    """A row that was left out: its line, column, kind, reason and text."""
    kind = say("account", "kinds", row.kind) if row.kind else ""
    return say(
        "account",
        "row_at" if row.column else "row",
        line=row.line,
        column=row.column,
        kind=kind,
        reason=row.reason,
        text=row.text,
    )


def _listed(counts: list[int]) -> str:
    """Counts of the sorts of cells, those that there are."""
    parts = [say("account", sort, count=n) for sort, n in zip(SORTS, counts, strict=True) if n]
    return ", ".join(parts) or say("account", "none")
