"""What a log is known to hold, and what a column that no word explains behaves like."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.evidence import ColumnEvidence
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class ColumnGuess:
    """What a column behaves like, in which unit, and what shows it."""

    quantity: str
    position: str
    unit: str
    why: str


@dataclass(frozen=True, slots=True)
class KnownLog:
    """What the other columns were read as.

    columns : by quantity and position.
    evidence : the numbers of every column.
    amps, volts : (rows,), the whole pack's, None where they are not known. [A], [V]
    """

    columns: Mapping[tuple[str, str], Candidate]
    evidence: ColumnEvidence
    amps: Floats | None
    volts: Floats | None

    @classmethod
    def of(cls, columns: Mapping[tuple[str, str], Candidate], evidence: ColumnEvidence) -> KnownLog:
        """With the pack's current and voltage: its own column's, else the sum of the motors' or cells'."""
        amps = _total(columns, evidence, "current_a", "current_a")
        return cls(columns, evidence, amps, _total(columns, evidence, "pack_voltage_v", "cell_voltage_v"))

    def numbers(self, column: int) -> Floats:
        """A column's numbers as they stand, (rows,)."""
        return self.evidence.numbers[column]

    def values(self, quantity: str, position: str = "") -> Floats:
        """A known quantity in its unit, (rows,)."""
        return self.evidence.values(self.columns[quantity, position])

    def positions(self, quantity: str) -> list[str]:
        """Where a quantity is known, "" for the whole aircraft."""
        return [p for q, p in self.columns if q == quantity]

    def motors(self, *quantities: str) -> list[str]:
        """The motors of which any of the quantities is known, the left ones first."""
        found = {p for q in quantities for p in self.positions(q) if p}
        return sorted(found, key=lambda p: (p.startswith("right"), p))


def _total(
    columns: Mapping[tuple[str, str], Candidate], evidence: ColumnEvidence, quantity: str, part: str
) -> Floats | None:
    if (quantity, "") in columns:
        return evidence.values(columns[quantity, ""])
    parts = [evidence.values(c) for (q, _), c in columns.items() if q == part]
    whole = len(parts) > 1 or (quantity, "centre") in columns
    return np.asarray(np.sum(parts, axis=0)) if whole else None


def places(count: int, motors: list[str], *, alone: str) -> list[str]:
    """Positions of so many columns alike: the motors' where there are as many, else their numbers.

    Parameters
    ----------
    alone : the position of a single column.

    Returns
    -------
    As many positions, all "" for more than four columns that are not the motors'.
    """
    if count == 1:
        return [alone]
    if count == len(motors):
        return motors
    return [str(n) if count <= 4 else "" for n in range(1, count + 1)]
