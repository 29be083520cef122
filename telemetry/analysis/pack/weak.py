"""Each cell against its neighbours, and which needs action.

Always against the neighbours' median, so that lag, gain and time constants cancel and one
weak cell does not make the others look strong.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.deviations import OFFSET, SHIFT, SHORT, Deviation
from telemetry.analysis.pack.figures import TWO_SIDED, Ohms, mean_ohms, own_ohms
from telemetry.analysis.pack.joint import Joint
from telemetry.analysis.pack.results import NOT_COMPARED, Cell, OddSensor, WeakCell
from telemetry.analysis.pack.spread import Influence
from telemetry.analysis.pack.witness import Witness
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import UNBALANCED_CELL_FRACTION, WEAK_CELL_RATIO
from telemetry.sentences import say, undecided

LONELY = undecided("pack", "no_neighbours")

FLOORS = (0.004, 0.003, 0.003, 0.0025)
"""One sd of ratio, capacity ratio, start shift and sensor offset [V] that no fit goes under: cells of one
make differ in more than two constants.
"""


@dataclass(frozen=True, slots=True)
class Against:
    """One cell against its neighbours' median."""

    resistance_ratio: Estimate | Undecided
    capacity_ratio: Estimate | Undecided
    start_shift_fraction: Estimate | Undecided
    sensor_offset_v: Estimate | Undecided
    apart_by: str = ""
    apart_v: float = 0.0


def _difference(
    values: Sequence[float], pulls: Sequence[Influence], which: int, floor: float, method: str
) -> Estimate:
    """A cell's figure less its neighbours' median; the median's doubt is taken as the mean's."""
    others = [k for k in range(len(values)) if k != which]
    value = values[which] - float(np.median([values[k] for k in others]))
    pulled = pulls[which]
    for k in others:
        pulled = pulled + pulls[k].times(-1 / len(others))
    return Estimate.around(value, TWO_SIDED * float(np.hypot(np.sqrt(pulled.variance()[0]), floor)), method)


def _column(one: Deviation, column: int) -> Influence:
    return Influence(one.pulled.blocks[:, [column]], one.pulled.held[np.ix_([column], [column])])


def against(joint: Joint, *, capacity_mah: float | None) -> dict[int, Against]:
    """Every cell against its neighbours. `capacity_mah` turns a shift in charge into a share; without it, the
    charge drawn stands for it.
    """
    cells = joint.deviations
    if len(cells) < 2:
        return {one.cell: Against(LONELY, LONELY, LONELY, LONELY) for one in cells}
    used = float(joint.at[-1] - joint.at[0])
    share = used / (capacity_mah or 1.25 * used)
    mean = mean_ohms(joint)
    own = [own_ohms(joint, one) for one in cells]
    short = [one.coefficients[SHORT] for one in cells]
    shift = [-share * one.coefficients[SHIFT] for one in cells]
    offset = [one.coefficients[OFFSET] for one in cells]
    out = {}
    for k, one in enumerate(cells):
        more = _difference(short, [_column(c, SHORT) for c in cells], k, FLOORS[1], say("pack", "late_fall"))
        beside = [c.apart_v for c in cells if c is not one]
        out[one.cell] = Against(
            _ratio(mean, own, k),
            _holds(more),
            _difference(
                shift,
                [_column(c, SHIFT).times(-share) for c in cells],
                k,
                FLOORS[2],
                say("pack", "curve_shift"),
            ),
            _difference(offset, [_column(c, OFFSET) for c in cells], k, FLOORS[3], say("pack", "same_volts")),
            one.cause,
            one.apart_v - float(np.median(beside)),
        )
    return out


def _holds(more: Estimate, *, least: float = 0.1) -> Estimate | Undecided:
    """Capacity against the neighbours' from how much `more` of its charge the flight took."""
    if 1 + more.low < least:
        return undecided("pack", "no_capacity_ratio")
    return Estimate(1 / (1 + more.value), 1 / (1 + more.high), 1 / (1 + more.low), more.method)


def _ratio(mean: Ohms, own: Sequence[Ohms], which: int) -> Estimate:
    """1 s resistance of a cell ÷ its neighbours' median."""
    others = [k for k in range(len(own)) if k != which]
    middle = float(mean.ohm[1] + np.median([own[k].ohm[1] for k in others]))
    value = float(mean.ohm[1] + own[which].ohm[1]) / middle
    pulled = own[which].pulled.times(1 / middle)
    for k in others:
        pulled = pulled + own[k].pulled.times(-value / middle / len(others))
    return Estimate.around(
        value,
        TWO_SIDED * float(np.hypot(np.sqrt(pulled.variance()[1]), FLOORS[0])),
        say("pack", "against_neighbours"),
    )


def by_resistance(cell: Cell, *, ratio: float = WEAK_CELL_RATIO.value) -> tuple[float, WeakCell] | None:
    """A cell whose whole ratio interval lies above what healthy packs show, with how far."""
    found = cell.resistance_ratio
    if not isinstance(found, Estimate) or found.low <= ratio:
        return None
    reason = say("pack", "weak_resistance", value=found.value, low=found.low, high=found.high, ratio=ratio)
    return (found.value - 1) / (ratio - 1), WeakCell(cell.cell, "resistance", reason)


def short_of(
    others: Sequence[Estimate],
    *,
    least: float = 0.026,
    few: float = 0.045,
    most: float = 0.05,
    base: float = 0.008,
    times: float = 1.8,
) -> float:
    """How much less than its neighbours' median a cell must hold to stand out from them.

    It grows with how far the neighbours lie from one another: `base` and `times` their largest
    distance from their middle, between `least` and `most`; two neighbours are too `few` to show
    it. Set so that packs whose cells lie within 1 % are never, within 3 % hardly ever blamed.
    """
    values = np.array([e.value for e in others])
    spread = float(np.max(np.abs(values - np.median(values))))
    return float(np.clip(base + times * spread, least if values.size > 2 else few, most))


