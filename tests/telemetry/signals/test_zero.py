"""What a motor's current sensor reads at standstill is no current."""

import numpy as np
import pytest

from telemetry.signals import from_zero, signals_of
from telemetry.trace import Channel, Flight, Stretch, Trace

TIME_S = np.arange(0.0, 100.0, 0.2)
RUNS = (TIME_S > 20.0) & (TIME_S < 80.0)


def current_of(zero_a, runs=RUNS):
    amps = np.where(runs, 8.0, 0.0) + zero_a
    columns = {"current_a": amps, "rpm": 9000.0 * runs}
    fresh = np.ones(TIME_S.size, dtype=bool)
    channels = {(q, "left"): Channel(q, "left", v, fresh, q, 0.2) for q, v in columns.items()}
    channels["throttle_fraction", ""] = Channel("throttle_fraction", "", 0.6 * runs, fresh, "T", 0.2)
    flight = Flight(0.0, 100.0, 25.0, 78.0, Stretch(20.2, 79.8))
    return from_zero(signals_of(Trace(TIME_S, channels), flight), "left").values


@pytest.mark.parametrize("zero_a", [-0.05, 0.0, 0.08])
def test_the_reading_at_rest_is_taken_off(zero_a):
    assert current_of(zero_a)[RUNS] == pytest.approx(8.0)


def test_a_motor_that_is_held_at_standstill_draws_a_real_current():
    assert current_of(0.5)[RUNS] == pytest.approx(8.5)


def test_without_rest_the_current_stays_as_it_was_read():
    assert current_of(0.08, TIME_S > 1.0)[-10:] == pytest.approx(8.08)
