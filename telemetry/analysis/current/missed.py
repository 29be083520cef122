"""What happened between two samples: how far the true peak may stand above the largest sample."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import signal

from telemetry.estimate import Undecided
from telemetry.trace import Floats, Samples


@dataclass(frozen=True, slots=True)
class Missed:
    """What a log at this rate can miss.

    Attributes
    ----------
    above_peak_a : with 95 % confidence the true peak stands no more than this above the largest sample.
    sample_interval_s : between samples.
    reason : a sentence for the user.
    """

    above_peak_a: float | Undecided
    sample_interval_s: float
    reason: str


def missed(samples: Samples, *, least_samples: int = 64) -> Missed:
    """How much current may hide between the samples, from the spectrum of those there are.

    The spectrum of a flown current falls as a power of frequency. That fall is fitted over the two highest octaves logged
    and carried on beyond the highest frequency the samples can show; its area there is the variance that is out of sight.
    A part that no longer falls is the sensor's noise and hides nothing. Motors move most where they work hardest, so the
    variance is scaled to that of the samples around the peaks.

    Parameters
    ----------
    samples : of the powered time.
    least_samples : for a spectrum at all.
    """
    steps_s = np.diff(samples.time_s)
    steps_s = steps_s[steps_s > 0.0]
    if steps_s.size < least_samples:
        return Missed(Undecided("too few samples for a spectrum"), 0.0, "There are too few samples to tell what happened between them.")
    step_s = float(np.median(steps_s))
    spread = np.sqrt(_variance_out_of_sight(samples, step_s)) * _liveliness(samples)
    above = float(1.96 * spread)
    said = f"{above:.1f} A" if above < 10.0 else f"{above:.0f} A"
    reason = f"A sample every {step_s:.2g} s can miss a burst shorter than {2.0 * step_s:.2g} s; the true peak may stand up to {said} above the largest sample."
    return Missed(above, step_s, reason)


def _variance_out_of_sight(samples: Samples, step_s: float, *, segment_s: float = 20.0, steepest: float = 4.0, flattest: float = 1.5) -> float:
    """Area of the spectrum beyond the highest frequency logged. [A²]

    Parameters
    ----------
    segment_s : of one periodogram; shorter than a flight's manoeuvres, so that many are averaged.
    steepest, flattest : bounds of the fall: a current behind a motor's inertia, and one that jumps at once (2) or is noise.
    """
    time_s = np.arange(samples.time_s[0], samples.time_s[-1], step_s)
    even = np.interp(time_s, samples.time_s, samples.values)
    length = int(min(max(segment_s / step_s, 32), even.size))
    frequency, power = signal.welch(even, 1.0 / step_s, nperseg=length, detrend="constant")
    # Straight lines between uneven samples damp the last part of the band: leave it out.
    highest = 0.5 / step_s
    band = (frequency > highest / 5.0) & (frequency < 0.8 * highest)
    if np.count_nonzero(band) < 4 or float(np.max(power[band])) <= 0.0:
        return 0.0
    floor = 0.9 * float(np.min(power[band]))
    x, y = np.log(frequency[band]), np.log(np.maximum(power[band], 1e-12))
    slope, level = np.polyfit(x, y, 1)
    fall = float(np.clip(-slope, flattest, steepest))
    at_highest = float(np.exp(level + slope * np.log(highest)))
    if -slope < 0.3:
        at_highest = max(at_highest - floor, 0.1 * at_highest)
    return at_highest * highest / (fall - 1.0)


def _liveliness(samples: Samples, *, share: float = 0.05) -> float:
    """How much more the current moves from sample to sample around its highest values than on the whole, at least 1."""
    time_s, values = samples
    off: Floats = values[1:-1] - (values[:-2] + values[2:]) / 2.0
    usual = float(np.sqrt(np.mean(off**2)))
    high = np.maximum.reduce([values[:-2], values[1:-1], values[2:]]) >= np.percentile(values, 100.0 * (1.0 - share))
    return max(float(np.sqrt(np.mean(off[high] ** 2))) / usual, 1.0) if usual > 0.0 and high.any() and time_s.size > 4 else 1.0
