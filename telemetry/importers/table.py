"""What the importer steps hand to one another: a table of columns, and notes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from telemetry.trace import Floats, Note, Rejected

Ints = npt.NDArray[np.int64]
Texts = npt.NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class RawColumn:
    """One column of the file, not yet understood.

    Attributes
    ----------
    header : as in the file, trimmed and unquoted.
    unit : from a row of units or from the cells themselves ("12.3 V"), "" if neither.
    group : the words of the header rows above this one.
    numbers : (n,) NaN where there is no number.
    texts : (n,) the cells as written, or None when every cell is a number or blank.
    """

    header: str
    unit: str
    group: str
    numbers: Floats
    texts: Texts | None = None


@dataclass(frozen=True, slots=True)
class Dialect:
    """How the file is written.

    `quoting` is False when a quotation mark is an ordinary letter. `delimiter` " "
    stands for runs of blanks.
    """

    encoding: str
    delimiter: str
    decimal: str
    quoting: bool = True


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of a file as columns of numbers.

    Attributes
    ----------
    file : its name, without its folder.
    columns : in file order.
    lines : (n,) the line each row stands on, counted from 1.
    preamble : the lines above the header.
    header_line : where the names stand, 0 when the file has none.
    rejected, notes : what was left out and why.
    """

    file: str
    columns: tuple[RawColumn, ...]
    lines: Ints
    dialect: Dialect
    preamble: tuple[str, ...] = ()
    header_line: int = 0
    rejected: tuple[Rejected, ...] = ()
    notes: tuple[Note, ...] = field(default=())

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return int(self.lines.size)

    def noted(self, *notes: Note) -> Table:
        """The same table with more notes."""
        return replace(self, notes=self.notes + notes)

    def without(self, drop: npt.NDArray[np.bool_], reason: str, *, column: str, kind: str) -> Table:
        """The table without some rows, each listed as rejected.

        Parameters
        ----------
        drop : (n,) rows to leave out.
        reason, column, kind : as `Rejected` has them.
        """
        if not drop.any():
            return self
        said = tuple(Rejected(line, reason, column, kind) for line in self.lines[drop].tolist())
        kept = self.take(np.flatnonzero(~drop))
        return replace(kept, rejected=tuple(sorted(self.rejected + said, key=lambda r: r.line)))

    def take(self, rows: npt.NDArray[Any]) -> Table:
        """The table with these rows, in this order."""
        columns = tuple(
            replace(c, numbers=c.numbers[rows], texts=None if c.texts is None else c.texts[rows])
            for c in self.columns
        )
        return replace(self, columns=columns, lines=self.lines[rows])
