"""The tables of a set-up sheet, as pydantic models: which keys there are, and what a value can be.

A key ends in its unit. Other units that a key may be written in stand in
`units.py`; here each key has its one unit of record.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field


class StrictTable(BaseModel):
    """One table of the sheet. No key beyond those named, no text where a number is meant."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


def _number(noun: str, low: float, high: float) -> Any:
    """A key whose value lies between two plausible ends. `noun` completes "… is not …"."""
    return Field(default=None, ge=low, le=high, title=noun)


def _given(noun: str, low: float, high: float) -> Any:
    """The same, for a key that must be there."""
    return Field(ge=low, le=high, title=noun)


Real = float | None
Whole = int | None
Name = Annotated[str, Field(min_length=1, title="a name")]


class LoadTable(StrictTable):
    """An entry of a `ratings` list."""

    current_a: Real = _number("a current in A", 0.1, 2000.0)
    c_rate: Real = _number("a multiple of the capacity", 0.1, 500.0)
    seconds: Real = _number("a number of seconds", 0.1, 3600.0)


Loads = tuple[LoadTable, ...] | None
_LIST: Any = Field(default=None, strict=False)


class AircraftTable(StrictTable):
    """The airframe."""

    name: Name | None = None
    mass_kg: Real = _number("a flying mass in kg", 0.05, 150.0)
    span_m: Real = _number("a span in m", 0.2, 15.0)
    wing_area_m2: Real = _number("a wing area in m²", 0.01, 20.0)
    drag_area_m2: Real = _number("a drag area in m²", 0.0002, 2.0)


class FieldTable(StrictTable):
    """Where it flies."""

    elevation_m: Real = _number("a height above the sea in m", -430.0, 6000.0)
    temperature_c: Real = _number("an air temperature in °C", -40.0, 55.0)
    pressure_hpa: Real = _number("an air pressure in hPa", 300.0, 1200.0)
    relative_humidity_fraction: Real = _number("a relative humidity as a fraction", 0.0, 1.0)


ChemistryName = Literal["lipo", "lihv", "li_ion", "lifepo4"]
"""The chemistries of `physics.chemistry`."""


class PackTable(StrictTable):
    """The battery, or what differs from it."""

    name: Name | None = None
    chemistry: ChemistryName | None = None
    cells: Whole = _number("a number of cells", 1, 14)
    parallel: Whole = _number("a number of cells side by side", 1, 20)
    capacity_mah: Real = _number("a capacity in mAh", 50.0, 200_000.0)
    ratings: Loads = _LIST
    full_cell_v: Real = _number("the open-circuit voltage of a full cell in V", 3.3, 4.5)
    resistance_mohm: Real = _number("a resistance per cell in mΩ", 0.05, 500.0)


MotorPosition = Literal["left", "right", "left_outer", "left_inner", "right_inner", "right_outer", "centre"]
"""Where a sheet puts a motor."""


class FurtherPackTable(PackTable):
    """An entry of [[packs]]: what differs from [pack], and the motor that only this pack feeds."""

    feeds: tuple[str, ...] | None = Field(default=None, strict=False, title="a list of one motor")


class ReserveTable(StrictTable):
    """What must be left at landing."""

    fraction: Real = _number("a share of the capacity", 0.0, 0.9)
    confidence: Real = _number("a confidence", 0.5, 0.9999)
    landing_allowance_s: Real = _number("a time in s", 0.0, 3600.0)
    loaded_cell_v: Real = _number("a voltage of a loaded cell in V", 2.0, 4.1)
    go_around_s: Real = _number("a time in s", 0.0, 600.0)


class NoLoadTable(StrictTable):
    """A motor spun without a propeller; its current alone will do."""

    voltage_v: Real = _number("a voltage in V", 0.5, 100.0)
    current_a: float = _given("a current in A", 0.0, 100.0)
    rpm: Real = _number("a speed in 1/min", 100.0, 100_000.0)


class MotorTable(StrictTable):
    """One motor."""

    kv_rpm_per_v: Real = _number("a speed per volt in rpm/V", 10.0, 10_000.0)
    resistance_mohm: Real = _number("a winding resistance in mΩ", 0.5, 5000.0)
    no_load_points: tuple[NoLoadTable, ...] | None = _LIST
    pole_pairs: Whole = _number("a number of pole pairs", 1, 50)
    ratings: Loads = _LIST
    max_temperature_c: Real = _number("a temperature in °C", 30.0, 250.0)


class StaticTable(StrictTable):
    """One motor with its propeller, held still."""

    rpm: float = _given("a speed in 1/min", 200.0, 100_000.0)
    current_a: Real = _number("a current in A", 0.05, 1000.0)
    voltage_v: Real = _number("a voltage in V", 0.5, 100.0)
    thrust_n: Real = _number("a thrust in N", 0.01, 2000.0)
    density_kgm3: Real = _number("an air density in kg/m³", 0.6, 1.6)


