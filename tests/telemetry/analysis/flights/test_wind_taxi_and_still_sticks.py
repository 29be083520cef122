"""Flights told apart in a wind, taxi runs told from flights, and sticks held dead still told from a bench
run.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.flights import find
from telemetry.estimate import Undecided
from telemetry.simulate import random_scenario, several, simulate, taxi_only, touch_and_go
from telemetry.trace import Channel, Trace

AIR_DATA = ("altitude_m", "airspeed_mps", "ground_speed_mps", "climb_mps")


def without(run, *quantities):
    trace = run.trace()
    return replace(
        trace, channels={key: channel for key, channel in trace.channels.items() if key[0] not in quantities}
    )


@pytest.mark.parametrize("seed", [0, 1])
def test_flights_of_one_power_on_are_told_apart_when_the_pitot_reads_the_wind(seed):
    run = simulate(random_scenario(seed, legs=several(3, 40.0)), seed=seed)
    for lacks in ((), ("altitude_m",), ("airspeed_mps",)):
        assert [isinstance(f.takeoff_s, float) for f in find(without(run, *lacks))] == [True] * 3


def test_a_standing_pitot_in_six_metres_a_second_of_wind_does_not_join_two_flights():
    # By arithmetic: two flights of 80 s and a stop of 50 s at the ground, the wind added to what the pitot
    # reads.
    time_s = np.arange(0, 300, 0.1)
    flown = [np.clip(np.minimum(time_s - a, b - time_s) / 8, 0, 1) for a, b in ((22, 102), (162, 252))]
    command = np.where(((time_s > 20) & (time_s < 100)) | ((time_s > 160) & (time_s < 250)), 0.6, 0.0)
    pitot = 6.0 + 14.0 * (flown[0] + flown[1]) + 0.3 * np.sin(9 * time_s)
    for height in ({}, {"altitude_m": 40 * (flown[0] + flown[1]) + 0.1 * np.sin(7 * time_s)}):
        first, second = find(trace_of(time_s, throttle_fraction=command, airspeed_mps=pitot, **height))
        assert 102 <= first.end_s == second.start_s <= 162


@pytest.mark.parametrize("lacks", [(), ("altitude_m",)])
@pytest.mark.parametrize("seed", range(2))
def test_a_touch_and_go_stays_one_flight_in_a_wind(seed, lacks):
    run = simulate(random_scenario(seed, legs=touch_and_go(60.0)), seed=seed)
    assert len(find(without(run, *lacks))) == 1


@pytest.mark.parametrize("lacks", [(), ("altitude_m",), AIR_DATA, (*AIR_DATA, "current_a", "rpm")])
@pytest.mark.parametrize("seed", range(6))
def test_a_taxi_run_has_no_take_off_and_is_called_one(seed, lacks):
    run = simulate(random_scenario(seed, legs=taxi_only()), seed=seed)
    (flight,) = find(without(run, *lacks))
    assert isinstance(flight.takeoff_s, Undecided)
    assert isinstance(flight.landing_s, Undecided)
    assert (flight.is_taxi, flight.is_bench) == (True, False)


@pytest.mark.parametrize("seed", range(6))
def test_a_taxi_run_of_which_the_current_alone_was_logged_gets_a_reason_and_no_take_off(seed):
    run = simulate(random_scenario(seed, legs=taxi_only()), seed=seed)
    (flight,) = find(without(run, *AIR_DATA, "throttle_fraction", "pack_voltage_v", "cell_voltage_v"))
    assert isinstance(flight.takeoff_s, Undecided)
    assert (
        "can't tell a taxi run from a flight" in flight.takeoff_s.reason
        or "under load" in flight.takeoff_s.reason
    )
    assert not flight.is_taxi


@pytest.mark.parametrize(("seed", "stick"), [(10, "by hand"), (7, "dead still"), (13, "dead still")])
def test_a_flight_is_neither_taxi_nor_bench_run_however_still_the_stick(seed, stick):
    scenario = random_scenario(seed)
    if stick == "dead still":
        scenario = replace(scenario, air=replace(scenario.air, jitter_fraction=0.0))
    run = simulate(scenario, seed=seed)
    for lacks in (AIR_DATA, (*AIR_DATA, "current_a", "rpm"), (*AIR_DATA, "throttle_fraction")):
        (flight,) = find(without(run, *lacks))
        assert isinstance(flight.takeoff_s, float)
        assert not flight.is_taxi
        assert not flight.is_bench


@pytest.mark.parametrize("current", [False, True])
def test_three_throttles_held_exactly_are_a_flight_when_one_is_held_nearly_all_the_time(current):
    time_s = np.arange(0, 240, 0.1)
    command = np.select([time_s < 10, time_s < 16, time_s < 26, time_s < 210], [0.0, 0.95, 0.75, 0.5], 0.0)
    series = {"current_a": 0.4 + 60 * command**2.4} if current else {}
    (flight,) = find(trace_of(time_s, throttle_fraction=command, **series))
    assert not flight.is_bench
    assert isinstance(flight.takeoff_s, float)


@pytest.mark.parametrize("lacks", [(), AIR_DATA, (*AIR_DATA, "current_a", "rpm")])
@pytest.mark.parametrize("seed", range(4))
def test_a_run_up_in_steps_is_still_found(seed, lacks):
    (flight,) = find(without(simulate(random_scenario(seed, bench=True), seed=seed), *lacks))
    assert (flight.is_bench, flight.is_taxi) == (True, False)


def test_a_log_at_rest_is_no_taxi_run():
    time_s = np.arange(0, 60, 0.1)
    assert not find(trace_of(time_s, throttle_fraction=np.zeros(600), altitude_m=0.1 * np.sin(time_s)))[
        0
    ].is_taxi


def trace_of(time_s, **series) -> Trace:
    every = np.ones(time_s.size, dtype=bool)
    return Trace(
        time_s,
        {(q, ""): Channel(q, "", np.asarray(v, dtype=float), every, q, 0.1, 0.01) for q, v in series.items()},
    )
