"""Time integrals on real measurements by others."""

import csv
import os
from pathlib import Path

import numpy as np
import pytest

from telemetry.physics.charge import AS_PER_MAH, charge_mah, largest_mean, running_integral

pytestmark = [
    pytest.mark.open_data,
    pytest.mark.source(
        "five-star-battery-data (CC BY 4.0), a lithium-polymer pouch cell on a cycler; the file's own charge "
        "and energy columns"
    ),
]


def discharge(name):
    """Time, current out of the cell, voltage of a file: (n,) each."""
    path = Path(os.environ["SAGLINE_OPEN_DATA"]) / "lipo_rate_test" / name
    with path.open(encoding="latin-1", newline="") as file:
        rows = list(csv.DictReader(file))
    columns = ("Total Time(s)", "Current(A)", "Voltage(V)")
    time_s, current_a, voltage_v = (np.array([float(row[column]) for row in rows]) for column in columns)
    return time_s - time_s[0], -current_a, voltage_v


@pytest.mark.parametrize(
    ("name", "charge_ah", "energy_wh", "peak_a"),
    [("discharge_59A.csv", 7.1700, 26.0986, 59.4627), ("discharge_13A.csv", 7.2224, 27.4185, 13.1008)],
)
def test_charge_energy_and_peak_of_a_real_cell(name, charge_ah, energy_wh, peak_a):
    time_s, current_a, voltage_v = discharge(name)
    assert charge_mah(time_s, current_a) == pytest.approx(1000 * charge_ah, rel=1e-3)
    # the same integral of power: W·s / 3.6 are mWh
    assert charge_mah(time_s, current_a * voltage_v) == pytest.approx(1000 * energy_wh, rel=2e-3)
    assert np.max(current_a) == peak_a
    assert largest_mean(time_s, current_a, 0.0).mean == peak_a


def test_the_cyclers_own_counter_follows_ours_all_the_way():
    time_s, current_a, _ = discharge("discharge_59A.csv")
    ours_mah = running_integral(time_s, current_a).sums / AS_PER_MAH
    loaded = time_s[current_a > 50.0]
    half_s = (loaded[0] + loaded[-1]) / 2.0
    # a steady discharge of 59.4 A: half the time is half the charge within 0.1 %
    assert np.interp(half_s, time_s, ours_mah) == pytest.approx(7170.0 / 2.0, rel=2e-3)


def test_the_largest_mean_of_a_steady_discharge_is_its_level():
    time_s, current_a, _ = discharge("discharge_59A.csv")
    steady_a = np.median(current_a[current_a > 50.0])
    for window_s in (1.0, 30.0, 300.0):
        assert largest_mean(time_s, current_a, window_s).mean == pytest.approx(steady_a, rel=1e-3)
