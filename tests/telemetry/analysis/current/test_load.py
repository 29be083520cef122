"""What loaded the pack and its parts, and for how long."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.analysis.current import analyse
from telemetry.analysis.current.missed import missed
from telemetry.analysis.current.windows import Search
from telemetry.estimate import Estimate, Undecided
from telemetry.physics.charge import largest_mean
from telemetry.sheet.setup import Leads, Rating
from telemetry.signals import signals_of
from telemetry.trace import Channel, Flight, Samples, Stretch, Trace

NO = Undecided("not asked")


def log(time_s, *, step=0.1, fresh=None, has_clock=True, **currents):
    """A trace of currents named "pack", "receiver" or a motor's position."""
    fresh = np.ones(len(time_s), dtype=bool) if fresh is None else fresh
    channels = {}
    for name, values in currents.items():
        key = (
            ("receiver_current_a", "")
            if name == "receiver"
            else ("current_a", "" if name == "pack" else name)
        )
        channels[key] = Channel(*key, np.asarray(values, dtype=float), fresh, name, 0.1, step)
    return Trace(np.asarray(time_s, dtype=float), channels, has_clock=has_clock)


def review(trace, powered=None, **choices):
    start_s, end_s = float(trace.time_s[0]), float(trace.time_s[-1])
    return analyse(
        signals_of(trace, Flight(start_s, end_s, NO, NO, powered or Stretch(start_s, end_s))), **choices
    )


def burst(base=20.0, high=50.0, seconds=10.0, at=40.0, length=120.0):
    """A burst of so many seconds on a steady current, with a ramp of one sample on either side."""
    time_s = np.arange(0, length + 0.05, 0.1)
    return time_s, np.where((time_s > at - 0.05) & (time_s < at + seconds + 0.05), high, base)


def test_the_peak_is_the_largest_fresh_sample_and_its_moment():
    time_s = np.arange(0, 60, 0.1)
    current = 35.0 + 20.0 * np.sin(time_s / 5.0)
    current[123] = 71.5
    result = review(log(time_s, pack=current))
    assert (result.peak_a, result.peak_at_s) == (71.5, pytest.approx(12.3))


def test_a_held_repeat_is_no_peak():
    time_s = np.arange(0, 60, 0.1)
    current = np.where(np.arange(600) == 300, 90.0, 20.0)
    result = review(log(time_s, pack=current, fresh=np.arange(600) != 300))
    assert result.peak_a == 20.0


@pytest.mark.source("arithmetic: √((10·30² + 30·10²)/40)")
def test_rms_over_the_powered_time_alone():
    time_s = np.arange(0, 100.01, 0.01)
    current = np.where(time_s < 20, 0.0, np.where(time_s < 30, 30.0, np.where(time_s < 60, 10.0, 0.0)))
    assert review(log(time_s, pack=current), Stretch(20.0, 59.99)).rms_a == pytest.approx(
        np.sqrt(300), rel=1e-3
    )


def test_the_rms_of_a_straight_rise_is_its_end_over_root_three():
    time_s = np.arange(0, 60.01, 7.5)
    assert review(log(time_s, pack=time_s)).rms_a == pytest.approx(60 / np.sqrt(3), rel=1e-12)


def test_the_windows_that_ratings_speak_of_are_in_the_curve():
    result = review(log(*burst()[:1], pack=burst()[1]))
    windows = [s.window_s for s in result.sustained]
    assert {1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0} <= set(windows)
    assert windows[0] == pytest.approx(0.1)
    assert windows[-1] == pytest.approx(120)
    assert windows == sorted(windows)


def test_a_burst_of_ten_seconds_is_carried_ten_seconds_and_half_that_over_twenty():
    # over 20 s: ten seconds of 50 A, ten of 20 A, and the two ramps of a tenth at the mean of both
    time_s, current = burst()
    curve = {s.window_s: s.max_mean_a for s in review(log(time_s, pack=current)).sustained}
    assert curve[10.0] == pytest.approx(50, rel=1e-9)
    assert curve[5.0] == pytest.approx(50, rel=1e-9)
    assert curve[20.0] == pytest.approx((10 * 50 + 10 * 20 + 0.1 * 30) / 20, rel=1e-9)


def test_a_longer_window_never_carries_more_and_never_holds_less_charge():
    rng = np.random.default_rng(4)
    time_s = np.sort(rng.uniform(0, 200, 3000))
    curve = review(log(time_s, pack=30 + np.cumsum(rng.normal(0, 1, 3000)))).sustained
    charges = [s.window_s * s.max_mean_a for s in curve]
    assert charges == sorted(charges)


