"""What several checks against other libraries share."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from telemetry.simulate.cell import CellCourse, CellTruth, run_cell
from telemetry.trace import Floats


class PublishedCell(NamedTuple):
    """Open-circuit voltages of a cell over the charge left, rising. [1, V]"""

    left: Floats
    volts: Floats


@pytest.fixture(scope="session")
def cobalt_cells() -> dict[str, PublishedCell]:
    """Two lithium cobalt oxide cells, the chemistry of most lithium-polymer packs; the first is a pouch.

    Computed from pybamm's parameter sets `Ai2020` and `Ramadass2004` between their cut-off voltages at 25 °C.

    Sources: Ai et al., J. Electrochem. Soc. 167 013512, 2020; Ramadass et al., J. Electrochem. Soc. 151 A196,
    2004 (volumes and pages from memory).
    """
    left = np.array([0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0])
    pouch = [3.000, 3.542, 3.640, 3.695, 3.733, 3.762, 3.793, 3.836, 3.909, 3.994, 4.088, 4.138, 4.200]
    can = [2.800, 3.446, 3.595, 3.706, 3.752, 3.788, 3.827, 3.874, 3.930, 3.998, 4.080, 4.131, 4.200]
    return {
        "Ai 2020": PublishedCell(left, np.array(pouch)),
        "Ramadass 2004": PublishedCell(left, np.array(can)),
    }


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
