"""How sure the fit is: what each stretch of the flight pulls on a figure, summed up.

The residuals hang together over seconds to tens of seconds, so plain least squares is far too
sure of itself. A figure's influence is summed over blocks of time; the blocks with their
neighbours give the variance (a heteroscedasticity and autocorrelation consistent sandwich:
Newey & West 1987, with long blocks). Lag, smoothing, time constants and warming are carried
along, and so is what only the weak beliefs hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.fit import Fit, Prior, Shared, solve
from telemetry.analysis.pack.grid import LoadGrid
from telemetry.trace import Floats

STEP = np.array([0.01, 0.01, 0.05, 0.05, 0.03, 0.03, 0.03])
"""Finite differences in the shared parameters: small against what a log can tell."""


@dataclass(frozen=True, slots=True)
class Influence:
    """Of some figures: blocks (count, figures) what each block pulls; held (figures, figures) the variance
    that beliefs leave.
    """

    blocks: Floats
    held: Floats

    def __add__(self, other: Influence) -> Influence:
        return Influence(self.blocks + other.blocks, self.held + other.held)

    def times(self, factor: float) -> Influence:
        """Of the figures times a factor."""
        return Influence(self.blocks * factor, self.held * factor**2)

    def doubted(self, factor: float) -> Influence:
        """The same with the blocks' sd so many times as large."""
        return Influence(self.blocks * factor, self.held)

    def variance(self, *, spent: float = 3.0) -> Floats:
        """(figures,): blocks with their neighbours' products, widened for the `spent` blocks' worth of
        freedom.
        """
        b = self.blocks
        own = np.sum(b**2, axis=0)
        total = np.maximum(own + np.sum(b[1:] * b[:-1], axis=0), 0.6 * own)
        widen = b.shape[0] / max(b.shape[0] - spent, 0.3 * b.shape[0])
        return np.asarray(total * widen + np.diag(self.held))


@dataclass(frozen=True, slots=True)
class Pull:
    """What blocks pull on the mean cell.

    shared : (count, 7); shared_held : (7, 7) left by the priors.
    moved : (7, c), how the linear part follows the shared one.
    lever : (c, c), inverse of the weighted normal matrix; linear : (count, c); linear_held : (c, c).
    """

    shared: Floats
    shared_held: Floats
    moved: Floats
    linear: Floats
    linear_held: Floats


def block_of(time_s: Floats, *, block_s: float = 10.0) -> np.ndarray:
    """Index of each row's block of time."""
    return np.asarray((time_s - time_s.min()) / block_s).astype(np.intp)


def by_block(block: np.ndarray, rows: Floats, count: int) -> Floats:
    """Row sums by block, (count, k)."""
    return np.column_stack([np.bincount(block, rows[:, k], minlength=count) for k in range(rows.shape[1])])


def pull(fit: Fit, block: np.ndarray, drive: LoadGrid, shared: Shared, prior: Prior) -> Pull:
    """What each block pulls on the shared parameters and on the linear part."""
    rows, held = fit.rows, fit.anchor
    count = int(block.max()) + 1
    slopes, moved = [], []
    for k, step in enumerate(STEP):
        vector = shared.vector
        vector[k] += step
        up = solve(rows, drive, Shared.of(vector), held)
        vector[k] -= 2 * step
        down = solve(rows, drive, Shared.of(vector), held)
        slopes.append((up.residual - down.residual) / (2 * step))
        moved.append((up.coefficients - down.coefficients) / (2 * step))
    w2 = (rows.weight / held.noise_v) ** 2
    j = np.column_stack(slopes)
    inverse = np.linalg.inv(j.T @ (j * w2[:, None]) + np.diag(prior.width**-2.0))
    on_shared = by_block(block, -j * (w2 * fit.residual)[:, None], count) @ inverse
    lever = np.linalg.inv(fit.design.T @ (fit.design * w2[:, None]) + held.matrix.T @ held.matrix)
    on_linear = by_block(block, fit.design * (w2 * fit.residual)[:, None], count) @ lever
    return Pull(
        on_shared,
        inverse @ np.diag(prior.width**-2.0) @ inverse,
        np.array(moved),
        on_linear,
        lever @ held.matrix.T @ held.matrix @ lever,
    )


def influence(pulled: Pull, figures: Floats, direct: Floats | None = None) -> Influence:
    """Of figures (f, c) times the coefficients, that follow the shared parameters by `direct` (f, 7)
    besides.
    """
    follow = figures @ pulled.moved.T
    if direct is not None:
        follow = follow + direct
    blocks = pulled.linear @ figures.T + pulled.shared @ follow.T
    held = figures @ pulled.linear_held @ figures.T + follow @ pulled.shared_held @ follow.T
    return Influence(blocks, held)
