"""The timer's statistics against tables and general-purpose libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from statsmodels.regression.linear_model import OLS

from telemetry.season.timer import suggest_timer
from telemetry.season.timer.model import data_alone, student_factor, tolerance_factor

RATES = [612.0, 598.0, 655.0, 630.0, 590.0, 641.0]


def suggest(rates, **choices):
    defaults = {
        "capacity_mah": 5200.0,
        "reserve_fraction": 0.2,
        "confidence": 0.95,
        "landing_allowance_s": 60.0,
    }
    return suggest_timer([300.0] * len(rates), [5.0 * rate for rate in rates], **(defaults | choices))


@pytest.mark.source(
    "NIST/SEMATECH e-Handbook 7.2.6.3: k = 1.8752 by Natrella's approximation; 1.8740 exact by the "
    "non-central t"
)
def test_tolerance_factor_of_the_handbook():
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(1.8740, abs=5e-5)
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(1.8752, rel=1e-3)


@pytest.mark.source("scipy.stats.nct, as NIST/SEMATECH e-Handbook 7.2.6.3 uses it")
@pytest.mark.parametrize(
    ("flights", "share", "certainty", "factor"),
    [(5, 0.95, 0.95, 4.2027), (10, 0.90, 0.95, 2.3546), (6, 0.95, 0.90, 3.0919), (12, 0.95, 0.95, 2.7363)],
)
def test_tolerance_factors_of_small_samples(flights, share, certainty, factor):
    assert tolerance_factor(flights, share, certainty) == pytest.approx(factor, rel=1e-4)
    exact = scipy.stats.nct.ppf(
        certainty, flights - 1, scipy.stats.norm.ppf(share) * math.sqrt(flights)
    ) / math.sqrt(flights)
    assert tolerance_factor(flights, share, certainty) == pytest.approx(exact, rel=1e-6)


@pytest.mark.source("Student t, scipy.stats.t: prediction factor t·sqrt(1+1/n), 95 %")
@pytest.mark.parametrize(
    ("flights", "factor"), [(2, 7.7327), (3, 3.3717), (6, 2.1765), (10, 1.9226), (12, 1.8692)]
)
def test_prediction_factor_for_one_more_flight(flights, factor):
    assert student_factor(flights, 0.95) == pytest.approx(factor, rel=1e-4)


@pytest.mark.source("Student t prediction limit, x̄ + t·s·sqrt(1+1/n), t = 2.01505 at five degrees of freedom")
def test_plain_rates_limit_one_more_flight_at_676():
    assert data_alone(np.array(RATES), [0.95])[0] == pytest.approx(676.13, rel=1e-4)


@pytest.mark.source("the same on the logarithm, scipy.stats.t")
def test_six_flights_limit_the_seventh_at_678_on_the_log_scale():
    suggestion = suggest(RATES)
    assert suggestion.rate_limit_mah_per_min == pytest.approx(678.15, rel=1e-4)
    # 4160 mAh at 678.15 mAh/min last 368.06 s; a minute less is 308.06 s, rounded down to 5 s
    assert suggestion.alarm_s == 305.0


@pytest.mark.source("statsmodels OLS, prediction interval of one observation on a constant")
def test_six_flights_agree_with_a_regression_on_a_constant():
    logs = np.log(RATES)
    frame = OLS(logs, np.ones(6)).fit().get_prediction([1.0]).summary_frame(alpha=0.05)
    rate = suggest(RATES).rate_mah_per_min
    assert rate.low == pytest.approx(math.exp(frame["obs_ci_lower"].iloc[0]), rel=1e-9)
    assert rate.high == pytest.approx(math.exp(frame["obs_ci_upper"].iloc[0]), rel=1e-9)


@pytest.mark.source("Student t has no degrees of freedom after one flight")
@pytest.mark.parametrize("rates", [[], [612.0]])
def test_no_limit_from_fewer_than_two_flights_without_a_prediction(rates):
    with pytest.raises(ValueError, match="one flight says nothing of how much the next may differ"):
        suggest(rates)


@pytest.mark.source("land with about 20 % in the pack: common practice, no source")
def test_one_flight_never_becomes_eighty_per_cent_of_itself():
    # a maiden of 600 mAh/min would empty 4160 mAh in 416 s; less the landing that is 355 s
    assert suggest([600.0], prior=(600.0, 0.10)).alarm_s < 0.85 * 355.0


@pytest.mark.source(
    "first flights are short and measured, the timer grows with evidence: common practice, no source"
)
def test_the_timer_grows_with_evidence():
    alarms = [
        suggest([600.0, 620.0, 590.0, 610.0, 605.0, 595.0, 615.0][:n], prior=(605.0, 0.10)).alarm_s
        for n in (0, 1, 3, 7)
    ]
    assert alarms == sorted(alarms)
    assert alarms[-1] - alarms[0] > 60.0
