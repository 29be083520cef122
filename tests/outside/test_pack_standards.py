"""The pack's laws and figures against standards, textbook laws and measurements by others."""

from __future__ import annotations

import csv
import os
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import linregress

from telemetry.analysis.pack.rest import charge_by_rest
from telemetry.estimate import Estimate
from telemetry.physics.cell import arrhenius_factor, two_current_ohm
from telemetry.physics.open_circuit import LITHIUM_POLYMER
from telemetry.trace import Samples

EV_AS_KJPMOL = 96.48533
"""One electronvolt a particle in kilojoules a mole (CODATA: e times Avogadro's number)."""


@pytest.mark.source(
    "IEC 61960-3: 0.2 C for 10 s, then 1 C for 1 s (read in an equipment maker's note and a tester's manual)"
)
def test_the_two_current_form_gives_30_milliohm_in_the_standards_example():
    assert two_current_ohm(*np.array([[3.92], [1.0], [3.80], [5.0]])) == pytest.approx(0.030, rel=1e-9)


@pytest.mark.source(
    "scipy.stats.linregress has the slope; a pair and its mirror image put the line through nought"
)
def test_many_pairs_give_the_least_squares_slope():
    rng = np.random.default_rng(3)
    first_a, second_a = rng.uniform(0, 80, (2, 200))
    first_v, second_v = (16.0 - 0.021 * a + rng.normal(0, 0.02, 200) for a in (first_a, second_a))
    rise_a, rise_v = second_a - first_a, second_v - first_v
    slope = linregress(np.r_[rise_a, -rise_a], np.r_[rise_v, -rise_v]).slope
    assert two_current_ohm(first_v, first_a, second_v, second_a) == pytest.approx(-slope, rel=1e-9)
    assert -slope == pytest.approx(0.021, rel=0.02)


def test_one_current_twice_tells_no_resistance():
    with pytest.raises(ValueError, match="alike"):
        two_current_ohm(*np.array([[3.9], [5.0], [3.8], [5.0]]))


@pytest.mark.source("Arrhenius law, CODATA k: exp(Ea/k (1/T − 1/T0)), 25 to 5 °C")
@pytest.mark.parametrize(("energy_ev", "times"), [(0.20, 1.750), (0.30, 2.315)])
def test_a_cell_at_5_degrees_has_the_resistance_of_arrhenius_law(energy_ev, times):
    assert arrhenius_factor(5.0, energy_ev * EV_AS_KJPMOL) == pytest.approx(times, rel=1e-3)


@pytest.mark.source(
    "common practice, no source: 4.20 V full, 4.02 80 %, 3.85 50 %, 3.76 30 %, 3.72 20 %, 3.67 10 %"
)
@pytest.mark.parametrize(
    ("volts", "left"), [(4.20, 1.0), (4.02, 0.80), (3.85, 0.50), (3.76, 0.30), (3.72, 0.20), (3.67, 0.10)]
)
def test_the_resting_voltage_of_a_cell_tells_its_charge(volts, left):
    found = charge_by_rest(Estimate.around(volts, 0.002), LITHIUM_POLYMER)
    assert found.value == pytest.approx(left, abs=0.001)


@pytest.fixture(scope="module")
def pouch_at_59_a() -> tuple[Samples, Samples]:
    """Voltage and current of the real pouch cell; its file has discharge below nought."""
    path = Path(os.environ["SAGLINE_OPEN_DATA"]) / "lipo_rate_test" / "discharge_59A.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    time_s = np.array([float(r["Total Time(s)"]) for r in rows])
    return (
        Samples(time_s - time_s[0], np.array([float(r["Voltage(V)"]) for r in rows])),
        Samples(time_s - time_s[0], np.array([-float(r["Current(A)"]) for r in rows])),
    )


@pytest.mark.open_data
@pytest.mark.source(
    "open_data/lipo_rate_test (CC BY 4.0), README: apparent step resistance at 59 A; given to two figures"
)
@pytest.mark.parametrize(("after_s", "milliohm"), [(0.04, 2.8), (1.0, 3.5), (10.0, 5.6)])
def test_the_real_pouch_cells_resistance_depends_on_the_time_after_the_step(pouch_at_59_a, after_s, milliohm):
    voltage, current = pouch_at_59_a
    stepped = int(np.argmax(current.values > 30))
    at_s = float(current.time_s[stepped]) + after_s
    before = (voltage.values[[stepped - 1]], current.values[[stepped - 1]])
    after = (np.interp([at_s], *voltage), np.interp([at_s], *current))
    assert 1000 * two_current_ohm(*before, *after) == pytest.approx(milliohm, abs=0.06)
