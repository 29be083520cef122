"""The generic open-circuit curve."""

import numpy as np
import pytest

from telemetry.physics import open_circuit


@pytest.mark.source("common practice, no source")
@pytest.mark.parametrize(
    ("left", "volts"), [(1.0, 4.20), (0.8, 4.02), (0.5, 3.85), (0.3, 3.76), (0.2, 3.72), (0.1, 3.67)]
)
def test_resting_voltages_of_the_trade(left, volts):
    assert open_circuit.voltage_v(left) == pytest.approx(volts, abs=1e-9)


@pytest.mark.source("common practice, no source: storage at 3.80 to 3.85 V is about half charge")
def test_storage_voltage_is_about_half_charge():
    assert (
        0.35 < open_circuit.charge_left_fraction(3.80) < open_circuit.charge_left_fraction(3.85) <= 0.5 + 1e-6
    )


@pytest.mark.parametrize("full_cell_v", [4.10, 4.20, 4.35])
def test_it_rises_all_the_way_and_its_inverse_is_its_inverse(full_cell_v):
    left = np.linspace(0.0, 1.0, 501)
    volts = open_circuit.voltage_v(left, full_cell_v=full_cell_v)
    assert np.all(np.diff(volts) > 0)
    assert volts[-1] == pytest.approx(full_cell_v)
    assert open_circuit.charge_left_fraction(volts, full_cell_v=full_cell_v) == pytest.approx(left, abs=1e-4)
    slope = open_circuit.slope_v(left, full_cell_v=full_cell_v)
    assert np.trapezoid(slope, left) == pytest.approx(volts[-1] - volts[0], rel=1e-3)
