"""Air: standard atmosphere, and the density of the day."""

from __future__ import annotations

import math

from telemetry.limits import (
    GAS_CONSTANT_DRY_AIR_JPKGK,
    GRAVITY_MPS2,
    SEA_LEVEL_PRESSURE_PA,
    SEA_LEVEL_TEMPERATURE_K,
    ZERO_CELSIUS_K,
)

_EARTH_RADIUS_M = 6_356_766.0
_LAPSE_KPM = -0.0065
_WATER_TO_DRY_AIR = 0.621945
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)


def standard_temperature_k(elevation_m: float) -> float:
    """Temperature of the standard atmosphere.

    Parameters
    ----------
    elevation_m : geometric height, −5000 to 11 000. [m]

    Returns
    -------
    [K]

    Source: ISO 2533:1975.
    """
    return SEA_LEVEL_TEMPERATURE_K.value + _LAPSE_KPM * _geopotential_m(elevation_m)


def standard_pressure_pa(elevation_m: float) -> float:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    elevation_m : geometric height, −5000 to 11 000. [m]

    Returns
    -------
    [Pa]

    Source: ISO 2533:1975.
    """
    ratio = standard_temperature_k(elevation_m) / SEA_LEVEL_TEMPERATURE_K.value
    exponent = -GRAVITY_MPS2.value / (_LAPSE_KPM * GAS_CONSTANT_DRY_AIR_JPKGK.value)
    return float(SEA_LEVEL_PRESSURE_PA.value * ratio**exponent)


def saturation_pressure_pa(temperature_c: float) -> float:
    """Pressure of saturated water vapour over water, below the triple point over ice.

    Parameters
    ----------
    temperature_c : −100 to 200. [°C]

    Returns
    -------
    [Pa]

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equations 5 and 6 (Hyland and Wexler; coefficients
    from memory, held to psychrolib by a test).
    """
    t = temperature_c + ZERO_CELSIUS_K.value
    a = _ICE if temperature_c < 0.01 else _WATER
    return math.exp(a[0] / t + a[1] + t * (a[2] + t * (a[3] + t * (a[4] + t * a[5]))) + a[6] * math.log(t))


def density_kgm3(
    elevation_m: float = 0.0,
    *,
    temperature_c: float | None = None,
    pressure_pa: float | None = None,
    relative_humidity_fraction: float | None = None,
) -> float:
    """Density of the air at the field.

    Parameters
    ----------
    elevation_m : geometric height of the field; gives pressure and temperature where they are not given. [m]
    temperature_c : of the air; the standard atmosphere's by default. [°C]
    pressure_pa : at the field itself, not brought down to the sea; the standard atmosphere's by default. [Pa]
    relative_humidity_fraction : 0…1; dry by default.

    Returns
    -------
    Density. [kg/m³]

    Raises
    ------
    ValueError : a humidity outside 0…1, a temperature at or below absolute zero, a pressure not above zero.

    Source: ISO 2533:1975 for the defaults; ideal gases of dry air and water vapour, ASHRAE Handbook
    Fundamentals 2017, chapter 1.
    """
    kelvin = (
        standard_temperature_k(elevation_m) if temperature_c is None else temperature_c + ZERO_CELSIUS_K.value
    )
    pressure = standard_pressure_pa(elevation_m) if pressure_pa is None else pressure_pa
    humidity = 0.0 if relative_humidity_fraction is None else relative_humidity_fraction
    if not 0.0 <= humidity <= 1.0:
        raise ValueError(f"relative humidity lies between 0 and 1, not at {humidity}")
    if kelvin <= 0.0 or pressure <= 0.0:
        raise ValueError(
            f"air needs a temperature and a pressure above zero, not {kelvin} K and {pressure} Pa"
        )
    vapour = humidity * saturation_pressure_pa(kelvin - ZERO_CELSIUS_K.value) if humidity else 0.0
    return (pressure - (1.0 - _WATER_TO_DRY_AIR) * vapour) / (GAS_CONSTANT_DRY_AIR_JPKGK.value * kelvin)


def _geopotential_m(elevation_m: float) -> float:
    return _EARTH_RADIUS_M * elevation_m / (_EARTH_RADIUS_M + elevation_m)
