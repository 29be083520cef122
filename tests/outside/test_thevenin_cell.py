"""The simulated cell against an equivalent-circuit library."""

import warnings

import numpy as np
import pytest
import thevenin

from telemetry.simulate.cell import CellTruth, run_cell


@pytest.mark.source("thevenin 0.2.1 (equivalent-circuit cells), two RC pairs, max_step 0.5, rtol 1e-8")
def test_a_flight_of_300_seconds_agrees_within_a_tenth_of_a_millivolt():
    cell = CellTruth(capacity_mah=5200.0, r0_ohm=0.0028, r1_ohm=0.0012, tau1_s=1.1, r2_ohm=0.0015, tau2_s=28.0, start_left_fraction=0.98)
    rng = np.random.default_rng(11)
    time_s = np.arange(0.0, 300.01, 0.1)
    knots_s = np.arange(0.0, 301.0, 1.5)
    current_a = np.interp(time_s, knots_s, np.clip(26.0 + 20.0 * rng.standard_normal(knots_s.size), 0.0, 80.0))
    current_a[0] = 0.0
    ours = run_cell(cell, current_a, 0.1, np.full(time_s.size, 25.0))

    params = {
        "num_RC_pairs": 2,
        "soc0": 0.98,
        "capacity": 5.2,
        "gamma": 0.0,
        "ce": 1.0,
        "mass": 0.1,
        "isothermal": True,
        "Cp": 1000.0,
        "T_inf": 298.15,
        "h_therm": 0.0,
        "A_therm": 0.01,
        "ocv": lambda soc: cell.open_circuit.voltage_v(soc),
        "M_hyst": lambda soc: 0.0,
        "R0": lambda soc, kelvin: cell.r0_ohm,
        "R1": lambda soc, kelvin: cell.r1_ohm,
        "C1": lambda soc, kelvin: cell.tau1_s / cell.r1_ohm,
        "R2": lambda soc, kelvin: cell.r2_ohm,
        "C2": lambda soc, kelvin: cell.tau2_s / cell.r2_ohm,
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        oracle = thevenin.Simulation(params)
        experiment = thevenin.Experiment(max_step=0.5, rtol=1e-8)
        experiment.add_step("current_A", lambda t: float(np.interp(t, time_s, current_a)), (300.0, 0.1))
        theirs = oracle.run(experiment)
    their_v = np.interp(time_s, theirs.vars["time_s"], theirs.vars["voltage_V"])
    assert np.max(np.abs(ours.voltage_v - their_v)) < 1e-4
    assert np.interp(300.0, theirs.vars["time_s"], theirs.vars["soc"]) == pytest.approx(ours.left_fraction[-1], abs=1e-5)