@pytest.mark.parametrize("seed", range(12))
def test_ruling_starts_out_first_changes_nothing(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(250, 3000))
    time_s = np.cumsum(rng.exponential(0.1, count))
    values = np.round(30 + np.cumsum(rng.normal(0, 1, count)) + rng.normal(0, 3, count), seed % 3) - (
        60 if seed % 4 == 0 else 0
    )
    search = Search(Samples(time_s, values))
    for window_s in (0.01, 0.1, 1.0, 7.0, 0.5 * (time_s[-1] - time_s[0])):
        assert search.largest(window_s).mean == pytest.approx(
            largest_mean(time_s, values, window_s).mean, rel=1e-10, abs=1e-9
        )


def test_each_rating_is_judged_at_its_own_window():
    time_s, current = burst()
    ratings = (Rating("pack, 7 s", "", 60.0, 7.0), Rating("pack, steadily", "", 40.0, 30.0))
    short, steady = review(log(time_s, pack=current), ratings=ratings).limits
    assert short.measured_a.value == pytest.approx(50)
    assert short.margin_fraction == pytest.approx(10 / 60)
    assert 40.0 <= short.start_s <= 43.0
    # thirty seconds: ten of 50, twenty of 20, two ramps
    assert steady.measured_a.value == pytest.approx((500 + 400 + 3) / 30)
    assert steady.margin_fraction == pytest.approx(1 - 903 / 30 / 40)


def test_an_overload_has_a_margin_below_zero():
    time_s, current = burst()
    (limit,) = review(log(time_s, pack=current), ratings=[Rating("pack, 5 s", "", 40.0, 5.0)]).limits
    assert limit.margin_fraction == pytest.approx(-0.25)


def test_half_of_the_pack_is_not_evidence_for_one_motor():
    time_s, current = burst()
    ratings = [
        Rating("left controller, steadily", "left", 32.0, 30.0),
        Rating("right controller, steadily", "right", 32.0, 30.0),
    ]
    left, right = review(log(time_s, pack=current), ratings=ratings).limits
    for limit in (left, right):
        assert isinstance(limit.measured_a, Undecided)
        assert "not evidence for one side" in limit.measured_a.reason
        assert isinstance(limit.margin_fraction, Undecided)


def test_the_only_motor_carries_what_the_pack_gives():
    time_s, current = burst()
    (limit,) = review(
        log(time_s, pack=current), ratings=[Rating("centre motor, 5 s", "centre", 60.0, 5.0)]
    ).limits
    assert limit.measured_a.value == pytest.approx(50)


def test_each_motor_has_its_own_curve_and_margin():
    time_s, current = burst()
    result = review(
        log(time_s, left=current / 2 - 1, right=current / 2 + 1),
        ratings=[Rating("right motor, 5 s", "right", 26.0, 5.0)],
    )
    assert set(result.by_motor) == {"left", "right"}
    assert result.peak_a == 50
    assert result.how == "sum of 2 motors"
    assert result.limits[0].margin_fraction == pytest.approx(0, abs=1e-12)


def test_the_receiver_supply_is_judged_on_its_own_current():
    time_s, current = burst()
    rating = [Rating("receiver supply, steadily", "receiver", 5.0, 30.0)]
    assert review(log(time_s, pack=current, receiver=np.full(time_s.size, 1.5)), ratings=rating).limits[
        0
    ].margin_fraction == pytest.approx(0.7)
    assert isinstance(review(log(time_s, pack=current), ratings=rating).limits[0].margin_fraction, Undecided)


def test_a_log_shorter_than_the_rating_leaves_it_undecided():
    time_s = np.arange(0, 20.01, 0.1)
    (limit,) = review(
        log(time_s, pack=np.full(time_s.size, 30.0)), ratings=[Rating("pack, steadily", "", 40.0, 30.0)]
    ).limits
    assert limit.measured_a.reason == "the log holds 20 s of this current, less than the 30 s of the rating"


def test_a_steady_reading_may_hide_half_a_step():
    time_s = np.arange(0, 60.01, 0.1)
    (limit,) = review(
        log(time_s, step=0.5, pack=np.full(time_s.size, 30.0)),
        ratings=[Rating("pack, steadily", "", 40.0, 30.0)],
    ).limits
    assert isinstance(limit.measured_a, Estimate)
    assert limit.measured_a.high - 30 == pytest.approx(0.25)


def test_the_rate_in_multiples_of_capacity():
    time_s, current = burst()
    assert review(log(time_s, pack=current), capacity_mah=5000).peak_c_rate == pytest.approx(10)


