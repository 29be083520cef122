"""Resistance of each cell, against flights whose cells are known."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.analysis.pack import analyse
from telemetry.analysis.pack.fit import bent
from telemetry.analysis.pack.grid import load_grid
from telemetry.estimate import Estimate, Undecided
from telemetry.signals import signals_of


@pytest.mark.parametrize(
    "seed", [0, 1, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(2, 8))]
)
def test_each_cells_resistance_at_one_second_is_found_within_two_per_cent(truth, seed):
    trace, flight, known = truth.invent(truth.vary(seed))
    cells = analyse(signals_of(trace, flight)).cells
    assert len(cells) == known.resistance_1s_ohm.size
    found = np.array([cell.resistance_1s_ohm.value for cell in cells])
    assert found == pytest.approx(known.resistance_1s_ohm, rel=0.02)
    for cell, ohm in zip(cells, known.resistance_1s_ohm, strict=True):
        assert cell.resistance_1s_ohm.low < ohm < cell.resistance_1s_ohm.high


def test_a_steady_current_tells_no_resistance_and_says_why(truth):
    trace, flight, _ = truth.invent(truth.vary(3, steady=True))
    pack = analyse(signals_of(trace, flight))
    assert isinstance(pack.resistance_1s_ohm, Undecided)
    assert "hardly varies" in pack.resistance_1s_ohm.reason


def test_a_cell_with_a_third_more_resistance_is_the_weak_one(truth):
    trace, flight, _ = truth.invent(
        truth.vary(11, cells=5, resistance_factor=np.array([1.0, 0.98, 1.32, 1.01, 0.99]))
    )
    pack = analyse(signals_of(trace, flight))
    assert (pack.weak_cell, pack.weak_cell_kind) == (3, "resistance")
    ratio = pack.cells[2].resistance_ratio
    assert isinstance(ratio, Estimate) and ratio.low < 1.32 / 0.995 < ratio.high


@pytest.mark.parametrize("seed", [12, *(pytest.param(seed, marks=pytest.mark.slow) for seed in (11, 13, 14))])
def test_a_current_smoothed_by_0_08_s_leaves_the_ohmic_resistance_in_its_interval(truth, seed):
    trace, flight, known = truth.invent(truth.vary(seed, current_filter_s=0.08))
    cells = analyse(signals_of(trace, flight)).cells
    for cell, ohm in zip(cells, known.resistance_ohm, strict=True):
        assert cell.resistance_ohm.value == pytest.approx(ohm, rel=0.08)
        assert cell.resistance_ohm.low < ohm < cell.resistance_ohm.high


def test_the_ohmic_interval_reaches_further_down_than_up_and_so_it_does_at_25_degrees(truth):
    trace, flight, _ = truth.invent(truth.vary(0, log_temperature=True))
    cell = analyse(signals_of(trace, flight)).cells[0]
    for ohm in (cell.resistance_ohm, cell.resistance_25c_ohm):
        assert ohm.value - ohm.low > 1.1 * (ohm.high - ohm.value)
    one_s = cell.resistance_1s_ohm
    assert one_s.value - one_s.low == pytest.approx(one_s.high - one_s.value)


def test_a_drop_that_bends_with_the_current_is_told_at_the_mean_current_of_the_powered_time(truth):
    trace, flight, _ = truth.invent(truth.vary(0))
    grid = load_grid(signals_of(trace, flight))
    powered_a = grid.current_a[grid.powered_rows]
    near = np.abs(grid.current_a - powered_a.mean()) < 1.0
    assert np.count_nonzero(near) > 10
    assert bent(grid, 0.3)[near] == pytest.approx(1.0, abs=0.003)
    assert bent(grid, 0.3)[grid.current_a > 2 * powered_a.mean()].max() < 0.985
    assert bent(grid, 0.0) == pytest.approx(1.0)
