"""What left the pack."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from telemetry.analysis.capacity import analyse
from telemetry.estimate import Undecided
from telemetry.signals import signals_of
from telemetry.trace import Channel, Flight, Phase, Stretch, Trace

NO = Undecided("not asked")


def channel(quantity, values, *, position="", step=0.0, fresh=None, refresh_s=0.1):
    values = np.asarray(values, dtype=float)
    fresh = np.isfinite(values) if fresh is None else fresh
    return Channel(quantity, position, values, fresh, quantity, refresh_s, step)


def log(time_s, *channels, gaps=(), has_clock=True):
    return Trace(
        np.asarray(time_s, dtype=float),
        {(c.quantity, c.position): c for c in channels},
        gaps=gaps,
        has_clock=has_clock,
    )


def whole(trace, powered=None, phases=()):
    powered = powered or Stretch(float(trace.time_s[0]), float(trace.time_s[-1]))
    return Flight(float(trace.time_s[0]), float(trace.time_s[-1]), NO, NO, powered, phases)


def consumed(trace, **choices):
    return analyse(signals_of(trace, whole(trace)), **choices).consumed_mah


def busy_current(seed=0, seconds=300.0, rate_hz=10.0):
    """A pilot's current, and what really passed: marched finely, sampled at a rate. [s, A, mAh]"""
    rng = np.random.default_rng(seed)
    fine_s = np.arange(0.0, seconds, 0.01)
    levels = np.repeat(rng.uniform(8, 45, int(seconds / 4) + 1), 400)[: fine_s.size]
    gusts = np.convolve(rng.normal(0, 1, fine_s.size), np.ones(80) / 8, "same")
    starts, stops = rng.uniform(9.5, 10.5), seconds - rng.uniform(9.5, 10.5)
    fine_a = np.where(
        (fine_s > starts) & (fine_s < stops), np.convolve(levels, np.ones(50) / 50, "same") + gusts, 0.4
    )
    every = int(100 / rate_hz)
    upto = fine_s[::every][-1]
    passed = np.concatenate(([0.0], np.cumsum((fine_a[1:] + fine_a[:-1]) / 2 * 0.01))) / 3.6
    return (
        fine_s[::every],
        fine_a[::every],
        float(np.interp(upto, fine_s, passed)),
        np.interp(fine_s[::every], fine_s, passed),
    )


@pytest.mark.source("SI: 1 A·s is 1/3.6 mAh")
def test_36_amperes_for_100_seconds_are_1000_mah():
    time_s = np.arange(0, 100.01, 0.1)
    estimate = consumed(log(time_s, channel("current_a", np.full(time_s.size, 36.0))))
    assert estimate.value == pytest.approx(1000, rel=1e-9)


def test_uneven_rows_do_not_matter_to_a_straight_rise():
    # a rise from 0 to 60 A within 120 s is 3600 A·s whatever the rows
    time_s = np.sort(np.concatenate(([0.0, 120.0], np.random.default_rng(0).uniform(0, 120, 2000))))
    assert consumed(log(time_s, channel("current_a", time_s / 2))).value == pytest.approx(1000, rel=1e-9)


def test_rows_that_repeat_a_reading_do_not_count():
    # a sensor of 0.5 s in a log of 0.1 s: held rows stand for nothing new
    time_s = np.arange(0, 100.01, 0.1)
    fresh = np.arange(time_s.size) % 5 == 0
    held = np.repeat((time_s / 2)[::5], 5)[: time_s.size]
    estimate = consumed(log(time_s, channel("current_a", held, fresh=fresh, refresh_s=0.5)))
    assert estimate.value == pytest.approx(50 * 100 / 2 / 3.6, rel=1e-6)


