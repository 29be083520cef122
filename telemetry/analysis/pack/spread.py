"""How sure the fit is: what each ten seconds of the flight pull on a figure, summed up.

The residuals hang together over seconds to tens of seconds, so plain least squares is far too
sure of itself. A figure's influence is summed over blocks of time and the blocks, with their
neighbours, give the variance (a heteroscedasticity and autocorrelation consistent sandwich:
Newey & West 1987, with long blocks). Lag, time constants and warming are carried along.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.fit import PRIOR, Fit, Rows, Shared, solve
from telemetry.analysis.pack.readings import Drive
from telemetry.trace import Floats, Stretch

STEP = np.array([0.01, 0.05, 0.05, 0.03, 0.03])
"""Finite differences in lag, ln τ1, ln τ2, warming: small against what a log can tell."""


@dataclass(frozen=True, slots=True)
class Pull:
    """Influences of time blocks.

    shared : (blocks, 5) on lag, ln τ and warming.
    prior : (5, 5) the variance that the priors leave.
    moved : per group (5, coefficients, cells), how the linear part follows the shared one.
    block : per group (m,) the block of each row.
    count : the number of blocks.
    """

    shared: Floats
    prior: Floats
    moved: tuple[Floats, ...]
    block: tuple[np.ndarray, ...]
    count: int


def _blocks(fits: Sequence[Fit], block_s: float) -> tuple[tuple[np.ndarray, ...], int]:
    start = min(float(f.rows.group.time_s[0]) for f in fits)
    index = tuple(((f.rows.group.time_s - start) / block_s).astype(np.intp) for f in fits)
    return index, int(max(i.max() for i in index)) + 1


def _sums(block: np.ndarray, rows: Floats, count: int) -> Floats:
    """Row sums by block, (count, k)."""
    out = np.zeros((count, rows.shape[1]))
    np.add.at(out, block, rows)
    return out


def pull(rows: Sequence[Rows], fits: Sequence[Fit], drive: Drive, powered: Stretch, shared: Shared, noise_v: float, *, block_s: float = 10.0) -> Pull:
    """Influences on what the cells share, and how the rest follows."""
    block, count = _blocks(fits, block_s)
    slopes: list[list[Floats]] = [[] for _ in fits]
    moved: list[list[Floats]] = [[] for _ in fits]
    for k, step in enumerate(STEP):
        ends = []
        for sign in (1.0, -1.0):
            vector = shared.vector
            vector[k] += sign * step
            ends.append(solve(rows, drive, powered, Shared.of(vector)))
        for g, (up, down) in enumerate(zip(*ends, strict=True)):
            slopes[g].append((up.residual - down.residual).mean(axis=1) / (2 * step))
            moved[g].append((up.coefficients - down.coefficients) / (2 * step))
    hessian = np.diag(1 / PRIOR[1] ** 2)
    score = np.zeros((count, 5))
    for g, fit in enumerate(fits):
        w2 = (fit.rows.weight / noise_v) ** 2
        j = np.column_stack(slopes[g])
        hessian = hessian + j.T @ (j * w2[:, None])
        score += _sums(block[g], -j * (w2 * fit.residual.mean(axis=1))[:, None], count)
    inverse = np.linalg.inv(hessian)
    prior = inverse @ np.diag(1 / PRIOR[1] ** 2) @ inverse
    return Pull(score @ inverse, prior, tuple(np.array(m) for m in moved), block, count)


@dataclass(frozen=True, slots=True)
class Influence:
    """Of one or more figures: blocks (count, figures), and follow (figures, 5) for the priors' part."""

    blocks: Floats
    follow: Floats


def influence(fit: Fit, which: int, cell: int, figures: Floats, pulled: Pull, *, direct: Floats | None = None) -> Influence:
    """Of figures that are `figures` (f, coefficients) times the coefficients of one cell.

    `direct` (f, 5) is how the figures follow the shared parameters besides, at fixed coefficients.
    """
    w2 = fit.rows.weight**2
    gram = fit.design.T @ (fit.design * w2[:, None])
    gram[np.diag_indices(gram.shape[0])] += 1e-9 * np.trace(gram) / gram.shape[0]
    lever = np.linalg.solve(gram, figures.T)
    rows = (fit.design @ lever) * (w2 * fit.residual[:, cell])[:, None]
    follow = (pulled.moved[which][:, :, cell] @ figures.T).T
    if direct is not None:
        follow = follow + direct
    return Influence(_sums(pulled.block[which], rows, pulled.count) + pulled.shared @ follow.T, follow)


def variance(found: Influence, prior: Floats, spent: float) -> Floats:
    """(figures,): blocks with half of each neighbour's product, widened for the `spent` coefficients in blocks."""
    b = found.blocks
    beside = np.sum(b[1:] * b[:-1], axis=0)
    own = np.sum(b**2, axis=0)
    total = np.maximum(own + beside, 0.6 * own)
    widen = b.shape[0] / max(b.shape[0] - spent, 0.3 * b.shape[0])
    return np.asarray(total * widen + np.einsum("fi,ij,fj->f", found.follow, prior, found.follow))
