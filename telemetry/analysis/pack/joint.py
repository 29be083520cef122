"""From readings to a finished joint fit: the mean cell, then each cell against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.deviations import Deviation, deviation
from telemetry.analysis.pack.fit import PARTS, Anchor, Fit, Rows, Shared, anchor, knots, prepare, first_guess, reweigh, search, search_smoothed, solve
from telemetry.analysis.pack.readings import Drive, Group
from telemetry.analysis.pack.spread import Pull, pull
from telemetry.estimate import Undecided
from telemetry.trace import Floats, Stretch


@dataclass(frozen=True, slots=True)
class Joint:
    """A finished fit.

    at : knots of the open-circuit curve over the charge used. [mAh]
    deviations : every cell, in order.
    """

    shared: Shared
    mean: Fit
    pulled: Pull
    noise_v: float
    at: Floats
    groups: tuple[Group, ...]
    deviations: tuple[Deviation, ...]
    drive: Drive
    powered: Stretch

    def place(self, cell: int) -> tuple[int, int]:
        """Group and column of a cell."""
        return next((g, group.cells.index(cell)) for g, group in enumerate(self.groups) if cell in group.cells)


def too_steady(groups: Sequence[Group], drive: Drive, *, spread: float = 0.30, step: float = 0.50, least_a: float = 2.0) -> Undecided | None:
    """Why no resistance can be told from this current, or None.

    It hardly varies when its 5–95 % range is under `spread` of the 95 % level and no step of
    `step` of that level is in the log.
    """
    current = drive.at(drive.current_a, np.concatenate([g.time_s for g in groups]))
    low, high = np.quantile(current, [0.05, 0.95])
    if high < least_a:
        return Undecided(f"the pack was hardly loaded: the current stays under {max(high, 0):.1f} A")
    if high - low < spread * high and current.max() - current.min() < step * high:
        return Undecided("the current hardly varies, so resistance cannot be told from the fall of the pack")
    return None


def _rough_ohm(groups: Sequence[Group], drive: Drive) -> float:
    """A first size of one cell's resistance: fall over current. [Ω]"""
    volts = np.concatenate([g.volts.mean(axis=1) for g in groups])
    current = drive.at(drive.current_a, np.concatenate([g.time_s for g in groups]))
    fall = float(np.quantile(volts, 0.95) - np.quantile(volts, 0.05))
    return 0.5 * fall / max(float(np.quantile(current, 0.95) - np.quantile(current, 0.05)), 1.0)


def _again(fit: Fit, groups: Sequence[Group], shared: Shared, correlated: float) -> tuple[Rows, float, Anchor]:
    """Weights, noise and beliefs for another round."""
    rows, noise = reweigh(fit, groups)
    ohm = max(float(shared.kernel()[1] @ fit.parts_ohm), 1e-5)
    return rows, noise, anchor(rows.basis.shape[1] + PARTS, ohm, correlated * noise)


def joint(groups: Sequence[Group], drive: Drive, powered: Stretch, *, spans: int = 9, correlated: float = 2.0) -> Joint:
    """Two rounds of search and weights, then each cell against the mean, then the influences.

    `correlated` widens the noise against the beliefs, since neighbouring residuals repeat one another.
    """
    at = knots(min(float(drive.charge_mah.min()), 0.0), max(float(drive.charge_mah.max()), 1.0), spans)
    rows = prepare(groups, drive, at)
    held = anchor(rows.basis.shape[1] + PARTS, _rough_ohm(groups, drive), 0.01)
    shared = search(rows, drive, powered, held, first_guess(rows, drive, powered, held)).shared
    rows, noise, held = _again(solve(rows, drive, powered, shared, held), groups, shared, correlated)
    shared = search_smoothed(rows, drive, powered, held, search(rows, drive, powered, held, shared)).shared
    rows, noise, held = _again(solve(rows, drive, powered, shared, held), groups, shared, correlated)
    last = search_smoothed(rows, drive, powered, held, search(rows, drive, powered, held, shared))
    shared = last.shared
    fit = solve(rows, drive, powered, shared, held)
    pulled = pull(fit, drive, powered, shared, last.width)
    found = []
    for g, group in enumerate(groups):
        charge = drive.at(drive.charge_mah, group.time_s - 0.2)
        found += [deviation(group, k, fit, g, pulled.block, pulled.count, at, charge) for k in range(len(group.cells))]
    return Joint(shared, fit, pulled, noise, at, tuple(groups), tuple(sorted(found, key=lambda d: d.cell)), drive, powered)


def delays_direct(shared: Shared, parts_ohm: Floats, *, step: float = 0.02) -> Floats:
    """(3 delays, 6): how the resistance after each delay follows ln τ at fixed R0, R1, R2."""
    out = np.zeros((3, 6))
    for k in (2, 3):
        up, down = shared.vector, shared.vector
        up[k] += step
        down[k] -= step
        out[:, k] = (Shared.of(up).kernel() - Shared.of(down).kernel()) @ parts_ohm / (2 * step)
    return out
