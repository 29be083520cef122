"""The joint fit: open-circuit curve over charge, ohmic part, two RC pairs, sensor lag and warming, all at once.

v = B(q)·b − R0·i·g − R1·LP1[i·g] − R2·LP2[i·g], the current taken `lag` earlier. B is a cubic
B-spline of the charge used, LP a first-order low-pass, g the course of the resistance through
the flight (mean 1 over the powered time). Lag, time constants and g are shared by all cells and
found outside; the rest is linear, per cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline
from scipy.optimize import least_squares

from telemetry.analysis.pack.readings import Drive, Group
from telemetry.trace import Floats, Stretch

DELAYS_S = (0.0, 1.0, 10.0)
"""The time scales whose resistance is named: ohmic, 1 s, 10 s."""


@dataclass(frozen=True, slots=True)
class Shared:
    """What all cells share. lag_s; tau_s of the two pairs; warming, the two coefficients of ln g over the heat."""

    lag_s: float
    tau_s: tuple[float, float]
    warming: tuple[float, float]

    @property
    def vector(self) -> Floats:
        """(5,): lag, ln τ1, ln τ2, warming."""
        return np.array([self.lag_s, *np.log(self.tau_s), *self.warming])

    @classmethod
    def of(cls, vector: Floats) -> Shared:
        """From (5,)."""
        tau = np.exp(vector[1:3])
        return cls(float(vector[0]), (float(tau[0]), float(tau[1])), (float(vector[3]), float(vector[4])))

    def kernel(self) -> Floats:
        """(3 delays, 3): resistance after each delay from R0, R1, R2."""
        return np.array([[1.0, *(1 - np.exp(-d / np.array(self.tau_s)))] for d in DELAYS_S])


@dataclass(frozen=True, slots=True)
class Rows:
    """One group ready to fit: the curve's basis (m, spans), weights (m,), voltages (m, cells)."""

    group: Group
    basis: Floats
    weight: Floats
    doubt_a: Floats


@dataclass(frozen=True, slots=True)
class Fit:
    """One group fitted.

    basis_weights : (spans, cells); resistances : (3, cells) R0, R1, R2. [Ω]
    design : (m, spans + 3); residual : (m, cells). [V]
    """

    rows: Rows
    coefficients: Floats
    design: Floats
    residual: Floats

    @property
    def open_circuit_v(self) -> Floats:
        """(m, cells)."""
        return np.asarray(self.rows.basis @ self.coefficients[:-3])

    @property
    def parts_ohm(self) -> Floats:
        """(3, cells): R0, R1, R2."""
        return self.coefficients[-3:]


def spline_basis(charge_mah: Floats, low: float, high: float, spans: int) -> Floats:
    """Cubic B-spline of the charge used, (m, spans + 3)."""
    inner = np.linspace(low, high, spans + 1)
    knots = np.concatenate([[low] * 3, inner, [high] * 3])
    clipped = np.clip(charge_mah, low, high)
    return np.asarray(BSpline.design_matrix(clipped, knots, 3).toarray())


def course(drive: Drive, warming: Sequence[float], powered: Stretch) -> Floats:
    """g on the grid, mean 1 over the powered time. (n,)"""
    x = drive.heat - 0.5
    g = np.exp(warming[0] * x + warming[1] * x**2)
    first = int((powered.start_s - drive.start_s) / drive.step_s)
    last = max(int((powered.end_s - drive.start_s) / drive.step_s), first + 1)
    return np.asarray(g / g[first:last].mean())


def pulls(drive: Drive, shared: Shared, powered: Stretch) -> Floats:
    """i·g and its two low-passes on the grid. (n, 3)"""
    pull = drive.current_a * course(drive, shared.warming, powered)
    return np.column_stack([pull, *(drive.low_pass(pull, tau) for tau in shared.tau_s)])


def prepare(groups: Sequence[Group], drive: Drive, *, spans: int = 9) -> tuple[Rows, ...]:
    """Each group's curve basis and first weights."""
    high = max(float(drive.charge_mah[-1]), 1.0)
    low = min(float(drive.charge_mah.min()), 0.0)
    made = []
    for group in groups:
        charge = drive.at(drive.charge_mah, group.time_s - 0.2)
        made.append(Rows(group, spline_basis(charge, low, high, spans), np.ones(group.time_s.size), drive.at(drive.doubt_a, group.time_s - 0.2)))
    return tuple(made)


PRIOR = (np.array([0.2, 0.0, np.log(30.0), -0.3, 0.0]), np.array([0.5, 0.7, 0.7, 0.6, 0.5]))
"""Centre and sd of lag, ln τ1 (1 s), ln τ2 (30 s) and warming: wide, they only hold what a log does not say."""


