"""The timer from bare numbers, and when a part that warms reaches its limit."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.season.timer import suggest_timer, time_to_limit

RATES = [612.0, 598.0, 655.0, 630.0, 590.0, 641.0]


@pytest.mark.parametrize(
    "wrong",
    [
        {"durations_s": [300.0]},
        {"durations_s": [300.0, 0.0]},
        {"consumed_mah": [3000.0, -1.0]},
        {"consumed_mah": [3000.0, float("nan")]},
        {"capacity_mah": 0.0},
        {"reserve_fraction": 1.0},
        {"reserve_fraction": -0.1},
        {"confidence": 1.0},
        {"confidence": 0.4},
        {"landing_allowance_s": -1.0},
        {"prior": (0.0, 0.1)},
        {"prior": (600.0, float("nan"))},
        {"dates": ["2026-06-14"]},
    ],
)
def test_figures_that_cannot_be_are_refused(wrong):
    right = {
        "durations_s": [300.0, 310.0],
        "consumed_mah": [3000.0, 3100.0],
        "capacity_mah": 5200.0,
        "reserve_fraction": 0.2,
        "confidence": 0.95,
        "landing_allowance_s": 60.0,
    }
    with pytest.raises(ValueError, match=r"."):
        suggest_timer(**(right | wrong))


def test_no_safe_time_is_an_alarm_at_once():
    short = suggest_timer(
        [300.0] * 6,
        [5 * r for r in RATES],
        capacity_mah=800.0,
        reserve_fraction=0.2,
        confidence=0.95,
        landing_allowance_s=60.0,
    )
    assert short.alarm_s == 0.0


def test_twins_of_one_figure_do_not_promise_certainty():
    same = suggest_timer(
        [300.0] * 8,
        [3000.0] * 8,
        capacity_mah=5200.0,
        reserve_fraction=0.2,
        confidence=0.95,
        landing_allowance_s=60.0,
    )
    assert same.rate_limit_mah_per_min > 600.0 * 1.015


def test_a_part_that_goes_on_warming_reaches_its_limit_no_sooner_than_it_will():
    time_s = np.arange(0.0, 300.0, 1.0)
    # first order, towards 110 °C with a time constant of 200 s: 95 °C after 200·ln(90/15) = 358 s
    warming = 20.0 + 90.0 * (1 - np.exp(-time_s / 200.0))
    limit = time_to_limit(time_s, warming, limit_c=95.0, part="left controller")
    assert 300.0 < limit.landed_by_s <= 358.4
    assert limit.limited_by == "temperature"


def test_a_part_that_has_stopped_warming_sets_no_limit_within_the_hour():
    time_s = np.arange(0.0, 300.0, 1.0)
    settled = 20.0 + 60.0 * (1 - np.exp(-time_s / 30.0))
    limit = time_to_limit(time_s, settled, limit_c=95.0, part="left controller")
    assert limit is None or limit.landed_by_s > 3600.0


def test_a_part_beyond_its_limit_says_when_it_passed_it():
    time_s = np.arange(0.0, 300.0, 1.0)
    assert time_to_limit(time_s, 20.0 + 0.3 * time_s, limit_c=80.0, part="right motor").landed_by_s == 200.0