def test_ground_time_is_in_what_was_consumed_but_not_in_the_mean():
    time_s = np.arange(0, 200.01, 0.1)
    current = np.where((time_s >= 50) & (time_s < 150), 36.0, 0.36)
    trace = log(time_s, channel("current_a", current))
    result = analyse(signals_of(trace, whole(trace, Stretch(50.0, 149.9))), capacity_mah=2000)
    assert result.consumed_mah.value == pytest.approx(1000 + 10, rel=1e-3)
    assert result.mean_current_a == pytest.approx(36.0, rel=1e-3)
    assert result.idle_a == pytest.approx(0.36, abs=0.01)
    assert result.consumed_fraction == pytest.approx(0.505, rel=1e-3)


def test_what_flows_back_is_taken_off_and_said():
    time_s = np.arange(0, 110.01, 0.1)
    trace = log(time_s, channel("current_a", np.where(time_s > 100, -3.6, 36.0)))
    result = analyse(signals_of(trace, whole(trace)))
    assert result.returned_mah == pytest.approx(10, rel=0.02)
    assert result.consumed_mah.value == pytest.approx(990, rel=2e-3)


def test_phases_add_up_to_the_whole():
    time_s, current, _, _ = busy_current()
    trace = log(time_s, channel("current_a", current))
    cuts = [0.0, 33.37, 120.01, 250.5, float(time_s[-1])]
    phases = tuple(Phase("cruise", a, b) for a, b in pairwise(cuts))
    result = analyse(signals_of(trace, whole(trace, phases=phases)))
    assert sum(p.charge_mah for p in result.by_phase) == pytest.approx(result.consumed_mah.value, rel=1e-9)


def test_energy_of_a_steady_load_is_volt_times_ampere_times_time():
    # 20 V × 36 A × 100 s = 20 Wh
    time_s = np.arange(0, 100.01, 0.1)
    trace = log(
        time_s,
        channel("current_a", np.full(time_s.size, 36.0)),
        channel("pack_voltage_v", np.full(time_s.size, 20.0)),
    )
    assert analyse(signals_of(trace, whole(trace))).energy_wh.value == pytest.approx(20, rel=1e-9)


def test_energy_of_two_lines_is_exact_though_their_samples_differ():
    # ∫ (20 − t/100)·(t/2) dt from 0 to 100 = 20·2500 − 100³/600 W·s
    time_s = np.arange(0, 100.01, 0.1)
    every_third, every_seventh = np.arange(time_s.size) % 10 == 0, np.arange(time_s.size) % 20 == 0
    current = np.where(every_third, time_s / 2, np.nan)
    voltage = np.where(every_seventh, 20 - time_s / 100, np.nan)
    trace = log(
        time_s,
        channel("current_a", current, refresh_s=1.0),
        channel("pack_voltage_v", voltage, refresh_s=2.0),
    )
    assert analyse(signals_of(trace, whole(trace))).energy_wh.value == pytest.approx(
        (20 * 2500 - 100**3 / 600) / 3600, rel=1e-9
    )


def test_without_pack_current_the_motors_are_added_and_it_is_said():
    time_s = np.arange(0, 100.01, 0.1)
    trace = log(
        time_s,
        channel("current_a", np.full(time_s.size, 20.0), position="left"),
        channel("current_a", np.full(time_s.size, 16.0), position="right"),
    )
    result = analyse(signals_of(trace, whole(trace)))
    assert result.consumed_mah.value == pytest.approx(1000, rel=1e-9)
    assert result.how == "sum of 2 motors"


@pytest.mark.parametrize("seed", range(8))
def test_a_busy_current_is_counted_within_0_15_percent_and_the_interval_holds_it(seed):
    time_s, current, truth, _ = busy_current(seed)
    estimate = consumed(log(time_s, channel("current_a", np.round(current, 1), step=0.1)))
    assert estimate.value == pytest.approx(truth, rel=1.5e-3)
    assert estimate.low <= truth <= estimate.high
    assert estimate.high - estimate.low < 0.02 * truth


