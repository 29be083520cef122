"""Each cell against the mean cell: what is common cancels, and the cause of a difference shows in its shape.

v_c − v̄ = offset + f′(q)·(shift + q·shortfall) − Σ ΔR·pull, with f the mean cell's open-circuit
curve: a sensor's offset is the same volts throughout, an unbalanced start follows the curve's slope,
a smaller capacity the slope times the charge used, and resistance the pulls.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial import Chebyshev
from scipy.interpolate import BSpline

from telemetry.analysis.pack.fit import PARTS, Fit
from telemetry.analysis.pack.spread import Influence, by_block
from telemetry.analysis.pack.witness import Witness
from telemetry.signals import CellGroup
from telemetry.trace import Floats

OFFSET, SHIFT, SHORT = 0, 1, 2
"""Columns before the three resistances: sensor offset [V], start shift and shortfall [parts of the charge
used in the flight].
"""

CORRELATED = 3.0
"""How many times the noise of one reading a belief is weighed against, since neighbouring readings repeat one
another.
"""

KERNEL_DOUBT = 0.20
"""How far the shares of R0, R1, R2 of one cell lie from the pack's (one sd): cells of one make age alike."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """One cell against the mean cell.

    coefficients : (6,) offset, shift, shortfall, ΔR0, ΔR1, ΔR2.
    pulled : their influences, in the blocks of the mean cell.
    open_circuit_v : (m,) at the group's times. [V]
    residual : (m,). [V]
    cause : of a start apart from the others, "unbalanced", "sensor" or "either"; "" where it is not apart.
    apart_v : how far it stands apart at the start. [V]
    """

    cell: int
    coefficients: Floats
    pulled: Influence
    open_circuit_v: Floats
    residual: Floats
    cause: str = ""
    apart_v: float = 0.0


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a cell may stand apart from the start: sd of a sensor's offset [V] and of a shift [parts of the
    charge used], and what it costs to think so.
    """

    offset_v: float
    shift: float
    odds: float


UNBALANCED = Cause(0.003, 0.08, 0.0)
SENSOR = Cause(0.030, 0.004, 4.0)
"""Cells out of balance are commoner than sensors that read off: four in twice the log likelihood, e² to
one.
"""


def _beliefs(parts_ohm: Floats, cause: Cause) -> Floats:
    """(k, 6) rows in units of their sd: what holds a deviation where the log is silent."""
    ohm = float(parts_ohm.sum())
    rows = np.zeros((6, 6))
    rows[0, OFFSET] = 1 / cause.offset_v
    rows[1, SHIFT] = 1 / cause.shift
    rows[2, SHORT] = 1 / 0.20
    # each part's relative deviation lies near that of the sum
    for k in range(PARTS):
        size = max(float(parts_ohm[k]), 0.05 * ohm)
        rows[3 + k, 3:] = -1 / (KERNEL_DOUBT * ohm)
        rows[3 + k, 3 + k] += 1 / (KERNEL_DOUBT * size)
    return rows


@dataclass(frozen=True, slots=True)
class Own:
    """One cell's readings off the mean cell. own_v (m,), weight (m,) with 1 a calm reading, noise_v of one.
    [V]
    """

    own_v: Floats
    weight: Floats
    noise_v: float


def own_of(group: CellGroup, column: int, fit: Fit, which: int, *, everyone: bool) -> Own:
    """A cell less the mean of all cells, when the group holds `everyone`; else less the mean cell's fit."""
    mine = fit.rows.group == which
    mean_v = group.volts.mean(axis=1)
    own = group.volts[:, column] - mean_v
    if not everyone:
        own = own + fit.residual[mine]
    noise = max(1.4826 * float(np.median(np.abs(own - np.median(own)))), group.step_v / np.sqrt(12), 2e-4)
    return Own(own, np.minimum(fit.rows.weight[mine], 1.0), noise)


Slope = Callable[[Floats], Floats]


def smooth_slope(fit: Fit, at: Floats, *, degree: int = 3, start: float = 0.12, over: float = 0.45) -> Slope:
    """Slope of the mean cell's open-circuit curve over the charge used. [V/mAh]

    The spline's own, which follows bends; but over the share `start` of the charge that of a
    cubic through its first part `over`: there the pairs have not settled, the spline's slope is
    unsure, and a wrong one would pass a shift in charge off as a sensor's offset.
    """
    curve = BSpline(at, fit.coefficients[:-PARTS], 3)
    own = curve.derivative()
    first = at[0] + np.linspace(0.03, over, 40) * (at[-1] - at[0])
    plain = Chebyshev.fit(first, curve(first), degree).deriv()

    def slope(charge_mah: Floats) -> Floats:
        x = (charge_mah - at[0]) / (at[-1] - at[0])
        share = np.clip(x / start - 0.25, 0.0, 1.0)
        return np.asarray(share * own(charge_mah) + (1 - share) * plain(charge_mah))

    return slope


APART_V = 0.005
"""From here on a start apart from the others asks for its cause."""

ALIKE = 4.0
"""Twice the log likelihood by which one cause must fit better than the other."""


