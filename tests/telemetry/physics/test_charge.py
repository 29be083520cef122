"""What must hold for any current at all."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.physics.charge import charge_mah, cumulative_mah, largest_mean

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
    assert cumulative_mah(time_s, current_a)[-1] == pytest.approx(split, abs=1e-9)


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
