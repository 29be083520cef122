"""From readings to a finished joint fit: the mean cell, then each cell against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.analysis.pack.deviations import Case, Deviation, Own, deviation, own_of, smooth_slope
from telemetry.analysis.pack.fit import (
    PARTS,
    SPANS,
    WIDE,
    Anchor,
    Fit,
    Noise,
    Prior,
    Rows,
    Shared,
    anchor,
    first_guess,
    knots,
    noise_of,
    prepare,
    reweighed,
    search,
    solve,
)
from telemetry.analysis.pack.grid import LoadGrid
from telemetry.analysis.pack.rounding import noise_before_rounding, sharpen
from telemetry.analysis.pack.spread import STEP, Influence, Pull, block_of, pull
from telemetry.analysis.pack.witness import Witness
from telemetry.estimate import Undecided
from telemetry.sentences import undecided
from telemetry.signals import CellGroup
from telemetry.trace import Floats

LEAST_OHM = 1e-5
"""No cell has less; a voltage that never falls else leaves nothing to hold the parts to. [Ω]"""


def coarse_doubt(step_v: float, before_v: float) -> float:
    """By how much more than blocks of time show readings rounded alike err alike; set by coverage on readings
    of 20 and 50 mV.
    """
    return float(np.clip(0.25 * step_v / before_v, 1.2, 2.5))


@dataclass(frozen=True, slots=True)
class Joint:
    """A finished fit.

    noise_v : of one calm reading of one cell. [V]
    at : knots of the open-circuit curve over the charge used. [mAh]
    deviations : every cell, in order.
    """

    shared: Shared
    mean: Fit
    pulled: Pull
    noise_v: float
    at: Floats
    groups: tuple[CellGroup, ...]
    deviations: tuple[Deviation, ...]
    drive: LoadGrid

    def place(self, cell: int) -> tuple[int, int]:
        """CellGroup and column of a cell."""
        return next(
            (g, group.cells.index(cell)) for g, group in enumerate(self.groups) if cell in group.cells
        )


def unfit(
    groups: Sequence[CellGroup],
    drive: LoadGrid,
    *,
    spread: float = 0.30,
    step: float = 0.50,
    least_a: float = 2.0,
    least: int = 60,
    changes: int = 8,
    change: float = 0.05,
) -> Undecided | None:
    """Why no resistance can be told from these readings and this current, or None.

    Parameters
    ----------
    groups : without what was read in a silence of the current.
    least : readings that are needed: twice the number of constants in the fit.
    changes, change : so many changes from reading to reading by that share of the 95 % level are needed: the
        edges of one or two long steady loads leave the fall of the pack and its slow parts untold.

    Notes
    -----
    The current hardly varies when its 5–95 % range is under `spread` of the 95 % level and no step of
    `step` of that level is in the log.
    """
    if sum(g.time_s.size for g in groups) < least:
        return undecided("pack", "few_readings", least=least)
    current = drive.at(drive.current_a, np.concatenate([g.time_s for g in groups]))
    low, high = np.quantile(current, [0.05, 0.95])
    if high < least_a:
        return undecided("pack", "hardly_loaded", current_a=max(high, 0.0))
    few = np.count_nonzero(np.abs(np.diff(current)) > change * high) < changes
    if few or (high - low < spread * high and current.max() - current.min() < step * high):
        return undecided("pack", "too_steady")
    return None


def _rough_ohm(groups: Sequence[CellGroup], drive: LoadGrid) -> float:
    """A first size of one cell's resistance: fall over current. [Ω]"""
    volts = np.concatenate([g.volts.mean(axis=1) for g in groups])
    current = drive.at(drive.current_a, np.concatenate([g.time_s for g in groups]))
    fall = float(np.quantile(volts, 0.95) - np.quantile(volts, 0.05))
    ohm = 0.5 * fall / max(float(np.quantile(current, 0.95) - np.quantile(current, 0.05)), 1.0)
    return max(ohm, LEAST_OHM)


