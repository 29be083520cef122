"""The consumption model: how much a flight of this aircraft takes in a minute.

The logarithm of a flight's mean rate is normal around the mean of its drive. Its scatter is partly the
day's (weather, shared by the day's flights) and partly the flight's own.

Bayes' rule over a grid of scatters; for each point of the grid everything is normal and solved
exactly. The next flight is then a mixture of normals (`Mixture`), on a new day.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import nctdtrit, ndtr, ndtri, stdtrit

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.intp]

SMALLEST_SCATTER = 0.01
"""No aircraft repeats its consumption better than 1 %: a judgement, it keeps equal rows from promising too
much.
"""


@dataclass(frozen=True, slots=True)
class Component:
    """One normal belief: its weight, mean and standard deviation."""

    weight: float
    mean: float
    sd: float


@dataclass(frozen=True, slots=True)
class Mixture:
    """A mixture of normals, each (k,); the weights sum to 1. `scatters` is the spread between flights that
    each stands for.
    """

    weights: Floats
    means: Floats
    sds: Floats
    scatters: Floats

    @property
    def scatter(self) -> float:
        """The spread between flights to be expected."""
        return float(self.weights @ self.scatters)

    def quantile(self, shares: Sequence[float]) -> Floats:
        """The values below which these shares lie.

        Parameters
        ----------
        shares : (m,) each between 0 and 1.

        Returns
        -------
        (m,) to 1e-9.

        Source: Brent's method, scipy.optimize.brentq.
        """
        low, high = float((self.means - 9 * self.sds).min()), float((self.means + 9 * self.sds).max())
        return np.array([brentq(self._miss, low, high, args=(share,), xtol=1e-9) for share in shares])

    def _miss(self, value: float, share: float) -> float:
        """By how much more than this share lies below a value."""
        return float(self.weights @ ndtr((value - self.means) / self.sds)) - share


@dataclass(frozen=True, slots=True)
class Scatter:
    """What is believed of the scatter between flights before any was flown.

    Attributes
    ----------
    smallest, largest : the standard deviation of a flight's log rate, log-uniform between them.
    wild, wild_share : standard deviations beyond, and the belief they have together: little, until
        flights lie so far apart that nothing else explains them.
    day_shares : the share of its variance that is the day's, each as likely.
    points : of the grid over the standard deviation.
    """

    smallest: float = 0.03
    largest: float = 0.25
    wild: tuple[float, ...] = (0.35, 0.5, 0.7, 1.0)
    wild_share: float = 0.005
    day_shares: tuple[float, ...] = (0.0, 0.25, 0.5, 0.75)
    points: int = 15

    def grid(self, *, shared_days: bool) -> tuple[Floats, Floats, Floats]:
        """Standard deviations, shares of the day and the logarithms of their belief, each (g,)."""
        usual = np.geomspace(self.smallest, self.largest, self.points)
        spread = np.concatenate([usual, self.wild])
        beyond = self.wild_share if self.wild else 0.0
        belief = np.concatenate(
            [
                np.full(usual.size, (1 - beyond) / usual.size),
                np.full(len(self.wild), beyond / max(len(self.wild), 1)),
            ]
        )
        total_sd, share = np.meshgrid(spread, self.day_shares if shared_days else (0.0,))
        return total_sd.ravel(), share.ravel(), np.tile(np.log(belief), share.shape[0])


@dataclass(frozen=True, slots=True)
class Flown:
    """Past flights as the model takes them.

    Attributes
    ----------
    log_rate : (n,) natural logarithm of mAh/min.
    day : (n,) number of the day; flights of one day share its weather.
    """

    log_rate: Floats
    day: Whole

    @property
    def shared_days(self) -> bool:
        """Whether any day saw more than one flight."""
        return bool(np.unique(self.day).size < self.day.size)


def next_flight(flown: Flown, prior: Sequence[Component], *, scatter: Scatter | None = None) -> Mixture:
    """The log rate of the next flight, on a new day.

    Parameters
    ----------
    prior : of the mean, before any flight. [log mAh/min]

    Source: normal linear model with conjugate prior (Gelman et al., Bayesian Data Analysis, ch. 14
    and 15, from memory), by sufficient statistics of each day.
    """
    scatter = scatter or Scatter()
    total_sd, share, log_belief = scatter.grid(shared_days=flown.shared_days)
    evidence = _evidence(flown, total_sd**2 * (1 - share), total_sd**2 * share)
    log_weights, means, variances = [], [], []
    for belief in prior:
        log_likelihood, at, variance = _posterior(evidence, belief)
        log_weights.append(math.log(belief.weight) + log_belief + log_likelihood)
        means.append(at)
        variances.append(variance + total_sd**2)
    stacked = np.concatenate(log_weights)
    weights = np.exp(stacked - stacked.max())
    return Mixture(
        weights / weights.sum(),
        np.concatenate(means),
        np.sqrt(np.concatenate(variances)),
        np.tile(total_sd, len(prior)),
    )


@dataclass(frozen=True, slots=True)
class _Evidence:
    """For each of g scatters: the data's precision, its product with the data, and the rest of the log
    likelihood, each (g,).
    """

    precision: Floats
    product: Floats
    rest: Floats


def _evidence(flown: Flown, own_var: Floats, day_var: Floats) -> _Evidence:
    of_day = np.bincount(flown.day).astype(np.float64)
    sum_of_day = np.bincount(flown.day, weights=flown.log_rate)
    alone = 1.0 / own_var
    whole_var = own_var[:, None] + day_var[:, None] * of_day
    shared = day_var[:, None] / (own_var[:, None] * whole_var)  # (g, days)
    precision = alone * flown.log_rate.size - shared @ of_day**2
    product = alone * float(flown.log_rate.sum()) - shared @ (sum_of_day * of_day)
    square = alone * float(flown.log_rate @ flown.log_rate) - shared @ sum_of_day**2
    log_det = np.log(own_var) * (flown.log_rate.size - of_day.size) + np.log(whole_var).sum(axis=1)
    return _Evidence(precision, product, -0.5 * (log_det + square))


def _posterior(evidence: _Evidence, belief: Component) -> tuple[Floats, Floats, Floats]:
    """Log likelihood, and mean and variance of the mean, each (g,)."""
    before = belief.sd**-2.0
    precision = before + evidence.precision
    product = before * belief.mean + evidence.product
    at = product / precision
    log_likelihood: Floats = evidence.rest + 0.5 * (
        product * at - before * belief.mean**2 - np.log(precision) + math.log(before)
    )
    return log_likelihood, at, 1.0 / precision


def data_alone(log_rate: Floats, shares: Sequence[float]) -> Floats:
    """Quantiles of one more flight's log rate from the flights alone, two at least.

    x̄ + t·s·√(1 + 1/n), exact whatever the true scatter.

    Source: Student's t prediction limit for one future observation (Hahn & Meeker, Statistical
    Intervals, from memory).
    """
    factors = np.array([student_factor(log_rate.size, share) for share in shares])
    return float(log_rate.mean()) + factors * scatter_of(log_rate)


def student_factor(flights: int, share: float) -> float:
    """t·√(1 + 1/n) of the prediction limit for one more flight after n."""
    return float(stdtrit(flights - 1.0, share)) * math.sqrt(1 + 1 / flights)


def tolerance_factor(flights: int, share: float, certainty: float) -> float:
    """So many sample standard deviations above the mean lies, with the certainty, the share of all flights to
    come.

    Source: one-sided normal tolerance limit, NIST/SEMATECH e-Handbook 7.2.6.3, by the
    non-central t distribution.
    """
    return float(nctdtrit(flights - 1.0, float(ndtri(share)) * math.sqrt(flights), certainty)) / math.sqrt(
        flights
    )


def scatter_of(log_rate: Floats) -> float:
    """The spread that the flights themselves show, never below `SMALLEST_SCATTER`."""
    return max(float(log_rate.std(ddof=1)), SMALLEST_SCATTER)
