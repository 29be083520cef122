"""Logs that nobody meant to write: short, silent, broken. Every analysis of this room answers, none fails."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from telemetry.analysis import capacity, current, flights
from telemetry.estimate import plain
from telemetry.sheet.setup import Leads, Rating
from telemetry.signals import signals_of
from telemetry.trace import Channel, Stretch, Trace

RATINGS = [
    Rating("pack", "", 30, 30),
    Rating("left", "left", 30, 10),
    Rating("receiver", "receiver", 3, 1),
    Rating("pack, peak", "", 90, 0.0),
]
COLUMNS = [
    *(("current_a", p) for p in ("", "left", "right")),
    *(
        (q, "")
        for q in (
            "charge_mah",
            "throttle_fraction",
            "altitude_m",
            "airspeed_mps",
            "ground_speed_mps",
            "pack_voltage_v",
            "receiver_current_a",
        )
    ),
    ("rpm", "left"),
]


def odd_log(seed):
    rng = np.random.default_rng(seed)
    rows, step_s = int(rng.choice([1, 2, 3, 5, 8, 20, 100, 400])), float(rng.choice([0.05, 0.1, 1, 5]))
    time_s = np.cumsum(rng.choice([0.0, step_s, step_s, step_s, step_s * rng.uniform(0.5, 30)], rows))
    time_s -= time_s[0]
    channels = {}
    for quantity, position in COLUMNS:
        if rng.random() < 0.5:
            continue
        values = [
            np.zeros(rows),
            np.full(rows, 0.7),
            np.cumsum(rng.normal(0, 0.3, rows)),
            rng.normal(0, 1, rows),
            np.full(rows, np.nan),
        ][rng.integers(5)]
        values = np.where(rng.random(rows) < rng.choice([0.0, 0.6]), np.nan, values)
        fresh = np.isfinite(values) & (rng.random(rows) < rng.choice([0.3, 1.0]))
        channels[quantity, position] = Channel(
            quantity, position, values, fresh, quantity, step_s, float(rng.choice([0, 0.1, 1]))
        )
    gaps = tuple(
        Stretch(float(time_s[k]), float(time_s[k + 1]))
        for k in np.flatnonzero(np.diff(time_s) > max(3 * step_s, 1))
    )
    return Trace(time_s, channels, gaps=gaps, has_clock=bool(rng.random() < 0.9))


@pytest.mark.parametrize("first", range(0, 160, 40))
def test_an_odd_log_gets_numbers_or_reasons(first):
    for seed in range(first, first + 40):
        trace = odd_log(seed)
        found = flights.find(trace, bench=seed % 5 == 0)
        assert found
        assert all(a.end_s <= b.start_s for a, b in pairwise(found))
        for flight in found:
            assert flight.start_s <= flight.end_s
            # `plain` refuses a figure that is not finite
            plain(capacity.analyse(signals_of(trace, flight), capacity_mah=5000.0, put_back=[(100.0, 90.0)]))
            plain(
                current.analyse(
                    signals_of(trace, flight),
                    ratings=RATINGS,
                    leads=Leads(0.3, 0.0, 2.5),
                    capacity_mah=5000.0,
                )
            )
