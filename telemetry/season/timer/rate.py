"""From past flights to the rate that the next one will not pass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from telemetry.estimate import Estimate
from telemetry.history import PastFlight
from telemetry.season.timer.model import (
    Component,
    Floats,
    Flown,
    Mixture,
    data_alone,
    next_flight,
    scatter_of,
    student_factor,
    tolerance_factor,
)
from telemetry.season.timer.results import Fan
from telemetry.sentences import say

Prior = tuple[float, float]
"""Mean rate [mAh/min] and its relative standard deviation."""

ALONE_FROM_FLIGHTS = 6
"""From so many flights on, the data stand alone: Student's limit then costs 4 % of the time and any prior,
however wrong, is out of it.
"""
ALONE_FROM_DAYS = 3
"""Unless they were flown on fewer days than this, when the weather of the days is hardly known."""
FAN_QUANTILES = (0.025, 0.25, 0.5, 0.75, 0.975)


@dataclass(frozen=True, slots=True)
class RatePrediction:
    """Consumption per minute of the next flight.

    `quantiles` are those of the fan and last the confidence; `rates_mah_per_min` stand beside them.
    `scatter` is the relative spread between flights, `days` those of the flights used, `undated` how many of
    these carry no date. `season_limit_mah_per_min` holds, nine times in ten, that share of all flights to
    come; None while the data don't stand alone.
    """

    quantiles: tuple[float, ...]
    rates_mah_per_min: tuple[float, ...]
    used: int
    days: int
    scatter: float
    stands_alone: bool
    season_limit_mah_per_min: float | None = None
    undated: int = 0

    @property
    def limit_mah_per_min(self) -> float:
        """With the confidence, the next flight takes no more. [mAh/min]"""
        return self.rates_mah_per_min[-1]

    @property
    def median_mah_per_min(self) -> float:
        """Half of the next flights take more. [mAh/min]"""
        return self.rates_mah_per_min[FAN_QUANTILES.index(0.5)]

    @property
    def estimate(self) -> Estimate:
        """Median and the 95 % interval of the next flight's rate. [mAh/min]"""
        how = say("methods", "rate_alone") if self.stands_alone else say("methods", "rate_prior")
        low, high = self.rates_mah_per_min[0], self.rates_mah_per_min[4]
        return Estimate(self.median_mah_per_min, low, high, how, kind="next")

    @property
    def fan(self) -> Fan:
        """Likely futures, for drawing."""
        return Fan(self.quantiles, self.rates_mah_per_min)

    @property
    def confidence(self) -> float:
        """The share of next flights that take no more than the limit."""
        return self.quantiles[-1]

    def limit_after(self, flights: int) -> float:
        """The limit to be expected once so many flights have been flown, two at least. [mAh/min]"""
        return self.median_mah_per_min * math.exp(self.scatter * student_factor(flights, self.confidence))

    def limit_with(self, relative_sd: float) -> float:
        """The limit when what it is set against, the capacity, has a doubt of its own. [mAh/min]

        The doubts of rate and capacity are independent: their margins add up in quadrature.
        """
        own = math.log(self.limit_mah_per_min / self.median_mah_per_min)
        return self.median_mah_per_min * math.exp(
            math.hypot(own, float(ndtri(self.confidence)) * relative_sd)
        )


def predict_rate(
    flights: Sequence[PastFlight],
    *,
    confidence: float,
    prior: Prior | None = None,
    least_prior_sd: float = 0.10,
    wide_share: float = 0.3,
    wide_sd: float = 0.25,
) -> RatePrediction:
    """The rate of the next flight of one drive, on a new day.

    Parameters
    ----------
    flights : of this drive alone, see `same_drive`.
    prior : from the prediction.
    least_prior_sd : a prediction's own width is not believed below this: how the pilot uses the
        throttle is in no sheet.
    wide_share, wide_sd : the heavy tail of the prior, for a prediction that is simply wrong. With
        these, a prediction 20 % too low lands 11 % of first flights in the reserve and an honest
        one gives up 12 % of the time against one who knows how honest it is. Before any flight the
        limit is the prediction times one factor, whatever the mixture, so that either figure sets the other.

    Raises
    ------
    ValueError : no prior and fewer than two flights.
    """
    if prior is None and len(flights) < 2:
        raise ValueError(
            "fewer than two past flights and no prediction: one flight says nothing of how much the next may "
            "differ"
        )
    quantiles = (*FAN_QUANTILES, confidence)
    days = len(_day_names(flights))
    dated = days < len(flights)
    alone = len(flights) >= ALONE_FROM_FLIGHTS and (not dated or days >= ALONE_FROM_DAYS)
    season = None
    if alone and not dated:
        log_rate = _log_rates(flights)
        logs, scatter = data_alone(log_rate, quantiles), scatter_of(log_rate)
        season = _season_limit(log_rate, confidence)
    else:
        centre, future = _by_bayes(
            flights, _prior_of(None if alone else prior, least_prior_sd, wide_share, wide_sd)
        )
        logs, scatter = centre + future.quantile(quantiles), future.scatter
    rates = tuple(float(rate) for rate in np.exp(logs))
    undated = sum(not f.date for f in flights)
    return RatePrediction(quantiles, rates, len(flights), days, scatter, alone, season, undated)


def _season_limit(log_rate: Floats, confidence: float, *, certainty: float = 0.90) -> float:
    return math.exp(
        float(log_rate.mean()) + tolerance_factor(log_rate.size, confidence, certainty) * scatter_of(log_rate)
    )


def _by_bayes(flights: Sequence[PastFlight], beliefs: Sequence[Component]) -> tuple[float, Mixture]:
    """A centre for the log rates and the next flight's around it."""
    log_rate = _log_rates(flights)
    names = {name: k for k, name in enumerate(_day_names(flights))}
    day = np.array([names[_day_name(k, f)] for k, f in enumerate(flights)], dtype=np.intp)
    centre = float(log_rate.mean()) if log_rate.size else beliefs[0].mean
    beliefs = beliefs or (Component(1.0, centre, 5.0),)
    shifted = [Component(b.weight, b.mean - centre, b.sd) for b in beliefs]
    return centre, next_flight(Flown(log_rate - centre, day), shifted)


def _prior_of(
    prior: Prior | None, least_sd: float, wide_share: float, wide_sd: float
) -> tuple[Component, ...]:
    if prior is None:
        return ()
    mean, sd = math.log(prior[0]), max(prior[1], least_sd)
    return Component(1 - wide_share, mean, sd), Component(
        wide_share, mean, math.hypot(sd, wide_sd) if sd > wide_sd else wide_sd
    )


def _log_rates(flights: Sequence[PastFlight]) -> Floats:
    return np.log(np.array([f.rate_mah_per_min for f in flights], dtype=np.float64))


def _day_name(number: int, flight: PastFlight) -> str:
    """Flights of one date share a day; a flight without a date has one of its own."""
    return flight.date[:10] or f"flight {number}"


def _day_names(flights: Sequence[PastFlight]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_day_name(k, f) for k, f in enumerate(flights)))