@dataclass(frozen=True, slots=True)
class _Work:
    """What stays the same through the rounds of one fit."""

    groups: tuple[CellGroup, ...]
    drive: LoadGrid
    prior: Prior
    at: Floats
    cells: Floats
    block: np.ndarray
    correlated: float
    witness: Witness | None = None

    @property
    def step_v(self) -> float:
        """The coarsest recorder step. [V]"""
        return max(g.step_v for g in self.groups)

    def solve(self, rows: Rows, shared: Shared, held: Anchor) -> Fit:
        """The linear part."""
        return solve(rows, self.drive, shared, held)

    def beliefs(self, fit: Fit, shared: Shared, noise_v: float) -> Anchor:
        """Weak beliefs for the next round."""
        ohm = max(float(shared.kernel()[1] @ fit.parts_ohm), LEAST_OHM)
        return anchor(fit.design.shape[1], ohm, self.correlated * noise_v)

    def search(self, rows: Rows, held: Anchor, start: Shared) -> Shared:
        """The shared parameters."""
        return search(rows, self.drive, held, start, self.prior)

    def deviations(
        self,
        fit: Fit,
        owns: dict[int, Own] | None = None,
        before: tuple[Deviation, ...] = (),
        *,
        quick: bool = False,
    ) -> tuple[Deviation, ...]:
        """Every cell against the mean cell, in order; none deviates when there is but one."""
        found = []
        count = sum(len(g.cells) for g in self.groups)
        most = _most_apart(before)
        starts = {d.cell: d.coefficients for d in before}
        lonely = count == 1
        for g, group in enumerate(self.groups):
            charge = self.drive.at(self.drive.charge_mah, group.time_s - 0.2)
            for k, cell in enumerate(group.cells):
                own = own_of(group, k, fit, g, everyone=len(self.groups) == 1) if owns is None else owns[cell]
                slope = smooth_slope(fit, self.at)
                seen = self.witness if count == 2 or cell == most else None
                case = Case(own, cell, fit, g, self.block, slope, self.at, charge, count, seen)
                one = deviation(case, start=starts.get(cell), quick=quick)
                found.append(_none(one, fit) if lonely else one)
        return tuple(sorted(found, key=lambda d: d.cell))


def _most_apart(found: Sequence[Deviation], *, clearly: float = 1.8) -> int | None:
    """The cell that stands apart from the others by far the most, None when it is not one alone."""
    far = sorted(found, key=lambda d: -abs(d.apart_v))
    if len(far) < 2 or abs(far[0].apart_v) < clearly * abs(far[1].apart_v):
        return None
    return far[0].cell


def _none(one: Deviation, fit: Fit) -> Deviation:
    """A single cell is the mean cell."""
    still = Influence(np.zeros_like(one.pulled.blocks), np.zeros_like(one.pulled.held))
    return Deviation(one.cell, np.zeros(6), still, fit.rows.basis @ fit.coefficients[:-PARTS], fit.residual)


def joint(
    groups: Sequence[CellGroup],
    drive: LoadGrid,
    *,
    prior: Prior = WIDE,
    start: Shared | None = None,
    spans: int = SPANS,
    witness: Witness | None = None,
    correlated: float = 2.0,
    coarse: float = 2.5,
) -> Joint:
    """Rounds of search and weights, each cell against the mean, coarse steps read as intervals, then the
    influences.

    `witness` is the pack's own voltage against the sum of the cells. `correlated` widens the noise against
    the beliefs, since neighbouring residuals repeat one another. Steps are coarse from `coarse` times the
    noise that was there before rounding.
    """
    at = knots(min(float(drive.charge_mah.min()), 0.0), max(float(drive.charge_mah.max()), 1.0), spans)
    rows = prepare(groups, drive, at)
    cells = np.array([len(g.cells) for g in groups], dtype=float)[rows.group]
    work = _Work(tuple(groups), drive, prior, at, cells, block_of(rows.time_s), correlated, witness)
    held = anchor(rows.basis.shape[1] + PARTS, _rough_ohm(groups, drive), 0.01)
    found = work.search(rows, held, start or first_guess(rows, drive, held, prior))
    for _ in range(2):
        fit = work.solve(rows, found, held)
        noise = noise_of(fit, work.cells, work.step_v)
        rows, held = reweighed(fit, work.cells, noise), work.beliefs(fit, found, noise.base_v)
        found = work.search(rows, held, found)
    fit = work.solve(rows, found, held)
    first = work.deviations(fit, quick=True)
    now = _Now(found, fit, work.deviations(fit, before=first))
    off = [
        (group.volts - fitted).ravel() for group, fitted in zip(work.groups, _fitted(work, now), strict=True)
    ]
    before = noise_before_rounding(np.concatenate(off), work.step_v)
    doubt = 1.0
    if work.step_v > coarse * before:
        noise, doubt = Noise(before, noise.per_ampere_v2), coarse_doubt(work.step_v, before)
        now = _sharpened(work, now, noise)
    deviations = tuple(replace(d, pulled=d.pulled.doubted(doubt)) for d in now.deviations)
    pulled = pull(now.fit, work.block, drive, now.shared, prior)
    pulled = replace(pulled, shared=doubt * pulled.shared, linear=doubt * pulled.linear)
    return Joint(now.shared, now.fit, pulled, noise.base_v, at, work.groups, deviations, drive)


