"""The curve of resting voltages against the trade, published cells and a real one."""

import csv

import numpy as np
import pytest

from telemetry.physics.open_circuit import HIGH_VOLTAGE_POLYMER, IRON_PHOSPHATE, LITHIUM_ION, LITHIUM_POLYMER


@pytest.mark.source("common practice, no source")
@pytest.mark.parametrize(
    ("left", "volts"), [(1.0, 4.20), (0.8, 4.02), (0.5, 3.85), (0.3, 3.76), (0.2, 3.72), (0.1, 3.67)]
)
def test_resting_voltages_of_the_trade(left, volts):
    assert LITHIUM_POLYMER.voltage_v(left) == pytest.approx(volts, abs=1e-9)


@pytest.mark.source("common practice, no source: storage at 3.80 to 3.85 V is about half charge")
def test_storage_voltage_is_about_half_charge():
    low, high = LITHIUM_POLYMER.charge_left_fraction(np.array([3.80, 3.85]))
    assert 0.35 < low < high <= 0.5 + 1e-6


@pytest.mark.source("arithmetic")
@pytest.mark.parametrize("full_cell_v", [4.10, 4.20, 4.35])
def test_it_rises_all_the_way_and_its_inverse_is_its_inverse(full_cell_v):
    left = np.linspace(0.0, 1.0, 501)
    curve = LITHIUM_POLYMER.ending_at(full_cell_v)
    volts = curve.voltage_v(left)
    assert np.all(np.diff(volts) > 0)
    assert volts[-1] == pytest.approx(full_cell_v)
    back = curve.charge_left_fraction(volts)
    assert back == pytest.approx(left, abs=1e-4)


def errors_and_uncertainties(left, volts, curve=LITHIUM_POLYMER):
    """Charge read from resting voltages less the true one, and what the curve says of it."""
    read = curve.charge_left_fraction(volts)
    said = [curve.uncertainty_fraction(float(r)) for r in read]
    return read - left, np.array(said)


@pytest.mark.source("Ai et al. 2020 and Ramadass et al. 2004, as pybamm's parameter sets")
@pytest.mark.parametrize("cell", ["Ai 2020", "Ramadass 2004"])
def test_published_cells_hold_the_charge_that_the_curve_reads_within_its_uncertainty(cobalt_cells, cell):
    error, said = errors_and_uncertainties(*cobalt_cells[cell])
    assert np.all(np.abs(error) <= said)
    # and the uncertainty is not idle: some of it is used
    assert np.max(np.abs(error) / said) > 0.5


@pytest.mark.source(
    "Mohtat et al., J. Electrochem. Soc. 167 110561, 2020, graphite/NMC pouch, as pybamm's `Mohtat2020`"
)
def test_a_cell_with_nickel_reads_as_far_below_as_the_source_says():
    left = np.array([0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0])
    volts = [3.462, 3.511, 3.585, 3.639, 3.671, 3.716, 3.797, 3.880, 3.971, 4.077, 4.136, 4.200]
    error, _ = errors_and_uncertainties(left, np.array(volts))
    assert -0.32 < np.min(error) < -0.28
    assert np.max(error) <= 0.0


@pytest.mark.open_data
@pytest.mark.source(
    "five-star-battery-data (CC BY 4.0): a lithium-polymer pouch cell of 4.35 V and 7.22 Ah at 13 "
    "A; its own charge counter, and the 5.6 mΩ it shows ten seconds after a step"
)
def test_a_real_pouch_cell_holds_the_charge_that_the_curve_reads(open_data):
    path = open_data / "lipo_rate_test" / "discharge_13A.csv"
    with path.open(encoding="latin-1", newline="") as file:
        rows = [row for row in csv.DictReader(file) if float(row["Current(A)"]) < -10.0]
    volts, drawn_a, drawn_ah = (
        np.array([float(row[name]) for row in rows])
        for name in ("Voltage(V)", "Current(A)", "DChg. Cap.(Ah)")
    )
    left = 1.0 - drawn_ah / 7.2224
    settled = (left < 0.97) & (left > 0.05)  # the first minute still falls, the last is the knee under load
    error, said = errors_and_uncertainties(
        left[settled], volts[settled] - drawn_a[settled] * 0.0056, HIGH_VOLTAGE_POLYMER
    )
    assert np.all(np.abs(error) <= said)


CHARGE = np.array([0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0])
NICKEL_V = {
    "Mohtat 2020": [3.473, 3.513, 3.588, 3.640, 3.672, 3.717, 3.799, 3.881, 3.972, 4.077, 4.136, 4.200],
    "Kim 2011": [3.194, 3.247, 3.372, 3.492, 3.598, 3.685, 3.768, 3.874, 3.980, 4.080, 4.135, 4.200],
}


@pytest.mark.source(
    "Mohtat et al. 2020 and Kim et al. 2011, as pybamm's `Mohtat2020` and `NCA_Kim2011` (published_curves.py)"
)
@pytest.mark.parametrize("cell", NICKEL_V)
def test_published_nickel_cells_hold_the_charge_that_the_lithium_ion_curve_reads(cell):
    settled = CHARGE >= 0.1
    error, said = errors_and_uncertainties(CHARGE[settled], np.array(NICKEL_V[cell])[settled], LITHIUM_ION)
    assert np.all(np.abs(error) <= said)
    assert np.max(np.abs(error) / said) > 0.5


@pytest.mark.source("Chen et al. 2020, as pybamm's `Chen2020` between 2.5 and 4.2 V")
def test_the_lithium_ion_curve_runs_through_its_source():
    volts = [3.109, 3.296, 3.485, 3.581, 3.667, 3.751, 3.841, 3.948, 4.042, 4.097, 4.124, 4.200]
    assert LITHIUM_ION.voltage_v(CHARGE) == pytest.approx(volts, abs=0.002)


@pytest.mark.source(
    "Prada et al. 2013, as pybamm's `Prada2013`; full from 3.35 V: common practice, no source"
)
def test_an_iron_phosphate_cell_tells_no_charge_on_its_plateau_and_full_above_it():
    assert float(np.ptp(IRON_PHOSPHATE.voltage_v(np.array([0.4, 0.95])))) == pytest.approx(0.064, abs=0.002)
    assert all(IRON_PHOSPHATE.is_flat(left) for left in (0.4, 0.6, 0.8))
    assert not any(IRON_PHOSPHATE.is_flat(left) for left in (0.1, 0.2, 1.0))
    assert [IRON_PHOSPHATE.charge_left_fraction(v) for v in (3.36, 3.45, 3.60)] == [1.0, 1.0, 1.0]
