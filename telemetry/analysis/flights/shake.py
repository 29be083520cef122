"""Wheels on the ground shake a model, and its touch jolts it: instants that acceleration tells better than
the motors do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from telemetry.analysis.flights.airborne import Hop
from telemetry.estimate import Undecided
from telemetry.trace import Floats, Trace


@dataclass(frozen=True, slots=True)
class Shake:
    """How much the model is shaken, (m,) at the sensor's own times: acceleration less its slow part, or a
    logged vibration. [m/s²]
    """

    time_s: Floats
    level: Floats


def read_shake(trace: Trace, *, slow_s: float = 1.0, slowest_hz: float = 4.0) -> Shake | None:
    """The shake from acceleration, upwards before any other axis, else from vibration; None where neither was
    logged often enough.

    Parameters
    ----------
    slow_s : turns and gusts load a model over a second and more; what is quicker is shake.
    slowest_hz : a touch is over in a tenth of a second or two; slower sensors miss it.
    """
    for quantity, positions in (
        ("acceleration_mps2", ("z", "", "x", "y")),
        ("vibration_mps2", ("", "z", "x", "y")),
    ):
        for position in positions:
            samples = trace.fresh(quantity, position)
            if samples is None or samples.time_s.size < 100 or np.ptp(samples.values) == 0.0:
                continue
            step_s = float(np.median(np.diff(samples.time_s)))
            if step_s > 1.0 / slowest_hz:
                continue
            values = samples.values
            if quantity == "acceleration_mps2":
                values = np.abs(
                    values - uniform_filter1d(values, max(round(slow_s / step_s), 3), mode="nearest")
                )
            return Shake(samples.time_s, np.asarray(values))
    return None


def by_shake(hops: Sequence[Hop], shake: Shake) -> list[Hop]:
    """The hops with their instants where the shake says so; as they were where it says nothing."""
    if not hops:
        return []
    nexts = [hop.takeoff_s for hop in hops[1:]]
    limits = [float(shake.time_s[-1]) if isinstance(at, Undecided) else at for at in nexts] + [
        float(shake.time_s[-1])
    ]
    return [_moved(hop, shake, limit) for hop, limit in zip(hops, limits, strict=True)]


def _moved(hop: Hop, shake: Shake, limit_s: float) -> Hop:
    if isinstance(hop.takeoff_s, Undecided):
        return hop
    until_s = limit_s if isinstance(hop.landing_s, Undecided) else hop.landing_s
    flown = (shake.time_s > hop.takeoff_s + 8.0) & (shake.time_s < until_s - 15.0)
    if np.count_nonzero(flown) < 40:
        return hop
    aloft = shake.level[flown]
    return Hop(_leaves(shake, hop.takeoff_s, float(np.median(aloft))), _touches(shake, hop, limit_s, aloft))


def _leaves(
    shake: Shake,
    guess_s: float,
    aloft: float,
    *,
    before_s: float = 8.0,
    after_s: float = 6.0,
    rougher: float = 2.0,
    roll_s: float = 1.5,
) -> float:
    """When the shake of the roll ends: where the second and a half before and after differ most.

    Parameters
    ----------
    rougher : the roll must shake so many times more than the flight; smooth tarmac and skis on snow may not.
    roll_s : looked at on either side.
    """
    step_s = float(np.median(np.diff(shake.time_s)))
    half = max(round(roll_s / step_s), 3)
    logs = np.log(np.maximum(shake.level, 0.1 * aloft + 1e-6))
    mean = np.concatenate(([0.0], np.cumsum(logs)))
    at = np.flatnonzero((shake.time_s > guess_s - before_s) & (shake.time_s < guess_s + after_s))
    at = at[(at >= half) & (at + half < logs.size)]
    if at.size < 5:
        return guess_s
    drop = (mean[at] - mean[at - half]) / half - (mean[at + half] - mean[at]) / half
    best = int(np.argmax(drop))
    return float(shake.time_s[at[best]]) if drop[best] > np.log(rougher) else guess_s


def _touches(
    shake: Shake,
    hop: Hop,
    limit_s: float,
    aloft: Floats,
    *,
    before_s: float = 12.0,
    after_s: float = 45.0,
    longest_glide_s: float = 180.0,
    least_s: float = 15.0,
    jolts: float = 6.0,
) -> float | Undecided:
    """The first jolt around the landing that nothing in the air came near.

    Parameters
    ----------
    before_s, after_s : around the landing that the motors suggest; where they suggest none, the last
        `longest_glide_s` are searched.
    least_s : a flight lasts at least so long.
    jolts : so many times the usual shake of the flight, and above the strongest of its hundred parts.
    """
    threshold = max(jolts * float(np.median(aloft)), 1.1 * float(np.percentile(aloft, 99.5)))
    if isinstance(hop.landing_s, Undecided):
        start_s, end_s = limit_s - longest_glide_s, limit_s
    else:
        start_s, end_s = hop.landing_s - before_s, min(hop.landing_s + after_s, limit_s - 1.0)
    if not isinstance(hop.takeoff_s, Undecided):
        start_s = max(start_s, hop.takeoff_s + least_s)
    jolted = np.flatnonzero((shake.time_s > start_s) & (shake.time_s < end_s) & (shake.level > threshold))
    return float(shake.time_s[jolted[0]]) if jolted.size else hop.landing_s
