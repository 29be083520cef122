"""Columns that no word explains, but whose numbers behave as only one quantity does: asked about, never used
unasked.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from telemetry.importers.columns.behaviour import driven, electrical
from telemetry.importers.columns.behaviour.known import ColumnGuess, KnownLog
from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.evidence import ColumnEvidence

__all__ = ["ColumnGuess", "guesses"]

_TESTS = (
    electrical.cells,
    electrical.whole,
    electrical.mate,
    electrical.pack_current,
    electrical.counter,
    electrical.power,
    driven.command,
    driven.speed,
)


def guesses(
    columns: Collection[int], known: Mapping[tuple[str, str], Candidate], evidence: ColumnEvidence
) -> dict[int, ColumnGuess]:
    """What the columns that words leave unexplained behave like.

    Each test asks for a shape and a size at once: numbers that only rise with the current
    are taken for nothing. Quantities that the log already holds are not asked about.

    Parameters
    ----------
    columns : the unexplained ones, by index.
    known : what the other columns were read as, by quantity and position.
    evidence : the numbers.

    Returns
    -------
    A guess for each column that one of the tests holds for, by its index.
    """
    log = KnownLog.of(known, evidence)
    found: dict[int, ColumnGuess] = {}
    for test in _TESTS:
        found |= test([i for i in columns if i not in found], log)
    return found
