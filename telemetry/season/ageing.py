"""How a pack as a whole ages: its resistance over the flights it was in, at one temperature.

Cells are compared with their neighbours in `trends`; a pack whose cells all age alike shows here alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy import stats

from telemetry.estimate import Estimate, Undecided
from telemetry.limits import AGED_RESISTANCE_RATIO, HEALTHY_CELL_SPREAD_FRACTION
from telemetry.physics.cell import ONE_SECOND_ACTIVATION, arrhenius_factor
from telemetry.sentences import counted, say, undecided


class PackReading(NamedTuple):
    """What one flight tells of a whole pack.

    Attributes
    ----------
    number : of the flight, as the owner counts them.
    cycle : how many flights the pack was in before it, those that tell nothing too.
    ohm_25c : one second after a step, carried to 25 °C. [Ω]
    temperature_c : at which it was measured. [°C]
    """

    number: int
    cycle: int
    ohm_25c: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class PackAgeing:
    """How a pack's resistance went.

    Attributes
    ----------
    change_fraction : from its first flight that tells it to the last, on the line through all.
    flights : that tell it.
    verdict : ageing, steady or undecided.
    flights_left : until its resistance is `AGED_RESISTANCE_RATIO` times that of the first flight, at this
        pace; undecided where it is not proven that it ages.
    """

    change_fraction: Estimate
    flights: int
    verdict: str
    flights_left: Estimate | Undecided


def pack_ageing(
    readings: Sequence[PackReading], *, least_flights: int = 5, coverage: float = 0.95, least_sd: float = 0.01
) -> PackAgeing | Undecided:
    """How the resistance of one pack went over its flights.

    Parameters
    ----------
    readings : in the order they were flown; those without a temperature cannot be compared and are left out
        beforehand.
    least_flights : below it a line through them says nothing.
    coverage : of the intervals.
    least_sd : no flight tells a resistance better, a share.

    Notes
    -----
    The logarithm of the resistance over the flights it was in, by least squares, together with how far the
    law that carried it to 25 °C errs: that has a doubt of its own beforehand, so that a season that began
    warm and ended cold is not taken for ageing, nor is its doubt added where all flights were equally warm.
    Student's t.

    Source: ridge regression as a normal prior on one coefficient (Hoerl and Kennard 1970, from memory).
    """
    if len(readings) < least_flights:
        told = counted("trends", "cells_told", count=len(readings))
        return undecided("trends", "few_ageing", told=told, needed=least_flights)
    logs = np.log([r.ohm_25c for r in readings])
    cycles = np.array([r.cycle for r in readings], dtype=float)
    span = float(cycles[-1] - cycles[0])
    colder = np.array([float(np.log(arrhenius_factor(r.temperature_c, 1.0))) for r in readings])
    shape = np.column_stack((np.ones_like(cycles), (cycles - cycles[0]) / span, colder))
    prior_sd = ONE_SECOND_ACTIVATION.sd_kjpmol
    sd = least_sd
    for _ in range(3):
        precision = shape.T @ shape / sd**2 + np.diag((0.0, 0.0, 1.0 / prior_sd**2))
        covariance = np.linalg.inv(precision)
        found = covariance @ (shape.T @ logs) / sd**2
        freedom = len(readings) - 2
        sd = max(float(np.sqrt(np.sum((logs - shape @ found) ** 2) / freedom)), least_sd)
    half = float(stats.t.ppf(0.5 + coverage / 2, freedom)) * float(np.sqrt(covariance[1, 1]))
    change = _share(float(found[1]), half)
    verdict = "undecided"
    healthy = HEALTHY_CELL_SPREAD_FRACTION.value
    if change.low > 0 and change.value >= 2 * healthy:
        verdict = "ageing"
    elif change.high < 0.10:
        verdict = "steady"
    left = _left(float(found[1]), half, span) if verdict == "ageing" else undecided("trends", "not_ageing")
    return PackAgeing(change, len(readings), verdict, left)


def _share(middle: float, half: float) -> Estimate:
    value, low, high = (float(np.expm1(middle + arm)) for arm in (0.0, -half, half))
    return Estimate(value, low, high, say("methods", "line"), kind="mean")


def _left(slope: float, half: float, span: float) -> Estimate | Undecided:
    """Flights until the resistance has grown so far, from the last one on; none where it has already.

    `slope` is of the logarithm over `span` flights.
    """
    whole = float(np.log(AGED_RESISTANCE_RATIO.value))
    slowest = slope - half
    if slowest <= 0.05 * slope:
        return undecided("trends", "end_open")
    value, low, high = (max(span * (whole / at - 1.0), 0.0) for at in (slope, slope + half, slowest))
    return Estimate(value, low, high, say("methods", "line"), kind="mean")
