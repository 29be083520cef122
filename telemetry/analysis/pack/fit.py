"""The mean cell's joint fit: open-circuit curve over charge, ohmic part, two RC pairs, sensor lag and warming
at once.

v = B(q)·b − R0·i·g − R1·LP1[i·g] − R2·LP2[i·g], the current taken `lag` earlier. B is a cubic
B-spline of the charge used, LP a first-order low-pass, g the course of the resistance through
the flight (mean 1 over the powered time). Lag, smoothing, time constants and g are searched;
the rest is linear and solved away at each step of the search (variable projection: Golub &
Pereyra 1973).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import BSpline
from scipy.optimize import least_squares

from telemetry.analysis.pack.grid import LoadGrid
from telemetry.signals import CellGroup
from telemetry.trace import Flags, Floats

DELAYS_S = (0.0, 1.0, 10.0)
"""The time scales whose resistance is named: ohmic, 1 s, 10 s."""

PARTS = 3
"""R0, R1, R2: the last columns of every design."""

SCALE = np.array([0.05, 0.05, 0.3, 0.3, 0.2, 0.2, 0.1])
"""A step of the search in each; it runs on vector / SCALE + 50, so that no step is relative to nought."""

SPANS, PLATEAU_SPANS = 9, 20
"""Of the open-circuit curve over the charge used: few, so that late falls and slow sag are told from it; more
for a cell with a plateau, whose knees few do not follow (its 10 s resistance then came out up to 8 % low).
"""

LOW = np.array([-0.6, -0.4, np.log(0.3), np.log(6.0), -3.0, -3.0, -0.3])
HIGH = np.array([1.6, 0.6, np.log(6.0), np.log(250.0), 2.0, 3.0, 1.2])


@dataclass(frozen=True, slots=True)
class Shared:
    """What all cells share.

    lag_s : the voltage sensor behind the current's. [s]
    smoothing_s : time constant by which the voltage is smoothed more than the current; below 0 it is the
        current. [s]
    tau_s : of the two pairs. [s]
    warming : two coefficients of ln g over the heat.
    bend : share of the ohmic part that is charge transfer, whose drop grows as the inverse hyperbolic sine of
        the current (Butler–Volmer with equal coefficients, from memory).
    """

    lag_s: float
    smoothing_s: float
    tau_s: tuple[float, float]
    warming: tuple[float, float]
    bend: float

    @property
    def vector(self) -> Floats:
        """(7,): lag, smoothing, ln τ1, ln τ2, warming, bend."""
        return np.array([self.lag_s, self.smoothing_s, *np.log(self.tau_s), *self.warming, self.bend])

    @classmethod
    def of(cls, vector: Floats) -> Shared:
        """From (7,)."""
        lag, smooth, one, two, first, second, bend = (float(x) for x in vector)
        return cls(lag, smooth, (float(np.exp(one)), float(np.exp(two))), (first, second), bend)

    def kernel(self) -> Floats:
        """(delays, parts): resistance after each delay from R0, R1, R2."""
        return np.array([[1.0, *(1 - np.exp(-d / np.array(self.tau_s)))] for d in DELAYS_S])


@dataclass(frozen=True, slots=True)
class Prior:
    """Centre and sd of lag, smoothing, ln τ1, ln τ2 and warming and bend, (7,) each."""

    centre: Floats
    width: Floats

    @classmethod
    def near(cls, found: Shared) -> Prior:
        """Another voltage sensor on the same cells: its own lag and smoothing, all else as found."""
        return cls(found.vector, np.array([0.3, 0.06, 0.1, 0.1, 0.1, 0.1, 0.05]))


WIDE = Prior(
    np.array([0.2, 0.0, 0.0, np.log(30.0), -0.3, 0.0, 0.1]),
    np.array([0.5, 0.06, 0.7, 0.7, 0.6, 0.5, 0.1]),
)
"""Lag 0.2 s, neither sensor smoothing more than the other, τ 1 s and 30 s, resistance falling, a tenth of it
charge transfer: it holds only what a log does not say. A current sensor smooths up to 0.1 s more than the
voltage's (a judgement): where a log cannot tell that from a lag, the interval of the ohmic part holds it.
"""


@dataclass(frozen=True, slots=True)
class Rows:
    """All groups' rows, one under the other.

    time_s, mean_v : (m,) moment and mean of the group's cells. [s, V]
    basis : (m, spans + 3) of the open-circuit curve.
    weight : (m,), the square root of the number of cells where nothing else is known.
    doubt_a : (m,) how far the current moves around. [A]
    group : (m,) index of the group.
    """

    time_s: Floats
    mean_v: Floats
    basis: Floats
    weight: Floats
    doubt_a: Floats
    group: np.ndarray

    def only(self, keep: Flags | slice) -> Rows:
        """Some of the rows."""
        return Rows(
            self.time_s[keep],
            self.mean_v[keep],
            self.basis[keep],
            self.weight[keep],
            self.doubt_a[keep],
            self.group[keep],
        )


@dataclass(frozen=True, slots=True)
class Anchor:
    """What the linear part is held to where the log is silent: target = matrix @ coefficients, in units of
    its sd. Noise in volts.
    """

    matrix: Floats
    target: Floats
    noise_v: float


@dataclass(frozen=True, slots=True)
class Fit:
    """The mean cell, fitted. coefficients (c,); design (m, c); residual (m,). [V, Ω, V]"""

    rows: Rows
    anchor: Anchor
    coefficients: Floats
    design: Floats
    residual: Floats

    @property
    def parts_ohm(self) -> Floats:
        """(3,): R0, R1, R2."""
        return self.coefficients[-PARTS:]


def knots(low: float, high: float, spans: int) -> Floats:
    """Knots of a cubic B-spline from low to high."""
    return np.concatenate([[low] * 3, np.linspace(low, high, spans + 1), [high] * 3])


def spline_basis(charge_mah: Floats, at: Floats) -> Floats:
    """Cubic B-spline of the charge used, (m, spans + 3); ends held."""
    return np.asarray(BSpline.design_matrix(np.clip(charge_mah, at[0], at[-1]), at, 3).toarray())


def course(drive: LoadGrid, warming: Sequence[float]) -> Floats:
    """g on the grid, mean 1 over the powered time. (n,)"""
    x = drive.heat - 0.5
    g = np.exp(warming[0] * x + warming[1] * x**2)
    return np.asarray(g / g[drive.powered_rows].mean())


def bent(drive: LoadGrid, bend: float) -> Floats:
    """Drop per ampere at each current ÷ that at the mean current of the powered time, when a share `bend` of
    it is charge transfer. (n,)
    """
    size = np.maximum(np.abs(drive.current_a), 1e-3)
    mean_a = max(float(drive.current_a[drive.powered_rows].mean()), 1e-3)
    at = np.append(size, mean_a) / np.quantile(size[size > 0.1 * size.max()], 0.95)
    factor = 1.0 + bend * (np.arcsinh(at) / at - 1.0)
    return np.asarray(factor[:-1] / factor[-1])


def pulls(drive: LoadGrid, shared: Shared) -> Floats:
    """i·g and its two low-passes on the grid, smoothed as the sensors do. (n, 3)"""
    current = drive.current_a
    current = (
        drive.low_pass(current, shared.smoothing_s)
        if shared.smoothing_s > 0.0001
        else current - shared.smoothing_s * np.gradient(current, drive.step_s)
    )
    pull = current * course(drive, shared.warming)
    fast = pull * bent(drive, shared.bend)
    return np.column_stack([fast, *(drive.low_pass(pull, tau) for tau in shared.tau_s)])


def prepare(groups: Sequence[CellGroup], drive: LoadGrid, at: Floats, *, usual_lag_s: float = 0.2) -> Rows:
    """All groups' rows with first weights."""
    time_s = np.concatenate([g.time_s for g in groups])
    mean_v = np.concatenate([g.volts.mean(axis=1) for g in groups])
    weight = np.concatenate([np.full(g.time_s.size, np.sqrt(len(g.cells))) for g in groups])
    which = np.concatenate([np.full(g.time_s.size, k) for k, g in enumerate(groups)])
    charge = drive.at(drive.charge_mah, time_s - usual_lag_s)
    return Rows(
        time_s, mean_v, spline_basis(charge, at), weight, drive.at(drive.doubt_a, time_s - usual_lag_s), which
    )


