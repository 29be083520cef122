"""Charge and largest means against SI and brute force."""

import numpy as np
import pytest

from telemetry.physics.charge import AS_PER_MAH, charge_mah, largest_mean, running_integral


@pytest.mark.source("SI: 1 A·s = 1/3.6 mAh")
def test_36_amperes_for_100_seconds_are_1000_mah():
    time_s = np.array([0.0, 1.0, 30.0, 31.5, 100.0])
    assert charge_mah(time_s, np.full(5, 36.0)) == pytest.approx(1000.0, rel=1e-14)


@pytest.mark.source(
    "mean maximal power of the cycling sciences: the highest mean for each duration; brute force on a fine "
    "grid"
)
@pytest.mark.parametrize("seed", range(5))
def test_largest_mean_against_brute_force(seed):
    rng = np.random.default_rng(seed)
    # sample times on a grid of 0.1 s, so that every start or end at a sample is on the fine grid
    time_s = np.unique(rng.integers(0, 600, 120)) / 10.0
    current_a = rng.uniform(0.0, 60.0, time_s.size)
    fine_s = np.linspace(time_s[0], time_s[-1], round((time_s[-1] - time_s[0]) * 1000) + 1)
    fine_a = np.interp(fine_s, time_s, current_a)
    total = np.concatenate(([0.0], np.cumsum(np.diff(fine_s) * (fine_a[1:] + fine_a[:-1]) / 2)))
    for window_s in (0.4, 1.0, 5.0, 20.0):
        steps = round(window_s * 1000)
        brute = np.max(total[steps:] - total[:-steps]) / window_s
        ours = largest_mean(time_s, current_a, window_s)
        assert ours.mean >= brute - 1e-9
        # a grid of 1 ms misses the true top by slope × 0.5 ms at most
        assert ours.mean == pytest.approx(brute, abs=600 * 0.0005 / window_s * 0.001 + 1e-3)
        at = np.array([ours.start_s, ours.start_s + window_s])
        inside = np.unique(np.concatenate((at, time_s[(time_s > at[0]) & (time_s < at[1])])))
        assert charge_mah(inside, np.interp(inside, time_s, current_a)) * 3.6 / window_s == pytest.approx(
            ours.mean, rel=1e-9
        )


@pytest.mark.source("prefix sums against brute force")
@pytest.mark.parametrize("seed", range(5))
def test_windows_that_end_at_samples_are_exact(seed):
    rng = np.random.default_rng(seed)
    time_s = np.cumsum(rng.uniform(0.05, 0.3, 200))
    current_a = rng.uniform(0.0, 60.0, 200)
    window_s = 3.0

    def mean_from(start_s):
        inside = np.concatenate(
            ([start_s], time_s[(time_s > start_s) & (time_s < start_s + window_s)], [start_s + window_s])
        )
        return np.trapezoid(np.interp(inside, time_s, current_a), inside) / window_s

    starts = np.concatenate(
        (time_s[time_s <= time_s[-1] - window_s], time_s[time_s >= time_s[0] + window_s] - window_s)
    )
    assert largest_mean(time_s, current_a, window_s).mean >= max(mean_from(s) for s in starts) - 1e-9


@pytest.mark.source("calculus: a triangle's best window straddles its top evenly")
def test_the_best_window_may_touch_no_sample():
    time_s = np.array([0.0, 10.0, 30.0])
    current_a = np.array([0.0, 30.0, 0.0])
    # slopes 3 and −1.5: a 6 s window starts 2 s before the top, where both ends carry 24 A
    found = largest_mean(time_s, current_a, 6.0)
    assert found.start_s == pytest.approx(8.0, rel=1e-12)
    assert found.mean == pytest.approx(27.0, rel=1e-12)


@pytest.mark.source("arithmetic: a longer window never holds less charge when none flows back")
def test_charge_of_the_best_window_never_falls_as_it_grows():
    rng = np.random.default_rng(7)
    time_s = np.cumsum(rng.uniform(0.05, 0.3, 500))
    current_a = rng.uniform(0.0, 60.0, 500)
    windows_s = np.geomspace(0.1, 80.0, 40)
    charges = np.array([largest_mean(time_s, current_a, w).mean * w for w in windows_s])
    assert np.all(np.diff(charges) >= -1e-9)


def test_no_window_reaches_across_a_silence():
    time_s = np.array([0.0, 1.0, 2.0, 12.0, 13.0])
    current_a = np.full(5, 36.0)
    gap = [(2.0, 12.0)]
    assert largest_mean(time_s, current_a, 3.0, gaps_s=gap) is None
    assert largest_mean(time_s, current_a, 2.0, gaps_s=gap) == (36.0, 0.0)
    assert charge_mah(time_s, current_a, gaps_s=gap) == pytest.approx(30.0)
    assert running_integral(time_s, current_a, gaps_s=gap).total / AS_PER_MAH == pytest.approx(30.0)


def test_a_window_longer_than_the_log_has_no_mean():
    assert largest_mean(np.array([0.0, 5.0]), np.array([1.0, 1.0]), 5.1) is None
    assert largest_mean(np.array([0.0, 5.0]), np.array([1.0, 3.0]), 5.0) == (2.0, 0.0)