@dataclass(frozen=True, slots=True)
class _Now:
    """Where the rounds stand."""

    shared: Shared
    fit: Fit
    deviations: tuple[Deviation, ...]


def _fitted(work: _Work, now: _Now) -> list[Floats]:
    """The fit of each group's cells at their readings, (m, cells)."""
    out = []
    for g, group in enumerate(work.groups):
        mine = now.fit.rows.group == g
        pulls = now.fit.design[mine, -PARTS:]
        each = {
            d.cell: d.open_circuit_v + pulls @ (now.fit.parts_ohm + d.coefficients[3:])
            for d in now.deviations
            if d.cell in group.cells
        }
        out.append(np.column_stack([each[c] for c in group.cells]))
    return out


def _sharpened(work: _Work, now: _Now, noise: Noise, *, searches: int = 2, rounds: int = 5) -> _Now:
    """The same fit with each reading taken as the interval it was rounded from.

    Some rounds of the linear part alone stand between the searches, since each round moves the
    working readings.
    """
    shared = now.shared
    for k in range(searches * rounds):
        rows, owns = _working(work, now, noise, least=0.25 if k < searches * rounds - 3 else 0.03)
        held = work.beliefs(now.fit, shared, noise.base_v)
        if k % rounds == rounds - 1:
            shared = work.search(rows, held, shared)
        fit = work.solve(rows, shared, held)
        now = _Now(shared, fit, work.deviations(fit, owns, now.deviations, quick=k < searches * rounds - 2))
    return now


def _working(work: _Work, now: _Now, noise: Noise, *, least: float) -> tuple[Rows, dict[int, Own]]:
    """The mean cell's and each cell's working readings."""
    means, weights, owns = [], [], {}
    for g, (group, fitted) in enumerate(zip(work.groups, _fitted(work, now), strict=True)):
        mine = now.fit.rows.group == g
        mean_v = now.fit.design[mine] @ now.fit.coefficients
        sd = np.sqrt(noise.variance(now.fit.rows.only(mine), 1.0))[:, None] * np.ones(len(group.cells))
        said = sharpen(group.volts - fitted, group.step_v, sd, least=least)
        each = said.weight * (noise.base_v / sd) ** 2
        means.append(mean_v + np.sum(each * said.pull / said.weight, axis=1) / np.sum(each, axis=1))
        weights.append(np.sqrt(np.sum(each, axis=1)))
        for k, cell in enumerate(group.cells):
            owns[cell] = Own(
                fitted[:, k] - mean_v + said.pull[:, k] / said.weight[:, k], np.sqrt(each[:, k]), noise.base_v
            )
    return replace(now.fit.rows, mean_v=np.concatenate(means), weight=np.concatenate(weights)), owns


def delays_direct(shared: Shared, parts_ohm: Floats, *, step: float = 0.02) -> Floats:
    """(3 delays, 7): how the resistance after each delay follows ln τ at fixed R0, R1, R2."""
    out = np.zeros((3, STEP.size))
    for k in (2, 3):
        up, down = shared.vector, shared.vector
        up[k] += step
        down[k] -= step
        out[:, k] = (Shared.of(up).kernel() - Shared.of(down).kernel()) @ parts_ohm / (2 * step)
    return out