SHARES = ((0.7, 0.3), (0.3, 0.5), (0.5, 0.5))
"""R0, R1, R2 as shares of the 1 s resistance, and their sd: wide, it keeps a part from turning negative."""


def anchor(
    columns: int,
    ohm: float,
    noise_v: float,
    *,
    bend_v: float = 0.04,
    shares: tuple[tuple[float, float], ...] = SHARES,
) -> Anchor:
    """Weak beliefs: the curve bends less than `bend_v` from span to span; the parts are `shares` of the 1 s
    resistance `ohm`.

    `bend_v` is three times what the usual resting-voltage table bends in a tenth of the charge.
    """
    spans = columns - PARTS
    matrix = np.zeros((spans - 2 + PARTS, columns))
    target = np.zeros(matrix.shape[0])
    for k in range(spans - 2):
        matrix[k, k : k + 3] = np.array([1.0, -2.0, 1.0]) / bend_v
    for part, (share, sd) in enumerate(shares):
        matrix[part - PARTS, part - PARTS] = 1 / (sd * ohm)
        target[part - PARTS] = share / sd
    return Anchor(matrix, target, noise_v)


def solve(rows: Rows, drive: LoadGrid, shared: Shared, held: Anchor) -> Fit:
    """The linear part of the mean cell."""
    design = np.column_stack([rows.basis, -drive.at(pulls(drive, shared), rows.time_s - shared.lag_s)])
    w = rows.weight / held.noise_v
    gram = design.T @ (design * (w**2)[:, None]) + held.matrix.T @ held.matrix
    right = design.T @ (w**2 * rows.mean_v) + held.matrix.T @ held.target
    coefficients = np.asarray(np.linalg.solve(gram, right), dtype=np.float64)
    return Fit(rows, held, coefficients, design, rows.mean_v - design @ coefficients)


