"""A log of another aircraft is not held against this one's sheet in silence."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import telemetry
from telemetry.comparison.contradiction import contradictions
from telemetry.estimate import Undecided
from telemetry.importers.log import read_log
from telemetry.sheet import read_sheet
from telemetry.signals import signals_of
from telemetry.trace import Flight, Stretch


@pytest.fixture(scope="module")
def maiden(sample_logs):
    return read_log(sample_logs / "maiden.csv")


@pytest.fixture(scope="module")
def setup(sample_logs):
    return read_sheet(sample_logs / "saltmarsh_mail.toml").setup()


def whole(trace):
    no = Undecided("not looked for")
    return Flight(0.0, trace.duration_s, no, no, Stretch(0.0, trace.duration_s))


def test_the_sheets_own_aircraft_fits(maiden, setup):
    assert contradictions(signals_of(maiden, whole(maiden), setup), setup) == ()


def test_a_six_cell_log_cannot_be_a_five_cell_pack(maiden, setup):
    five = replace(setup, pack=replace(setup.pack, cells=4))
    first, second = contradictions(signals_of(maiden, whole(maiden), five), five)
    assert "4 cells cannot pass 17.0 V" in first
    assert second == "the log has 5 cells and the sheet 4"


def test_a_spike_is_no_other_pack(maiden, setup):
    key = ("pack_voltage_v", "")
    values = maiden.channels[key].values.copy()
    values[100] = 60.0
    spiked = replace(maiden, channels={**maiden.channels, key: replace(maiden.channels[key], values=values)})
    assert contradictions(signals_of(spiked, whole(spiked), setup), setup) == ()


def test_more_motors_than_the_sheet_has_are_said(maiden, setup):
    single = replace(setup, drives=setup.drives[:1])
    assert contradictions(signals_of(maiden, whole(maiden), single), single) == (
        "the log has 2 motors and the sheet 1",
    )


def test_no_timer_is_set_from_a_log_that_does_not_fit_and_flying_stops(maiden, setup):
    one = telemetry.review(maiden, replace(setup, pack=replace(setup.pack, cells=4))).flights[0]
    assert isinstance(one.timer, Undecided)
    assert one.headline == "This speaks against the next flight: the log does not fit the set-up sheet."
    assert np.isfinite(one.capacity.consumed_mah.value)
