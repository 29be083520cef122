"""What became of the cells of a log, in words: read, unreadable, left out, blank."""

from __future__ import annotations

from telemetry.sentences import counted, say
from telemetry.trace import Column, Source


def column_account(column: Column) -> str:
    """What became of the cells of one column, as a clause.

    Parameters
    ----------
    column : as it was understood.
    """
    return say(
        "account",
        "column",
        read=column.cells_read,
        unreadable=column.cells_unreadable,
        left_out=column.cells_left_out,
        blank=column.cells_blank,
    )


def log_account(source: Source) -> str:
    """What became of the cells of all columns of a log and of the rows left out whole, in a sentence or two.

    Parameters
    ----------
    source : the log.
    """
    columns = source.columns
    total = say(
        "account",
        "total",
        read=sum(c.cells_read for c in columns),
        unreadable=sum(c.cells_unreadable for c in columns),
        left_out=sum(c.cells_left_out for c in columns),
        blank=sum(c.cells_blank for c in columns),
    )
    rows = counted("account", "rows", count=source.rows_rejected) if source.rows_rejected else ""
    return total + rows
