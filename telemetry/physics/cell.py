"""Resistance of a cell: from two currents, and at another temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.limits import MOLAR_GAS_CONSTANT_JPMOLK, ZERO_CELSIUS_K
from telemetry.physics.arrays import Floats, Number

REFERENCE_C = 25.0
"""Temperature at which resistances are compared. [°C]"""


@dataclass(frozen=True, slots=True)
class ActivationEnergy:
    """How strongly a resistance goes with temperature, and one standard deviation of what is published."""

    kjpmol: float
    sd_kjpmol: float
    source: str = (
        "a judgement from 17 to 53 kJ/mol: Ecker 2015, Kim 2011, Marquis 2019, Chen 2020, Mohtat 2020, as "
        "carried by pybamm's parameter sets"
    )


OHMIC_ACTIVATION = ActivationEnergy(20.0, 8.0)
ONE_SECOND_ACTIVATION = ActivationEnergy(25.0, 10.0)


def two_current_ohm(first_v: Floats, first_a: Floats, second_v: Floats, second_a: Floats) -> float:
    """Resistance by the two-current form, (U1 − U2) ÷ (I2 − I1), of one pair of readings or of many.

    Parameters
    ----------
    first_v, first_a, second_v, second_a : (k,) voltage and current of each pair's earlier and later reading,
        no NaN. [V, A]

    Returns
    -------
    Of several pairs the least-squares slope through nought: a pair counts by its rise of current squared.
    Above zero for a supply that sags. [Ω]

    Raises
    ------
    ValueError : no pair has two different currents.

    Notes
    -----
    Sensor lag and the fall of the open-circuit voltage between the two readings are still in it.

    Source: the form of IEC 61960-3, which takes 0.2 C for 10 s and 1 C for 1 s; a flight's levels are 10 to
    18 C, so a flight's figure is not one of that standard.
    """
    rise_a, fall_v = np.subtract(second_a, first_a), np.subtract(first_v, second_v)
    square = float(np.sum(rise_a**2))
    if square == 0.0:
        raise ValueError("two currents alike tell no resistance")
    return float(np.sum(rise_a * fall_v)) / square


def arrhenius_factor(temperature_c: Number, energy_kjpmol: Number) -> Number:
    """Resistance at a temperature ÷ that at 25 °C.

    Parameters
    ----------
    temperature_c : of the cell, above absolute zero. [°C]
    energy_kjpmol : activation energy; both numbers, or arrays that broadcast. [kJ/mol]

    Returns
    -------
    1 at 25 °C, above it in the cold.

    Source: Arrhenius law, R(T) = R(25)·exp[Ea/R·(1/T − 1/298.15 K)].
    """
    colder = 1.0 / (temperature_c + ZERO_CELSIUS_K.value) - 1.0 / (REFERENCE_C + ZERO_CELSIUS_K.value)
    return np.exp(1000.0 * energy_kjpmol / MOLAR_GAS_CONSTANT_JPMOLK.value * colder)  # type: ignore[no-any-return]