@dataclass(frozen=True, slots=True)
class _Projected:
    """Rows and anchor with the open-circuit curve projected out: q spans it, y is what is left of the
    voltage.
    """

    rows: Rows
    held: Anchor
    w: Floats
    q: Floats
    y: Floats
    prior: Prior


def _project(rows: Rows, held: Anchor, prior: Prior) -> _Projected:
    w = rows.weight / held.noise_v
    columns = rows.basis.shape[1]
    q, _ = np.linalg.qr(np.vstack([rows.basis * w[:, None], held.matrix[:, :columns]]))
    y = np.concatenate([rows.mean_v * w, held.target])
    return _Projected(rows, held, w, q, y - q @ (q.T @ y), prior)


def _misfit(scaled: Floats, p: _Projected, drive: LoadGrid) -> Floats:
    """Weighted residuals with everything linear solved away, and the priors'."""
    vector = (scaled - 50) * SCALE
    shared = Shared.of(vector)
    x = -drive.at(pulls(drive, shared), p.rows.time_s - shared.lag_s) * p.w[:, None]
    x = np.vstack([x, p.held.matrix[:, -PARTS:]])
    x -= p.q @ (p.q.T @ x)
    gram = x.T @ x
    gram[np.diag_indices(PARTS)] *= 1 + 1e-9
    left = p.y - x @ np.linalg.solve(gram, x.T @ p.y)
    return np.concatenate([left, (vector - p.prior.centre) / p.prior.width])


MOST_ROWS = 3000
"""Of a search: enough for a flight at 10 Hz; more rows are thinned."""


def thinned(rows: Rows, most: int) -> Rows:
    """Every k-th row, at most `most` of them, heavier by what was left out."""
    stride = max(-(-rows.time_s.size // most), 1)
    few = rows.only(slice(None, None, stride))
    return replace(few, weight=few.weight * np.sqrt(stride))


def first_guess(rows: Rows, drive: LoadGrid, held: Anchor, prior: Prior, *, most_rows: int = 1500) -> Shared:
    """The best of a coarse grid of lags and first time constants."""
    coarse = _project(thinned(rows, most_rows), held, prior)
    tau = prior.centre[2] + min(float(prior.width[2]), 1.0) * np.array([-0.9, 0.4])
    tries = [
        np.array([lag, 0.0, one, *prior.centre[3:]]) for lag in np.arange(-0.4, 1.31, 0.1) for one in tau
    ]
    costs = [float(np.sum(_misfit(v / SCALE + 50, coarse, drive) ** 2)) for v in tries]
    return Shared.of(tries[int(np.argmin(costs))])


def search(
    rows: Rows, drive: LoadGrid, held: Anchor, start: Shared, prior: Prior, *, rounds: int = 10
) -> Shared:
    """Lag, smoothing, time constants, warming and bend by variable projection, in so many rounds."""
    low, high = LOW / SCALE + 50, HIGH / SCALE + 50
    found = least_squares(
        _misfit,
        np.clip(start.vector / SCALE + 50, low + 1e-6, high - 1e-6),
        bounds=(low, high),
        args=(_project(thinned(rows, MOST_ROWS), held, prior), drive),
        max_nfev=rounds,
        diff_step=[4e-4] * SCALE.size,
        ftol=1e-5,
        xtol=1e-6,
    )
    return Shared.of((found.x - 50) * SCALE)


@dataclass(frozen=True, slots=True)
class Noise:
    """Of one reading of one cell: base_v (one sd) at calm current; per_ampere_v2 (variance) where the current
    moves. [V, V²/A²]
    """

    base_v: float
    per_ampere_v2: float

    def variance(self, rows: Rows, cells: Floats | float) -> Floats:
        """Of each row, the mean of so many cells. What the current leaves undecided is common to them.
        [V²]
        """
        return np.asarray(self.base_v**2 / cells + self.per_ampere_v2 * rows.doubt_a**2)


def noise_of(fit: Fit, cells: Floats, step_v: float) -> Noise:
    """The sensor's noise, and what a fast current leaves undecided between its samples, both read off the
    residuals.
    """
    size = np.abs(fit.residual)
    doubt = fit.rows.doubt_a
    calm = doubt <= np.quantile(doubt, 0.5)
    base = max(1.4826 * float(np.median((size * np.sqrt(cells))[calm])), step_v / np.sqrt(12), 2e-4)
    quiet = base / np.sqrt(cells)
    steep = ~calm & (doubt > 0)
    excess = np.minimum(size, 6 * quiet)[steep] ** 2 - quiet[steep] ** 2
    return Noise(base, max(float(np.sum(excess) / max(float(np.sum(doubt[steep] ** 2)), 1e-9)), 0.0))


def reweighed(fit: Fit, cells: Floats, noise: Noise, *, huber: float = 2.0) -> Rows:
    """Weights by the noise, Huber against outliers; a weight of 1 is a calm reading of one cell."""
    sd = np.sqrt(noise.variance(fit.rows, cells))
    far = np.sqrt(np.minimum(1.0, huber * sd / np.maximum(np.abs(fit.residual), 1e-12)))
    return replace(fit.rows, weight=noise.base_v / sd * far)
