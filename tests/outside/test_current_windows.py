"""The largest mean over a window, against every window there is."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate

from telemetry.analysis.current import analyse
from telemetry.estimate import Undecided
from telemetry.sheet.setup import Rating
from telemetry.signals import signals_of
from telemetry.trace import Channel, Flight, Stretch, Trace


def flown(seed, count=400):
    rng = np.random.default_rng(seed)
    time_s = np.cumsum(rng.choice([0.1, 0.1, 0.2, 0.5], count))
    current_a = np.round(np.abs(30 + np.cumsum(rng.normal(0, 3, count))), 1)
    every = np.ones(count, dtype=bool)
    return Trace(
        time_s - time_s[0], {("current_a", ""): Channel("current_a", "", current_a, every, "A", 0.1, 0.1)}
    )


@pytest.mark.source(
    "mean maximal power of the cycling sciences: highest mean for each duration; here by brute force with "
    "scipy.integrate on a 5 ms grid"
)
@pytest.mark.parametrize("seed", range(4))
def test_no_window_slid_along_the_log_carries_more(seed):
    trace = flown(seed)
    no = Undecided("not asked")
    end_s = float(trace.time_s[-1])
    windows = [0.7, 3.3, 12.0]
    ratings = [Rating("part", "", 50.0, w) for w in windows]
    limits = analyse(
        signals_of(trace, Flight(0.0, end_s, no, no, Stretch(0.0, end_s))), ratings=ratings
    ).limits
    fine_s = np.arange(0, end_s + 1e-9, 0.005)
    samples = trace.fresh("current_a")
    passed = integrate.cumulative_trapezoid(np.interp(fine_s, *samples), fine_s, initial=0.0)
    for window_s, limit in zip(windows, limits, strict=True):
        shift = round(window_s / 0.005)
        brute = np.max(passed[shift:] - passed[:-shift]) / window_s
        # the grid misses the best start by up to 2.5 ms: of a parabola, so next to nothing
        assert limit.measured_a.value >= brute - 1e-6
        assert limit.measured_a.value == pytest.approx(brute, rel=1e-4)


@pytest.mark.source("the same: charge over a window never falls as the window grows")
def test_charge_over_the_window_never_falls_as_the_window_grows():
    trace = flown(9)
    no = Undecided("not asked")
    end_s = float(trace.time_s[-1])
    curve = analyse(signals_of(trace, Flight(0.0, end_s, no, no, Stretch(0.0, end_s)))).sustained
    charges = [s.window_s * s.max_mean_a for s in curve]
    assert charges == sorted(charges)
