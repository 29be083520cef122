"""Resting voltages of published cells, from pybamm's parameter sets. It needs `pip install pybamm`.

It prints, for each set, the open-circuit voltage between its two cut-off voltages at 25 °C. The curves of
`telemetry/physics/open_circuit.py` and the values in `test_physics_open_circuit.py` come from it.
"""

from __future__ import annotations

LEFT = (1.0, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.05, 0.0)
SETS = {
    "Chen2020": (2.5, 4.2),
    "Mohtat2020": (3.0, 4.2),
    "NCA_Kim2011": (2.7, 4.2),
    "Prada2013": (2.0, 3.6),
    "Ai2020": (3.0, 4.2),
    "Ramadass2004": (2.8, 4.2),
}


def resting_v(name: str, empty_v: float, full_v: float) -> list[float]:
    """Open-circuit voltage at each charge of `LEFT`. [V]"""
    import pybamm

    values = pybamm.ParameterValues(name)
    ends = {"Lower voltage cut-off [V]": empty_v, "Open-circuit voltage at 0% SOC [V]": empty_v}
    ends |= {"Upper voltage cut-off [V]": full_v, "Open-circuit voltage at 100% SOC [V]": full_v}
    values.update(ends, check_already_exists=False)
    x0, x100, y100, y0 = pybamm.lithium_ion.ElectrodeSOHSolver(values).get_min_max_stoichiometries()
    part, warm = pybamm.LithiumIonParameters(), pybamm.Scalar(298.15)
    found = []
    for left in LEFT:
        at_positive, at_negative = (
            pybamm.Scalar(y0 - left * (y0 - y100)),
            pybamm.Scalar(x0 + left * (x100 - x0)),
        )
        volts = part.p.prim.U(at_positive, warm) - part.n.prim.U(at_negative, warm)
        found.append(round(float(values.evaluate(volts).item()), 3))
    return found


if __name__ == "__main__":
    for set_name, (low_v, high_v) in SETS.items():
        print(set_name, *resting_v(set_name, low_v, high_v))
