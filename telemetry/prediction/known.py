"""The aircraft with every number filled in, each with its doubt."""

from __future__ import annotations

from dataclasses import dataclass

from telemetry.physics.chemistry import Chemistry
from telemetry.prediction.results import Assumed
from telemetry.sheet.setup import Leg

LOADED_SHARE = 0.88
"""Voltage of a pack at full throttle ÷ its full open-circuit voltage."""

SHAFT_SHARE = 0.80
"""Shaft power ÷ electrical power at full throttle."""


@dataclass(frozen=True, slots=True)
class KnownDrive:
    """One motor with its propeller, complete. `…_sd` relative.

    `cp`, `ct` are held-still coefficients at `reference_rpm`; they go with speed to `cp_power` and
    `ct_power`. `torque_anchored` and `thrust_anchored` say whether a static point gave them;
    `gain_correlation` is that of the doubts of Kv and `cp`, once flights have given both.
    """

    position: str
    kv_rpm_per_v: float
    kv_sd: float
    resistance_ohm: float
    resistance_sd: float
    no_load_a: float
    no_load_a_per_rpm: float
    no_load_sd: float
    controller_ohm: float
    diameter_m: float
    diameter_sd: float
    pitch_to_diameter: float
    pitch_to_diameter_sd: float
    ducted: bool
    reference_rpm: float
    cp: float
    cp_sd: float
    cp_power: float
    ct: float
    ct_sd: float
    ct_power: float
    torque_anchored: bool
    thrust_anchored: bool
    gain_correlation: float
    heat_capacity_jpk: float


@dataclass(frozen=True, slots=True)
class Known:
    """The whole aircraft, complete. `…_sd` relative, `…_sd_c` in kelvin."""

    cells: int
    capacity_ah: float
    chemistry: Chemistry
    cell_ohm: float
    cell_sd: float
    pack_heat_jpk: float
    air_temperature_c: float
    air_temperature_sd_c: float
    density_kgm3: float
    density_sd: float
    lead_ohm: float
    lead_sd: float
    mass_kg: float
    mass_sd: float
    span_m: float
    span_sd: float
    wing_area_m2: float
    drag_area_m2: float
    drag_sd: float
    drives: tuple[KnownDrive, ...]
    plan: tuple[Leg, ...]
    drive_learnt: bool
    pack_learnt: bool
    assumed: tuple[Assumed, ...]