def test_rounding_of_a_steady_current_does_not_average_out():
    # 10.2 A shown as 10.0 A in steps of 0.5 A for 360 s: 20 mAh are hidden, half a step could hide 25
    time_s = np.arange(0, 360.01, 0.1)
    estimate = consumed(log(time_s, channel("current_a", np.full(time_s.size, 10.0), step=0.5)))
    assert estimate.high - estimate.value >= 20
    assert estimate.high - estimate.value <= 30


def silent(time_s, values, start_s, seconds):
    return np.where((time_s > start_s) & (time_s < start_s + seconds), np.nan, values)


@pytest.mark.parametrize("seed", range(6))
def test_a_silence_of_20_seconds_is_bridged_by_the_counter(seed):
    time_s, current, truth, passed = busy_current(seed)
    keep = (time_s < 100) | (time_s > 120)
    trace = log(
        time_s[keep],
        channel("current_a", current[keep]),
        channel("charge_mah", np.floor(passed)[keep], step=1.0),
        gaps=(Stretch(99.9, 120.1),),
    )
    result = analyse(signals_of(trace, whole(trace)))
    assert result.bridges[0].by == "counter"
    assert result.consumed_mah.value == pytest.approx(truth, rel=2e-3)
    assert result.consumed_mah.low <= truth <= result.consumed_mah.high


@pytest.mark.parametrize("seed", range(6))
def test_a_silent_stretch_widens_the_interval_by_what_it_may_hide(seed):
    time_s, current, truth, _ = busy_current(seed)
    gapless = consumed(log(time_s, channel("current_a", current)))
    bridged = consumed(log(time_s, channel("current_a", silent(time_s, current, 150, 20))))
    assert bridged.value == pytest.approx(truth, rel=0.05)
    assert bridged.low <= truth <= bridged.high
    assert bridged.high - bridged.low > 5 * (gapless.high - gapless.low)


def test_other_sensors_tell_the_current_while_its_own_is_silent():
    time_s, current, truth, _ = busy_current(3)
    throttle = np.clip(current / 60, 0, 1) ** 0.4
    trace = log(
        time_s, channel("current_a", silent(time_s, current, 150, 20)), channel("throttle_fraction", throttle)
    )
    result = analyse(signals_of(trace, whole(trace)))
    assert result.bridges[0].by == "others"
    assert result.consumed_mah.value == pytest.approx(truth, rel=3e-3)


def test_a_counter_that_stood_still_in_the_silence_is_not_believed():
    time_s, current, truth, passed = busy_current(2)
    at_100, at_120 = np.interp([100, 120], time_s, passed)
    stuck = np.where(time_s > 120, passed - (at_120 - at_100), np.minimum(passed, at_100))
    keep = (time_s < 100) | (time_s > 120)
    trace = log(
        time_s[keep],
        channel("current_a", current[keep]),
        channel("charge_mah", np.floor(stuck)[keep], step=1.0),
        gaps=(Stretch(99.9, 120.1),),
    )
    result = analyse(signals_of(trace, whole(trace)))
    assert result.bridges[0].by == "neighbours"
    assert result.consumed_mah.value == pytest.approx(truth, rel=0.05)


def test_a_reading_stuck_for_20_seconds_in_flight_is_a_silence():
    time_s, current, truth, passed = busy_current(4)
    noisy = current + np.random.default_rng(0).normal(0, 0.2, current.size)
    stuck = np.where((time_s > 150) & (time_s < 170), noisy[1500], noisy)
    trace = log(
        time_s,
        channel("current_a", np.round(stuck, 2), step=0.01),
        channel("charge_mah", np.floor(passed), step=1.0),
    )
    result = analyse(signals_of(trace, whole(trace)))
    assert result.bridges
    assert result.consumed_mah.value == pytest.approx(truth, rel=3e-3)


