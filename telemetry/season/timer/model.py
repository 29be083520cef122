"""The consumption model: how much a flight of this aircraft takes in a minute.

The logarithm of a flight's mean rate is normal around the mean of its configuration. Its
scatter is partly the day's (weather, shared by the day's flights) and partly the flight's own.

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
    configuration : (n,) 0 is the one asked about.
    """

    log_rate: Floats
    day: Whole
    configuration: Whole

    @property
    def shared_days(self) -> bool:
        """Whether any day saw more than one flight."""
        return bool(np.unique(self.day).size < self.day.size)


def next_flight(
    flown: Flown,
    prior: Sequence[Component],
    offsets: Sequence[Sequence[Component]] = (),
    *,
    scatter: Scatter | None = None,
) -> Mixture:
    """The log rate of the next flight in configuration 0, on a new day.

    Parameters
    ----------
    prior : of configuration 0's mean, before any flight. [log mAh/min]
    offsets : for each other configuration 1…, how its mean is thought to differ from
        configuration 0's; the first component of each goes with the first of the others.

    Source: normal linear model with conjugate prior (Gelman et al., Bayesian Data Analysis, ch. 14
    and 15, from memory), by sufficient statistics of each day.
    """
    scatter = scatter or Scatter()
    total_sd, share, log_belief = scatter.grid(shared_days=flown.shared_days)
    own_var, day_var = total_sd**2 * (1 - share), total_sd**2 * share
    evidence = _evidence(flown, own_var, day_var, 1 + len(offsets))
    log_weights, means, variances, scatters = [], [], [], []
    for belief in prior:
        for way in range(max((len(o) for o in offsets), default=1)):
            weight, mean, covariance = _joint(belief, [o[way] for o in offsets])
            log_likelihood, at, variance = _posterior(evidence, mean, covariance)
            log_weights.append(math.log(weight) + log_belief + log_likelihood)
            means.append(at)
            variances.append(variance + total_sd**2)
            scatters.append(total_sd)
    stacked = np.concatenate(log_weights)
    weights = np.exp(stacked - stacked.max())
    return Mixture(
        weights / weights.sum(),
        np.concatenate(means),
        np.sqrt(np.concatenate(variances)),
        np.concatenate(scatters),
    )


@dataclass(frozen=True, slots=True)
class _Evidence:
    """For each of g scatters: precision (g, c, c), its product with the data (g, c), and the rest of the log
    likelihood (g,).
    """

    precision: Floats
    product: Floats
    rest: Floats


def _evidence(flown: Flown, own_var: Floats, day_var: Floats, configurations: int) -> _Evidence:
    days = int(flown.day.max()) + 1 if flown.day.size else 0
    count = np.zeros((days, configurations))
    total = np.zeros((days, configurations))
    np.add.at(count, (flown.day, flown.configuration), 1.0)
    np.add.at(total, (flown.day, flown.configuration), flown.log_rate)
    of_day, sum_of_day = count.sum(axis=1), total.sum(axis=1)
    alone = 1.0 / own_var
    whole_var = own_var[:, None] + day_var[:, None] * of_day
    shared = day_var[:, None] / (own_var[:, None] * whole_var)  # (g, days)
    precision = alone[:, None, None] * np.diag(count.sum(axis=0)) - np.einsum(
        "gd,dc,de->gce", shared, count, count
    )
    product = alone[:, None] * total.sum(axis=0) - (shared * sum_of_day) @ count
    square = alone * float(flown.log_rate @ flown.log_rate) - shared @ sum_of_day**2
    log_det = np.log(own_var) * (flown.log_rate.size - days) + np.log(whole_var).sum(axis=1)
    return _Evidence(precision, product, -0.5 * (log_det + square))


def _joint(belief: Component, differences: Sequence[Component]) -> tuple[float, Floats, Floats]:
    """Weight, mean (c,) and covariance (c, c) of the configurations' means before any flight."""
    mean = np.array([belief.mean, *(belief.mean + d.mean for d in differences)])
    covariance = np.full((mean.size, mean.size), belief.sd**2) + np.diag(
        [0.0, *(d.sd**2 for d in differences)]
    )
    weight = belief.weight * (differences[0].weight if differences else 1.0)
    return weight, mean, covariance


def _posterior(evidence: _Evidence, mean: Floats, covariance: Floats) -> tuple[Floats, Floats, Floats]:
    """Log likelihood (g,), and mean (g,) and variance (g,) of configuration 0's mean."""
    before = np.linalg.inv(covariance)
    precision = before + evidence.precision
    product = before @ mean + evidence.product
    after: Floats = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    at = np.einsum("gce,ge->gc", after, product)
    log_likelihood: Floats = evidence.rest + 0.5 * (
        np.einsum("gc,gc->g", product, at)
        - float(mean @ before @ mean)
        - np.linalg.slogdet(precision)[1]
        - float(np.linalg.slogdet(covariance)[1])
    )
    return log_likelihood, at[:, 0], after[:, 0, 0]


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
