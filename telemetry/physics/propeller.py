"""Propellers: coefficients, bounds, and how they unload with airspeed.

Every law takes numbers or arrays that broadcast. The unloading curves are fits to measured propellers; each
carries the standard deviation of the propellers around it, for the intervals of whoever uses them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from telemetry.limits import SEA_LEVEL_DENSITY_KGPM3
from telemetry.physics.arrays import Floats, Number

UIUC = (
    "recomputed from the UIUC propeller tables: Brandt & Selig, AIAA 2011-1255; Deters, Ananda & Selig, AIAA "
    "2014-2151"
)


@dataclass(frozen=True, slots=True)
class Scatter:
    """How far measured propellers lie from a fit, as a standard deviation."""

    sd: float
    relative: bool
    source: str = UIUC


ZERO_THRUST_SCATTER = Scatter(0.06, relative=False)
POWER_UNLOADING_SCATTER = Scatter(0.08, relative=False)
THRUST_UNLOADING_SCATTER = Scatter(0.06, relative=False)
STATIC_POWER_SCATTER = Scatter(0.19, relative=True)
STATIC_THRUST_SCATTER = Scatter(0.15, relative=True)

STATIC_SCATTER_CORRELATION = 0.6
"""Of the scatters of power and thrust held still: a wide blade has more of both.

