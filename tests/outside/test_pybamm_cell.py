"""The simulated cell against a second library's equivalent circuit. Opt in: pip install pybamm, then pytest
-m slow tests/outside/test_pybamm_cell.py.
"""

import warnings

import numpy as np
import pytest


@pytest.mark.slow
@pytest.mark.source(
    "pybamm.equivalent_circuit.Thevenin, two RC pairs, isothermal by a very large heat transfer"
)
def test_a_second_circuit_library_agrees_within_two_tenths_of_a_millivolt(discharged):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pybamm
    cell, time_s, current_a, ours = discharged

    charge = np.linspace(0.0, 1.0, 2001)
    rested_v = np.asarray(cell.open_circuit.voltage_v(charge))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": 2})
        values = model.default_parameter_values
        values.update(
            {
                "Cell capacity [A.h]": 5.2,
                "Nominal cell capacity [A.h]": 5.2,
                "Initial SoC": 0.98,
                "Current function [A]": pybamm.Interpolant(time_s, current_a, pybamm.t),
                "Open-circuit voltage [V]": lambda soc: pybamm.Interpolant(charge, rested_v, soc),
                "R0 [Ohm]": cell.r0_ohm,
                "R1 [Ohm]": cell.r1_ohm,
                "C1 [F]": cell.tau1_s / cell.r1_ohm,
                "R2 [Ohm]": cell.r2_ohm,
                "C2 [F]": cell.tau2_s / cell.r2_ohm,
                "Element-1 initial overpotential [V]": 0.0,
                "Element-2 initial overpotential [V]": 0.0,
                "Entropic change [V/K]": 0.0,
                "Upper voltage cut-off [V]": 4.6,
                "Lower voltage cut-off [V]": 2.0,
            },
            check_already_exists=False,
        )
        solution = pybamm.Simulation(model, parameter_values=values).solve(time_s)
    their_v = solution["Voltage [V]"](time_s)
    assert np.max(np.abs(ours.voltage_v - their_v)) < 2e-4
