"""What current sensors read while nothing flows: the pack's, and the motors' against one another."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from telemetry.derived import Derived, throttle
from telemetry.estimate import Undecided
from telemetry.limits import RECEIVER_DRAW_A
from telemetry.sentences import undecided
from telemetry.signals.rest import standing
from telemetry.trace import Flags, Flight, Floats, Samples, Span, Trace


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
    flight : one of those found in it.
    read : the pack's current within the flight; one that was worked out from others has no zero of its own.

    Returns
    -------
    What it reads at rest and what of it is the sensor's, or why that is not known.
    """
    if read is None or read.how:
        return Zero(undecided("signals", "no_own_current"), 0.0)
    powered = flight.powered
    if isinstance(powered, Undecided):
        return Zero(undecided("log", "no_motor_ran"), 0.0)
    stands = standing(
        read.samples.time_s,
        powered,
        commands=[throttle(trace, within=flight)],
        speeds=[trace.fresh("rpm", p, within=flight) for p in trace.positions("rpm")],
    )
    levels = _levels(read.samples, stands, powered)
    rest_a = _one_reading(levels)
    step_a = trace.channels["current_a", ""].step
    return Zero(rest_a, _offset_a(rest_a, levels, read.samples, powered, step_a))


def from_zero(
    read: Mapping[str, Samples],
    stands: Mapping[str, Flags],
    steps: Mapping[str, float],
    *,
    sure: float = 3.0,
) -> dict[str, Samples]:
    """Every motor's current, less what its sensor reads at rest where the sensors surely start apart.

    Two sensors of one make start some hundredths of an ampere apart, which is a per cent of a cruise current
    (common practice, no source). What all read alike at rest is what controllers draw, and no matter between
    motors.

    Parameters
    ----------
    read : by position, as the sensors read. [s, A]
    stands : by position, (n,) as its samples, whether that motor surely stands.
    steps : by position, the sensor's rounding, 0 if unknown. [A]
    sure : how many sigma two readings must lie apart; a noisy sensor at a short rest is left as it was read.

    Returns
    -------
    The same samples, by position. [s, A]
    """
    zeros = {p: _mean_at_rest(s.values, stands[p], steps[p]) for p, s in read.items()}
    known = {p: z for p, z in zeros.items() if z is not None}
    if len(known) < max(len(read), 2):
        return dict(read)
    low, high = min(known.values()), max(known.values())
    if high.value - low.value <= sure * float(np.hypot(low.sd, high.sd)):
        return dict(read)
    return {p: Samples(s.time_s, s.values - known[p].value) for p, s in read.items()}


class _MeanAtRest(NamedTuple):
    """The mean reading at rest and one sigma of it. [A]"""

    value: float
    sd: float


def _mean_at_rest(
    values: Floats, stands: Flags, step_a: float, *, fewest: int = 10, most: float = 0.02
) -> _MeanAtRest | None:
    """What a motor's sensor reads at rest; None with fewer than `fewest` readings, or over `most` of the
    highest: a motor that is held.
    """
    rest = values[stands]
    if rest.size < fewest or abs(float(np.mean(rest))) > most * float(np.max(values)):
        return None
    variance = max(float(np.var(rest)), step_a**2 / 12.0)
    return _MeanAtRest(float(np.mean(rest)), float(np.sqrt(variance / rest.size)))


def _levels(
    samples: Samples,
    stands: Flags,
    powered: Span,
    *,
    least: int = 5,
    steady: float = 0.5,
    steady_a: float = 0.5,
) -> tuple[float, ...]:
    """The middle of what was read before the first throttle-up and after the last motor stop, if it stands.

    Parameters
    ----------
    least : samples on a side; fewer are no reading.
    steady, steady_a : a reading that stands wanders by no more than this share of itself or by this amount;
        what a windmilling motor does is not steady.
    """
    found = []
    for side in (samples.time_s < powered.start_s, samples.time_s > powered.end_s):
        values = samples.values[stands & side]
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
