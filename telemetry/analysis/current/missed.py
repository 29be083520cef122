"""What happened between two samples: how far the true peak may stand above the largest sample."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import signal

from telemetry.estimate import Undecided
from telemetry.frames import grid_step
from telemetry.sentences import say, undecided
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
    """How much current may hide between the samples, told from the samples there are.

    Half of them are left out, one way and the other, and the largest of every few seconds is compared with
    what the rest still shows: that is what a log at half this rate misses. At this rate it is less, and by
    how much, the fall of the spectrum tells: a current whose spectrum falls as f⁻ᵖ moves by h^((p − 1)/2)
    within a time h.

    Parameters
    ----------
    samples : of the powered time.
    least_samples : for a spectrum at all.
    """
    steps_s = np.diff(samples.time_s)
    steps_s = steps_s[steps_s > 0.0]
    if steps_s.size < least_samples:
        return Missed(undecided("current", "no_spectrum"), 0.0, say("current", "missed_unknown"))
    step_s = float(np.median(steps_s))
    above = _lost_at_half_rate(samples.values, step_s) * 0.5 ** ((_fall(samples, step_s) - 1.0) / 2.0)
    above_text = f"{above:.1f} A" if above < 10.0 else f"{above:.0f} A"
    reason = say("current", "missed", step_s=step_s, burst_s=2.0 * step_s, above=above_text)
    return Missed(above, step_s, reason)


def _lost_at_half_rate(
    values: Floats, step_s: float, *, block_s: float = 4.0, least: int = 8, quantile: float = 0.95
) -> float:
    """By how much the largest of a few seconds falls when every second sample is left out, in all but one
    case in twenty. [A]

    Parameters
    ----------
    block_s, least : length of a block in time and samples.
    quantile : over blocks and both ways, of the blocks that are loaded more than half of all.
    """
    length = max(2 * (round(block_s / step_s) // 2), least)
    count = values.size // length
    if count < 2:
        return float(np.ptp(values)) / 2.0
    blocks = values[: count * length].reshape(count, length)
    highest = blocks.max(axis=1)
    loaded = highest >= np.median(highest)
    losses = [highest[loaded] - blocks[loaded][:, way::2].max(axis=1) for way in (0, 1)]
    return float(np.quantile(np.concatenate(losses), quantile))


def _fall(
    samples: Samples, step_s: float, *, segment_s: float = 20.0, flattest: float = 1.4, steepest: float = 2.6
) -> float:
    """The power p by which the spectrum falls over its highest octaves.

    Parameters
    ----------
    segment_s : of one periodogram; shorter than a flight's manoeuvres, so that many are averaged.
    flattest, steepest : bounds: hardly calmer at this rate than at half of it; and one that moves in
        proportion, nearly.
    """
    first_s, last_s = float(samples.time_s[0]), float(samples.time_s[-1])
    step_s = grid_step(last_s - first_s, step_s, samples.time_s.size)
    time_s = np.arange(first_s, last_s, step_s)
    even = np.interp(time_s, samples.time_s, samples.values)
    length = int(min(max(segment_s / step_s, 32), even.size))
    frequency, power = signal.welch(even, 1.0 / step_s, nperseg=length, detrend="constant")
    # Straight lines between uneven samples damp the last part of the band: leave it out.
    band = (frequency > 0.1 / step_s) & (frequency < 0.4 / step_s) & (power > 0.0)
    if np.count_nonzero(band) < 4:
        return flattest
    slope, _ = np.polyfit(np.log(frequency[band]), np.log(power[band]), 1)
    return float(np.clip(-slope, flattest, steepest))
