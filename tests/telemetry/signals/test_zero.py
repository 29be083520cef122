"""What a motor's current sensor reads at standstill is no current."""

import numpy as np
import pytest

from telemetry.signals import signals_of
from telemetry.trace import Channel, Flight, Stretch, Trace

TIME_S = np.arange(0.0, 100.0, 0.2)
RUNS = (TIME_S > 20.0) & (TIME_S < 80.0)
NOISE_A = np.random.default_rng(3).normal(0.0, 1.0, (2, TIME_S.size))


def currents(left_a, right_a, *, runs=RUNS, noise_a=0.08):
    """Two motors at 8 A whose sensors are off by so much, each with its noise."""
    channels = {}
    fresh = np.ones(TIME_S.size, dtype=bool)
    for k, (side, zero_a) in enumerate((("left", left_a), ("right", right_a))):
        columns = {"current_a": 8.0 * runs + zero_a + noise_a * NOISE_A[k], "rpm": 9000.0 * runs}
        channels |= {(q, side): Channel(q, side, v, fresh, q, 0.2) for q, v in columns.items()}
    channels["throttle_fraction", ""] = Channel("throttle_fraction", "", 0.6 * runs, fresh, "T", 0.2)
    flight = Flight(0.0, 100.0, 25.0, 78.0, Stretch(20.2, 79.8))
    found = signals_of(Trace(TIME_S, channels), flight).motor_readings()
    return [float(np.mean(found[side].values[runs])) for side in ("left", "right")]


@pytest.mark.parametrize("apart_a", [-0.10, 0.06, 0.10])
def test_sensors_that_start_apart_are_brought_together(apart_a):
    assert currents(0.0, apart_a) == pytest.approx([8.0, 8.0], abs=0.03)


def test_what_both_read_at_rest_is_what_controllers_draw():
    assert currents(0.05, 0.05) == pytest.approx([8.05, 8.05], abs=0.02)


def test_a_sensor_too_noisy_to_tell_is_left_as_it_was_read():
    assert currents(0.0, 0.10, noise_a=0.5)[1] == pytest.approx(8.10, abs=0.08)


def test_a_motor_that_is_held_at_standstill_draws_a_real_current():
    assert currents(0.0, 0.5) == pytest.approx([8.0, 8.5], abs=0.03)


def test_without_rest_the_currents_stay_as_they_were_read():
    assert currents(0.0, 0.10, runs=TIME_S > 1.0) == pytest.approx([8.0, 8.1], abs=0.03)
