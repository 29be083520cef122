"""A motor glider's log: one burst of throttle, then a long glide, with nothing but current and voltage."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry import review
from telemetry.estimate import Undecided
from telemetry.trace import Channel, Trace

START_S = 60.0


def glider(*, minutes=10.0, burst_s=20.0, burst_a=20.0, noise_a=0.05, height_m=None, rate_hz=5.0):
    """A log of three cells: `burst_a` for `burst_s` from the first minute on, else 0.2 A."""
    rng = np.random.default_rng(3)
    time_s = np.round(np.arange(0.0, 60.0 * minutes, 1.0 / rate_hz), 3)
    ran_s = np.clip(time_s - START_S, 0.0, burst_s)
    runs = (time_s >= START_S) & (time_s < START_S + burst_s)
    current_a = np.where(runs, burst_a, 0.2) + noise_a * rng.standard_normal(time_s.size)
    noise_v = 0.004 * rng.standard_normal(time_s.size)
    values = {
        "current_a": np.round(current_a, 2),
        "pack_voltage_v": np.round(12.5 - 0.015 * current_a - 0.002 * ran_s + noise_v, 2),
    }
    if height_m is not None:
        glides = np.clip((time_s - START_S - burst_s) / 400.0, 0.0, 1.0)
        values["altitude_m"] = height_m * (ran_s / burst_s - glides) + 0.1 * rng.standard_normal(time_s.size)
    steps = {q: float(np.min(np.diff(np.unique(v)))) for q, v in values.items()}
    return Trace(
        time_s,
        {
            (q, ""): Channel(q, "", v, np.ones(v.size, dtype=bool), q, 1.0 / rate_hz, steps[q])
            for q, v in values.items()
        },
    )


@pytest.mark.parametrize("height_m", [None, 150.0])
@pytest.mark.parametrize("noise_a", [0.0, 0.05])
def test_twenty_amperes_for_twenty_seconds_are_a_running_motor(noise_a, height_m):
    """At a steady current the log knows two values; their difference was taken for the recorder's step."""
    (one,) = review(glider(noise_a=noise_a, height_m=height_m)).flights
    assert (one.flight.powered.start_s, one.flight.powered.end_s) == (60.0, 80.0)
    assert one.open == (), "the voltage under load was seen"
    # 20 A for 20 s and 0.2 A for the rest of ten minutes
    assert one.capacity.consumed_mah.value == pytest.approx((20.0 * 20.0 + 0.2 * 580.0) / 3.6, rel=0.02)
    if height_m is not None:
        assert one.flight.takeoff_s == pytest.approx(60.0, abs=2.0)
        assert one.flight.landing_s == pytest.approx(480.0, abs=25.0)


@pytest.mark.parametrize(("minutes", "burst_s"), [(90.0, 20.0), (10.0, 2.0)])
def test_a_burst_of_less_than_a_two_hundredth_of_the_log_is_no_motor_that_ran_throughout(minutes, burst_s):
    (one,) = review(glider(minutes=minutes, burst_s=burst_s)).flights
    assert (one.flight.powered.start_s, one.flight.powered.end_s) == (60.0, 60.0 + burst_s)
    assert one.current.peak_a == pytest.approx(20.1, abs=0.1)


def test_what_radio_and_servos_draw_is_no_motor():
    (one,) = review(glider(burst_a=0.2)).flights
    assert isinstance(one.flight.powered, Undecided)
    assert one.flight.powered.reason == "nothing in the log shows a motor running"
