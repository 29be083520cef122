"""Power to fly: mass, wing, drag and air. Arrays are (d,), one a draw."""

from __future__ import annotations

import math

import numpy as np

from telemetry.limits import GRAVITY_MPS2
from telemetry.prediction.sampling import Sampled
from telemetry.trace import Floats


def drag_n(sampled: Sampled, airspeed_mps: Floats, *, load_factor: float = 1.0) -> Floats:
    """Parasitic and induced drag in steady flight. [N]

    Parameters
    ----------
    airspeed_mps : above zero where there is lift; near zero the wing is taken to carry nothing.
    load_factor : lift ÷ weight.

    Source: D = ½ρV²·A + (n·W)² ÷ (½ρV²·π·b²·e), lifting-line theory (from memory).
    """
    pressure = 0.5 * sampled.density_kgm3 * airspeed_mps**2
    slow = 0.5 * sampled.density_kgm3 * (0.5 * least_power_speed_mps(sampled)) ** 2
    weight = load_factor * sampled.mass_kg * GRAVITY_MPS2.value
    induced = weight**2 / (np.maximum(pressure, slow) * math.pi * sampled.span_m**2 * sampled.oswald)
    return pressure * sampled.drag_area_m2 + np.where(pressure > slow, induced, 0.0)


def least_power_speed_mps(sampled: Sampled) -> Floats:
    """The airspeed at which level flight takes the least power. [m/s]

    Source: induced drag is three times the parasitic there; lifting-line theory (from memory).
    """
    weight = sampled.mass_kg * GRAVITY_MPS2.value
    span = math.pi * sampled.span_m**2 * sampled.oswald
    fourth = 4.0 * weight**2 / (3.0 * sampled.density_kgm3**2 * span * sampled.drag_area_m2)
    return fourth**0.25


def stall_speed_mps(sampled: Sampled, *, lift_coefficient: float = 1.2) -> Floats:
    """The slowest level flight of a wing without flaps; `lift_coefficient` is usual for models (common
    practice, no source). [m/s]
    """
    return np.sqrt(
        2.0
        * sampled.mass_kg
        * GRAVITY_MPS2.value
        / (sampled.density_kgm3 * sampled.wing_area_m2 * lift_coefficient)
    )


def thrust_needed_n(
    sampled: Sampled, airspeed_mps: Floats, climb_mps: float | Floats, *, load_factor: float = 1.0
) -> Floats:
    """Thrust for a steady climb at an airspeed, below zero when it must be held back. [N]"""
    weight = sampled.mass_kg * GRAVITY_MPS2.value
    return drag_n(sampled, airspeed_mps, load_factor=load_factor) + weight * climb_mps / np.maximum(
        airspeed_mps, 1.0
    )