def wandering(rate_hz, seed):
    """A current as a stick and an airframe make it, and one in every so many of its samples. True peak,
    samples.
    """
    rng = np.random.default_rng(seed)
    fine_s = np.arange(0, 240, 0.01)
    stick = np.repeat(rng.uniform(10, 60, 80), 300)
    from_s = rng.uniform(0, 1 / rate_hz)
    current = np.convolve(stick, np.ones(25) / 25, "same") + np.convolve(
        rng.normal(0, 1, fine_s.size), np.ones(30) / 6, "same"
    )
    rows = np.arange(from_s, 240, 1 / rate_hz)
    return float(current.max()), log(rows, pack=np.interp(rows, fine_s, current))


@pytest.mark.parametrize("rate_hz", [2, 5, 10])
def test_the_true_peak_stands_no_higher_than_the_log_is_said_to_miss(rate_hz):
    held = 0
    for seed in range(20):
        true_a, trace = wandering(rate_hz, seed)
        samples = trace.fresh("current_a")
        held += true_a <= float(np.max(samples.values)) + missed(samples).above_peak_a
    assert held >= 16


def test_a_faster_log_misses_less():
    told = [
        np.median([missed(wandering(rate, seed)[1].fresh("current_a")).above_peak_a for seed in range(6)])
        for rate in (2, 5, 20)
    ]
    assert told[0] > told[1] > told[2]


def test_too_short_a_log_cannot_say_what_it_misses():
    time_s = np.arange(0, 3, 0.1)
    assert isinstance(review(log(time_s, pack=np.full(30, 20.0))).missed.above_peak_a, Undecided)


@pytest.mark.source("I²·R; IEC 60028: 1/58 Ω·mm²/m at 20 °C")
def test_the_heat_of_a_pair_of_leads_is_current_squared_times_both_conductors():
    time_s = np.arange(0, 120.01, 0.1)
    (heat,) = review(
        log(time_s, left=np.full(time_s.size, 30.0)), leads=Leads(length_m=0.4, area_mm2=2.5)
    ).leads
    assert heat.resistance_ohm == pytest.approx(2 * 0.4 / 2.5 / 58)
    assert heat.rms_a == pytest.approx(30)
    assert heat.heat_w == pytest.approx(900 * 2 * 0.4 / 2.5 / 58)


def test_a_lead_of_twice_the_copper_has_the_larger_margin():
    time_s = np.arange(0, 120.01, 0.1)
    margins = [
        review(log(time_s, left=np.full(time_s.size, 30.0)), leads=Leads(0.4, 0.0, area))
        .leads[0]
        .margin_fraction
        for area in (1.5, 3.0)
    ]
    assert margins[0] < margins[1]


def test_leads_without_an_area_in_the_sheet_are_undecided():
    time_s = np.arange(0, 120.01, 0.1)
    (heat,) = review(log(time_s, left=np.full(time_s.size, 30.0)), leads=Leads()).leads
    assert isinstance(heat.margin_fraction, Undecided)
    assert heat.rms_a == pytest.approx(30)


def test_without_current_or_time_there_is_no_load_and_the_reason_is_said():
    time_s = np.arange(0, 60, 0.1)
    empty = review(log(time_s), ratings=[Rating("pack, steadily", "", 40.0, 30.0)])
    assert empty.peak_a.reason == "the log has no current"
    assert isinstance(empty.limits[0].margin_fraction, Undecided)
    timeless = review(
        log(time_s, pack=np.full(600, 20.0), has_clock=False),
        ratings=[Rating("pack, steadily", "", 40.0, 30.0)],
    )
    assert timeless.peak_a == 20.0
    assert isinstance(timeless.rms_a, Undecided)
    assert timeless.limits[0].measured_a.reason == "the log has no time, so no mean over a window"


def test_a_log_of_power_and_voltage_alone_still_has_a_peak_and_says_how():
    time_s = np.arange(0.0, 10.0, 0.1)
    power = Channel(
        "power_w",
        "",
        np.where(time_s < 5.0, 400.0, 200.0),
        np.ones(time_s.size, dtype=bool),
        "power_w",
        0.1,
        1.0,
    )
    volts = Channel(
        "pack_voltage_v",
        "",
        np.full(time_s.size, 10.0),
        np.ones(time_s.size, dtype=bool),
        "pack_voltage_v",
        0.1,
        0.01,
    )
    trace = Trace(time_s, {(c.quantity, c.position): c for c in (power, volts)})
    found = analyse(signals_of(trace, Flight(0.0, 9.9, Undecided("x"), Undecided("x"), Stretch(0.0, 9.9))))
    assert found.peak_a == pytest.approx(40.0)
    assert "power ÷ voltage" in found.how
