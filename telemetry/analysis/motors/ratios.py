"""Ratios of a pair: of speeds and currents as the sensors saw them, and of currents as they flowed."""

from __future__ import annotations

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import say, undecided
from telemetry.trace import Floats

SENSORS_APART = 0.0064
"""One sigma of what two current sensors of one make read apart, as `causes` has it of each."""


def ratio(rows: Floats | None, what: str, *, floor_fraction: float) -> Estimate | Undecided:
    """Mean right ÷ mean left.

    Parameters
    ----------
    rows : (2, m) means over windows, left first.
    what : "current" or "speed", for the reason.
    floor_fraction : one sigma of what the sensors themselves may be off from each other.

    Notes
    -----
    The interval is Student's on sums of ten windows, which hang together, and the floor.
    """
    if rows is None:
        return undecided("motors", f"no_{what}")
    if rows.shape[1] < 5:
        return undecided("motors", "few_windows")
    left, right = rows
    value = float(np.sum(right) / np.sum(left))
    rest = right - value * left
    sd = sum_deviation(rest) / float(np.sum(left))
    return Estimate.around(value, 1.96 * float(np.hypot(sd, floor_fraction * value)), say("methods", "ratio"))


def flowed_ratio(difference: Floats, *, unexplained: float = 0.0025) -> Estimate:
    """Ratio of the currents that flowed: what a sensor alone reads more is taken out as far as speeds, the
    pack's current and what is usual of sensors tell.

    Parameters
    ----------
    difference : (s,) draws of right less left ÷ mean, of the pair's posterior.
    unexplained : one sigma of what a sensor's reading at rest and a controller's own losses leave. From pairs
        of other physics, whose sensors read up to 1 % apart: with it 95 % of the intervals held.

    Returns
    -------
    Right ÷ left with its interval of 95 %.
    """
    ratios = (1.0 + difference / 2.0) / (1.0 - difference / 2.0)
    low, value, high = (float(q) for q in np.quantile(ratios, (0.025, 0.5, 0.975)))
    rest = 1.96 * unexplained
    below, above = float(np.hypot(value - low, rest)), float(np.hypot(high - value, rest))
    return Estimate(value, value - below, value + above, say("methods", "flowed_ratio"))


def sum_deviation(rest: Floats, *, reach: int = 7) -> float:
    """Standard deviation of a sum of residuals that hang together over `reach` neighbours.

    Bartlett weights; the degrees of freedom a mean takes are given back.
    Source: Newey & West 1987; the reach of about 15 s is that of the residuals, not their rule.
    """
    n = rest.size
    variance = float(rest @ rest)
    for lag in range(1, min(reach, n - 1) + 1):
        variance += 2.0 * (1.0 - lag / (reach + 1.0)) * float(rest[lag:] @ rest[:-lag])
    floor = 0.3 * float(rest @ rest)
    return float(np.sqrt(max(variance, floor) * n / max(n - 2, 1)))
