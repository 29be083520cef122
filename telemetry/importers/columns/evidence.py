"""The numbers that readings are judged by."""

from __future__ import annotations

from collections.abc import Callable, Collection

import numpy as np
import numpy.typing as npt

from telemetry.importers.columns.candidates import Candidate
from telemetry.trace import Floats


class ColumnEvidence:
    """Columns of a table on its clock, thinned; figures once worked out are remembered.

    Parameters
    ----------
    time_s : (n,) [s]
    numbers : a column's (n,) as written, held over silent rows; NaN before its first value.
    has_clock : False when time_s only counts rows.
    """

    def __init__(self, time_s: Floats, numbers: tuple[Floats, ...], *, has_clock: bool) -> None:
        self.time_s = time_s
        self.numbers = numbers
        self.has_clock = has_clock
        self._known: dict[tuple[object, ...], float] = {}
        self._values: dict[int, Floats] = {}

    def values(self, candidate: Candidate) -> Floats:
        """A column in a candidate's unit, (n,) with NaN before its first number."""
        found = self._values.get(id(candidate))
        if found is None:
            found = self._values[id(candidate)] = (
                self.numbers[candidate.column] * candidate.factor + candidate.offset
            )
        return found

    def once(self, name: str, parts: tuple[Candidate, ...], work_out: Callable[[], float]) -> float:
        """A figure of these candidates, worked out the first time only."""
        key = (name, *map(id, parts))
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = work_out()
        return found

    def ties_of(self, own: Candidate, chosen: Collection[Candidate]) -> dict[str, float]:
        """The figures of this candidate with others of the chosen set, by name; of several of a name the
        highest.
        """
        taken = set(map(id, chosen))
        found: dict[str, float] = {}
        for key, score in self._known.items():
            parts = set(key[1:])
            if id(own) in parts and parts <= taken:
                name = str(key[0])
                found[name] = max(score, found.get(name, score))
        return found


def held(numbers: Floats) -> Floats:
    """Silent rows filled with the last value."""
    good = np.isfinite(numbers)
    if good.all() or not good.any():
        return numbers
    last = np.maximum.accumulate(np.where(good, np.arange(numbers.size), -1))
    return np.where(last >= 0, numbers[np.maximum(last, 0)], np.nan)


def thinning(n: int, most: int) -> npt.NDArray[np.int64]:
    """Rows to judge by: all of a short log, evenly spread ones of a long one."""
    return np.unique(np.linspace(0, n - 1, min(n, most)).astype(np.int64))


def alike(a: Floats, b: Floats) -> float:
    """Correlation of two curves where both speak; 0 where one stands still."""
    both = np.isfinite(a) & np.isfinite(b)
    if both.sum() < 20:
        return 0.0
    own, theirs = a[both] - a[both].mean(), b[both] - b[both].mean()
    size = float(np.sqrt(np.sum(own**2)) * np.sqrt(np.sum(theirs**2)))
    still = np.ptp(a[both]) <= 0 or np.ptp(b[both]) <= 0
    return 0.0 if still or size <= 0.0 else float(np.sum(own * theirs)) / size
