"""Where a flight starts and ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.flights import find
from telemetry.estimate import Undecided
from telemetry.trace import Channel, Stretch, Trace

SEEDS = range(12)


def off_by(flown, seed, touches=0, **sensing):
    """How far every take-off and landing found lies from the truth. [s]"""
    flights = find(flown.sensed(seed, **sensing))
    takeoffs, landings = flown.takeoffs_s[:: 1 + touches], flown.touchdowns_s[touches :: 1 + touches]
    assert len(flights) == len(takeoffs)
    return [f.takeoff_s - t for f, t in zip(flights, takeoffs, strict=True)], [
        f.landing_s - t for f, t in zip(flights, landings, strict=True)
    ]


@pytest.mark.parametrize("seed", SEEDS)
def test_with_altitude_the_take_off_is_within_three_seconds_and_the_landing_within_five(fly, seed):
    takeoffs, landings = off_by(fly(seed), seed)
    assert abs(takeoffs[0]) <= 3
    assert abs(landings[0]) <= 5


@pytest.mark.parametrize("sensors", [("airspeed", "throttle"), ("throttle", "current"), ("current",)])
@pytest.mark.parametrize("seed", SEEDS)
def test_without_altitude_the_take_off_is_within_eight_seconds_and_the_landing_within_twenty(
    fly, seed, sensors
):
    takeoffs, landings = off_by(fly(seed), seed, sensors=sensors)
    assert abs(takeoffs[0]) <= 8
    assert abs(landings[0]) <= 20


@pytest.mark.parametrize(
    "sensors", [("altitude", "throttle"), ("airspeed", "throttle"), ("throttle",), ("current",)]
)
def test_three_flights_of_one_power_on_are_three(fly, sensors):
    flown = fly(101, flights=3)
    takeoffs, landings = off_by(flown, 101, sensors=sensors)
    assert max(map(abs, takeoffs)) <= 8
    assert max(map(abs, landings)) <= 20


def test_the_idle_stretch_between_two_flights_is_split_at_its_middle():
    time_s = np.arange(0, 300, 0.1)
    command = np.where(((time_s > 20) & (time_s < 100)) | ((time_s > 160) & (time_s < 260)), 0.6, 0.0)
    height = 30 * np.clip(np.minimum(time_s - 22, 98 - time_s) / 10, 0, 1) + 30 * np.clip(
        np.minimum(time_s - 162, 258 - time_s) / 10, 0, 1
    )
    first, second = find(trace_of(time_s, throttle_fraction=command, altitude_m=height))
    # motors stop at 100 s and start at 160 s: the middle is 130 s
    assert first.end_s == second.start_s == pytest.approx(130, abs=0.2)
    assert first.start_s == 0
    assert second.end_s == time_s[-1]


def test_power_off_between_two_flights_ends_one_and_starts_the_other():
    time_s = np.concatenate((np.arange(0, 115, 0.1), np.arange(145, 300, 0.1)))
    command = np.where(((time_s > 20) & (time_s < 100)) | ((time_s > 160) & (time_s < 260)), 0.6, 0.0)
    height = 30 * np.clip(np.minimum(time_s - 22, 98 - time_s) / 10, 0, 1) + 30 * np.clip(
        np.minimum(time_s - 162, 258 - time_s) / 10, 0, 1
    )
    trace = replace(
        trace_of(time_s, throttle_fraction=command, altitude_m=height), gaps=(Stretch(114.9, 145.0),)
    )
    first, second = find(trace)
    assert (first.end_s, second.start_s) == (114.9, 145.0)


@pytest.mark.parametrize(
    "sensors", [("altitude", "throttle"), ("altitude", "airspeed", "throttle"), ("throttle",)]
)
@pytest.mark.parametrize("seed", [100, 101, 102])
def test_a_touch_and_go_and_a_go_around_are_one_flight(fly, seed, sensors):
    takeoffs, landings = off_by(fly(seed, touches=1, go_arounds=1), seed, touches=1, sensors=sensors)
    assert len(takeoffs) == 1
    assert abs(landings[0]) <= 20


def test_a_go_around_is_a_phase_of_its_own(fly):
    flight = find(fly(103, go_arounds=1).sensed(103))[0]
    assert [p.name for p in flight.phases].count("go_around") == 1


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_phases_follow_one_another_without_overlap_and_without_a_hole(fly, seed):
    flight = find(fly(seed).sensed(seed))[0]
    names = [p.name for p in flight.phases]
    assert names[0] == names[-1] == "ground"
    assert names[1] == "takeoff"
    assert names[-3:-1] == ["approach", "landing"]
    assert all(a.end_s == b.start_s for a, b in zip(flight.phases[:-1], flight.phases[1:], strict=True))
    assert (flight.phases[0].start_s, flight.phases[-1].end_s) == (flight.start_s, flight.end_s)


@pytest.mark.parametrize(
    "sensors", [("altitude", "throttle"), ("airspeed", "throttle"), ("throttle",), ("current",)]
)
def test_a_log_that_starts_in_the_air_has_no_take_off_but_a_landing(fly, sensors):
    flown = fly(4)
    starts = flown.takeoffs_s[0] + 30
    (flight,) = find(flown.sensed(4, sensors=sensors, start_s=starts))
    assert isinstance(flight.takeoff_s, Undecided)
    assert flight.takeoff_s.reason.startswith("the log starts")
    assert flight.landing_s == pytest.approx(flown.touchdowns_s[0] - starts, abs=20)


@pytest.mark.parametrize(
    "sensors", [("altitude", "throttle"), ("airspeed", "throttle"), ("throttle",), ("current",)]
)
def test_a_log_that_ends_under_load_has_a_take_off_but_no_landing(fly, sensors):
    flown = fly(5)
    (flight,) = find(flown.sensed(5, sensors=sensors, end_s=flown.takeoffs_s[0] + 30))
    assert flight.takeoff_s == pytest.approx(flown.takeoffs_s[0], abs=8)
    assert isinstance(flight.landing_s, Undecided)
    assert flight.landing_s.reason.startswith("the log ends")


def test_powered_time_runs_from_the_first_throttle_up_to_the_last_motor_stop():
    time_s = np.arange(0, 120, 0.1)
    command = np.where((time_s > 12) & (time_s < 15), 0.15, np.where((time_s > 30) & (time_s < 95), 0.7, 0.0))
    (flight,) = find(trace_of(time_s, throttle_fraction=command))
    assert flight.powered.start_s == pytest.approx(12.1, abs=0.11)
    assert flight.powered.end_s == pytest.approx(95.0, abs=0.11)


def test_one_odd_sample_of_throttle_is_not_a_throttle_up():
    time_s = np.arange(0, 120, 0.1)
    command = np.where((time_s > 30) & (time_s < 95), 0.7, 0.0)
    command[57] = 0.9
    (flight,) = find(trace_of(time_s, throttle_fraction=command))
    assert flight.powered.start_s == pytest.approx(30.1, abs=0.11)


def test_a_taxi_run_is_one_flight_without_a_take_off():
    time_s = np.arange(0, 90, 0.1)
    command = np.where(np.sin(time_s) > 0.3, 0.18, 0.0) * ((time_s > 10) & (time_s < 80))
    speed = np.convolve(command * 18, np.ones(20) / 20, "same")
    (flight,) = find(
        trace_of(
            time_s,
            throttle_fraction=command,
            altitude_m=0.1 * np.round(np.sin(7 * time_s)),
            ground_speed_mps=speed,
        )
    )
    assert isinstance(flight.takeoff_s, Undecided)
    assert isinstance(flight.landing_s, Undecided)
    assert not flight.is_bench


def test_a_log_at_rest_is_one_flight_with_no_powered_time():
    time_s = np.arange(0, 60, 0.1)
    (flight,) = find(trace_of(time_s, throttle_fraction=np.zeros(600), current_a=np.full(600, 0.3)))
    assert isinstance(flight.powered, Undecided)
    assert isinstance(flight.takeoff_s, Undecided)


def test_a_log_of_voltage_alone_says_why_it_cannot_tell():
    time_s = np.arange(0, 60, 0.1)
    (flight,) = find(trace_of(time_s, pack_voltage_v=np.full(600, 20.0)))
    assert flight.powered.reason == "the log has neither throttle nor current nor rpm"


@pytest.mark.parametrize("sensors", [{}, {"altitude": True}, {"altitude": True, "speed": True}])
def test_throttle_held_in_steps_with_the_model_still_is_a_bench_run(bench_log, sensors):
    (flight,) = find(bench_log(**sensors))
    assert flight.is_bench
    assert isinstance(flight.takeoff_s, Undecided)


def test_a_bench_run_is_seen_from_the_current_alone(bench_log):
    assert find(bench_log(throttle=False))[0].is_bench


@pytest.mark.parametrize("seed", SEEDS)
def test_a_flight_that_merely_lacks_altitude_and_speed_is_not_a_bench_run(fly, seed):
    assert not any(f.is_bench for f in find(fly(seed).sensed(seed, sensors=("throttle", "current"))))


def test_who_says_bench_is_believed(fly):
    (flight,) = find(fly(0).sensed(0), bench=True)
    assert flight.is_bench
    assert isinstance(flight.takeoff_s, Undecided)
    assert not isinstance(flight.powered, Undecided)


def test_an_altimeter_that_creeps_by_metres_does_not_hold_the_model_in_the_air():
    time_s = np.arange(0, 240, 0.1)
    height = 30 * np.clip(np.minimum(time_s - 22, 178 - time_s) / 12, 0, 1)
    command = np.where((time_s > 18) & (time_s < 176), 0.6, 0.0)
    (flight,) = find(
        trace_of(time_s, throttle_fraction=command, altitude_m=np.round(height + 4.0 * time_s / 240, 1))
    )
    assert flight.takeoff_s == pytest.approx(22, abs=3)
    assert flight.landing_s == pytest.approx(178, abs=5)


def trace_of(time_s, **series) -> Trace:
    every = np.ones(time_s.size, dtype=bool)
    return Trace(
        time_s,
        {(q, ""): Channel(q, "", np.asarray(v, dtype=float), every, q, 0.1, 0.01) for q, v in series.items()},
    )