0.59 over twenty two-blade propellers of 7 to 14 in, P/D 0.27 to 1.0, near 6000 rpm, computed from the UIUC
tables.
"""

STATIC_POWER_REYNOLDS_EXPONENT = -0.05
STATIC_THRUST_REYNOLDS_EXPONENT = 0.12

_BAND_CENTRES = np.array([0.40, 0.60, 0.875])
_POWER_BANDS = np.array([[0.094, -0.639, -0.101], [0.363, -0.792, -0.302], [0.088, 0.070, -0.933]])
_THRUST_BANDS = np.array([[-0.58, -0.428, 0.0], [-0.38, -0.638, 0.0], [-0.036, -0.991, 0.0]])
_POWER_ALL = np.array([0.211, -0.398, -0.552])
_BEST_MERIT = 0.75

LARGEST_ADVANCE_SHARE = 1.2
"""x = J/J0 beyond which nothing was measured."""

FREE_ADVANCE_SHARE = 1.12
"""x = J/J0 at which a propeller takes no torque: the power curves end at 1.08 to 1.21, that of all pitches at
1.11.
"""

STATIC_POWER_SLOPE, STATIC_THRUST_SLOPE = 0.105, 0.081
"""Static Cp and Ct against P/D, as `static_power_coefficient` and `static_thrust_coefficient`."""


def power_w(power_coefficient: Number, *, density_kgm3: Number, rpm: Number, diameter_m: Number) -> Number:
    """Shaft power, P = Cp·ρ·n³·D⁵ with n in revolutions per second.

    Parameters
    ----------
    power_coefficient : Cp.
    density_kgm3, rpm, diameter_m : of the air, the shaft and the disc. [kg/m³, rpm, m]

    Returns
    -------
    [W]

    Source: definition, Brandt & Selig, AIAA 2011-1255.
    """
    return power_coefficient * density_kgm3 * (rpm / 60.0) ** 3 * diameter_m**5


def torque_nm(power_coefficient: Number, *, density_kgm3: Number, rpm: Number, diameter_m: Number) -> Number:
    """Shaft torque, Q = Cp·ρ·n²·D⁵/2π.

    Parameters
    ----------
    power_coefficient, density_kgm3, rpm, diameter_m : as `power_w`.

    Returns
    -------
    [N·m]

    Source: P = 2π·n·Q with the definition of Cp.
    """
    # n²·D⁵ as (n·D²)²·D: squares are quick on whole columns, other powers are not
    turned = (rpm / 60.0 * diameter_m**2) ** 2 * diameter_m
    return power_coefficient * density_kgm3 / (2.0 * math.pi) * turned


def thrust_n(thrust_coefficient: Number, *, density_kgm3: Number, rpm: Number, diameter_m: Number) -> Number:
    """Thrust, T = Ct·ρ·n²·D⁴.

    Parameters
    ----------
    thrust_coefficient : Ct.
    density_kgm3, rpm, diameter_m : as `power_w`.

    Returns
    -------
    [N]

    Source: definition, Brandt & Selig, AIAA 2011-1255.
    """
    return thrust_coefficient * density_kgm3 * (rpm / 60.0 * diameter_m**2) ** 2


def power_coefficient(power_w: Number, *, density_kgm3: Number, rpm: Number, diameter_m: Number) -> Number:
    """Cp of a measured power, the inverse of `power_w`.

    Parameters
    ----------
    power_w : at the shaft. [W]
    density_kgm3, rpm, diameter_m : as `power_w`, speed and diameter above zero.

    Returns
    -------
    Cp.
    """
    return power_w / (density_kgm3 * (rpm / 60.0) ** 3 * diameter_m**5)


def thrust_coefficient(thrust_n: Number, *, density_kgm3: Number, rpm: Number, diameter_m: Number) -> Number:
    """Ct of a measured thrust, the inverse of `thrust_n`.

    Parameters
    ----------
    thrust_n : [N]
    density_kgm3, rpm, diameter_m : as `power_w`, speed and diameter above zero.

    Returns
    -------
    Ct.
    """
    return thrust_n / (density_kgm3 * (rpm / 60.0) ** 2 * diameter_m**4)


def advance_ratio(airspeed_mps: Number, *, rpm: Number, diameter_m: Number) -> Number:
    """J = V/(n·D).

    Parameters
    ----------
    airspeed_mps, rpm, diameter_m : speed and diameter above zero. [m/s, rpm, m]

    Returns
    -------
    J, 0 held still.

    Source: definition, Brandt & Selig, AIAA 2011-1255.
    """
    return airspeed_mps * 60.0 / (rpm * diameter_m)


def rpm_of_advance_ratio(airspeed_mps: Number, advance: Number, *, diameter_m: Number) -> Number:
    """Shaft speed at which a propeller advances by a ratio, the inverse of `advance_ratio`.

    Parameters
    ----------
    airspeed_mps, advance, diameter_m : ratio and diameter above zero. [m/s, 1, m]

    Returns
    -------
    [rpm]
    """
    return airspeed_mps * 60.0 / (advance * diameter_m)


def reynolds_ratio(rpm: Number, *, reference_rpm: Number, density_kgm3: Number) -> Number:
    """Reynolds number of the blades ÷ that at a reference speed in standard air: it goes with speed and
    density.

    Parameters
    ----------
    rpm, reference_rpm : of one propeller. [rpm]
    density_kgm3 : of the air, whose viscosity is taken as that of the standard. [kg/m³]

    Returns
    -------
    Above zero; coefficients go with it to the power of `STATIC_POWER_REYNOLDS_EXPONENT` and
    `STATIC_THRUST_REYNOLDS_EXPONENT`.

    Source: definition of the Reynolds number.
    """
    return rpm / reference_rpm * (density_kgm3 / SEA_LEVEL_DENSITY_KGPM3.value)


def static_thrust_bound_n(power_w: Number, *, density_kgm3: Number, diameter_m: Number) -> Number:
    """The most thrust a disc held still gives for a power, (2·ρ·A·P²)^(1/3); in flight it is less.

    Parameters
    ----------
    power_w : at the shaft. [W]
    density_kgm3, diameter_m : of the air and the disc. [kg/m³, m]

    Returns
    -------
    [N]

    Source: actuator-disc (momentum) theory.
    """
    disc_m2 = math.pi / 4.0 * diameter_m**2
    return np.cbrt(2.0 * density_kgm3 * disc_m2 * power_w**2)  # type: ignore[no-any-return]


def figure_of_merit(thrust_coefficient: Number, power_coefficient: Number) -> Number:
    """Static ideal power ÷ shaft power, Ct^1.5/Cp·√(2/π).

    Parameters
    ----------
    thrust_coefficient, power_coefficient : held still, the second above zero.

    Returns
    -------
    0…1; 1 is the bound of momentum theory.

    Source: actuator-disc (momentum) theory.
    """
    return thrust_coefficient**1.5 / power_coefficient * math.sqrt(2.0 / math.pi)  # type: ignore[no-any-return]


def zero_thrust_advance_ratio(pitch_to_diameter: Number) -> Number:
    """Advance ratio J0 at which thrust ends, 0.17 + 0.92 P/D.

    Parameters
    ----------
    pitch_to_diameter : P/D, 0.3 to 1.05 measured.

    Returns
    -------
    J0, sd `ZERO_THRUST_SCATTER`.

    Source: `UIUC`.
    """
    return 0.17 + 0.92 * pitch_to_diameter


def static_power_coefficient(pitch_to_diameter: float) -> float:
    """Cp held still from pitch ÷ diameter alone.

    Parameters
    ----------
    pitch_to_diameter : P/D of two blades, 0.3 to 1.05 measured.

    Returns
    -------
    Cp, sd `STATIC_POWER_SCATTER`.

    Notes
    -----
    The straight line of the fit meets the bound of momentum theory at flat pitch; there the figure of merit
    is held at 0.75, just under what is suspicious (0.8: common practice, no source).

    Source: `UIUC`.
    """
    least = figure_of_merit(static_thrust_coefficient(pitch_to_diameter), 1.0) / _BEST_MERIT
    return max(-0.015 + STATIC_POWER_SLOPE * pitch_to_diameter, least)


def static_thrust_coefficient(pitch_to_diameter: float) -> float:
    """Ct held still from pitch ÷ diameter alone.

    Parameters
    ----------
    pitch_to_diameter : P/D of two blades, 0.3 to 1.05 measured.

    Returns
    -------
    Ct, sd `STATIC_THRUST_SCATTER`.

    Source: `UIUC`.
    """
    return 0.056 + STATIC_THRUST_SLOPE * pitch_to_diameter


def power_curve(pitch_to_diameter: float | None = None) -> Floats:
    """How Cp falls in flight: a, b, c of `unloading`, sd `POWER_UNLOADING_SCATTER` around it.

    Parameters
    ----------
    pitch_to_diameter : picks the fit of like propellers, blended between the middles of three bands; all
        without it.

    Returns
    -------
    (3,).

    Source: `UIUC`.
    """
    return _POWER_ALL if pitch_to_diameter is None else _blend(_POWER_BANDS, pitch_to_diameter)


def thrust_curve(pitch_to_diameter: float) -> Floats:
    """How Ct falls in flight, below zero past x ≈ 1: a, b, c of `unloading`, sd `THRUST_UNLOADING_SCATTER`.

    Parameters
    ----------
    pitch_to_diameter : as `power_curve`.

    Returns
    -------
    (3,).

    Source: `UIUC`.
    """
    return _blend(_THRUST_BANDS, pitch_to_diameter)


def unloading(advance_share: Number, curve: Floats) -> Number:
    """A coefficient ÷ its static value, 1 + a·x + b·x² + c·x³.

    Parameters
    ----------
    advance_share : x = J/J0, not below zero, held at 1.2 at most, where the fits have support.
    curve : (3,) or (3, m), from `power_curve` or `thrust_curve`.

    Returns
    -------
    1 held still.

    Source: `UIUC`.
    """
    a, b, c = curve
    x = np.minimum(advance_share, LARGEST_ADVANCE_SHARE)
    return 1.0 + x * (a + x * (b + x * c))  # type: ignore[no-any-return]


def unloading_slope(advance_share: Floats, curve: Floats) -> Floats:
    """Slope of `unloading` over x, 0 beyond its support.

    Parameters
    ----------
    advance_share, curve : as `unloading`.

    Returns
    -------
    As `advance_share`.
    """
    a, b, c = curve
    x = advance_share
    return np.where(x < LARGEST_ADVANCE_SHARE, a + x * (2.0 * b + x * 3.0 * c), 0.0)


def _blend(bands: Floats, pitch_to_diameter: float) -> Floats:
    return np.array([np.interp(pitch_to_diameter, _BAND_CENTRES, bands[:, k]) for k in range(bands.shape[1])])
