"""Every number the prediction needs: the sheet's own, or one assumed and said.

Each number comes with its doubt as a relative standard deviation unless its name says
otherwise. Doubts of a sheet's own numbers are those of honest owners with shop tools (Kv 3 %,
winding 15 %, a static point 3 % in current and thrust and 2 % in speed): common practice, no
source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from telemetry.limits import ZERO_CELSIUS_K
from telemetry.physics import air, wire
from telemetry.prediction.drive_assumptions import known_drive
from telemetry.prediction.known import LOADED_SHARE, Known, KnownDrive
from telemetry.prediction.results import Assumed
from telemetry.sentences import say
from telemetry.sheet.setup import Setup


def complete(setup: Setup) -> Known:
    """The set-up with every gap filled, and the list of what was filled."""
    said: list[Assumed] = []
    temperature_c, temperature_sd_c, density, density_sd = _air(setup, said)
    cell_ohm, cell_sd = _cell(setup, said)
    mass, mass_sd = _mass(setup, said)
    area, span, span_sd = _wing(setup, mass, said)
    drag, drag_sd = _drag(setup, area, said)
    if not setup.names_motors:
        said.append(Assumed("motors.position", "centre", say("assumed", "one_motor")))
    power_w = _full_power_w(setup, len(setup.drives))
    drives = tuple(
        known_drive(setup, drive, loaded_v=_loaded_v(setup), power_w=power_w, said=said)
        for drive in setup.drives
    )
    said.extend(_outdated(setup))
    lead_ohm, lead_sd = _leads(setup, drives, temperature_c, said)
    return Known(
        cells=setup.pack.cells,
        capacity_ah=setup.pack.capacity_mah / 1000.0,
        chemistry=setup.pack.chemistry,
        cell_ohm=cell_ohm,
        cell_sd=cell_sd,
        pack_heat_jpk=_pack_mass_kg(setup) * 1000.0,
        air_temperature_c=temperature_c,
        air_temperature_sd_c=temperature_sd_c,
        density_kgm3=density,
        density_sd=density_sd,
        lead_ohm=lead_ohm,
        lead_sd=lead_sd,
        mass_kg=mass,
        mass_sd=mass_sd,
        span_m=span,
        span_sd=span_sd,
        wing_area_m2=area,
        drag_area_m2=drag,
        drag_sd=drag_sd,
        drives=drives,
        plan=setup.plan,
        drive_learnt="drive_gain" in setup.calibration or "propeller_power" in setup.calibration,
        pack_learnt="pack_resistance" in setup.calibration,
        assumed=_merged(said),
    )


def _outdated(setup: Setup) -> list[Assumed]:
    """What flights taught of parts that the sheet has no longer."""
    return [
        Assumed(
            f"calibration.{key}",
            1.0,
            say("assumed", "outdated_pack" if key == "pack_resistance" else "outdated_drive"),
        )
        for key in setup.outdated
    ]


def air_density_kgm3(setup: Setup) -> float:
    """Density of the day, from what the sheet says of it. [kg/m³]"""
    site = setup.site
    return air.density_kgm3(
        site.elevation_m or 0.0,
        temperature_c=site.temperature_c,
        pressure_pa=site.pressure_pa,
        relative_humidity_fraction=site.relative_humidity_fraction,
    )


def _air(setup: Setup, said: list[Assumed]) -> tuple[float, float, float, float]:
    site = setup.site
    density_sd = 0.003
    temperature, temperature_sd = site.temperature_c, 2.0
    if temperature is None:
        temperature, temperature_sd = (
            air.standard_temperature_k(site.elevation_m or 0.0) - ZERO_CELSIUS_K.value,
            8.0,
        )
        said.append(Assumed("field.temperature_c", round(temperature, 1), say("assumed", "temperature")))
        density_sd = math.hypot(density_sd, 0.028)
    if site.pressure_pa is None:
        density_sd = math.hypot(density_sd, 0.01)
        if site.elevation_m is None:
            density_sd = math.hypot(density_sd, 0.02)
            said.append(Assumed("field.elevation_m", 0.0, say("assumed", "elevation")))
    return temperature, temperature_sd, air_density_kgm3(setup), density_sd


def _cell(setup: Setup, said: list[Assumed]) -> tuple[float, float]:
    """Resistance of one cell at 25 °C after 1 s."""
    pack = setup.pack
    if not pack.chemistry_stated:
        said.append(Assumed("pack.full_cell_v", pack.full_cell_v, say("assumed", "chemistry")))
    learnt = setup.calibration.get("pack_resistance")
    ohm, sd = pack.resistance_ohm, 0.13
    if ohm is None:
        ohm, sd = pack.chemistry.usual_ohm_ah.value / (pack.capacity_mah / 1000.0), 0.35
        if learnt is None:
            usual = say("assumed", "pack_resistance")
            said.append(Assumed("pack.resistance_mohm", round(ohm * 1000.0, 2), usual))
    if learnt is None:
        return ohm, sd
    here = setup.site.temperature_c
    held = 1.0 if learnt.temperature_c is None or here is None else _carried(here - learnt.temperature_c)
    return ohm * learnt.value**held, math.hypot(learnt.relative_sd, (1.0 - held) * sd)


def _carried(difference_k: float, *, kept_k: float = 12.0) -> float:
    """How much of a resistance learnt on one day holds on another, 0…1, where the pack's own temperature
    wasn't logged.

    A pack kept warm on a cold day looks better than it is; `kept_k` is the difference at which a third of it
    is left.
    """
    return math.exp(-((difference_k / kept_k) ** 2))


def _pack_mass_kg(setup: Setup) -> float:
    """Mass of the pack from its energy."""
    pack, usual = setup.pack, setup.pack.chemistry
    energy_wh = pack.cells * usual.nominal_v.value * pack.capacity_mah / 1000.0
    return energy_wh / usual.energy_wh_per_kg.value


def _mass(setup: Setup, said: list[Assumed]) -> tuple[float, float]:
    if setup.mass_kg is not None:
        return setup.mass_kg, 0.02
    mass = _pack_mass_kg(setup) / 0.18
    said.append(Assumed("aircraft.mass_kg", round(mass, 2), say("assumed", "mass")))
    return mass, 0.25


def _wing(setup: Setup, mass_kg: float, said: list[Assumed]) -> tuple[float, float, float]:
    """Wing area and span; aspect ratio 6.5 and 9 kg of mass for each m³ of area^1.5 are usual for scale
    models (common practice, no source).
    """
    area, span, span_sd = setup.wing_area_m2, setup.span_m, 0.01
    if area is None:
        area = span**2 / 6.5 if span is not None else (mass_kg / 9.0) ** (2.0 / 3.0)
        said.append(
            Assumed(
                "aircraft.wing_area_m2",
                round(area, 3),
                say("assumed", "wing_by_span" if span is not None else "wing_by_mass"),
            )
        )
    if span is None:
        span, span_sd = math.sqrt(6.5 * area), 0.10
        said.append(Assumed("aircraft.span_m", round(span, 2), say("assumed", "span")))
    return area, span, span_sd


def _drag(
    setup: Setup, area_m2: float, said: list[Assumed], *, coefficient: float = 0.07
) -> tuple[float, float]:
    """Parasitic drag area; `coefficient` on wing area is that of a scale model on its wheels.

    It runs from 0.045, clean, to 0.11, with struts and wires: the middle is theirs in ratio (common practice,
    no source).
    """
    learnt = setup.calibration.get("drag")
    drag, sd = setup.drag_area_m2, 0.15
    if drag is None:
        drag, sd = coefficient * area_m2, 0.35
        if learnt is None:
            said.append(
                Assumed(
                    "aircraft.drag_area_m2",
                    round(drag, 4),
                    say("assumed", "drag"),
                )
            )
    return (drag, sd) if learnt is None else (drag * learnt.value, learnt.relative_sd)


def _leads(
    setup: Setup, drives: Sequence[KnownDrive], temperature_c: float, said: list[Assumed]
) -> tuple[float, float]:
    """Both conductors to one controller."""
    leads, sd = setup.leads, 0.05
    length, area = leads.length_m, leads.area_mm2
    if length is None:
        length, sd = 0.3 + leads.added_length_m, 0.5
        said.append(Assumed("leads.length_m", 0.3, say("assumed", "lead_length")))
    if area is None:
        current = _full_power_w(setup, len(drives)) / _loaded_v(setup)
        area, sd = min(max(current / 10.0, 0.5), 16.0), math.hypot(sd, 0.4)
        said.append(Assumed("leads.area_mm2", round(area, 1), say("assumed", "lead_area")))
    return 2.0 * wire.lead_resistance_ohm(length, area, temperature_c), sd


def _loaded_v(setup: Setup) -> float:
    return LOADED_SHARE * setup.pack.cells * setup.pack.full_cell_v


def _full_power_w(setup: Setup, motors: int) -> float:
    """Electrical power of one motor at full throttle, where nothing better is known: 180 W for each kg
    (common practice, no source).
    """
    if setup.mass_kg is not None:
        return 180.0 * setup.mass_kg / max(motors, 1)
    return 13.0 * setup.pack.capacity_mah / 1000.0 * _loaded_v(setup) / max(motors, 1)


def _merged(said: Sequence[Assumed]) -> tuple[Assumed, ...]:
    """One entry for what was assumed alike at several motors."""
    return tuple(dict.fromkeys(said))
