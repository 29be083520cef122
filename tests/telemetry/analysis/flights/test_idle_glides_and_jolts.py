"""Landings that the motors do not show: after a glide, an approach on idle, a jolt; and taxi runs of which
only a current was logged.
"""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.analysis.flights import find
from telemetry.estimate import Undecided
from telemetry.trace import Channel, Trace


def trace_of(time_s, **series) -> Trace:
    every = np.ones(time_s.size, dtype=bool)
    keys = {name: (name, "centre" if name == "rpm" else "") for name in series}
    return Trace(
        time_s,
        {
            keys[q]: Channel(*keys[q], np.asarray(v, dtype=float), every, q, 0.1, 0.01)
            for q, v in series.items()
        },
    )


TIME = np.arange(0, 200, 0.1)
# 20 s of rest, take-off at full power, cruise, from 130 s an approach at 0.3, 0.2 and 0.1 of the stick for
# 12, 6 and 4 s, then the wheels.
STICK = np.interp(
    TIME,
    [0, 20, 21, 30, 32, 130, 131, 143, 144, 149, 150, 153, 153.4, 200],
    [0, 0, 1, 1, 0.65, 0.65, 0.3, 0.3, 0.2, 0.2, 0.1, 0.1, 0, 0],
)


@pytest.mark.parametrize(
    "series",
    [
        {"throttle_fraction": STICK},
        {"rpm": 9000 * STICK},
        # At a third of the stick a propeller in the air turns and draws next to nothing.
        {"current_a": 0.3 + 70 * np.clip(STICK - 0.32, 0, 1) ** 2.2, "rpm": 9000 * STICK},
    ],
)
def test_an_approach_flown_on_next_to_nothing_belongs_to_the_flight(series):
    (flight,) = find(trace_of(TIME, **series))
    assert flight.landing_s == pytest.approx(153.5, abs=5.0)


def test_a_long_silence_after_cruising_power_leaves_the_landing_open():
    stick = np.interp(TIME, [0, 20, 21, 30, 32, 130, 130.3, 200], [0, 0, 1, 1, 0.65, 0.65, 0, 0])
    (flight,) = find(trace_of(TIME, throttle_fraction=stick))
    assert isinstance(flight.takeoff_s, float)
    assert isinstance(flight.landing_s, Undecided)
    assert "glided" in flight.landing_s.reason


@pytest.mark.parametrize("sensors", [("throttle", "acceleration"), ("current", "acceleration")])
@pytest.mark.parametrize("seed", [3, 5, 8, 13])
def test_a_jolt_tells_the_touch_after_a_glide_of_any_length(fly, seed, sensors):
    flown = fly(seed, glides=True)
    flight = find(flown.sensed(seed, sensors=sensors, rate_hz=20))[0]
    assert flight.landing_s == pytest.approx(flown.touchdowns_s[0], abs=2.0)


@pytest.mark.parametrize("sensors", [("throttle", "acceleration"), ("airspeed", "throttle", "acceleration")])
def test_the_shake_of_the_roll_ends_with_the_take_off(fly, sensors):
    late = []
    for seed in range(12):
        flown = fly(seed)
        flight = find(flown.sensed(seed, sensors=sensors, rate_hz=20))[0]
        late.append(
            (abs(flight.takeoff_s - flown.takeoffs_s[0]), abs(flight.landing_s - flown.touchdowns_s[0]))
        )
    takeoffs, landings = np.percentile(late, 90, axis=0)
    assert takeoffs < 2.0
    assert landings < 2.0


def test_an_acceleration_without_a_shake_changes_nothing(fly):
    flown = fly(4)
    trace = flown.sensed(4, sensors=("throttle",), rate_hz=10)
    still = Channel(
        "acceleration_mps2",
        "z",
        9.81 + 0.05 * np.sin(0.7 * np.arange(trace.time_s.size)),
        np.ones(trace.time_s.size, dtype=bool),
        "acc",
        0.1,
        0.01,
    )
    felt = Trace(trace.time_s, {**trace.channels, ("acceleration_mps2", "z"): still})
    assert find(felt)[0].landing_s == find(trace)[0].landing_s


def test_a_few_amperes_for_minutes_are_no_take_off():
    # A twin rolls on two to four amperes; nothing of its full scale is known.
    amps = 0.4 + 3.0 * (np.sin(TIME / 3) > -0.3) * (TIME > 5) * (TIME < 190)
    (flight,) = find(trace_of(TIME, current_a=amps))
    assert isinstance(flight.takeoff_s, Undecided)
    assert "can't tell a taxi run from a flight" in flight.takeoff_s.reason