def _projected(rows: Sequence[Rows]) -> list[tuple[Rows, Floats, Floats, Floats]]:
    out = []
    for r in rows:
        q, _ = np.linalg.qr(r.basis * r.weight[:, None])
        y = r.group.volts.mean(axis=1) * r.weight
        out.append((r, q, y - q @ (q.T @ y), r.weight))
    return out


SCALE = np.array([0.05, 0.3, 0.3, 0.2, 0.2])
"""A step of the search in each of the five; the search runs on vector / SCALE + 50, so that no step is relative to nought."""


def _misfit(scaled: Floats, parts: list[tuple[Rows, Floats, Floats, Floats]], drive: Drive, powered: Stretch, noise_v: float) -> Floats:
    """Weighted residuals of the mean cell with everything linear solved away, and the priors'."""
    vector = (scaled - 50) * SCALE
    shared = Shared.of(vector)
    grid = pulls(drive, shared, powered)
    gathered = []
    for r, q, y, w in parts:
        x = drive.at(grid, r.group.time_s - shared.lag_s) * w[:, None]
        x -= q @ (q.T @ x)
        gram = x.T @ x
        gram[np.diag_indices(3)] *= 1 + 1e-9
        gathered.append((y - x @ np.linalg.solve(gram, x.T @ y)) / noise_v)
    centre, width = PRIOR
    return np.concatenate([*gathered, (vector - centre) / width])


def search(rows: Sequence[Rows], drive: Drive, powered: Stretch, *, start: Shared | None = None, noise_v: float = 0.01) -> Shared:
    """Lag, time constants and warming by variable projection."""
    parts = _projected(rows)
    centre, _ = PRIOR
    if start is None:
        tries = [np.array([lag, np.log(tau), *centre[2:]]) for lag in np.arange(-0.3, 1.21, 0.1) for tau in (0.4, 1.5)]
        costs = [float(np.sum(_misfit(v / SCALE + 50, parts, drive, powered, noise_v) ** 2)) for v in tries]
        first = tries[int(np.argmin(costs))]
    else:
        first = start.vector
    low = np.array([-0.6, np.log(0.15), np.log(6.0), -3.0, -3.0]) / SCALE + 50
    high = np.array([1.6, np.log(6.0), np.log(200.0), 2.0, 3.0]) / SCALE + 50
    begin = np.clip(first / SCALE + 50, low + 1e-6, high - 1e-6)
    found = least_squares(_misfit, begin, bounds=(low, high), args=(parts, drive, powered, noise_v), max_nfev=12, diff_step=[4e-4] * 5)
    return Shared.of((found.x - 50) * SCALE)


def solve(rows: Sequence[Rows], drive: Drive, powered: Stretch, shared: Shared) -> tuple[Fit, ...]:
    """The linear part, per group and cell."""
    grid = pulls(drive, shared, powered)
    fits = []
    for r in rows:
        design = np.column_stack([r.basis, -drive.at(grid, r.group.time_s - shared.lag_s)])
        w = r.weight[:, None]
        coefficients = np.asarray(np.linalg.lstsq(design * w, r.group.volts * w, rcond=1e-10)[0], dtype=np.float64)
        fits.append(Fit(r, coefficients, design, r.group.volts - design @ coefficients))
    return tuple(fits)


def reweigh(fits: Sequence[Fit], *, huber: float = 2.0) -> tuple[tuple[Rows, ...], float]:
    """Weights from the residuals: less where the current moves fast, Huber against outliers. And the noise's sd. [V]

    The variance of a row is that of the sensor plus what a fast current leaves undecided between
    its samples, both read off the residuals.
    """
    out = []
    noise = []
    for fit in fits:
        r = fit.rows
        size = np.sqrt(np.mean(fit.residual**2, axis=1))
        calm = r.doubt_a <= np.quantile(r.doubt_a, 0.5)
        base = max(1.4826 * float(np.median(np.abs(fit.residual[calm]))), r.group.step_v / np.sqrt(12), 2e-4)
        steep = ~calm & (r.doubt_a > 0)
        slope2 = float(np.sum(np.minimum(size[steep], 6 * base) ** 2 - base**2) / max(float(np.sum(r.doubt_a[steep] ** 2)), 1e-9))
        sd = np.sqrt(base**2 + max(slope2, 0.0) * r.doubt_a**2)
        weight = base / sd
        far = size / sd
        weight = weight * np.sqrt(np.minimum(1.0, huber / np.maximum(far, 1e-9)))
        out.append(Rows(r.group, r.basis, weight, r.doubt_a))
        noise.append(base)
    return tuple(out), float(np.median(noise))
