"""Which cell needs action, and why."""

from __future__ import annotations

from telemetry.analysis.pack.results import Cell, WeakCell
from telemetry.estimate import Estimate
from telemetry.limits import WEAK_CELL_RATIO


def by_resistance(cell: Cell, *, ratio: float = WEAK_CELL_RATIO.value) -> tuple[float, WeakCell] | None:
    """A cell whose whole ratio interval lies above what healthy packs show, with how far."""
    found = cell.resistance_ratio
    if not isinstance(found, Estimate) or found.low <= ratio:
        return None
    reason = f"its 1 s resistance is {found.value:.2f} times its neighbours' ({found.low:.2f} to {found.high:.2f}), healthy cells stay within {ratio:.2f}"
    return (found.value - 1) / (ratio - 1), WeakCell(cell.cell, "resistance", reason)
