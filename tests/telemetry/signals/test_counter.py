"""A counter of charge that restarts is joined on, and it is told."""

from __future__ import annotations

import numpy as np

from telemetry.signals.counter import Counter, joined
from telemetry.trace import Channel


def counter(values) -> Counter:
    counted = np.asarray(values, dtype=float)
    channel = Channel("charge_mah", "", counted, np.ones(counted.size, dtype=bool), "used (mAh)", 0.1, 1.0)
    return joined(0.1 * np.arange(counted.size), channel)


def test_a_counter_set_back_to_zero_goes_on_counting_and_the_restart_is_told():
    found = counter([*range(500), *range(300)])
    assert found.counted_mah[-1] == 499 + 299
    assert found.restarts_s == (50.0,)


def test_what_a_counter_shows_after_a_restart_is_what_passed_since():
    found = counter([*range(0, 900, 3), 12, 15, 18])
    assert found.counted_mah[-1] == 897 + 18


def test_a_counter_that_drops_out_for_a_row_counts_on_without_a_restart():
    values = np.arange(0, 800.0)
    values[500:502] = 0
    found = counter(values)
    assert 50.0 not in np.round(found.time_s, 1)
    assert (found.counted_mah[-1], found.restarts_s) == (799, ())


def test_a_spike_in_a_counter_is_no_restart():
    values = np.arange(0.0, 300.0, 1.5)
    spiked = values.copy()
    spiked[120] = 58_000.0
    found = counter(spiked)
    assert found.restarts_s == ()
    assert found.counted_mah.tolist() == np.delete(values, 120).tolist()


def test_charge_that_a_braking_motor_gives_back_is_no_restart():
    found = counter([*range(600), *range(598, 580, -2), *range(582, 700)])
    assert (found.counted_mah[-1], found.restarts_s) == (699, ())