def by_capacity(cell: Cell, others: Sequence[Cell]) -> tuple[float, WeakCell] | None:
    """A cell that falls away late, by more than its neighbours differ among themselves."""
    found = cell.capacity_ratio
    beside = [c.capacity_ratio for c in others if isinstance(c.capacity_ratio, Estimate)]
    if not isinstance(found, Estimate) or not beside:
        return None
    short_fraction = short_of(beside)
    if found.high >= 1 - short_fraction:
        return None
    less, low, high = (100 * (1 - ratio) for ratio in (found.value, found.high, found.low))
    reason = say("pack", "weak_capacity", less=less, low=low, high=high)
    return (1 - found.value) / short_fraction, WeakCell(cell.cell, "capacity", reason)


def by_start(
    cell: Cell, *, least: float = UNBALANCED_CELL_FRACTION.value, shift_fraction: float = 0.015
) -> tuple[float, WeakCell] | None:
    """A cell that was fuller or emptier than its neighbours from the start.

    Parameters
    ----------
    least : the shift that counts, reached within the estimate's own standard error.
    shift_fraction : the whole interval must lie beyond; about 15 mV in a full cell, more than a balancing
        charger leaves.
    """
    found = cell.start_shift_fraction
    if cell.apart_by in ("sensor", "either") or not isinstance(found, Estimate):
        return None
    if not (found.low > shift_fraction or found.high < -shift_fraction):
        return None
    if abs(found.value) + (found.high - found.low) / 4 < least:
        return None
    word = "fuller" if found.value > 0 else "emptier"
    low, high = sorted((100 * abs(found.low), 100 * abs(found.high)))
    reason = say("pack", f"weak_{word}", shift=100 * abs(found.value), low=low, high=high)
    return abs(found.value) / shift_fraction, WeakCell(cell.cell, "unbalanced", reason)


def weak_cells(cells: Sequence[Cell]) -> tuple[WeakCell, ...]:
    """Every cell that needs action, the worst first; each once, for its worst reason."""
    worst: dict[int, tuple[float, WeakCell]] = {}
    for cell in cells:
        others = [c for c in cells if c is not cell]
        start, short = by_start(cell), by_capacity(cell, others)
        if _mirrored(cell.start_shift_fraction, [c.start_shift_fraction for c in others]):
            start = None
        two_apart = len(others) == 1 and (start is not None or by_start(others[0]) is not None)
        if two_apart or _mirrored(cell.capacity_ratio, [c.capacity_ratio for c in others], middle=1.0):
            short = None
        for found in (by_resistance(cell), short, start):
            if found is not None and (cell.cell not in worst or found[0] > worst[cell.cell][0]):
                worst[cell.cell] = found
    return tuple(weak for _, weak in sorted(worst.values(), key=lambda w: -w[0]))


def _mirrored(
    found: Estimate | Undecided,
    others: Sequence[Estimate | Undecided],
    *,
    larger: float = 1.5,
    middle: float = 0.0,
) -> bool:
    """Whether a neighbour lies clearly further out from the middle on the other side: with few cells it drags
    the median along. Of two cells, equally far, the fuller one is the neighbour.
    """
    if not isinstance(found, Estimate):
        return False
    own = found.value - middle
    away = [o.value - middle for o in others if isinstance(o, Estimate)]
    if len(others) == 1 and away:
        return own > 0
    return any(o * own < 0 and abs(o) > larger * abs(own) for o in away)


def odd_sensors(
    cells: Sequence[Cell],
    *,
    stopped: Mapping[int, str] | None = None,
    witness: Witness | None = None,
    offset_v: float = 0.010,
) -> tuple[OddSensor, ...]:
    """Cells whose sensor stopped, or reads the same volts off throughout, the whole interval beyond
    `offset_v` (twice what such sensors promise).

    Parameters
    ----------
    stopped : cells whose sensor stopped, with the reason.
    witness : the pack's own voltage; of two cells it says which is read off. Without it neither is named.
    """
    out = [OddSensor(cell, NOT_COMPARED, reason) for cell, reason in sorted((stopped or {}).items())]
    for cell in cells:
        found = cell.sensor_offset_v
        others = [c.sensor_offset_v for c in cells if c is not cell]
        if cell.apart_by != "sensor" or not isinstance(found, Estimate):
            continue
        if len(others) == 1:
            if witness is None or witness.apart_v * found.value > 0:
                continue
        elif _mirrored(found, others):
            continue
        if found.low > offset_v or found.high < -offset_v:
            word = "high" if found.value > 0 else "low"
            reason = say("pack", f"sensor_{word}", offset_mv=1000 * abs(found.value))
            out.append(OddSensor(cell.cell, found, reason))
    return tuple(out)


def untold(cells: Sequence[Cell], odd: Sequence[OddSensor], *, apart_v: float = 0.03) -> Undecided | None:
    """Why no verdict can be given where a cell stands `apart_v` apart (four points of a full cell's charge)
    and neither its charge nor its sensor can be told to be the reason; else None.
    """
    named = {one.cell for one in odd}
    doubtful = [
        c
        for c in cells
        if abs(c.apart_v) > apart_v
        and (c.apart_by == "either" or (c.apart_by == "sensor" and len(cells) == 2 and not named))
    ]
    if not doubtful:
        return None
    worst = max(doubtful, key=lambda c: abs(c.apart_v))
    key = "untold_of_two" if len(cells) == 2 else "untold"
    return undecided("pack", key, cell=worst.cell, apart_mv=1000 * abs(worst.apart_v))
