"""One reading for every column at once: the set of readings with the highest score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.physics import Evidence, agreement, alone

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Chosen:
    """The reading of one column, or None; `margin` is how far the next other meaning falls behind. [nats]"""

    candidate: Candidate | None
    margin: float
    runner_up: Candidate | None = None


def _total(readings: Sequence[Candidate | None], scores: dict[Candidate, float], evidence: Evidence) -> float:
    chosen: dict[Key, Candidate] = {}
    total = 0.0
    for reading in readings:
        if reading is None:
            continue
        key = (reading.quantity, reading.position)
        if key in chosen:
            return float("-inf")
        chosen[key] = reading
        total += scores[reading]
    return total + agreement(chosen, evidence)


def assign(options: Sequence[Sequence[Candidate]], evidence: Evidence, *, sweeps: int = 4) -> tuple[Chosen, ...]:
    """Choose a reading for each column.

    Starts from the best of each column by itself, then changes one column at a time as
    long as the total rises. Two columns cannot hold the same quantity at one position.

    Parameters
    ----------
    options : the candidates of each column; a column may have none.
    evidence : the numbers.
    """
    scores = {c: c.words + alone(c, evidence) for column in options for c in column}
    readings: list[Candidate | None] = [None] * len(options)
    taken: set[Key] = set()
    for candidate in sorted(scores, key=lambda c: -scores[c]):
        key = (candidate.quantity, candidate.position)
        if readings[candidate.column] is None and key not in taken and scores[candidate] > 0:
            readings[candidate.column] = candidate
            taken.add(key)
    best = _total(readings, scores, evidence)
    for _ in range(sweeps):
        before = best
        for i, column in enumerate(options):
            for candidate in (*column, None):
                trial = [*readings[:i], candidate, *readings[i + 1 :]]
                total = _total(trial, scores, evidence)
                if total > best + 1e-9:
                    readings, best = trial, total
        if best <= before + 1e-9:
            break
    return tuple(_with_margin(i, options[i], readings, best, scores, evidence) for i in range(len(options)))


def _with_margin(
    i: int, column: Sequence[Candidate], readings: list[Candidate | None], best: float, scores: dict[Candidate, float], evidence: Evidence
) -> Chosen:
    own = readings[i]
    rival, rival_total = None, float("-inf")
    for candidate in column:
        if own is not None and _same(candidate, own):
            continue
        trial = [*readings[:i], candidate, *readings[i + 1 :]]
        total = _total(trial, scores, evidence)
        if total > rival_total:
            rival, rival_total = candidate, total
    return Chosen(own, best - rival_total, rival)


def _same(a: Candidate, b: Candidate) -> bool:
    return (a.quantity, a.position, a.factor, a.offset) == (b.quantity, b.position, b.factor, b.offset)
