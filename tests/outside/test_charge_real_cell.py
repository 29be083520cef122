"""Charge, energy and peak of real measurements by others."""

from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis import capacity, current, flights
from telemetry.sheet.setup import Rating
from telemetry.signals import signals_of
from telemetry.trace import Channel, Trace

pytestmark = [
    pytest.mark.open_data,
    pytest.mark.source(
        "five-star-battery-data (CC BY 4.0), a lithium-polymer pouch cell on a cycler; the file's own charge "
        "and energy columns"
    ),
]

# name, charge and energy by the cycler's own counters, peak as written in the file, seconds under load
RUNS = [
    ("discharge_59A.csv", 7170.0, 26.0986, 59.4627, 434.10),
    ("discharge_13A.csv", 7222.4, 27.4185, 13.1008, 1984.68),
]


@pytest.fixture(params=RUNS, ids=["59A", "13A"])
def run(request, open_data):
    name, *expected = request.param
    return trace_of(open_data / "lipo_rate_test" / name), *expected


def trace_of(path):
    with path.open(encoding="latin-1", newline="") as file:
        rows = list(csv.DictReader(file))
    time_s = np.array([float(row["Total Time(s)"]) for row in rows])
    time_s -= time_s[0]
    every, refresh_s = np.ones(time_s.size, dtype=bool), float(np.median(np.diff(time_s)))
    current_a = -np.array([float(row["Current(A)"]) for row in rows])
    voltage_v = np.array([float(row["Voltage(V)"]) for row in rows])
    return Trace(
        time_s,
        {
            ("current_a", ""): Channel("current_a", "", current_a, every, "Current(A)", refresh_s, 0.0001),
            ("pack_voltage_v", ""): Channel(
                "pack_voltage_v", "", voltage_v, every, "Voltage(V)", refresh_s, 0.0001
            ),
        },
    )


def test_the_charge_is_the_cyclers_within_a_thousandth(run):
    trace, charge_mah, *_ = run
    (flight,) = flights.find(trace, bench=True)
    found = capacity.analyse(signals_of(trace, flight)).consumed_mah
    assert found.value == pytest.approx(charge_mah, rel=1e-3)
    assert found.high - found.low < 0.005 * charge_mah


def test_the_energy_is_the_cyclers_within_two_thousandths(run):
    trace, _, energy_wh, *_ = run
    (flight,) = flights.find(trace, bench=True)
    assert capacity.analyse(signals_of(trace, flight)).energy_wh.value == pytest.approx(energy_wh, rel=2e-3)


def test_the_peak_is_the_largest_sample_exactly(run):
    trace, _, _, peak_a, _ = run
    (flight,) = flights.find(trace, bench=True)
    assert current.analyse(signals_of(trace, flight)).peak_a == peak_a


def test_powered_time_is_the_discharge_and_its_mean_the_charge_over_the_time(run):
    trace, charge_mah, _, _, seconds = run
    (flight,) = flights.find(trace, bench=True)
    assert flight.powered.end_s - flight.powered.start_s == pytest.approx(seconds, abs=0.1)
    assert capacity.analyse(signals_of(trace, flight)).mean_current_a == pytest.approx(
        3.6 * charge_mah / seconds, rel=1e-3
    )


def test_a_steady_discharge_carries_its_level_over_every_rating(run):
    trace, charge_mah, _, peak_a, seconds = run
    (flight,) = flights.find(trace, bench=True)
    ratings = [Rating("cell, steadily", "", 65.0, 30.0), Rating("cell, 200 s", "", 65.0, 200.0)]
    for limit in current.analyse(signals_of(trace, flight), ratings=ratings).limits:
        assert limit.measured_a.value == pytest.approx(3.6 * charge_mah / seconds, rel=1e-3)
        assert limit.measured_a.value <= peak_a


def test_without_the_sensor_for_a_while_the_charge_is_still_within_two_percent(run):
    trace, charge_mah, *_ = run
    channel = trace.channels["current_a", ""]
    middle = float(trace.time_s[np.argmax(channel.values)]) + 60.0
    silent = (trace.time_s > middle) & (trace.time_s < middle + 40.0)
    quiet = replace(channel, values=np.where(silent, np.nan, channel.values), fresh=channel.fresh & ~silent)
    trace = Trace(trace.time_s, {**trace.channels, ("current_a", ""): quiet})
    (flight,) = flights.find(trace, bench=True)
    found = capacity.analyse(signals_of(trace, flight)).consumed_mah
    assert found.value == pytest.approx(charge_mah, rel=0.02)
    assert found.low <= charge_mah <= found.high
