"""What the rest of a log did while its clock took an odd step: went on, moved far, or began again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from telemetry.importers.table import Table
from telemetry.importers.wording import Wording
from telemetry.trace import Flags, Floats

_CHARGES = frozenset({"charge", "energy"})
_WORKS = frozenset({"current", "power", "rotation"})


@dataclass(frozen=True, slots=True)
class Across:
    """What all columns say of one step between two rows.

    Attributes
    ----------
    smooth : they moved no farther than from row to row elsewhere; None without a column that moves.
    running : a motor worked on both sides.
    counted_s : for how long a counter went on counting at its pace on both sides; None where none can tell.
    counter : its header, "" where none can tell.
    restarted : a counter of charge fell.
    """

    smooth: bool | None
    running: bool
    counted_s: float | None
    counter: str
    restarted: bool


@dataclass(frozen=True)
class _Witness:
    """One column: `values` (n,), silences filled, of which the rows `known` were read.

    `usual` (99 of 100) and `often` (half) are the size of its moves from one reading to the next.
    """

    header: str
    values: Floats
    known: npt.NDArray[np.intp]
    usual: float
    often: float
    counts: bool
    charges: bool
    works: bool

    def moved(self, row: int) -> float:
        """By how much it moved from its last reading before a row to its first from there on."""
        at = int(np.clip(np.searchsorted(self.known, row), 1, self.known.size - 1))
        return float(self.values[self.known[at]] - self.values[self.known[at - 1]])


@dataclass(frozen=True)
class Witnesses:
    """The columns of a table beside those that its time came from; looked at only when the clock is odd."""

    table: Table
    wordings: Sequence[Wording]
    timed: tuple[int, ...]
    step_s: float = 1.0

    @cached_property
    def _all(self) -> tuple[_Witness, ...]:
        pairs = enumerate(zip(self.table.columns, self.wordings, strict=True))
        found = (
            _witness(column.header, column.numbers, wording)
            for i, (column, wording) in pairs
            if i not in self.timed and "counter" not in wording.kinds
        )
        return tuple(one for one in found if one is not None)

    def across(self, row: int, leap_s: float, *, share_apart: float = 0.15, farther: float = 1.5) -> Across:
        """What is to be said of the step before a row.

        Parameters
        ----------
        leap_s : how much more time the stamps claim than one usual step. [s]
        share_apart : so many of the columns may move farther than usual: at any row one of twenty does.
        farther : than 99 of 100 of its moves, to count as moving farther.
        """
        plain = [w for w in self._all if not w.counts]
        apart = sum(abs(w.moved(row)) > farther * w.usual for w in plain)
        counters = [w for w in self._all if w.counts]
        restarted = any(
            w.charges and w.moved(row) < -max(3.0 * w.usual, 0.02 * float(np.ptp(w.values))) for w in counters
        )
        told = [(s, w.header) for w in counters if (s := self._counted_s(w, row, leap_s)) is not None]
        counted_s, counter = min(told, default=(None, ""))
        smooth = apart <= share_apart * len(plain) and not restarted if self._all else None
        return Across(smooth, self._running(row), counted_s, counter, restarted)

    def _running(self, row: int, *, working: float = 0.1, most: int = 20_000) -> bool:
        """Whether a motor works on both sides, at a share of what it is seen to do at most."""
        for one in self._all:
            if one.works:
                size = np.abs(one.values[:: max(1, one.values.size // most)])
                least = working * float(np.percentile(size, 99.0))
                if min(abs(one.values[row - 1]), abs(one.values[row])) > max(least, 0.0):
                    return True
        return False

    def _counted_s(self, one: _Witness, row: int, leap_s: float, *, around: int = 50) -> float | None:
        """How long a counter went on, by its pace over the rows `around`; None where the whole leap would
        hardly show in it.
        """
        before = one.values[max(0, row - around) : row]
        after = one.values[row : row + around]
        if before.size < 5 or after.size < 5:
            return None
        pace = min(float(part[-1] - part[0]) / (part.size - 1) for part in (before, after)) / self.step_s
        if pace <= 0.0 or pace * abs(leap_s) < 5.0 * one.usual:
            return one.moved(row) / pace if pace > 0.0 and one.moved(row) > 3.0 * one.usual else None
        rise = one.moved(row)
        return self.step_s if 0.0 <= rise <= 2.0 * one.usual else rise / pace

    def keeps_pace(self, row: int, *, around: int = 200, within: float = 2.0) -> bool:
        """Whether a counter of charge shows that rows went on at one pace: it rises alike from row to row
        before and after.
        """
        for one in self._all:
            before, after = one.values[max(0, row - around) : row], one.values[row : row + around]
            if one.charges and min(before.size, after.size) > 20:
                rises = [float(part[-1] - part[0]) / (part.size - 1) for part in (before, after)]
                if min(rises) > 0 and 1.0 / within < rises[1] / rises[0] < within:
                    return True
        return False

    def share_alike(self, row: int, leap_s: float) -> float:
        """Share of pairs of rows as far apart as the leap claims that are as near to one another, in all
        columns at once, as the rows on its sides: how easily a silence of that length would look as smooth.
        """
        rows = self.table.rows
        lag = round(abs(leap_s) / self.step_s)
        whole = 2 * lag > rows
        alike: Flags = np.ones(rows if whole else rows - lag, dtype=np.bool_)
        for one in self._all:
            room = max(abs(one.moved(row)), one.often)
            apart = one.values - one.values[row - 1] if whole else one.values[lag:] - one.values[: rows - lag]
            alike &= np.abs(apart) <= room
        if whole:
            alike[max(0, row - 20) : row + 20] = False
        return float(np.mean(alike)) if alike.size else 1.0


def _witness(header: str, numbers: Floats, wording: Wording) -> _Witness | None:
    """A column that moves, silences filled by straight lines; None of one that hardly speaks or stands
    still.
    """
    known = np.flatnonzero(np.isfinite(numbers))
    if known.size < max(10, numbers.size // 20):
        return None
    spoken = numbers[known]
    moves = np.abs(np.diff(spoken))
    moving = moves[moves > 0]
    if moving.size < 3:
        return None
    rows = np.arange(numbers.size)
    values = numbers if known.size == numbers.size else np.interp(rows, known, spoken)
    charges = bool(wording.kinds & _CHARGES)
    rises = not wording.aside and float(np.mean(np.diff(spoken) >= 0)) > 0.9
    counts = rises and (charges or "time" in wording.kinds)
    usual = max(float(np.percentile(moves, 99.0)), float(np.min(moving)))
    works = bool(wording.kinds & _WORKS) and not wording.aside
    often = max(float(np.median(moves)), float(np.min(moving)))
    return _Witness(header, values, known, usual, often, counts, charges and counts, works)