class PropellerTable(StrictTable):
    """One propeller."""

    diameter_in: Real = _number("a diameter in inches", 1.0, 60.0)
    pitch_in: Real = _number("a pitch in inches", 0.5, 60.0)
    blades: Whole = _number("a number of blades", 1, 12)
    ducted: bool | None = Field(default=None, title="true or false")
    static_points: tuple[StaticTable, ...] | None = _LIST


class ControllerTable(StrictTable):
    """One speed controller."""

    ratings: Loads = _LIST
    reversing: bool | None = Field(default=None, title="true or false")
    neutral_fraction: Real = _number("a command as a fraction", -1.0, 1.0)
    max_temperature_c: Real = _number("a temperature in °C", 30.0, 200.0)
    resistance_mohm: Real = _number("a resistance in mΩ", 0.0, 500.0)


class LeadsTable(StrictTable):
    """From the pack's plug to one controller."""

    length_m: Real = _number("a length in m", 0.0, 20.0)
    added_length_m: Real = _number("a length in m", 0.0, 20.0)
    area_mm2: Real = _number("a wire in mm²", 0.05, 200.0)
    plug_ratings: Loads = _LIST


class ReceiverSupplyTable(StrictTable):
    """What feeds the receiver and the servos."""

    voltage_v: Real = _number("a voltage in V", 3.0, 13.0)
    ratings: Loads = _LIST


class MotorPositionTable(StrictTable):
    """One motor's place, and what differs there from [motor], [propeller] and [controller]."""

    position: MotorPosition
    rotation: Literal["clockwise", "anticlockwise"] | None = None
    arm_m: Real = _number("a distance from the middle in m", 0.0, 10.0)
    logged_as: Annotated[str, Field(pattern="^[1-9]$", title="a recorder's number for a motor")] | None = None
    motor: MotorTable | None = None
    propeller: PropellerTable | None = None
    controller: ControllerTable | None = None


class LegTable(StrictTable):
    """A part of the plan."""

    phase: Name
    seconds: float = _given("a number of seconds", 0.1, 36_000.0)
    throttle: Real = _number("a throttle as a fraction", -1.0, 1.0)
    climb_mps: Real = _number("a rate of climb in m/s", -50.0, 50.0)
    airspeed_mps: Real = _number("an airspeed in m/s", 0.0, 120.0)


class PlanTable(StrictTable):
    """The flight as it is meant."""

    legs: tuple[LegTable, ...] | None = _LIST


class CalibratedTable(StrictTable):
    """One value learnt from flights."""

    value: float = _given("a factor", 0.1, 10.0)
    relative_sd: float = _given("a relative doubt", 0.0, 2.0)
    flights: int = _given("a number of flights", 1, 100_000)
    date: str = ""
    correlation: Real = _number("a correlation", -1.0, 1.0)
    temperature_c: Real = _number("an air temperature in °C", -60.0, 70.0)


class CalibrationTable(StrictTable):
    """What `recalibrate` learnt, and of which parts."""

    drive: str = ""
    pack: str = ""
    drive_gain: CalibratedTable | None = None
    propeller_power: CalibratedTable | None = None
    pack_resistance: CalibratedTable | None = None
    drag: dict[str, CalibratedTable] | None = None
    taught_by: tuple[str, ...] | None = _LIST


class ConfigurationTable(AircraftTable):
    """What differs when it flies this way: keys of [aircraft], or whole tables."""

    name: Name
    field: FieldTable | None = None
    pack: PackTable | None = None
    reserve: ReserveTable | None = None
    motor: MotorTable | None = None
    propeller: PropellerTable | None = None
    controller: ControllerTable | None = None
    leads: LeadsTable | None = None
    receiver_supply: ReceiverSupplyTable | None = None
    motors: tuple[MotorPositionTable, ...] | None = _LIST
    plan: PlanTable | None = None


class SheetTables(StrictTable):
    """The whole sheet."""

    aircraft: AircraftTable = AircraftTable()
    field: FieldTable = FieldTable()
    pack: PackTable
    packs: tuple[FurtherPackTable, ...] = Field(default=(), strict=False)
    reserve: ReserveTable = ReserveTable()
    motor: MotorTable = MotorTable()
    propeller: PropellerTable = PropellerTable()
    controller: ControllerTable = ControllerTable()
    leads: LeadsTable = LeadsTable()
    receiver_supply: ReceiverSupplyTable = ReceiverSupplyTable()
    motors: tuple[MotorPositionTable, ...] = Field(default=(), strict=False)
    configurations: tuple[ConfigurationTable, ...] = Field(default=(), strict=False)
    plan: PlanTable = PlanTable()
    calibration: CalibrationTable = CalibrationTable()
