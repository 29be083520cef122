"""One flight has one charge: what left the pack, what the pack's fit runs on, and the largest mean over the
whole flight times its length are the same figure.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from telemetry.analysis import capacity, current, flights
from telemetry.analysis.pack.grid import load_grid
from telemetry.importers.log import read_log
from telemetry.signals import cleaned, signals_of
from telemetry.simulate import random_scenario, simulate
from telemetry.trace import Channel, Flight, Stretch, Trace

TOLERANCE = 1e-3
SAMPLES = (
    "maiden.csv",
    "on_skis.csv",
    "weak_cell.csv",
    "heavier_right_propeller.csv",
    "bench_runup.csv",
    "three_recorders_receiver.csv",
)


def charges(trace: Trace, flight: Flight) -> tuple[float, float, float]:
    """Consumed, the pack's own integral, and whole-flight mean times time. [mAh]"""
    signals = signals_of(trace, flight)
    consumed = capacity.analyse(signals).consumed_mah.value
    grid = load_grid(signals)
    at_the_end = grid.at(grid.charge_mah, np.array([flight.start_s, flight.end_s]))
    last = current.analyse(signals).sustained[-1]
    return consumed, float(at_the_end[1] - at_the_end[0]), last.max_mean_a * last.window_s / 3.6


def assert_one_charge(trace: Trace, flight: Flight) -> None:
    consumed, of_the_pack, of_the_mean = charges(trace, flight)
    assert of_the_pack == pytest.approx(consumed, rel=TOLERANCE)
    assert of_the_mean == pytest.approx(consumed, rel=TOLERANCE)


@pytest.mark.parametrize("name", SAMPLES)
def test_every_sample_log_has_one_charge(sample_logs, name):
    trace = cleaned(read_log(sample_logs / name))
    for flight in flights.find(trace):
        assert_one_charge(trace, flight)


@pytest.mark.parametrize("seed", range(10))
def test_a_generated_flight_has_one_charge(seed):
    assert_one_charge(*_generated(seed))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(10, 200))
def test_two_hundred_generated_flights_have_one_charge(seed):
    assert_one_charge(*_generated(seed))


def test_a_minute_of_silence_takes_the_counters_word_everywhere():
    """60 s without current while the counter goes on: what it counts, in all three places."""
    time_s = np.arange(0.0, 300.05, 0.1)
    amperes = 24.5 + 8.0 * np.sin(time_s / 7.0)
    truth = np.concatenate(([0.0], np.cumsum(0.1 * (amperes[1:] + amperes[:-1]) / 2.0))) / 3.6
    silent = (time_s > 120.0) & (time_s < 180.0)
    trace = Trace(
        time_s,
        {
            ("current_a", ""): _channel("current_a", np.where(silent, np.nan, amperes), 0.1),
            ("charge_mah", ""): _channel("charge_mah", np.round(truth), 1.0),
        },
    )
    flight = Flight(0.0, 300.0, 20.0, 290.0, Stretch(0.0, 300.0))
    for found in charges(trace, flight):
        assert found == pytest.approx(truth[-1], rel=TOLERANCE)
    (decision,) = signals_of(trace, flight).decisions
    assert (decision.kind, decision.quantity) == ("silent", "current_a")
    assert (decision.start_s, decision.end_s) == (
        pytest.approx(120.0, abs=0.2),
        pytest.approx(180.0, abs=0.2),
    )


def test_what_a_charger_puts_in_is_told_and_left_out():
    """36 A for 100 s are 1000 mAh; a charger's 2 A for 180 s afterwards do not make it 900."""
    time_s = np.arange(0.0, 400.05, 0.1)
    amperes = np.where((time_s >= 10.0) & (time_s <= 110.0), 36.0, 0.0) - np.where(time_s > 200.0, 2.0, 0.0)
    trace = Trace(time_s, {("current_a", ""): _channel("current_a", amperes, 0.1)})
    flight = Flight(0.0, 400.0, 20.0, 100.0, Stretch(10.0, 110.0))
    for found in charges(trace, flight):
        assert found == pytest.approx(1000.0, rel=3e-3)
    assert [d.kind for d in signals_of(trace, flight).decisions] == ["charging"]


def test_a_looked_at_trace_is_not_looked_at_again(sample_logs):
    trace = cleaned(read_log(sample_logs / "maiden.csv"))
    assert cleaned(trace) is trace
    assert dataclasses.replace(trace, decisions=None) is not trace


def _channel(quantity: str, values: np.ndarray, step: float) -> Channel:
    return Channel(quantity, "", values, np.isfinite(values), quantity, 0.1, step)


def _generated(seed: int) -> tuple[Trace, Flight]:
    flown = simulate(random_scenario(seed), seed=seed)
    truth = flown.truth
    powered = Stretch(*truth.powered_s)
    return flown.trace(), Flight(truth.start_s, truth.end_s, truth.takeoff_s, truth.landing_s, powered)
