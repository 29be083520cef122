"""The simulated cell against an equivalent-circuit library."""

import warnings

import numpy as np
import pytest
import thevenin


@pytest.mark.source("thevenin 0.2.1 (equivalent-circuit cells), two RC pairs, max_step 0.5, rtol 1e-8")
def test_a_flight_of_300_seconds_agrees_within_a_tenth_of_a_millivolt(discharged):
    cell, time_s, current_a, ours = discharged

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
    assert np.interp(300.0, theirs.vars["time_s"], theirs.vars["soc"]) == pytest.approx(
        ours.left_fraction[-1], abs=1e-5
    )
