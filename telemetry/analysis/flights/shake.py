"""Wheels on the ground shake a model, and its touch jolts it: instants that acceleration tells better than
the motors do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from telemetry.estimate import Estimate
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


def roll_ends(
    shake: Shake, takeoff: Estimate, aloft: float, *, rougher: float = 2.0, roll_s: float = 1.5
) -> float | None:
    """When the shake of the roll ends: where the second and a half before and after differ most; None where
    nothing tells it.

    Parameters
    ----------
    takeoff : within whose interval it is sought.
    aloft : the usual shake of the flight. [m/s²]
    rougher : the roll must shake so many times more than the flight; smooth tarmac and skis on snow may not.
    roll_s : looked at on either side.
    """
    step_s = float(np.median(np.diff(shake.time_s)))
    half = max(round(roll_s / step_s), 3)
    logs = np.log(np.maximum(shake.level, 0.1 * aloft + 1e-6))
    mean = np.concatenate(([0.0], np.cumsum(logs)))
    at = np.flatnonzero((shake.time_s > takeoff.low) & (shake.time_s < takeoff.high))
    at = at[(at >= half) & (at + half < logs.size)]
    if at.size < 5:
        return None
    drop = (mean[at] - mean[at - half]) / half - (mean[at + half] - mean[at]) / half
    best = int(np.argmax(drop))
    return float(shake.time_s[at[best]]) if drop[best] > np.log(rougher) else None


def touches(
    shake: Shake, since_s: float, until_s: float, aloft: Floats, *, jolts: float = 6.0
) -> float | None:
    """The first jolt that nothing in the air came near; None where there is none.

    Parameters
    ----------
    since_s, until_s : between which it is sought.
    aloft : the shake of the flight. [m/s²]
    jolts : so many times the usual shake of the flight, and above the strongest of its hundred parts.
    """
    threshold = max(jolts * float(np.median(aloft)), 1.1 * float(np.percentile(aloft, 99.5)))
    jolted = np.flatnonzero((shake.time_s > since_s) & (shake.time_s < until_s) & (shake.level > threshold))
    return float(shake.time_s[jolted[0]]) if jolted.size else None
