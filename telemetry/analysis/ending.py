"""Whether a flight ended hard: height or speed stopped at once, or a blow, then silence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Undecided
from telemetry.limits import HARD_SINK_MPS, HARD_STOP_MPS2
from telemetry.sentences import say
from telemetry.signals import Signals
from telemetry.trace import Samples


@dataclass(frozen=True, slots=True)
class Ending:
    """What shows that a flight ended hard, a clause each; empty where nothing does."""

    hard: tuple[str, ...] = ()


def analyse(signals: Signals) -> Ending:
    """How one flight ended; nothing is said of a bench or taxi run.

    Notes
    -----
    A current that stops at once is a closed throttle as well, and proves nothing alone.
    """
    flight = signals.flight
    if flight.is_bench or flight.is_taxi or not signals.trace.has_clock:
        return Ending()
    found = (_sink(signals), _stop(signals), _blow(signals))
    return Ending(tuple(clause for clause in found if clause))


def _unseen(signals: Signals) -> bool:
    """Whether the log ends before the landing."""
    return signals.flight.cut_off in ("end", "both")


def _sink(
    signals: Signals, *, windows_s: tuple[float, float] = (1.0, 2.0), near_s: float = 1.0, near_m: float = 2.0
) -> str:
    """A height that sank too fast for a landing, down to the ground, or to a second above it in a log that
    ends there.

    Parameters
    ----------
    windows_s : both hold the sink: a leap of the reading shows in one only.
    near_s : so long before the ground nobody flares any more; the sensor's own lag is in it.
    near_m : a height below which the model is at the ground.
    """
    samples = signals.fresh("altitude_m", least=8)
    if samples is None:
        return ""
    last = samples.time_s.size - 1
    if _unseen(signals):
        ground_m = 0.0
    else:
        ground_m = float(np.median(samples.values[-5:]))
        above = np.flatnonzero(samples.values > ground_m + near_m)
        if not above.size or above[-1] >= last:
            return ""
        last = int(above[-1]) + 1
    sinks = [_fall_mps(samples, last, window_s) for window_s in windows_s]
    sink_mps = min(sinks)
    if sink_mps < HARD_SINK_MPS.value or samples.values[last] - ground_m > max(near_s * max(sinks), near_m):
        return ""
    return say("ending", "sink", sink_mps=sink_mps)


def _fall_mps(samples: Samples, last: int, window_s: float) -> float:
    """Mean sink over the time before a sample, 0 where too few tell. [m/s]"""
    first = int(np.searchsorted(samples.time_s, samples.time_s[last] - window_s - 0.05))
    if last - first < 2:
        first = last - 2
    if first < 0 or samples.time_s[last] <= samples.time_s[first]:
        return 0.0
    return float(
        (samples.values[first] - samples.values[last]) / (samples.time_s[last] - samples.time_s[first])
    )


def _stop(
    signals: Signals,
    *,
    flying: float = 0.8,
    stopped: float = 0.2,
    within_s: float = 1.0,
    stays_s: float = 2.0,
) -> str:
    """A speed that stopped at once from that of flight.

    Parameters
    ----------
    flying : share of the median speed in flight; a landing touches down slower.
    stopped : share of it at which the model stands, for `stays_s` or to the end of the log; it then never
        moves at twice that again. Over the ground a model that climbs straight up stands as well.
    within_s : a roll-out takes several seconds.
    """
    powered = signals.powered
    for quantity in ("airspeed_mps", "ground_speed_mps"):
        samples = signals.fresh(quantity, least=20)
        if samples is None or powered is None:
            continue
        time_s, speed = samples
        aloft = speed[(time_s > powered.start_s) & (time_s < powered.end_s)]
        if aloft.size < 20:
            continue
        usual = float(np.median(aloft))
        fast = np.flatnonzero(speed > flying * usual)
        if not fast.size or usual <= 3.0:
            continue
        after = slice(int(fast[-1]) + 1, None)
        seconds = time_s[after] - time_s[fast[-1]]
        stands = seconds > within_s
        soon = speed[after][~stands]
        rest = speed[after][stands & (seconds < within_s + stays_s)]
        stood = bool(np.all(rest < stopped * usual)) if rest.size else bool(soon.size >= 2)
        stood = stood and not np.any(speed[after][stands] > 2.0 * stopped * usual)
        if stood and soon.size and float(soon[-1]) < stopped * usual:
            return say("ending", "stop", speed_mps=float(speed[fast[-1]]))
    return ""


def _blow(signals: Signals, *, last_s: float = 1.0) -> str:
    """A blow in the last second of a log that ends before the landing."""
    if not _unseen(signals) or isinstance(signals.flight.powered, Undecided):
        return ""
    end_s = signals.flight.end_s
    for position in signals.trace.positions("acceleration_mps2"):
        samples = signals.fresh("acceleration_mps2", position, least=20)
        if samples is None:
            continue
        usual = float(np.median(samples.values))
        late = np.abs(samples.values[samples.time_s >= end_s - last_s] - usual)
        before = np.abs(samples.values[samples.time_s < end_s - last_s] - usual)
        if (
            late.size
            and before.size
            and late.max() > max(HARD_STOP_MPS2.value, 1.5 * np.percentile(before, 99.5))
        ):
            return say("ending", "blow", blow_mps2=float(late.max()))
    return ""
