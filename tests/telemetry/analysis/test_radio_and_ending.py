"""The receiver's supply, the radio link, and flights that ended hard."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis import ending, flights, radio
from telemetry.limits import LINK_LOST_S, RECEIVER_LOW_V
from telemetry.signals import Signals, signals_of
from telemetry.trace import Trace

T8 = "common practice, no source: a receiver under about 4.5 V, a link lost for over a second in the air"


def seen(trace: Trace) -> Signals:
    (flight,) = flights.find(trace)
    return signals_of(trace, flight)


def supply(hand, *, fall_s: float, to_v: float, at_s: float = 80.0) -> np.ndarray:
    volts = hand.made().channels["receiver_voltage_v", ""].values
    return np.where((at_s <= hand.TIME_S) & (at_s + fall_s - 0.01 > hand.TIME_S), to_v, volts)


@pytest.mark.source(T8)
@pytest.mark.parametrize(
    ("fall_s", "to_v", "times"),
    [
        (0.5, 4.2, 1),
        (0.5, 2.6, 1),
        (0.5, 0.0, 1),  # two rows and more at nothing are a fall
        (0.1, 0.0, 0),  # one is a lost sample
        (0.1, 4.2, 0),
        (3.0, 4.7, 0),
    ],
)
def test_a_supply_under_four_and_a_half_volts_is_low_even_for_half_a_second(hand, fall_s, to_v, times):
    assert RECEIVER_LOW_V.value == 4.5
    low = radio.analyse(seen(hand.made(receiver_voltage_v=supply(hand, fall_s=fall_s, to_v=to_v)))).low
    assert len(low) == times
    if low:
        assert low[0].start_s == pytest.approx(80.0, abs=0.11)
        assert low[0].lowest_v == pytest.approx(to_v)


def test_a_supply_that_comes_on_and_one_that_is_switched_off_after_landing_are_not_low(hand):
    volts = hand.made().channels["receiver_voltage_v", ""].values
    volts = np.where((hand.TIME_S < 1.0) | (hand.TIME_S > hand.END_S - 1.0), 1.5, volts)
    assert radio.analyse(seen(hand.made(receiver_voltage_v=volts))).low == ()


@pytest.mark.parametrize(
    ("sheet_v", "reads_v", "low"),
    [(8.4, 6.9, False), (8.4, 5.8, True), (4.8, 4.4, False), (4.8, 4.2, True), (5.2, 4.4, True)],
)
def test_the_limit_goes_with_the_supply_that_the_sheet_names(hand, sheet_v, reads_v, low):
    trace = hand.made(receiver_voltage_v=supply(hand, fall_s=1.0, to_v=reads_v))
    if sheet_v > 6:
        raised = np.where(hand.TIME_S < 80.0, sheet_v, trace.channels["receiver_voltage_v", ""].values)
        raised = np.where(hand.TIME_S >= 81.0, sheet_v, raised)
        trace = hand.made(receiver_voltage_v=raised)
    assert bool(radio.analyse(seen(trace), supply_v=sheet_v).low) is low


@pytest.mark.source(T8)
@pytest.mark.parametrize(
    ("at_s", "gone_s", "times"), [(100.0, 1.3, 1), (100.0, 0.6, 0), (5.0, 4.0, 0), (230.0, 4.0, 0)]
)
def test_a_link_lost_for_over_a_second_counts_in_the_air_only(hand, at_s, gone_s, times):
    assert LINK_LOST_S.value == 1.0
    link = np.where((at_s <= hand.TIME_S) & (at_s + gone_s > hand.TIME_S), 0.0, 0.95)
    assert len(radio.analyse(seen(hand.made(link_fraction=link))).lost) == times


def test_an_ordinary_landing_is_not_hard(hand):
    assert ending.analyse(seen(hand.made())).hard == ()


def dive(hand, *, from_s: float, sink_mps: float, to_m: float = 0.0) -> np.ndarray:
    height = hand.made().channels["altitude_m", ""].values
    falling = np.maximum(height - sink_mps * np.maximum(hand.TIME_S - from_s, 0.0), to_m)
    return np.where(from_s > hand.TIME_S, height, falling)


def test_a_height_that_sinks_fast_to_the_end_of_the_log_is_a_hard_end(hand):
    # 40 m at 15 m/s: the ground comes at 152.7 s, the log ends 0.2 s before it
    trace = hand.made(altitude_m=dive(hand, from_s=150.0, sink_mps=15.0), until_s=152.5)
    (clause,) = ending.analyse(seen(trace)).hard
    assert "15 m/s" in clause


def test_a_dive_high_above_the_ground_where_the_log_ends_proves_nothing(hand):
    trace = hand.made(altitude_m=dive(hand, from_s=150.0, sink_mps=15.0) + 40.0, until_s=152.0)
    assert ending.analyse(seen(trace)).hard == ()


def test_a_speed_that_stops_at_once_is_a_hard_end_though_the_recorder_goes_on(hand):
    speed = hand.made().channels["airspeed_mps", ""].values
    struck = hand.made(airspeed_mps=np.where(hand.TIME_S < 200.0, speed, 0.0))
    assert any("speed" in clause for clause in ending.analyse(seen(struck)).hard)
    braked = np.where(hand.TIME_S < 205.0, speed, np.maximum(14.0 - 3.0 * (hand.TIME_S - 205.0), 0.0))
    assert ending.analyse(seen(hand.made(airspeed_mps=braked))).hard == ()


def test_a_stall_turn_is_no_hard_end_where_the_flight_goes_on_slower(hand):
    time_s = hand.TIME_S
    fast = np.where(time_s < 140.0, 16.0, np.where(time_s < 144.0, 0.5, 7.0)) * (time_s > 18.0)
    speed = np.where(time_s < 211.0, fast, np.maximum(7.0 - 3.0 * (time_s - 211.0), 0.0))
    assert ending.analyse(seen(hand.made(airspeed_mps=speed))).hard == ()
    struck = np.where(time_s < 140.0, fast, 0.0)
    assert ending.analyse(seen(hand.made(airspeed_mps=struck))).hard != ()


def test_a_blow_in_the_last_second_is_a_hard_end_and_a_jolt_in_flight_is_none(hand):
    rng = np.random.default_rng(2)
    shake = 9.8 + rng.normal(0.0, 2.0, hand.TIME_S.size)
    blow = np.where(np.abs(hand.TIME_S - 149.9) < 0.01, -160.0, shake)
    assert ending.analyse(seen(hand.made(acceleration_mps2__z=blow, until_s=150.0))).hard
    assert ending.analyse(seen(hand.made(acceleration_mps2__z=blow))).hard == ()
    assert ending.analyse(seen(hand.made(acceleration_mps2__z=shake, until_s=150.0))).hard == ()


def test_a_run_up_ends_hard_for_nobody(hand):
    trace = hand.made(altitude_m=dive(hand, from_s=150.0, sink_mps=15.0), until_s=152.5)
    signals = seen(trace)
    on_the_bench = replace(signals, flight=replace(signals.flight, is_bench=True))
    assert ending.analyse(on_the_bench).hard == ()
