"""One reading for every column at once: the set of readings with the highest score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.importers.columns.alone import alone
from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.evidence import Evidence
from telemetry.importers.columns.physics import TIED, agreement

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Chosen:
    """The reading of one column, or None; `margin` is how far the next other reading falls behind. [nats]"""

    candidate: Candidate | None
    margin: float
    runner_up: Candidate | None = None


@dataclass(frozen=True, slots=True)
class _State:
    """Readings of the first columns, in the order they are looked at; `own` sums their own scores, `total` adds what ties them."""

    readings: tuple[Candidate | None, ...]
    chosen: dict[Key, Candidate]
    own: float
    total: float


def _looked_at(options: Sequence[Sequence[Candidate]]) -> list[int]:
    """Columns in the order of the search: those that physics ties come first, voltages and currents before what follows from them."""
    rank = {q: i for i, q in enumerate(("pack_voltage_v", "cell_voltage_v", "current_a", "charge_mah", "power_w", "energy_wh", "altitude_m"))}
    return sorted((i for i, o in enumerate(options) if o), key=lambda i: min(rank.get(c.quantity, 99) for c in options[i]))


def _grown(state: _State, candidate: Candidate | None, score: float, evidence: Evidence) -> _State | None:
    if candidate is None:
        return _State((*state.readings, None), state.chosen, state.own, state.total)
    key = (candidate.quantity, candidate.position)
    if key in state.chosen:
        return None
    chosen = {**state.chosen, key: candidate}
    own = state.own + score
    tie = agreement(chosen, evidence) if candidate.quantity in TIED else state.total - state.own
    return _State((*state.readings, candidate), chosen, own, own + tie)


def assign(options: Sequence[Sequence[Candidate]], evidence: Evidence, *, width: int = 60, within: float = 14.0) -> tuple[Chosen, ...]:
    """Choose a reading for each column by a beam search.

    Column after column joins; of all sets of readings the `width` best are kept, so that
    two columns whose signs or units only make sense together are settled together. Two
    columns cannot hold the same quantity at one position. What is left of the beam gives
    each column's margin: how far the best set that reads this column otherwise falls behind.

    Parameters
    ----------
    options : the candidates of each column; a column may have none.
    evidence : the numbers.
    width : sets kept; 60 holds every sign and unit of the half dozen columns that hang together.
    within : readings that score so much worse by themselves than the column's best are not tried. [nats]
    """
    order = _looked_at(options)
    beam = [_State((), {}, 0.0, 0.0)]
    for i in order:
        scored = sorted(((c, c.words + alone(c, evidence)) for c in options[i]), key=lambda pair: -pair[1])
        tried = [(c, s) for c, s in scored if s > scored[0][1] - within]
        grown = [g for state in beam for c, s in [*tried, (None, 0.0)] if (g := _grown(state, c, s, evidence)) is not None]
        beam = sorted(grown, key=lambda s: -s.total)[:width]
    found = [Chosen(None, float("inf"))] * len(options)
    for place, i in enumerate(order):
        found[i] = _with_margin(place, beam)
    return tuple(found)


def _with_margin(place: int, beam: Sequence[_State]) -> Chosen:
    own = beam[0].readings[place]
    for state in beam[1:]:
        other = state.readings[place]
        if not _same(own, other):
            return Chosen(own, beam[0].total - state.total, other)
    return Chosen(own, float("inf"))


def _same(a: Candidate | None, b: Candidate | None) -> bool:
    if a is None or b is None:
        return a is b
    return (a.quantity, a.position, a.factor, a.offset) == (b.quantity, b.position, b.factor, b.offset)
