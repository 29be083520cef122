"""Held samples, refresh intervals, steps; faults that no sensor measured."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.importers.faults import clean
from telemetry.importers.freshness import freshness

TIME = 0.02 * np.arange(5000)
SIGNAL = 20 + 15 * np.sin(TIME / 3) + np.random.default_rng(3).normal(0, 0.8, TIME.size)


@pytest.mark.parametrize("held", [2, 5, 10, 25])
def test_a_sensor_slower_than_the_log_repeats_its_reading(held):
    values = np.round(SIGNAL[np.arange(TIME.size) // held * held], 1)
    found = freshness(TIME, values)
    assert found.refresh_interval_s == pytest.approx(0.02 * held, rel=0.02)
    assert np.mean(found.fresh) == pytest.approx(1 / held, rel=0.05)
    assert np.all(np.flatnonzero(found.fresh) % held == 0)


def test_a_sensor_that_does_not_keep_step_with_the_log():
    # read every 0.2 s, logged every 0.03 s: held for six or seven rows
    rows_s = np.arange(0, 100, 0.03)
    values = np.round(np.interp(np.floor(rows_s / 0.2) * 0.2, TIME, SIGNAL), 2)
    found = freshness(rows_s, values)
    assert found.refresh_interval_s == pytest.approx(0.2, rel=0.1)
    assert found.fresh.mean() == pytest.approx(0.15, rel=0.15)


def test_a_channel_read_in_every_row_is_fresh_in_every_row():
    found = freshness(TIME, np.round(SIGNAL, 1))
    assert found.fresh.all()
    assert found.step == pytest.approx(0.1)


def test_a_slow_signal_that_keeps_its_rounded_value_is_not_called_held():
    warm = np.round(20 + TIME / 10 + np.random.default_rng(1).normal(0, 0.05, TIME.size))
    assert freshness(TIME, warm).fresh.all()


def test_silent_rows_are_never_fresh_and_the_others_are():
    values = np.where(np.arange(TIME.size) % 3 == 0, np.round(SIGNAL, 1), np.nan)
    found = freshness(TIME, values)
    assert np.array_equal(found.fresh, np.isfinite(values))
    assert found.refresh_interval_s == pytest.approx(0.06)


@given(st.integers(1, 30), st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_new_samples_are_real_ones(held, seed):
    rng = np.random.default_rng(seed)
    values = np.round(rng.normal(0, 5, 400)[np.arange(400) // held], 1)
    values[rng.random(400) < 0.1] = np.nan
    found = freshness(0.1 * np.arange(400), values)
    assert not found.fresh[np.isnan(values)].any()


@pytest.mark.parametrize(
    ("quantity", "level", "sentinel"),
    [
        ("motor_temperature_c", 40.0, -2500.0),
        ("altitude_m", 30.0, -999.0),
        ("current_a", 35.0, 6553.5),
        ("current_a", 35.0, 655.35),
        ("rpm", 9000.0, 65535.0),
        ("pack_voltage_v", 19.0, 0.0),
        ("cell_voltage_v", 3.8, 0.0),
        ("charge_mah", 900.0, 65535.0),
        ("controller_temperature_c", 45.0, -999.0),
        ("altitude_m", 30.0, 9999.0),
    ],
)
def test_sentinels_and_drop_outs_become_silence(quantity, level, sentinel):
    values = level * (1 + 0.1 * np.sin(TIME[:900]))
    struck = values.copy()
    struck[[100, 101, 400, 899]] = sentinel
    found = clean(struck, struck, quantity)
    assert np.flatnonzero(np.isnan(found.values)).tolist() == [100, 101, 400, 899]
    assert found.said.startswith("4 values")


def test_a_true_burst_of_current_is_no_fault():
    amps = np.full(900, 1.0)
    amps[300:330] = np.linspace(1, 75, 30)
    amps[330:360] = np.linspace(75, 1, 30)
    assert clean(amps, amps, "current_a").said == ""


@pytest.mark.parametrize("rows_held", [1.2, 1.43, 1.618, 1.85])
def test_a_sensor_a_little_slower_than_the_rows_is_new_only_when_it_is(rows_held):
    rows = np.arange(3000)
    reading = np.floor(rows / rows_held).astype(int)
    signal = np.cumsum(np.random.default_rng(2).normal(0, 1, reading[-1] + 1))[reading]
    found = freshness(0.1 * rows, signal)
    new = np.concatenate(([True], np.diff(reading) > 0))
    assert not (found.fresh & ~new).any()
    assert found.fresh.sum() == pytest.approx(new.sum(), rel=0.01)


def test_a_reading_that_repeats_by_rounding_is_new_all_the_same():
    for seed in range(40):
        signal = np.round(np.random.default_rng(seed).normal(0, 1, 2000).cumsum() / 2)
        assert freshness(0.1 * np.arange(2000), signal).fresh.all()


@pytest.mark.parametrize(
    ("rows", "kept"),
    [
        (1, False),  # one row at nothing is a lost sample
        (2, True),  # two together are a fall of the supply
        (40, True),
    ],
)
def test_a_receivers_supply_may_fall_to_nothing_in_earnest(rows, kept):
    volts = 5.2 + np.random.default_rng(5).normal(0, 0.01, 1000)
    volts[500 : 500 + rows] = 0.0
    cleaned = clean(volts, volts, "receiver_voltage_v").values
    assert np.all(cleaned[500 : 500 + rows] == 0.0) is np.bool_(kept)
    assert np.isfinite(cleaned).sum() == (1000 if kept else 1000 - rows)


def test_a_receivers_supply_that_is_not_up_yet_is_no_reading():
    volts = np.full(1000, 5.2)
    volts[:50] = 0.0
    assert np.isnan(clean(volts, volts, "receiver_voltage_v").values[:50]).all()
