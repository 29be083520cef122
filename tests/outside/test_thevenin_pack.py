"""The pack's analysis on cells made by an equivalent-circuit library, not by us."""

import warnings
from types import SimpleNamespace

import numpy as np
import pytest
import thevenin
from scipy.interpolate import PchipInterpolator

from telemetry.analysis import pack
from telemetry.estimate import Estimate
from telemetry.signals import signals_of
from telemetry.trace import Channel, Flight, Stretch, Trace

CELLS = (
    {"r0": 0.0030, "r1": 0.0012, "tau1": 1.2, "r2": 0.0016, "tau2": 30.0},
    {"r0": 0.0029, "r1": 0.00122, "tau1": 1.2, "r2": 0.0016, "tau2": 30.0},
    {"r0": 0.0041, "r1": 0.0016, "tau1": 1.2, "r2": 0.0021, "tau2": 30.0},
)
CAPACITY_AH, START, LAG_S = 5.0, 0.98, 0.2


def true_ohm(cell, seconds):
    return (
        cell["r0"]
        + cell["r1"] * (1 - np.exp(-seconds / cell["tau1"]))
        + cell["r2"] * (1 - np.exp(-seconds / cell["tau2"]))
    )


def flight_current():
    """Rest, take-off, a flight of changing load, rest: (n,) at 10 Hz. [s, A]"""
    rng = np.random.default_rng(5)
    time_s = np.arange(0.0, 330.05, 0.1)
    knots_s = np.arange(15.0, 301.0, 2.0)
    levels_a = np.clip(28.0 + 14.0 * rng.standard_normal(knots_s.size), 4.0, 80.0)
    levels_a[:4] = (30.0, 75.0, 78.0, 60.0)
    current_a = np.interp(time_s, knots_s, levels_a)
    current_a[(time_s < 15.0) | (time_s > 300.0)] = 0.4
    return time_s, current_a


def library_voltage(cell, curve, time_s, current_a):
    params = {
        "num_RC_pairs": 2,
        "soc0": START,
        "capacity": CAPACITY_AH,
        "gamma": 0.0,
        "ce": 1.0,
        "mass": 0.1,
        "isothermal": True,
        "Cp": 1000.0,
        "T_inf": 298.15,
        "h_therm": 0.0,
        "A_therm": 0.01,
        "ocv": lambda soc: curve(np.clip(soc, 0.0, 1.0)),
        "M_hyst": lambda soc: 0.0,
        "R0": lambda soc, kelvin: cell["r0"],
        "R1": lambda soc, kelvin: cell["r1"],
        "C1": lambda soc, kelvin: cell["tau1"] / cell["r1"],
        "R2": lambda soc, kelvin: cell["r2"],
        "C2": lambda soc, kelvin: cell["tau2"] / cell["r2"],
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        oracle = thevenin.Simulation(params)
        experiment = thevenin.Experiment(max_step=0.5, rtol=1e-8)
        experiment.add_step(
            "current_A", lambda t: float(np.interp(t, time_s, current_a)), (float(time_s[-1]), 0.1)
        )
        solved = oracle.run(experiment)
    return np.interp(time_s, solved.vars["time_s"], solved.vars["voltage_V"])


@pytest.fixture(scope="module")
def judged(cobalt_cells):
    """Cells shown every 0.2 s in steps of 5 mV, 0.2 s late; current every 0.1 s in steps of 0.1 A.

    Their open-circuit curve is a published pouch cell's, not the one that the analysis reads charges by.
    """
    time_s, current_a = flight_current()
    curve = PchipInterpolator(*cobalt_cells["Ai 2020"])
    rows = np.arange(time_s.size)
    channels = {
        ("current_a", ""): Channel(
            "current_a", "", np.round(current_a, 1), np.ones(rows.size, dtype=bool), "A", 0.1, 0.1
        )
    }
    for number, cell in enumerate(CELLS, 1):
        late_v = np.interp(time_s - LAG_S, time_s, library_voltage(cell, curve, time_s, current_a))
        shown_v = (np.round(late_v / 0.005) * 0.005)[rows - rows % 2]
        channels[("cell_voltage_v", str(number))] = Channel(
            "cell_voltage_v", str(number), shown_v, rows % 2 == 0, f"V{number}", 0.2, 0.005
        )
    flight = Flight(0.0, float(time_s[-1]), 17.0, 298.0, Stretch(15.0, 300.0))
    return SimpleNamespace(
        pack=pack.analyse(
            signals_of(Trace(time_s, channels), flight), cell_count=3, capacity_mah=1000 * CAPACITY_AH
        )
    )


@pytest.mark.source(
    "thevenin 0.2.1, two RC pairs; bounds: the medians that the methods reached on varied flights"
)
@pytest.mark.parametrize("number", [1, 2, 3])
def test_its_resistances_come_back_from_the_rounded_late_log(judged, number):
    found, cell = judged.pack.cells[number - 1], CELLS[number - 1]
    for name, seconds, within in (
        ("resistance_ohm", 0.0, 0.08),
        ("resistance_1s_ohm", 1.0, 0.02),
        ("resistance_10s_ohm", 10.0, 0.05),
    ):
        estimate = getattr(found, name)
        assert isinstance(estimate, Estimate), estimate
        assert estimate.value == pytest.approx(true_ohm(cell, seconds), rel=within)
        assert estimate.low <= true_ohm(cell, seconds) <= estimate.high


@pytest.mark.source("thevenin 0.2.1: cell 3 was given 1.37 times the resistance")
def test_the_weak_cell_is_found_and_the_lag_is(judged):
    assert [(w.cell, w.kind) for w in judged.pack.weak_cells] == [(3, "resistance")]
    assert judged.pack.voltage_lag_s.value == pytest.approx(LAG_S, abs=0.05)


@pytest.mark.source("arithmetic: what the library's cell was drained of; its curve is Ai et al. 2020's")
def test_the_charge_left_at_landing_by_every_way(judged):
    time_s, current_a = flight_current()
    left = START - np.trapezoid(current_a, time_s) / 3600.0 / CAPACITY_AH
    for found in (
        judged.pack.charge_left_by_rest_fraction,
        judged.pack.charge_left_by_charge_fraction,
        judged.pack.charge_left_fraction,
    ):
        assert found.low <= left <= found.high
    # by charge alone the curve is asked near full only, where it is steep
    assert judged.pack.charge_left_by_charge_fraction.value == pytest.approx(left, abs=0.03)
