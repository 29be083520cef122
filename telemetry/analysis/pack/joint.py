"""From readings to a finished joint fit with its influences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.fit import Fit, Shared, prepare, reweigh, search, solve
from telemetry.analysis.pack.readings import Drive, Group
from telemetry.analysis.pack.spread import Pull, pull
from telemetry.estimate import Undecided
from telemetry.trace import Floats, Stretch


@dataclass(frozen=True, slots=True)
class Joint:
    """A finished fit: what the cells share, each group's fit, and the influences of time blocks."""

    shared: Shared
    fits: tuple[Fit, ...]
    pulled: Pull
    noise_v: float
    drive: Drive
    powered: Stretch

    @property
    def cells(self) -> tuple[tuple[int, int, int], ...]:
        """(cell, group, column) in order of cells."""
        return tuple(sorted((cell, g, k) for g, fit in enumerate(self.fits) for k, cell in enumerate(fit.rows.group.cells)))


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


def joint(groups: Sequence[Group], drive: Drive, powered: Stretch) -> Joint:
    """Two rounds of search and weights, then the influences."""
    rows = prepare(groups, drive)
    shared = search(rows, drive, powered)
    rows, noise = reweigh(solve(rows, drive, powered, shared))
    shared = search(rows, drive, powered, start=shared, noise_v=noise)
    rows, noise = reweigh(solve(rows, drive, powered, shared))
    fits = solve(rows, drive, powered, shared)
    return Joint(shared, fits, pull(rows, fits, drive, powered, shared, noise), noise, drive, powered)


def delays_direct(shared: Shared, parts_ohm: Floats, *, step: float = 0.02) -> Floats:
    """(3 delays, 5): how the resistance after each delay follows ln τ at fixed R0, R1, R2."""
    out = np.zeros((3, 5))
    for k in (1, 2):
        up, down = shared.vector, shared.vector
        up[k] += step
        down[k] -= step
        out[:, k] = (Shared.of(up).kernel() - Shared.of(down).kernel()) @ parts_ohm / (2 * step)
    return out
