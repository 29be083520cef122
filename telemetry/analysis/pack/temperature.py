"""Resistance carried to 25 °C."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.pack.figures import TWO_SIDED
from telemetry.analysis.pack.results import NOT_LOGGED
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import MOLAR_GAS_CONSTANT_JPMOLK, ZERO_CELSIUS_K
from telemetry.trace import Span, Trace

OHMIC_KJPMOL = (20.0, 8.0)
ONE_SECOND_KJPMOL = (25.0, 10.0)
"""Activation energy and its sd. Published ones run from 17 to 53 kJ/mol (Ecker 2015, Kim 2011, Marquis 2019,
Chen 2020,
Mohtat 2020, as carried by pybamm's parameter sets); these are a judgement from them."""

REFERENCE_C = 25.0


def arrhenius_to_25(temperature_c: float, energy_kjpmol: float) -> float:
    """Resistance at 25 °C ÷ resistance at a temperature.

    Source: Arrhenius law, R(25) = R(T)·exp[Ea/R·(1/298.15 K − 1/T)].
    """
    kelvin = temperature_c + ZERO_CELSIUS_K.value
    reference = REFERENCE_C + ZERO_CELSIUS_K.value
    return float(
        np.exp(1000 * energy_kjpmol / MOLAR_GAS_CONSTANT_JPMOLK.value * (1 / reference - 1 / kelvin))
    )


def at_25c(
    ohms: Estimate | Undecided, temperature_c: float | Undecided, energy_kjpmol: tuple[float, float]
) -> Estimate | Undecided:
    """A resistance at 25 °C, the spread of activation energies in its interval."""
    if isinstance(ohms, Undecided):
        return ohms
    if isinstance(temperature_c, Undecided):
        return temperature_c
    middle, sd = energy_kjpmol
    factor = arrhenius_to_25(temperature_c, middle)
    spread = abs(np.log(arrhenius_to_25(temperature_c, sd)))
    relative = float(np.hypot((ohms.high - ohms.low) / 2 / max(abs(ohms.value), 1e-9), TWO_SIDED * spread))
    return Estimate.around(
        ohms.value * factor, abs(ohms.value) * factor * relative, f"{ohms.method}, carried to 25 °C"
    )


def mean_temperature(trace: Trace, powered: Span) -> float | Undecided:
    """Of the pack over the powered time. [°C]"""
    samples = trace.fresh("pack_temperature_c")
    if samples is None or samples.time_s.size == 0:
        return NOT_LOGGED
    times = np.linspace(powered.start_s, powered.end_s, 200)
    return float(np.mean(np.interp(times, samples.time_s, samples.values)))
