"""Propellers: coefficients, bounds, and how they unload with airspeed.

The unloading curves are fits to measured propellers; each carries the standard deviation of the
propellers around it, for the intervals of whoever uses them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Number = TypeVar("Number", float, Floats)

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
_THRUST_BANDS = np.array([[-0.58, -0.428], [-0.38, -0.638], [-0.036, -0.991]])
_POWER_ALL = np.array([0.211, -0.398, -0.552])
_THRUST_ALL = np.array([-0.237, -0.786])
_LARGEST_X = 1.2
_BEST_MERIT = 0.75


def power_w(power_coefficient: Number, *, density_kgm3: float, rpm: Number, diameter_m: float) -> Number:
    """Shaft power, P = Cp·ρ·n³·D⁵ with n in revolutions per second. [W]

    Source: definition, Brandt & Selig, AIAA 2011-1255.
    """
    return power_coefficient * density_kgm3 * (rpm / 60.0) ** 3 * diameter_m**5


def torque_nm(power_coefficient: Number, *, density_kgm3: float, rpm: Number, diameter_m: float) -> Number:
    """Shaft torque, Q = Cp·ρ·n²·D⁵/2π. [N·m]"""
    return power_coefficient * density_kgm3 * (rpm / 60.0) ** 2 * diameter_m**5 / (2.0 * math.pi)


def thrust_n(thrust_coefficient: Number, *, density_kgm3: float, rpm: Number, diameter_m: float) -> Number:
    """Thrust, T = Ct·ρ·n²·D⁴. [N]

    Source: definition, Brandt & Selig, AIAA 2011-1255.
    """
    return thrust_coefficient * density_kgm3 * (rpm / 60.0) ** 2 * diameter_m**4


def power_coefficient(power_w: float, *, density_kgm3: float, rpm: float, diameter_m: float) -> float:
    """Cp of a measured power."""
    return power_w / (density_kgm3 * (rpm / 60.0) ** 3 * diameter_m**5)


def thrust_coefficient(thrust_n: float, *, density_kgm3: float, rpm: float, diameter_m: float) -> float:
    """Ct of a measured thrust."""
    return thrust_n / (density_kgm3 * (rpm / 60.0) ** 2 * diameter_m**4)


def advance_ratio(airspeed_mps: Number, *, rpm: Number, diameter_m: float) -> Number:
    """J = V/(n·D)."""
    return airspeed_mps / (rpm / 60.0 * diameter_m)


def static_thrust_bound_n(power_w: float, *, density_kgm3: float, diameter_m: float) -> float:
    """The most thrust a disc held still gives for a power, (2·ρ·A·P²)^(1/3). [N]

    Source: actuator-disc (momentum) theory.
    """
    disc_m2 = math.pi / 4.0 * diameter_m**2
    return float((2.0 * density_kgm3 * disc_m2 * power_w**2) ** (1.0 / 3.0))


def thrust_bound_n(power_w: float, airspeed_mps: float, *, density_kgm3: float, diameter_m: float) -> float:
    """The most thrust a disc gives for a power at an airspeed: T·(V + v) = P with T = 2·ρ·A·(V + v)·v. [N]

    Source: actuator-disc (momentum) theory.
    """
    if airspeed_mps <= 0.0:
        return static_thrust_bound_n(power_w, density_kgm3=density_kgm3, diameter_m=diameter_m)
    disc_m2 = math.pi / 4.0 * diameter_m**2
    # With u = V + v: u³ − V·u² = P/(2ρA), one root above V.
    roots = np.roots([1.0, -airspeed_mps, 0.0, -power_w / (2.0 * density_kgm3 * disc_m2)])
    through_mps = float(np.max(roots[np.abs(roots.imag) < 1e-9].real))
    return power_w / through_mps


def figure_of_merit(thrust_coefficient: float, power_coefficient: float) -> float:
    """Static ideal power ÷ shaft power, Ct^1.5/Cp·√(2/π); 1 is the bound of momentum theory."""
    return float(thrust_coefficient**1.5) / power_coefficient * math.sqrt(2.0 / math.pi)


def efficiency_fraction(advance: Number, thrust_coefficient: Number, power_coefficient: Number) -> Number:
    """Thrust power ÷ shaft power in flight, J·Ct/Cp."""
    return advance * thrust_coefficient / power_coefficient


def zero_thrust_advance_ratio(pitch_to_diameter: float) -> float:
    """Advance ratio J0 at which thrust ends: 0.17 + 0.92 P/D, sd `ZERO_THRUST_SCATTER`."""
    return 0.17 + 0.92 * pitch_to_diameter


def static_power_coefficient(pitch_to_diameter: float) -> float:
    """Cp held still from pitch ÷ diameter alone, for two blades: sd `STATIC_POWER_SCATTER`.

    The straight line of the fit meets the bound of momentum theory at flat pitch; there the figure of merit
    is held at 0.75, just under what is suspicious (0.8: common practice, no source).
    """
    least = figure_of_merit(static_thrust_coefficient(pitch_to_diameter), 1.0) / _BEST_MERIT
    return max(-0.015 + 0.105 * pitch_to_diameter, least)


def static_thrust_coefficient(pitch_to_diameter: float) -> float:
    """Ct held still from pitch ÷ diameter alone, for two blades: sd `STATIC_THRUST_SCATTER`."""
    return 0.056 + 0.081 * pitch_to_diameter


def power_unloading(advance_share: Number, pitch_to_diameter: float | None = None) -> Number:
    """Cp ÷ static Cp at x = J/J0, sd `POWER_UNLOADING_SCATTER`.

    Parameters
    ----------
    advance_share : x, held within 0…1.2, where the fit has support.
    pitch_to_diameter : picks the fit of like propellers, blended between the middles of three bands; all
        without it.
    """
    a, b, c = _POWER_ALL if pitch_to_diameter is None else _blend(_POWER_BANDS, pitch_to_diameter)
    x = np.clip(advance_share, 0.0, _LARGEST_X)
    return 1.0 + x * (a + x * (b + x * c))  # type: ignore[no-any-return]


def thrust_unloading(advance_share: Number, pitch_to_diameter: float | None = None) -> Number:
    """Ct ÷ static Ct at x = J/J0, below zero past x ≈ 1, sd `THRUST_UNLOADING_SCATTER`.

    Parameters as `power_unloading`.
    """
    a, b = _THRUST_ALL if pitch_to_diameter is None else _blend(_THRUST_BANDS, pitch_to_diameter)
    x = np.clip(advance_share, 0.0, _LARGEST_X)
    return 1.0 + x * (a + x * b)  # type: ignore[no-any-return]


def _blend(bands: Floats, pitch_to_diameter: float) -> Floats:
    return np.array([np.interp(pitch_to_diameter, _BAND_CENTRES, bands[:, k]) for k in range(bands.shape[1])])
