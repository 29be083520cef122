"""The intervals of take-off and landing, logs cut off in the air, and flights off the script: gliders, hand
launches, belly landings, steady currents, windmilling, taxi by differential thrust.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.flights import find
from telemetry.estimate import Estimate, Undecided
from telemetry.simulate import random_scenario, simulate
from telemetry.trace import Channel, Trace

AIR_DATA = ("altitude_m", "airspeed_mps", "ground_speed_mps", "climb_mps")


def trace_of(time_s, **series) -> Trace:
    """Keys as `quantity` or `quantity__position`; NaN where the sensor is silent."""
    channels = {}
    for name, values in series.items():
        quantity, _, position = name.partition("__")
        values = np.asarray(values, dtype=float)
        channels[quantity, position] = Channel(
            quantity, position, values, np.isfinite(values), name, 0.1, 0.01
        )
    return Trace(time_s, channels)


def coverage(pairs):
    """Share of intervals that hold the truth, and the median of half their widths."""
    assert all(isinstance(found, Estimate) for found, _ in pairs)
    held = np.mean([found.low <= true <= found.high for found, true in pairs])
    return held, np.median([(found.high - found.low) / 2 for found, _ in pairs])


@pytest.mark.parametrize(
    ("sensors", "takeoff_wide_s", "landing_wide_s"),
    [
        (("altitude", "throttle"), 1.6, 2.0),
        (("airspeed", "throttle"), 2.1, 4.6),
        (("throttle",), 3.6, 5.0),
        (("current",), 3.6, 5.0),
    ],
)
def test_nine_in_ten_intervals_hold_the_instants_of_a_flight_the_code_did_not_make(
    fly, sensors, takeoff_wide_s, landing_wide_s
):
    found = [(find(fly(seed).sensed(seed, sensors=sensors))[0], fly(seed)) for seed in range(24)]
    held, wide_s = coverage([(flight.takeoff, flown.takeoffs_s[0]) for flight, flown in found])
    assert held >= 0.9
    assert wide_s <= takeoff_wide_s
    held, wide_s = coverage([(flight.landing, flown.touchdowns_s[0]) for flight, flown in found])
    assert held >= 0.9
    assert wide_s <= landing_wide_s


@pytest.mark.parametrize("lacks", [(), ("airspeed_mps",), ("altitude_m",), AIR_DATA])
def test_nine_in_ten_intervals_hold_the_instants_of_a_simulated_flight(lacks):
    takeoffs, landings = [], []
    for seed in range(40, 50):
        run = simulate(random_scenario(seed), seed=seed)
        trace = run.trace()
        kept = {key: channel for key, channel in trace.channels.items() if key[0] not in lacks}
        (flight,) = find(replace(trace, channels=kept))
        takeoffs.append((flight.takeoff, run.truth.takeoff_s))
        landings.append((flight.landing, run.truth.landing_s))
    assert coverage(takeoffs)[0] >= 0.9
    assert coverage(landings)[0] >= 0.9


def test_the_interval_of_a_glide_nobody_saw_reaches_to_the_end_of_the_silence():
    time_s = np.arange(0, 160, 0.1)
    stick = np.interp(time_s, [0, 20, 21, 100, 100.3, 160], [0, 0, 0.9, 0.8, 0, 0])
    stick[(time_s > 130) & (time_s < 133)] = 0.15
    (flight,) = find(trace_of(time_s, throttle_fraction=stick))
    assert flight.landing.low == pytest.approx(100.3, abs=0.5)
    assert flight.landing.high >= 130


@pytest.mark.parametrize("sensors", [("altitude", "throttle"), ("airspeed", "throttle"), ("throttle",)])
def test_a_log_that_was_cut_off_says_at_which_end(fly, sensors):
    flown = fly(4)
    up, down = flown.takeoffs_s[0] + 25, flown.touchdowns_s[0] - 25
    said = [
        find(flown.sensed(4, sensors=sensors, start_s=a, end_s=b))[0].cut_off
        for a, b in ((0, np.inf), (up, np.inf), (0, up), (up, down))
    ]
    assert said == ["none", "start", "end", "both"]


def test_a_run_on_the_bench_whose_log_ends_under_power_is_cut_off_too(bench_log):
    whole = bench_log()
    assert find(whole)[0].cut_off == "none"
    kept = whole.time_s < 47.0  # in the middle of the last step
    cut = Trace(
        whole.time_s[kept],
        {key: replace(c, values=c.values[kept], fresh=c.fresh[kept]) for key, c in whole.channels.items()},
    )
    assert find(cut, bench=True)[0].cut_off == "end"


def test_a_steady_current_is_a_running_motor():
    time_s = np.arange(0, 120, 0.1)
    amps = 14.0 + 0.2 * np.sin(time_s)
    (flight,) = find(trace_of(time_s, current_a=amps))
    assert (flight.powered.start_s, flight.powered.end_s) == (0.0, time_s[-1])
    assert flight.cut_off == "both"


def test_a_propeller_that_windmills_without_a_command_is_no_running_motor():
    time_s = np.arange(0, 200, 0.1)
    stick = np.interp(time_s, [0, 20, 21, 100, 101, 200], [0, 0, 0.9, 0.6, 0, 0])
    height = 60 * np.clip(np.minimum((time_s - 22) / 20, (170 - time_s) / 60), 0, 1)
    rpm = np.maximum(9000 * stick, 3000.0 * (height > 1))
    (flight,) = find(trace_of(time_s, throttle_fraction=stick, rpm__centre=rpm, altitude_m=height))
    assert flight.powered.end_s == pytest.approx(101, abs=0.5)
    assert flight.landing_s == pytest.approx(170, abs=3)


@pytest.mark.parametrize("speed", [True, False])
def test_taxi_by_differential_thrust_is_ground(speed):
    rng = np.random.default_rng(3)
    time_s = np.arange(0, 150, 0.1)
    blips = np.repeat(rng.choice([0.0, 0.2, 0.26], 75), 20) * ((time_s > 10) & (time_s < 140))
    turn = np.repeat(rng.choice([-0.15, 0.0, 0.15], 50), 30) * (blips > 0)
    hand = np.convolve(rng.normal(0, 0.06, time_s.size), np.ones(10) / 10, "same") * (blips > 0)
    series = {
        "throttle_fraction__left": blips + turn + hand,
        "throttle_fraction__right": blips - turn + hand,
    }
    if speed:
        series["ground_speed_mps"] = 3.0 * np.convolve(blips > 0, np.ones(30) / 30, "same")
    (flight,) = find(trace_of(time_s, **series))
    assert isinstance(flight.takeoff_s, Undecided)
    assert flight.is_taxi


def glider(time_s):
    """Three bursts of 20 s, each with a glide of two minutes after it. Stick, height and speed."""
    stick = np.select([(time_s > at) & (time_s < at + 20) for at in (20, 160, 300)], [0.95] * 3, 0.0)
    height = np.interp(time_s, [0, 22, 40, 160, 180, 300, 320, 430, 500], [0, 0, 120, 25, 140, 30, 130, 0, 0])
    speed = np.interp(time_s, [0, 20, 22, 25, 425, 430, 434, 500], [0, 0, 8, 11, 11, 9, 0, 0])
    return stick, height, speed


@pytest.mark.parametrize("seen", [("altitude_m",), ("airspeed_mps",), ("altitude_m", "airspeed_mps")])
def test_a_glider_flown_in_bursts_is_one_flight_where_altitude_or_speed_says_so(seen):
    time_s = np.arange(0, 500, 0.2)
    stick, height, speed = glider(time_s)
    logged = {"altitude_m": height, "airspeed_mps": speed}
    (flight,) = find(trace_of(time_s, throttle_fraction=stick, **{name: logged[name] for name in seen}))
    assert flight.takeoff_s == pytest.approx(22, abs=3)
    assert flight.landing_s == pytest.approx(430, abs=4)


def test_a_glider_of_which_the_throttle_alone_was_logged_is_one_flight_with_an_open_landing():
    time_s = np.arange(0, 500, 0.2)
    stick, _, _ = glider(time_s)
    (flight,) = find(trace_of(time_s, throttle_fraction=stick))
    assert flight.takeoff_s == pytest.approx(22, abs=3)
    assert isinstance(flight.landing_s, Undecided)
    assert not flight.is_bench


def test_a_model_thrown_and_landed_on_its_belly_has_no_roll():
    time_s = np.arange(0, 200, 0.1)
    stick = np.interp(time_s, [0, 30, 30.3, 120, 121, 200], [0, 0, 0.8, 0.5, 0, 0])
    height = np.interp(time_s, [0, 30, 45, 120, 150, 200], [0, 0, 40, 40, 0, 0])
    speed = np.interp(time_s, [0, 29.5, 30, 33, 145, 150, 151, 200], [0, 0, 8, 14, 12, 9, 0, 0])
    (flight,) = find(trace_of(time_s, throttle_fraction=stick, altitude_m=height, airspeed_mps=speed))
    assert flight.takeoff_s == pytest.approx(30, abs=1)
    assert flight.landing_s == pytest.approx(150, abs=1.5)
    phases = {phase.name: phase for phase in flight.phases}
    assert flight.takeoff_s - phases["takeoff"].start_s <= 1.0
    assert phases["landing"].end_s - phases["landing"].start_s <= 2.0


def test_without_altitude_bursts_and_glides_and_the_way_back_are_no_cruise():
    time_s = np.arange(0, 260, 0.1)
    stick = np.interp(
        time_s,
        [0, 20, 21, 30, 32, 90, 91, 99, 100, 150, 151, 157, 158, 200, 201, 215, 216, 260],
        [0, 0, 1, 1, 0.55, 0.55, 1, 1, 0.55, 0.55, 0, 0, 0.55, 0.55, 0.25, 0.25, 0, 0],
    )
    stick[(time_s > 226) & (time_s < 232)] = 0.18
    (flight,) = find(trace_of(time_s, throttle_fraction=stick))

    def name_at(at_s):
        return next(p.name for p in flight.phases if p.start_s <= at_s < p.end_s)

    assert [name_at(at) for at in (60, 95, 120, 180, 208, 229, 250)] == [
        "cruise", "climb", "cruise", "cruise", "approach", "ground", "ground",
    ]  # fmt: skip


def test_an_altimeter_that_falls_silent_does_not_hold_the_model_in_the_air():
    time_s = np.arange(0, 200, 0.1)
    stick = np.interp(time_s, [0, 20, 21, 100, 101, 108, 109, 200], [0, 0, 0.9, 0.6, 0.25, 0.25, 0, 0])
    height = np.where(time_s < 60, np.clip((time_s - 22) * 2, 0, 40), np.nan)
    (flight,) = find(trace_of(time_s, throttle_fraction=stick, altitude_m=height))
    assert flight.takeoff_s == pytest.approx(22, abs=1)
    assert flight.landing_s == pytest.approx(110, abs=5)
