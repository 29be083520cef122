"""Each cell against the mean cell: what is common cancels, and the cause of a difference shows in its shape.

v_c − v̄ = offset + f′(q)·(shift + q·shortfall) − Σ ΔR·pull, with f the mean cell's open-circuit
curve: a sensor's offset is the same volts throughout, an unbalanced start follows the curve's slope,
a smaller capacity the slope times the charge used, and resistance the pulls.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline

from telemetry.analysis.pack.fit import PARTS, Fit
from telemetry.analysis.pack.readings import Group
from telemetry.analysis.pack.spread import Influence, by_block
from telemetry.trace import Floats

OFFSET, SHIFT, SHORT = 0, 1, 2
"""Columns before the three resistances: sensor offset [V], start shift and shortfall [parts of the charge used in the flight]."""

KERNEL_DOUBT = 0.20
"""How far the shares of R0, R1, R2 of one cell lie from the pack's (one sd): cells of one make age alike."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """One cell against the mean cell.

    coefficients : (6,) offset, shift, shortfall, ΔR0, ΔR1, ΔR2.
    pulled : their influences, in the blocks of the mean cell.
    open_circuit_v : (m,) at the group's times. [V]
    residual : (m,). [V]
    """

    cell: int
    coefficients: Floats
    pulled: Influence
    open_circuit_v: Floats
    residual: Floats


def _beliefs(parts_ohm: Floats) -> Floats:
    """(k, 6) rows in units of their sd: what holds a deviation where the log is silent."""
    ohm = float(parts_ohm.sum())
    rows = np.zeros((6, 6))
    rows[0, OFFSET] = 1 / 0.05
    rows[1, SHIFT] = 1 / 0.10
    rows[2, SHORT] = 1 / 0.20
    # each part's relative deviation lies near that of the sum
    for k in range(PARTS):
        size = max(float(parts_ohm[k]), 0.05 * ohm)
        rows[3 + k, 3:] = -1 / (KERNEL_DOUBT * ohm)
        rows[3 + k, 3 + k] += 1 / (KERNEL_DOUBT * size)
    return rows


@dataclass(frozen=True, slots=True)
class Own:
    """One cell's readings off the mean cell. own_v (m,), weight (m,) with 1 a calm reading, noise_v of one. [V]"""

    own_v: Floats
    weight: Floats
    noise_v: float


def own_of(group: Group, column: int, fit: Fit, which: int) -> Own:
    """A cell less the mean of those read with it; a cell read alone, off the mean cell's fit."""
    mine = fit.rows.group == which
    alone = len(group.cells) == 1
    own = fit.residual[mine] if alone else group.volts[:, column] - group.volts.mean(axis=1)
    noise = max(1.4826 * float(np.median(np.abs(own - np.median(own)))), group.step_v / np.sqrt(12), 2e-4)
    return Own(own, np.minimum(fit.rows.weight[mine], 1.0), noise)


def deviation(own: Own, cell: int, fit: Fit, which: int, block: np.ndarray, at: Floats, charge_mah: Floats, *, rounds: int = 2) -> Deviation:
    """One cell's; `charge_mah` (m,) is at its readings, `at` the knots of the mean curve."""
    mine = fit.rows.group == which
    curve = BSpline(at, fit.coefficients[:-PARTS], 3)
    slope = curve.derivative()
    used = float(at[-1] - at[0])
    noise, weight = own.noise_v, own.weight
    beliefs = _beliefs(fit.parts_ohm)
    found: Floats = np.zeros(6)
    design = np.empty((own.own_v.size, 6))
    design[:, 0] = 1.0
    design[:, 3:] = fit.design[mine, -PARTS:]
    for _ in range(rounds + 1):
        moved = charge_mah + 0.5 * used * (found[SHIFT] + found[SHORT] * charge_mah / used)
        f = slope(np.clip(moved, at[0], at[-1])) * used
        design[:, SHIFT], design[:, SHORT] = f, f * charge_mah / used
        w2 = (weight / noise) ** 2
        gram = design.T @ (design * w2[:, None]) + beliefs.T @ beliefs
        found = np.asarray(np.linalg.solve(gram, design.T @ (w2 * own.own_v)), dtype=np.float64)
        residual = own.own_v - design @ found
        noise = max(1.4826 * float(np.median(np.abs(residual) * np.minimum(own.weight, 1.0))), 2e-4)
        weight = own.weight * np.sqrt(np.minimum(1.0, 2.5 * noise / np.maximum(np.abs(residual) * own.weight, 1e-12)))
    lever = np.linalg.inv(gram)
    blocks = by_block(block[mine], design * (w2 * residual)[:, None], int(block.max()) + 1) @ lever
    open_v = fit.rows.basis[mine] @ fit.coefficients[:-PARTS] + design[:, :3] @ found[:3]
    return Deviation(cell, found, Influence(blocks, lever @ beliefs.T @ beliefs @ lever), open_v, residual)