def test_a_current_at_rest_that_stays_the_same_is_not_a_silence():
    # only changes are fresh: 60 s at 0.5 A, then 36 A at once
    time_s = np.arange(0, 160.01, 0.1)
    current = np.where(time_s < 60, 0.5, 36.0 + 0.5 * (np.arange(time_s.size) % 2))
    fresh = np.concatenate(([True], np.diff(current) != 0))
    result = consumed(log(time_s, channel("current_a", current, fresh=fresh)))
    assert result.value == pytest.approx((60 * 0.5 + 100 * 36.25) / 3.6, rel=2e-3)


def test_the_counter_is_set_against_the_integral():
    time_s, current, _, passed = busy_current(5)
    trace = log(
        time_s, channel("current_a", current), channel("charge_mah", np.floor(1.05 * passed), step=1.0)
    )
    result = analyse(signals_of(trace, whole(trace)))
    assert result.logged_mah == pytest.approx(1.05 * passed[-1], abs=1.1)
    assert result.logged_ratio.low <= 1 / 1.05 <= result.logged_ratio.high


def test_a_counter_that_starts_anew_is_joined_on():
    time_s, current, truth, passed = busy_current(6)
    anew = np.where(time_s < 150, passed, passed - np.interp(150, time_s, passed))
    trace = log(time_s, channel("current_a", current), channel("charge_mah", np.floor(anew), step=1.0))
    result = analyse(signals_of(trace, whole(trace)))
    assert result.counter_restarts == 1
    assert result.logged_mah == pytest.approx(truth, abs=3)


def test_a_counter_that_runs_back_while_charge_flows_back_has_not_restarted():
    time_s = np.arange(0, 100, 0.1)
    counted = np.where(time_s < 50, 10 * time_s, 500 - 0.3 * (time_s - 50))
    trace = log(
        time_s, channel("current_a", np.where(time_s < 50, 36.0, -1.08)), channel("charge_mah", counted)
    )
    result = analyse(signals_of(trace, whole(trace)))
    assert result.counter_restarts == 0
    assert result.logged_mah == pytest.approx(485, abs=1)


def test_only_what_the_counter_gained_in_this_flight_counts():
    time_s, current, truth, passed = busy_current(7)
    trace = log(
        time_s, channel("current_a", current), channel("charge_mah", np.floor(800 + passed), step=1.0)
    )
    assert analyse(signals_of(trace, whole(trace))).logged_mah == pytest.approx(truth, abs=2)


@pytest.mark.parametrize("missing", ["current", "time"])
def test_without_current_or_time_the_counter_stands_in_and_it_is_said(missing):
    time_s, current, truth, passed = busy_current(8)
    channels = [channel("charge_mah", np.floor(passed), step=1.0)]
    if missing == "time":
        channels.append(channel("current_a", current))
    trace = log(np.arange(time_s.size), *channels, has_clock=missing != "time")
    result = analyse(signals_of(trace, whole(trace)))
    assert result.consumed_mah.value == pytest.approx(truth, abs=2)
    assert result.how == f"the log's own counter, since the log has no {missing}"


def test_with_neither_current_nor_counter_it_is_undecided_with_the_reason():
    time_s = np.arange(0, 60, 0.1)
    trace = log(time_s, channel("pack_voltage_v", np.full(600, 20.0)))
    result = analyse(signals_of(trace, whole(trace)))
    assert result.consumed_mah.reason == "the log has no current and no counted charge"
    assert isinstance(result.energy_wh, Undecided)


def test_without_voltage_the_energy_is_undecided_and_the_charge_is_not():
    time_s = np.arange(0, 100.01, 0.1)
    result = analyse(
        signals_of(trace := log(time_s, channel("current_a", np.full(time_s.size, 36.0))), whole(trace))
    )
    assert result.energy_wh.reason == "the log has no pack voltage"
    assert result.consumed_mah.value == pytest.approx(1000)


def test_a_flight_takes_only_its_own_part_of_the_log():
    time_s = np.arange(0, 200.01, 0.1)
    trace = log(
        time_s,
        channel("current_a", np.where(time_s < 100, 36.0, 18.0)),
        channel("charge_mah", np.where(time_s < 100, 10 * time_s, 500 + 5 * time_s)),
    )
    second = replace(whole(trace), start_s=100.0, powered=Stretch(100.0, 200.0))
    result = analyse(signals_of(trace, second))
    assert result.consumed_mah.value == pytest.approx(500, rel=1e-3)
    assert result.logged_mah == pytest.approx(500, rel=1e-3)


