"""What became of the cells of a log, in words: read, unreadable, left out, blank."""

from __future__ import annotations

from telemetry.sentences import counted, say
from telemetry.trace import Column, Source

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


def _listed(counts: list[int]) -> str:
    """Counts of the sorts of cells, those that there are."""
    parts = [say("account", sort, count=n) for sort, n in zip(SORTS, counts, strict=True) if n]
    return ", ".join(parts) or say("account", "none")
