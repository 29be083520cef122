"""What past flights say of the next one: days and predictions. Futures are simulated, seeded."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from telemetry.history import PastFlight
from telemetry.season.timer import predict_rate
from telemetry.season.timer.model import Component, Flown, Scatter, next_flight


def flight(rate, date=""):
    return PastFlight(300.0, 5.0 * rate, date=date)


def limit(flights, **choices):
    return predict_rate(flights, confidence=0.95, **choices).limit_mah_per_min


@pytest.mark.source(
    "conjugate normal model with known scatter: precision adds up (Gelman et al., Bayesian Data Analysis, "
    "ch. 2, from memory)"
)
def test_with_one_known_scatter_the_model_is_the_textbook_one():
    logs = np.array([0.02, -0.05, 0.08])
    known = Scatter(smallest=0.1, largest=0.1, wild=(), points=1)
    future = next_flight(Flown(logs, np.arange(3)), [Component(1.0, 0.1, 0.2)], scatter=known)
    precision = 1 / 0.2**2 + 3 / 0.1**2
    mean = (0.1 / 0.2**2 + logs.sum() / 0.1**2) / precision
    expected = scipy.stats.norm.ppf([0.05, 0.5, 0.95], mean, np.sqrt(1 / precision + 0.1**2))
    np.testing.assert_allclose(future.quantile([0.05, 0.5, 0.95]), expected, atol=1e-9)


@pytest.mark.source("multivariate normal conditioning, scipy.stats and numpy.linalg")
def test_days_agree_with_the_whole_covariance_matrix():
    rng = np.random.default_rng(4)
    day = np.array([0, 0, 1, 1, 1, 2])
    logs = 0.1 * rng.standard_normal(6)
    known = Scatter(smallest=0.12, largest=0.12, wild=(), day_shares=(0.5,), points=1)
    future = next_flight(Flown(logs, day), [Component(1.0, 0.03, 0.3)], scatter=known)
    own = day_var = 0.12**2 / 2
    whole = 0.3**2 + own * np.eye(6) + day_var * (day[:, None] == day)
    gain = 0.3**2 * np.linalg.solve(whole, np.ones(6))
    mean, after = 0.03 + gain @ (logs - 0.03), 0.3**2 - gain @ np.ones(6) * 0.3**2
    expected = scipy.stats.norm.ppf([0.1, 0.9], mean, np.sqrt(after + own + day_var))
    np.testing.assert_allclose(future.quantile([0.1, 0.9]), expected, atol=1e-9)


@pytest.mark.source("scipy.stats: quantiles of a mixture by its distribution function")
def test_quantiles_invert_the_distribution():
    future = next_flight(
        Flown(np.array([0.1, -0.2]), np.arange(2)),
        [Component(0.7, 0.0, 0.1), Component(0.3, 0.0, 0.6)],
    )
    shares = [0.001, 0.025, 0.25, 0.5, 0.75, 0.975, 0.999]
    at = future.quantile(shares)
    again = [float(future.weights @ scipy.stats.norm.cdf(x, future.means, future.sds)) for x in at]
    np.testing.assert_allclose(again, shares, atol=1e-9)


def test_six_flights_of_one_day_promise_less_than_six_of_six_days():
    rates = [612.0, 598.0, 655.0, 630.0, 590.0, 641.0]
    apart = [flight(r, date=f"2026-06-{k + 1:02d}") for k, r in enumerate(rates)]
    one_day = [flight(r, date="2026-06-14") for r in rates]
    assert limit(one_day) > 1.02 * limit(apart)
    assert limit(apart) == pytest.approx(678.15, rel=1e-4)
    assert limit([flight(r) for r in rates]) == pytest.approx(678.15, rel=1e-4)


def test_from_six_flights_on_no_prediction_however_wrong_has_a_say():
    rates = [flight(r) for r in (612.0, 598.0, 655.0, 630.0, 590.0, 641.0)]
    assert limit(rates, prior=(300.0, 0.05)) == limit(rates)


def test_the_order_of_flights_does_not_matter():
    rates = [500.0, 520.0, 490.0, 610.0]
    assert limit([flight(r) for r in rates]) == pytest.approx(
        limit([flight(r) for r in rates[::-1]]), rel=1e-9
    )


def test_the_unit_of_the_charge_does_not_matter():
    rates = [500.0, 540.0, 520.0]
    assert 3.0 * limit([flight(r) for r in rates], prior=(510.0, 0.1)) == pytest.approx(
        limit([flight(3 * r) for r in rates], prior=(1530.0, 0.1)), rel=1e-9
    )


@pytest.mark.parametrize("rates", [(600.0, 1300.0), (600.0, 6000.0)])
def test_two_flights_far_apart_are_believed_however_unlikely_they_were(rates):
    assert limit([flight(r) for r in rates]) > max(rates)


def share_below(draw, futures, seed):
    """Share of simulated next flights that take more than the limit."""
    rng = np.random.default_rng(seed)
    return np.mean([coming > bound for coming, bound in (draw(rng) for _ in range(futures))])


def within(share, expected, futures, sigmas=3.5):
    """Whether a simulated share is the expected one or less, its own luck allowed."""
    return share <= expected + sigmas * np.sqrt(expected * (1 - expected) / futures)


@pytest.mark.parametrize("spread", [0.04, 0.15])
def test_six_flights_keep_the_confidence_whatever_the_spread(spread):
    def draw(rng):
        rates = 600.0 * np.exp(spread * rng.standard_normal(7))
        return rates[6], limit([flight(r) for r in rates[:6]])

    assert within(share_below(draw, 1500, 11), 0.05, 1500)


def test_two_and_three_flights_keep_it_over_the_spreads_of_real_aircraft():
    def draw(rng):
        spread, n = rng.choice([0.04, 0.07, 0.11, 0.15]), rng.integers(2, 4)
        rates = 600.0 * np.exp(spread * rng.standard_normal(n + 1))
        return rates[n], limit([flight(r) for r in rates[:n]])

    assert within(share_below(draw, 1200, 12), 0.05, 1200)


def test_a_prediction_20_per_cent_too_low_lands_less_than_one_first_flight_in_eight_below():
    def draw(rng):
        spread, n = rng.choice([0.04, 0.07, 0.11, 0.15]), rng.integers(0, 2)
        rates = 600.0 * np.exp(spread * rng.standard_normal(n + 1))
        return rates[n], limit([flight(r) for r in rates[:n]], prior=(480.0, 0.05))

    assert within(share_below(draw, 1200, 13), 0.12, 1200)


def test_weather_shared_by_the_days_flights_is_allowed_for_when_dates_are_known():
    def draw(rng):
        spread = rng.choice([0.04, 0.07, 0.11, 0.15])
        weather, own = (
            spread * np.sqrt(0.5) * rng.standard_normal(3),
            spread * np.sqrt(0.5) * rng.standard_normal(7),
        )
        rates = 600.0 * np.exp(own + weather[[0, 0, 0, 1, 1, 1, 2]])
        return rates[6], limit([flight(r, date=f"2026-06-{1 + k // 3:02d}") for k, r in enumerate(rates[:6])])

    assert within(share_below(draw, 800, 14), 0.065, 800)


def test_half_of_the_next_flights_lie_in_the_dark_band_of_the_fan_and_95_per_cent_in_the_light_one():
    rng = np.random.default_rng(16)
    inner = outer = 0
    for _ in range(800):
        rates = 600.0 * np.exp(0.08 * rng.standard_normal(9))
        fan = predict_rate([flight(r) for r in rates[:8]], confidence=0.95).fan.rate_mah_per_min
        inner += fan[1] <= rates[8] <= fan[3]
        outer += fan[0] <= rates[8] <= fan[4]
    assert inner / 800 == pytest.approx(0.50, abs=0.062)
    assert outer / 800 == pytest.approx(0.95, abs=0.027)
