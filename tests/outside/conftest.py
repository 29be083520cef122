"""What several checks against other libraries share."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from telemetry.simulate.cell import CellCourse, CellTruth, run_cell
from telemetry.trace import Floats


class Discharged(NamedTuple):
    """A cell, the current drawn from it, and what our simulator makes of it."""

    cell: CellTruth
    time_s: Floats
    current_a: Floats
    ours: CellCourse


@pytest.fixture
def discharged() -> Discharged:
    """300 seconds of a flight's restless current at 10 Hz, isothermal."""
    cell = CellTruth(
        capacity_mah=5200.0,
        r0_ohm=0.0028,
        r1_ohm=0.0012,
        tau1_s=1.1,
        r2_ohm=0.0015,
        tau2_s=28.0,
        start_left_fraction=0.98,
    )
    rng = np.random.default_rng(11)
    time_s = np.arange(0.0, 300.01, 0.1)
    knots_s = np.arange(0.0, 301.0, 1.5)
    current_a = np.interp(
        time_s, knots_s, np.clip(26.0 + 20.0 * rng.standard_normal(knots_s.size), 0.0, 80.0)
    )
    current_a[0] = 0.0
    return Discharged(cell, time_s, current_a, run_cell(cell, current_a, 0.1, np.full(time_s.size, 25.0)))
