"""One reading for every column at once: the set of readings with the highest score."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from telemetry.importers.columns.alone import alone
from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.evidence import ColumnEvidence
from telemetry.importers.columns.physics import ELECTRICAL, TIED, agreement
from telemetry.quantities import pack_part

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Chosen:
    """The reading of one column.

    Attributes
    ----------
    candidate : the reading, or None.
    support : how far the best set that leaves the column out falls behind. [nats]
    margin : how far the best set that reads it otherwise falls behind. [nats]
    runner_up : that other reading.
    overruled : whether the best set says that some header of the group names a wrong unit.
    """

    candidate: Candidate | None
    support: float
    margin: float
    runner_up: Candidate | None = None
    overruled: bool = False


@dataclass(frozen=True, slots=True)
class _State:
    """Readings of the columns looked at so far; `own` sums their own scores, `total` adds what ties them."""

    readings: tuple[Candidate | None, ...]
    chosen: Mapping[Key, Candidate]
    own: float
    total: float


_RANK = {q: i for i, q in enumerate((*ELECTRICAL, "altitude_m"))}
_ONE_GROUP = (
    frozenset(ELECTRICAL),
    frozenset({"altitude_m", "climb_mps"}),
)


def _groups(options: Sequence[Sequence[Candidate]]) -> list[list[int]]:
    """Columns that can only be settled together: tied by physics, or rivals for a place. The electrical ones
    come first.

    Within a group voltages and currents come before what follows from them.
    """
    label: dict[object, int] = {}
    member = list(range(len(options)))

    def root(i: int) -> int:
        while member[i] != i:
            i = member[i]
        return i

    for i, column in enumerate(options):
        for candidate in column:
            tie = next((g for g in _ONE_GROUP if candidate.quantity in g), None)
            first = label.setdefault(tie or (candidate.quantity, candidate.position), i)
            member[root(i)] = root(first)
    found: dict[int, list[int]] = {}
    for i, column in enumerate(options):
        if column:
            found.setdefault(root(i), []).append(i)

    def rank(i: int) -> int:
        # A motor's share waits until the whole is settled.
        return min(
            _RANK.get(c.quantity, 99)
            + (20 if pack_part(c.position)[1] and c.quantity != "cell_voltage_v" else 0)
            for c in options[i]
        )

    return sorted((sorted(group, key=rank) for group in found.values()), key=lambda g: rank(g[0]))


def _grown(state: _State, candidate: Candidate, score: float, evidence: ColumnEvidence) -> _State | None:
    key = (candidate.quantity, candidate.position)
    if key in state.chosen:
        return None
    chosen = {**state.chosen, key: candidate}
    own = state.own + score
    tie = agreement(chosen, evidence) if candidate.quantity in TIED else state.total - state.own
    return _State((*state.readings, candidate), chosen, own, own + tie)


def _search(
    group: Sequence[int],
    options: Sequence[Sequence[Candidate]],
    start: _State,
    evidence: ColumnEvidence,
    width: int,
    within: float,
) -> list[_State]:
    """The best sets of readings of one group, the best first."""
    beam = [start]
    for i in group:
        scored = sorted(((c, c.words + alone(c, evidence)) for c in options[i]), key=lambda pair: -pair[1])
        tried = [(c, s) for c, s in scored if s > scored[0][1] - within]
        grown = [_State((*state.readings, None), state.chosen, state.own, state.total) for state in beam]
        grown += [g for state in beam for c, s in tried if (g := _grown(state, c, s, evidence)) is not None]
        beam = sorted(grown, key=lambda s: -s.total)[:width]
    return beam


def assign(
    options: Sequence[Sequence[Candidate]], evidence: ColumnEvidence, *, width: int = 40, within: float = 8.0
) -> tuple[Chosen, ...]:
    """Choose a reading for each column by a beam search.

    Within a group of columns that hang together, column after column joins; of all sets of
    readings the `width` best are kept, so that columns whose signs or units only make sense
    together are settled together. Two columns cannot hold the same quantity at one
    position. What is left of the beam gives each column's margin: how far the best set that
    reads this column otherwise falls behind.

    Parameters
    ----------
    options : the candidates of each column; a column may have none.
    evidence : the numbers.
    width : sets kept; 40 hold every sign and unit of the half dozen columns that hang together.
    within : readings that score so much worse by themselves than the column's best are not tried. [nats]
    """
    found = [Chosen(None, 0.0, 0.0)] * len(options)
    best = _State((), {}, 0.0, 0.0)
    for group in _groups(options):
        start = _State((), best.chosen, best.own, best.total)
        beam = _search(group, options, start, evidence, width, within)
        best = beam[0]
        for i, chosen in zip(group, _with_margins(beam), strict=True):
            found[i] = chosen
    return tuple(found)


def _with_margins(beam: Sequence[_State]) -> Iterator[Chosen]:
    overruled = any(r is not None and r.overrules for r in beam[0].readings)
    never = float("inf")
    for place, own in enumerate(beam[0].readings):
        support = next(
            (beam[0].total - state.total for state in beam[1:] if state.readings[place] is None), never
        )
        rival = next(
            (
                state
                for state in beam[1:]
                if state.readings[place] is not None and not _same(own, state.readings[place])
            ),
            None,
        )
        margin, other = (
            (never, None) if rival is None else (beam[0].total - rival.total, rival.readings[place])
        )
        yield Chosen(own, support, margin, other, overruled)


def _same(a: Candidate | None, b: Candidate | None) -> bool:
    if a is None or b is None:
        return a is b
    return (a.quantity, a.position, a.factor, a.offset) == (b.quantity, b.position, b.factor, b.offset)