@dataclass(frozen=True, slots=True)
class Case:
    """One cell to be held against the mean cell.

    own : its readings; cell : its number.
    fit, which : of the mean cell, and the index of the cell's group in it.
    block : (m,) index of each row's block of time.
    slope : of the mean cell's open-circuit curve, whose knots are `at`.
    charge_mah : (m,) drawn at its readings. [mAh]
    cells : how many there are.
    witness : the pack's own voltage, for the cell that stands apart most; None for the others.
    """

    own: Own
    cell: int
    fit: Fit
    which: int
    block: np.ndarray
    slope: Slope
    at: Floats
    charge_mah: Floats
    cells: int = 1
    witness: Witness | None = None


def deviation(case: Case, *, start: Floats | None = None, quick: bool = False) -> Deviation:
    """One cell's difference from the mean cell.

    A cell that stands apart from the start is fitted as unbalanced and as a sensor's fault; when
    the two fit about alike, the intervals hold both.

    Parameters
    ----------
    start : (6,) coefficients of a round before.
    quick : leaves the second cause out.
    """
    first = _fitted(case, UNBALANCED, start)
    if quick or abs(first.apart_v) < APART_V:
        return first.deviation
    other = _fitted(case, SENSOR, start)
    costs = first.cost, other.cost
    if case.witness is not None:
        more = _seen(case, case.witness, other)
        costs = costs[0] + more[0], costs[1] + more[1]
    unbalanced = costs[0] <= costs[1]
    better, worse = (first, other) if unbalanced else (other, first)
    if abs(costs[0] - costs[1]) > ALIKE:
        return replace(better.deviation, cause="unbalanced" if unbalanced else "sensor")
    pulled = better.deviation.pulled
    apart = 0.5 * (worse.deviation.coefficients - better.deviation.coefficients)
    gap = np.diag(np.where(np.arange(6) < SHORT + 1, apart, 0.0) ** 2)
    held = Influence(pulled.blocks, pulled.held + gap)
    return replace(better.deviation, pulled=held, cause="either")


def _seen(case: Case, witness: Witness, sensor: _Outcome) -> tuple[float, float]:
    """What the pack's own voltage adds to the cost of an unbalanced cell, and to that of a sensor's fault.

    A cell's offset from the mean cell is (n − 1)/n of its own; of two cells either may be the one.
    """
    offset = float(sensor.deviation.coefficients[OFFSET]) * case.cells / (case.cells - 1)
    ways = (offset, -offset) if case.cells == 2 else (offset,)
    return witness.against(0.0), min(witness.against(way) for way in ways)


@dataclass(frozen=True, slots=True)
class _Outcome:
    """A deviation under one cause: its cost, and how far it stands apart at the start. [V]"""

    deviation: Deviation
    cost: float
    apart_v: float


def _fitted(case: Case, cause: Cause, start: Floats | None) -> _Outcome:
    """The deviation under one cause; three rounds, or two from `start`."""
    own, fit, at = case.own, case.fit, case.at
    mine = fit.rows.group == case.which
    used = float(at[-1] - at[0])
    noise, weight = own.noise_v, own.weight
    beliefs = _beliefs(fit.parts_ohm, cause)
    found: Floats = np.zeros(6) if start is None else start
    design = np.empty((own.own_v.size, 6))
    design[:, 0] = 1.0
    design[:, 3:] = fit.design[mine, -PARTS:]
    for _ in range(3 if start is None else 2):
        moved = case.charge_mah + 0.5 * used * (found[SHIFT] + found[SHORT] * case.charge_mah / used)
        f = case.slope(np.clip(moved, at[0], at[-1])) * used
        design[:, SHIFT], design[:, SHORT] = f, f * case.charge_mah / used
        w2 = (weight / (CORRELATED * noise)) ** 2
        gram = design.T @ (design * w2[:, None]) + beliefs.T @ beliefs
        found = np.asarray(np.linalg.solve(gram, design.T @ (w2 * own.own_v)), dtype=np.float64)
        residual = own.own_v - design @ found
        noise = max(1.4826 * float(np.median(np.abs(residual) * np.minimum(own.weight, 1.0))), 2e-4)
        weight = own.weight * np.sqrt(
            np.minimum(1.0, 2.5 * noise / np.maximum(np.abs(residual) * own.weight, 1e-12))
        )
    lever = np.linalg.inv(gram)
    blocks = by_block(case.block[mine], design * (w2 * residual)[:, None], int(case.block.max()) + 1) @ lever
    open_v = fit.rows.basis[mine] @ fit.coefficients[:-PARTS] + design[:, :3] @ found[:3]
    apart_v = float(found[OFFSET] + found[SHIFT] * design[0, SHIFT])
    held = Influence(blocks, lever @ beliefs.T @ beliefs @ lever)
    made = Deviation(case.cell, found, held, open_v, residual, apart_v=apart_v)
    scale = (own.weight / (CORRELATED * max(own.noise_v, 2e-4))) ** 2
    cost = (
        float(
            np.sum(scale * np.minimum(residual**2, (3 * own.noise_v) ** 2)) + np.sum((beliefs @ found) ** 2)
        )
        + cause.odds
    )
    return _Outcome(made, cost, apart_v)
