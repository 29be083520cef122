"""Charge left both ways, rest before and after, sag, and values at 25 °C."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.pack import analyse
from telemetry.analysis.pack.rest import weigh
from telemetry.estimate import Estimate, Undecided
from telemetry.physics.cell import ONE_SECOND_ACTIVATION, arrhenius_factor
from telemetry.physics.open_circuit import LITHIUM_POLYMER
from telemetry.signals import signals_of


@pytest.fixture(scope="module")
def flown(truth):
    chosen = {
        "cells": 5,
        "log_temperature": True,
        "rest_before_s": 20.0,
        "rest_after_s": 30.0,
        "step_v": 0.001,
        "start_fraction": np.full(5, 0.98),
        "curve": 2,
    }
    return truth.invent(truth.vary(8, **chosen))


@pytest.fixture(scope="module")
def pack(truth, flown):
    trace, flight, _ = flown
    return analyse(signals_of(trace, flight), capacity_mah=truth.vary(8).capacity_mah)


def test_rest_before_and_after_are_the_readings_beside_the_load(flown, pack):
    trace, flight, _ = flown
    cell = pack.cells[0]
    values = trace.channels["cell_voltage_v", "1"].values
    assert cell.rest_before_v == pytest.approx(
        np.median(values[(trace.time_s > 15) & (trace.time_s < 20)]), abs=0.006
    )
    assert cell.rest_after_v == pytest.approx(values[-1], abs=0.001)
    assert cell.rest_after_s == pytest.approx(trace.time_s[-1] - flight.powered.end_s, abs=0.3)


def test_the_voltage_it_comes_back_to_lies_above_the_last_reading_and_is_found(flown, pack):
    known = flown[2]
    for cell, true in zip(pack.cells, known.open_circuit_end_v, strict=True):
        assert cell.open_circuit_end_v.value > cell.rest_after_v
        assert cell.open_circuit_end_v.value == pytest.approx(true, abs=0.01)


def test_sag_is_the_largest_fall_below_the_open_circuit_voltage(flown, pack):
    known = flown[2]
    for cell, true in zip(pack.cells, known.sag_v, strict=True):
        assert cell.sag_v.value == pytest.approx(true, rel=0.04)
        # an open-circuit voltage never lies above that of a full cell
        assert cell.min_loaded_v + cell.sag_v.value < 4.25


def test_the_charge_left_agrees_between_rest_voltage_and_charge_drawn(flown, pack):
    left = float(flown[2].charge_left_fraction.mean())
    assert pack.charge_left_by_charge_fraction.value == pytest.approx(left, abs=0.06)
    assert pack.charge_left_by_rest_fraction.low < left < pack.charge_left_by_rest_fraction.high
    assert pack.charge_left_note == ""


def test_a_sheet_that_promises_a_third_too_much_is_contradicted_by_the_rest_voltage(truth, flown):
    trace, flight, _ = flown
    pack = analyse(signals_of(trace, flight), capacity_mah=1.5 * truth.vary(8).capacity_mah)
    assert "holds less than the sheet says" in pack.charge_left_note


def test_two_ways_that_share_one_table_are_together_no_surer_than_either():
    both = weigh(Estimate.around(0.30, 0.06), Estimate.around(0.28, 0.06), LITHIUM_POLYMER).together
    assert both.value == pytest.approx(0.29)
    assert both.high - both.low == pytest.approx(0.12)


def test_values_at_25_degrees_follow_arrhenius_and_carry_the_spread_of_published_energies(flown, pack):
    cell = pack.cells[0]
    temperature = pack.temperature_c
    assert temperature == pytest.approx(flown[2].temperature_c, abs=1.0)
    factor = cell.resistance_1s_25c_ohm.value / cell.resistance_1s_ohm.value
    assert factor == pytest.approx(1 / arrhenius_factor(temperature, ONE_SECOND_ACTIVATION.kjpmol), rel=1e-9)
    wide = (
        cell.resistance_1s_25c_ohm.high - cell.resistance_1s_25c_ohm.low
    ) / cell.resistance_1s_25c_ohm.value
    assert wide >= (cell.resistance_1s_ohm.high - cell.resistance_1s_ohm.low) / cell.resistance_1s_ohm.value


def test_without_a_logged_temperature_there_is_no_value_at_25_degrees(flown):
    trace, flight, _ = flown
    bare = replace(trace, channels={k: c for k, c in trace.channels.items() if k[0] != "pack_temperature_c"})
    assert isinstance(analyse(signals_of(bare, flight)).cells[0].resistance_1s_25c_ohm, Undecided)


def test_the_curves_for_drawing_hold_every_reading_and_the_line_above_them(flown, pack):
    _, flight, _ = flown
    curve = pack.curves[2]
    assert curve.cell == 3
    assert curve.time_s.size == curve.loaded_v.size == curve.open_circuit_v.size
    flying = (curve.time_s > flight.powered.start_s + 10) & (curve.time_s < flight.powered.end_s - 10)
    assert np.mean(curve.open_circuit_v[flying] > curve.loaded_v[flying]) > 0.99
    assert flight.powered.start_s < curve.sag_at_s < flight.powered.end_s
