"""What a pack's current sensor reads while nothing flows."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from telemetry.derived import Derived
from telemetry.estimate import Undecided
from telemetry.limits import RECEIVER_DRAW_A
from telemetry.sentences import undecided
from telemetry.trace import Flight, Samples, Span, Trace


class Zero(NamedTuple):
    """A current sensor's reading with no motor running. [A]

    rest_a : receiver and servos included.
    offset_a : the part of it that is the sensor's, 0 where a receiver may draw it all.
    """

    rest_a: float | Undecided
    offset_a: float


def zero_of(trace: Trace, flight: Flight, read: Derived | None) -> Zero:
    """The zero of the pack's current sensor.

    Parameters
    ----------
    trace : cleaned.
    read : the pack's current; one that was worked out from others has no zero of its own.
    """
    if read is None or read.how:
        return Zero(undecided("signals", "no_own_current"), 0.0)
    if isinstance(flight.powered, Undecided):
        return Zero(undecided("log", "no_motor_ran"), 0.0)
    if not trace.positions("throttle_fraction") and not trace.positions("rpm"):
        return Zero(undecided("signals", "never_at_rest"), 0.0)
    levels = _levels(read.samples, flight.powered)
    rest_a = _one_reading(levels)
    step_a = trace.channels["current_a", ""].step
    return Zero(rest_a, _offset_a(rest_a, levels, read.samples, flight.powered, step_a))


def _levels(
    samples: Samples,
    powered: Span,
    *,
    settle_s: float = 1.0,
    least: int = 5,
    steady: float = 0.5,
    steady_a: float = 0.5,
) -> tuple[float, ...]:
    """The middle of what was read before the first throttle-up and after the last motor stop, if it stands.

    Parameters
    ----------
    settle_s : for a motor to start and to spin down.
    least : samples on a side; fewer are no reading.
    steady, steady_a : a reading that stands wanders by no more than this share of itself or by this amount;
        what a windmilling motor does is not steady.
    """
    found = []
    before, after = samples.time_s < powered.start_s - settle_s, samples.time_s > powered.end_s + settle_s
    for values in (samples.values[before], samples.values[after]):
        if values.size >= least:
            low, middle, high = np.percentile(values, [5.0, 50.0, 95.0])
            if high - low <= max(steady_a, steady * abs(middle)):
                found.append(float(middle))
    return tuple(found)


def _one_reading(levels: tuple[float, ...], *, alike: float = 0.5, alike_a: float = 0.5) -> float | Undecided:
    """The reading that stood before and after alike."""
    if not levels:
        return undecided("signals", "never_at_rest")
    if max(levels) - min(levels) > max(alike_a, alike * abs(levels[0])):
        return undecided("signals", "no_one_reading")
    return float(np.mean(levels))


def _offset_a(
    rest_a: float | Undecided,
    levels: tuple[float, ...],
    samples: Samples,
    powered: Span,
    step_a: float,
    *,
    share: float = 0.1,
    least_a: float = 0.15,
) -> float:
    """What is the sensor's: more than a receiver with its servos draws, or below nothing.

    Half of what they draw at most is left in it. Below nothing it takes a reading on both sides of the
    flight: on one it may be a charger.

    Parameters
    ----------
    share : of the mean current under power; a small model's receiver draws no ampere.
    least_a : more than a small sensor's resolution.
    """
    loaded = (samples.time_s >= powered.start_s) & (samples.time_s <= powered.end_s)
    if isinstance(rest_a, Undecided) or not loaded.any():
        return 0.0
    draw_a = min(RECEIVER_DRAW_A.value, share * abs(float(np.mean(samples.values[loaded]))))
    most_a = draw_a + max(least_a, step_a)
    least_negative_a = -max(0.3 * most_a, least_a, 2.0 * step_a)
    if rest_a > most_a or (rest_a < least_negative_a and len(levels) == 2):
        return rest_a - draw_a / 2.0
    return 0.0
