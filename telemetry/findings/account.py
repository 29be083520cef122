"""What is said of a log's cells and rows: how many were read, and of what was left out the line and text."""

from __future__ import annotations

from telemetry.sentences import say
from telemetry.trace import Column, Rejected, Source


def cells_of_log(source: Source) -> str:
    """How many cells of a log were read, blank, left out and unreadable, and how many rows left out."""
    return say(
        "account",
        "log",
        read=source.cells_read,
        blank=source.cells_blank,
        left_out=source.cells_left_out,
        unreadable=source.cells_unreadable,
        rejected=source.rows_rejected,
    )


def cells_of_column(column: Column) -> str:
    """The same of one column."""
    return say(
        "account",
        "column",
        read=column.cells_read,
        blank=column.cells_blank,
        left_out=column.cells_left_out,
        unreadable=column.cells_unreadable,
    )


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
