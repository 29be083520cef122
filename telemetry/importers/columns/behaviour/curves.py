"""How like two curves are, and the size of one in the other's terms."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from telemetry.importers.columns.evidence import ColumnEvidence, alike
from telemetry.physics.charge import running_integral
from telemetry.trace import Floats


def slope(numbers: Floats, truth: Floats) -> float:
    """The number that one unit of `truth` makes, by least squares about the means."""
    both = np.isfinite(numbers) & np.isfinite(truth)
    off, own = truth[both] - truth[both].mean(), numbers[both] - numbers[both].mean()
    return float(np.sum(off * own) / np.sum(off**2))


def unit_of(factor: float, units: Mapping[str, float], *, within: float) -> str:
    """The unit whose size the numbers have, "" when they have none's."""
    return (
        next((name for name, size in units.items() if abs(np.log(factor / size)) < within), "")
        if factor > 0
        else ""
    )


def running(time_s: Floats, values: Floats) -> Floats:
    """The integral over time; silence counts as nothing."""
    filled = np.where(np.isfinite(values), values, 0.0)
    return running_integral(time_s, filled).sums


def _less_trend(time_s: Floats, values: Floats) -> Floats:
    """What is left when a straight line over time is taken out."""
    good = np.isfinite(values)
    if good.sum() < 3:
        return values
    return values - np.polyval(np.polyfit(time_s[good], values[good], 1), time_s)


def is_integral(
    numbers: Floats,
    integral: Floats,
    evidence: ColumnEvidence,
    *,
    bends_alike: float = 0.9,
    all_alike: float = 0.999,
) -> bool:
    """Whether a column rises as an integral does, in its bends too: a clock or a distance only rises."""
    time_s = evidence.time_s
    return (
        alike(numbers, integral) > all_alike
        and alike(_less_trend(time_s, numbers), _less_trend(time_s, integral)) > bends_alike
    )
