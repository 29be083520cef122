"""Resistance of each cell, against flights whose cells are known."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.analysis.pack import analyse
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
