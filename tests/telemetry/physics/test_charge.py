"""What must hold for any current at all."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.physics.charge import (
    AS_PER_MAH,
    charge_mah,
    largest_mean,
    mean_over,
    product_integral,
    running_integral,
)

STEPS = st.lists(st.tuples(st.floats(0.01, 2.0), st.floats(-5.0, 90.0)), min_size=3, max_size=40)


def curve(steps):
    return np.cumsum([step for step, _ in steps]), np.array([value for _, value in steps])


@given(STEPS)
def test_charge_adds_up_over_any_split(steps):
    time_s, current_a = curve(steps)
    middle = len(steps) // 2
    split = charge_mah(time_s[: middle + 1], current_a[: middle + 1]) + charge_mah(
        time_s[middle:], current_a[middle:]
    )
    assert charge_mah(time_s, current_a) == pytest.approx(split, abs=1e-9)
    assert running_integral(time_s, current_a).total / AS_PER_MAH == pytest.approx(split, abs=1e-9)


@given(STEPS, st.floats(0.02, 0.98))
@settings(max_examples=60)
def test_the_best_window_is_no_worse_than_any_other(steps, share):
    time_s, current_a = curve(steps)
    window_s = share * float(time_s[-1] - time_s[0])
    best = largest_mean(time_s, current_a, window_s)
    for start_s in np.linspace(time_s[0], time_s[-1] - window_s, 60):
        inside = np.concatenate(
            ([start_s], time_s[(time_s > start_s) & (time_s < start_s + window_s)], [start_s + window_s])
        )
        mean = np.trapezoid(np.interp(inside, time_s, current_a), inside) / window_s
        assert mean <= best.mean + 1e-9 + 1e-9 * abs(best.mean)
    assert best.mean <= np.max(current_a) + 1e-9


@given(STEPS, st.floats(0.02, 0.98))
@settings(max_examples=60)
def test_a_sample_on_the_line_between_two_changes_nothing(steps, share):
    time_s, current_a = curve(steps)
    window_s = share * float(time_s[-1] - time_s[0])
    more_s = np.sort(np.concatenate((time_s, (time_s[1:] + time_s[:-1]) / 2.0)))
    more_a = np.interp(more_s, time_s, current_a)
    assert charge_mah(more_s, more_a) == pytest.approx(charge_mah(time_s, current_a), abs=1e-9)
    assert largest_mean(more_s, more_a, window_s).mean == pytest.approx(
        largest_mean(time_s, current_a, window_s).mean, abs=1e-7
    )


def test_two_samples_of_one_instant_are_a_step_and_count_once():
    time_s, current_a = np.array([0.0, 10.0, 10.0, 20.0]), np.array([36.0, 36.0, 72.0, 72.0])
    assert charge_mah(time_s, current_a) == pytest.approx(100.0 + 200.0)
    assert largest_mean(time_s, current_a, 10.0) == (72.0, 10.0)


def test_a_window_of_less_than_nothing_is_refused():
    with pytest.raises(ValueError, match="not shorter than nothing"):
        largest_mean(np.array([0.0, 1.0]), np.array([1.0, 1.0]), -1.0)


@given(STEPS, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_the_running_integral_is_what_a_charge_up_to_then_is(steps, one, other):
    time_s, current_a = curve(steps)
    start_s, end_s = (float(time_s[0] + share * np.ptp(time_s)) for share in sorted((one, other)))
    inside = np.unique(np.concatenate(([start_s, end_s], time_s[(time_s > start_s) & (time_s < end_s)])))
    passed = np.trapezoid(np.interp(inside, time_s, current_a), inside)
    at = running_integral(time_s, current_a).at(np.array([start_s, end_s]))
    assert at[1] - at[0] == pytest.approx(passed, abs=1e-8)
    if end_s - start_s > 1e-3:
        assert mean_over(time_s, current_a, start_s, end_s) == pytest.approx(
            passed / (end_s - start_s), abs=1e-5
        )


def test_a_jump_and_a_gap_count_as_they_are():
    time_s, values = np.array([0.0, 10.0, 10.0, 20.0, 30.0]), np.array([1.0, 1.0, 5.0, 5.0, 5.0])
    whole = running_integral(time_s, values)
    assert whole.at(np.array([-5.0, 5.0, 10.0, 15.0, 30.0, 99.0])) == pytest.approx(
        [0.0, 5.0, 10.0, 35.0, 110.0, 110.0]
    )
    assert (whole.value(np.array([10.0]), right=False)[0], whole.value(np.array([10.0]))[0]) == (1.0, 5.0)
    broken = running_integral(time_s, values, gaps_s=[(12.0, 18.0)])
    assert broken.at(np.array([10.0, 15.0, 20.0])) == pytest.approx([10.0, 10.0, 10.0])
    assert broken.total == pytest.approx(60.0)


def test_means_hold_the_outermost_values_beyond_the_samples():
    time_s, values = np.array([10.0, 20.0]), np.array([0.0, 10.0])
    spans = mean_over(
        time_s, values, np.array([10.0, 0.0, 15.0, 12.0, 30.0]), np.array([20.0, 20, 25, 12, 40])
    )
    assert spans == pytest.approx([5.0, 2.5, 8.75, 2.0, 10.0])
    assert mean_over(np.array([3.0]), np.array([7.0]), 0.0, 10.0) == 7.0


@given(STEPS, STEPS)
def test_the_integral_of_a_product_of_two_rates_is_that_of_their_common_grid(one, other):
    (a_s, a), (b_s, b) = curve(one), curve(other)
    found = product_integral(running_integral(a_s, a), running_integral(b_s, b))
    start_s, end_s = max(a_s[0], b_s[0]), min(a_s[-1], b_s[-1])
    knots = np.unique(np.clip(np.concatenate((a_s, b_s)), start_s, max(start_s, end_s)))
    # Gauss and Legendre with two points to a piece is exact for a cubic
    reach = np.diff(knots) / 2.0
    at = (knots[:-1] + reach)[:, None] + reach[:, None] * np.array([-1.0, 1.0]) / np.sqrt(3.0)
    exact = np.sum(reach[:, None] * np.interp(at, a_s, a) * np.interp(at, b_s, b))
    assert found == pytest.approx(exact, abs=1e-6)


def test_an_integral_of_nothing_is_nothing():
    none = running_integral(np.zeros(0), np.zeros(0))
    assert none.total == 0.0
    assert none.at(np.array([1.0])) == [0.0]
    assert running_integral(np.zeros(0), np.zeros(0)).sums.size == 0
    assert product_integral(none, running_integral(np.array([0.0, 1.0]), np.ones(2))) == 0.0