def test_put_backs_show_what_the_sensor_reads_and_nothing_is_applied():
    # the sensor reads 4 % high: 2080 mAh logged for 2000 put back
    time_s = np.arange(0, 100.01, 0.1)
    trace = log(time_s, channel("current_a", np.full(time_s.size, 36.0)))
    result = analyse(signals_of(trace, whole(trace)), put_back=[(2080, 2000), (3140, 3000), (2575, 2500)])
    assert result.sensor_gain.value == pytest.approx(7795 / 7500)
    assert result.sensor_gain.low <= 1.04 <= result.sensor_gain.high
    assert result.consumed_mah.value == pytest.approx(1000)


def test_more_put_backs_tell_the_gain_more_closely_and_one_alone_only_roughly():
    time_s = np.arange(0, 10.01, 0.1)
    trace = log(time_s, channel("current_a", np.full(time_s.size, 36.0)))
    widths = []
    for flights in (1, 3, 10):
        gain = analyse(signals_of(trace, whole(trace)), put_back=[(2080, 2000)] * flights).sensor_gain
        widths.append(gain.high - gain.low)
    assert widths[0] > widths[1] > widths[2]
    assert widths[0] > 0.05


def test_without_put_backs_there_is_no_gain():
    time_s = np.arange(0, 10.01, 0.1)
    trace = log(time_s, channel("current_a", np.full(time_s.size, 36.0)))
    assert (
        analyse(signals_of(trace, whole(trace))).sensor_gain.reason
        == "no charge put back after a flight begun on a full pack is known"
    )


def test_the_current_of_one_side_is_not_the_packs():
    time_s = np.arange(0, 100.01, 0.1)
    result = analyse(
        signals_of(
            trace := log(time_s, channel("current_a", np.full(time_s.size, 20.0), position="left")),
            whole(trace),
        )
    )
    assert result.consumed_mah.reason == "the log has only one side's current and no counted charge"


def test_power_over_voltage_stands_for_a_missing_current_and_is_said():
    """360 W at 10 V are 36 A: 1000 mAh and 10 Wh in 100 s, by arithmetic."""
    time_s = np.arange(0.0, 100.01, 0.1)
    trace = log(
        time_s,
        channel("power_w", np.full(time_s.size, 360.0)),
        channel("pack_voltage_v", np.full(time_s.size, 10.0)),
    )
    found = analyse(signals_of(trace, whole(trace)))
    assert found.consumed_mah.value == pytest.approx(1000.0, rel=1e-9)
    assert found.energy_wh.value == pytest.approx(10.0, rel=1e-9)
    assert found.energy_wh.method == "integral of the power"
    assert found.mean_current_a == pytest.approx(36.0)
    assert "power ÷ voltage" in found.how


def test_power_over_a_sagging_voltage_counts_what_a_current_sensor_would():
    time_s, current_a, passed, _ = busy_current(4)
    volts = 21.0 - 0.05 * current_a - 0.006 * time_s
    trace = log(
        time_s, channel("power_w", np.round(current_a * volts), step=1.0), channel("pack_voltage_v", volts)
    )
    found = consumed(trace)
    assert found.value == pytest.approx(passed, rel=0.0015)
    assert found.low < passed < found.high


def test_power_without_any_voltage_tells_the_energy_but_no_charge():
    time_s = np.arange(0.0, 100.01, 0.1)
    trace = log(time_s, channel("power_w", np.full(time_s.size, 360.0)))
    found = analyse(signals_of(trace, whole(trace)))
    assert found.energy_wh.value == pytest.approx(10.0, rel=1e-9)
    assert isinstance(found.consumed_mah, Undecided)
