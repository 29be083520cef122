"""Copper leads: gauge, resistance, heat."""

from __future__ import annotations

import math

from telemetry.limits import COPPER_RESISTIVITY_OHM_MM2PM, COPPER_TEMPERATURE_COEFFICIENT_PK
from telemetry.physics.arrays import Number

_REFERENCE_C = 20.0


def awg_diameter_mm(gauge: int) -> float:
    """Diameter of solid wire of a gauge.

    Parameters
    ----------
    gauge : AWG; 0, −1, −2, −3 are 1/0 to 4/0.

    Returns
    -------
    [mm]

    Source: ASTM B258: 0.127 mm at 36 and 11.684 mm at 4/0, 39 equal ratios between them.
    """
    return float(0.127 * 92.0 ** ((36 - gauge) / 39.0))


def awg_area_mm2(gauge: int) -> float:
    """Copper area of a gauge.

    Parameters
    ----------
    gauge : as `awg_diameter_mm`.

    Returns
    -------
    [mm²]

    Source: ASTM B258.
    """
    return math.pi / 4.0 * awg_diameter_mm(gauge) ** 2


def lead_resistance_ohm(length_m: float, area_mm2: float, temperature_c: float = _REFERENCE_C) -> float:
    """Resistance of ONE copper conductor; a pair of leads counts twice.

    Parameters
    ----------
    length_m : one way. [m]
    area_mm2 : copper only, without insulation. [mm²]
    temperature_c : of the copper. [°C]

    Returns
    -------
    Resistance. [Ω]

    Raises
    ------
    ValueError : a length below zero or an area not above zero.

    Notes
    -----
    Plugs and solder joints are not in it. Stranded cable is up to a sixth above solid copper of its nominal
    area.

    Source: IEC 60028, resistivity and temperature coefficient of annealed copper (from memory).
    """
    if length_m < 0.0 or area_mm2 <= 0.0:
        raise ValueError(f"a lead has a length and an area above zero, not {length_m} m of {area_mm2} mm²")
    return COPPER_RESISTIVITY_OHM_MM2PM.value * length_m / area_mm2 * copper_factor(temperature_c)


def copper_factor(temperature_c: Number) -> Number:
    """Resistance of copper at a temperature ÷ that at 20 °C.

    Parameters
    ----------
    temperature_c : number or array. [°C]

    Returns
    -------
    As `temperature_c`, 1 at 20 °C.

    Source: IEC 60028, 0.00393 per kelvin (from memory).
    """
    return 1.0 + COPPER_TEMPERATURE_COEFFICIENT_PK.value * (temperature_c - _REFERENCE_C)


def lead_heat_w(current_a: Number, resistance_ohm: Number) -> Number:
    """Heat in a conductor, I²R.

    Parameters
    ----------
    current_a, resistance_ohm : numbers, or arrays that broadcast; the current steady or its rms. [A, Ω]

    Returns
    -------
    [W]

    Source: Joule's law.
    """
    return current_a**2 * resistance_ohm


def steady_current_a(
    area_mm2: float,
    *,
    ambient_c: float = 30.0,
    hottest_c: float = 90.0,
    insulation_mm: float = 0.8,
    surface_wpm2k: float = 12.0,
) -> float:
    """The current at which one insulated lead settles at a temperature in still air, far from the pack.

    Parameters
    ----------
    area_mm2 : copper. [mm²]
    ambient_c, hottest_c : of the air around it and of the copper. [°C]
    insulation_mm : wall of the insulation. [mm]
    surface_wpm2k : heat passed by each square metre of surface. A thin lead alone in open air passes 15 to 20
        by convection and radiation; 12 is for two side by side in a fuselage (our judgement). [W/(m²·K)]

    Returns
    -------
    Root-mean-square current. [A]

    Source: heat in = heat out; common practice, no source, for the coefficient.
    """
    outer_m = (2.0 * math.sqrt(area_mm2 / math.pi) + 2.0 * insulation_mm) / 1000.0
    out_wpm = surface_wpm2k * math.pi * outer_m * (hottest_c - ambient_c)
    return math.sqrt(out_wpm / lead_resistance_ohm(1.0, area_mm2, hottest_c))
