"""Which cell needs action: resistance, capacity, an unbalanced start, or only its sensor."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.analysis.pack import analyse
from telemetry.signals import signals_of

EVEN = np.array([1.0, 0.98, 1.01, 1.02, 0.99])


def _flown(truth, seed=11, **choices):
    scenario = {
        "cells": 5,
        "resistance_factor": EVEN,
        "capacity_factor": np.ones(5),
        "start_fraction": np.full(5, 0.97),
        "step_v": 0.005,
        **choices,
    }
    trace, flight, _ = truth.invent(truth.vary(seed, **scenario))
    return analyse(signals_of(trace, flight), capacity_mah=5000.0)


def _with(values, cell, value):
    changed = np.array(values, dtype=float)
    changed[cell - 1] = value
    return changed


def test_a_cell_with_a_quarter_more_resistance_is_weak_and_the_reason_says_how_much(truth):
    pack = _flown(truth, resistance_factor=_with(EVEN, 3, 1.25))
    assert [(w.cell, w.kind) for w in pack.weak_cells] == [(3, "resistance")]
    ratio = pack.cells[2].resistance_ratio
    # neighbours 1.00, 0.98, 1.02, 0.99: median 0.995
    assert ratio.low < 1.25 / 0.995 < ratio.high
    assert f"{ratio.value:.2f} times its neighbours'" in pack.weak_cell_reason


def test_a_cell_that_holds_8_per_cent_less_is_weak_by_capacity(truth):
    pack = _flown(truth, capacity_factor=_with(np.ones(5), 2, 0.92))
    assert [(w.cell, w.kind) for w in pack.weak_cells] == [(2, "capacity")]
    assert pack.cells[1].capacity_ratio.value == pytest.approx(0.92, abs=0.015)


def test_a_cell_that_started_5_per_cent_lower_is_unbalanced_not_weak_in_itself(truth):
    pack = _flown(truth, start_fraction=_with(np.full(5, 0.97), 5, 0.92))
    assert (pack.weak_cell, pack.weak_cell_kind) == (5, "unbalanced")
    assert "balance" in pack.weak_cell_reason


def test_a_sensor_that_reads_one_cell_40_millivolt_high_is_no_weak_cell(truth):
    pack = _flown(truth, sensor_offset_v=_with(np.zeros(5), 1, 0.040))
    assert pack.weak_cells == ()
    assert [s.cell for s in pack.odd_sensors] == [1]
    assert pack.odd_sensors[0].offset_v.value == pytest.approx(0.040, abs=0.006)


def test_two_weak_cells_are_both_listed_the_worse_first(truth):
    pack = _flown(truth, resistance_factor=_with(_with(EVEN, 2, 1.25), 4, 1.5))
    assert [(w.cell, w.kind) for w in pack.weak_cells] == [(4, "resistance"), (2, "resistance")]
    assert pack.weak_cell == 4


@pytest.mark.parametrize(
    "seed", [100, 101, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(102, 108))]
)
def test_a_healthy_pack_has_no_weak_cell(truth, seed):
    choices = {"capacity_factor": 1 + np.random.default_rng(seed).uniform(-0.01, 0.01, 6)}
    trace, flight, _ = truth.invent(truth.vary(seed, **choices))
    pack = analyse(signals_of(trace, flight))
    assert pack.weak_cell is None
    assert pack.weak_cells == ()
