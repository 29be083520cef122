"""Checked tables → one `Setup`: the sheet, what the configuration changes, what the pack changes, what each
motor changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from telemetry.physics.chemistry import CHEMISTRIES, LIPO, Chemistry
from telemetry.sheet.setup import (
    Calibrated,
    Controller,
    Drive,
    FedPack,
    Leads,
    Leg,
    Motor,
    NoLoadPoint,
    PackSetup,
    Propeller,
    RatedLoad,
    Reserve,
    Setup,
    Site,
    StaticPoint,
)
from telemetry.sheet.tables import CalibratedTable, CalibrationTable, SheetTables
from telemetry.sheet.units import MM_PER_INCH

Keys = Mapping[str, Any]
_AIRFRAME = ("mass_kg", "span_m", "wing_area_m2", "drag_area_m2")
_BLADE_KEYS = ("diameter_in", "pitch_in", "blades", "ducted")


def merged(base: Keys, change: Keys) -> dict[str, Any]:
    """Tables of `base` with the keys of `change` laid over; lists are replaced, not joined."""
    result = dict(base)
    for key, value in change.items():
        below = result.get(key)
        result[key] = (
            merged(below, value) if isinstance(below, Mapping) and isinstance(value, Mapping) else value
        )
    return result


def propeller_over(base: Keys, change: Keys) -> dict[str, Any]:
    """Another propeller's keys over a first one's. Points measured with other blades don't carry over."""
    another = any(
        key in change and change[key] != base.get(key) for key in _BLADE_KEYS if base.get(key) is not None
    )
    kept = {k: v for k, v in base.items() if not (another and k == "static_points")}
    return merged(kept, change)


def setup_of(tables: SheetTables, *, configuration: str, pack: str, fallback_name: str) -> Setup:
    """One configuration with one pack.

    `configuration` "" is the sheet as it stands, `pack` "" the sheet's [pack]; both must be known.
    """
    whole = tables.model_dump(exclude_unset=True)
    chosen: Keys = next((c for c in whole.get("configurations", ()) if c["name"] == configuration), {})
    change = {k: v for k, v in chosen.items() if k != "name"}
    motors = _motors(whole.get("motors", ()), change.pop("motors", ()))
    propeller = propeller_over(whole.get("propeller", {}), change.pop("propeller", {}))
    aircraft = merged(whole.get("aircraft", {}), {k: change.pop(k) for k in _AIRFRAME if k in change})
    whole = merged(whole, change)
    battery = merged(whole["pack"], next((p for p in whole.get("packs", ()) if p["name"] == pack), {}))
    drives = tuple(
        _drive(entry, whole.get("motor", {}), propeller, whole.get("controller", {})) for entry in motors
    )
    packs = _fed_packs(whole, motors)
    pack_setup = packs[0].pack if packs else _pack(battery, is_first=pack in ("", whole["pack"].get("name")))
    battery_text = packs_text(pack_setup, packs)
    calibration = _calibration(tables.calibration, configuration, drive_text(drives), battery_text)
    supply = whole.get("receiver_supply", {})
    airframe: dict[str, Any] = {key: aircraft.get(key) for key in _AIRFRAME}
    return Setup(
        name=aircraft.get("name", fallback_name),
        configuration=configuration,
        pack=pack_setup,
        packs=packs,
        drives=drives,
        **airframe,
        site=_site(whole.get("field", {})),
        reserve=_reserve(whole.get("reserve", {}), pack_setup.chemistry),
        leads=_leads(whole.get("leads", {})),
        receiver_supply_v=supply.get("voltage_v"),
        receiver_ratings=_loads(supply.get("ratings")),
        plan=tuple(_leg(leg) for leg in whole.get("plan", {}).get("legs") or ()),
        calibration=calibration,
        taught_by=tables.calibration.taught_by or (),
        names_motors=not any(entry.get("assumed") for entry in motors),
        outdated=tuple(
            k
            for k in ("drive_gain", "propeller_power", "pack_resistance")
            if getattr(tables.calibration, k) and k not in calibration
        ),
    )


_PHASES = {
    "take_off": "takeoff",
    "circuit": "circuits",
    "goaround": "go_around",
    "taxi": "ground",
    "level": "cruise",
}
"""Other spellings of a leg's phase."""


def _leg(entry: Keys) -> Leg:
    phase = entry["phase"].strip().lower().replace("-", "_").replace(" ", "_")
    return Leg(**{**entry, "phase": _PHASES.get(phase, phase)})


def _motors(base: Any, change: Any) -> list[dict[str, Any]]:
    """The motors with what a configuration changes, by position; without any, one in the middle."""
    entries = {entry["position"]: dict(entry) for entry in base}
    for entry in change:
        before = entries.get(entry["position"], {})
        after = merged(before, entry)
        if "propeller" in before and "propeller" in entry:
            after["propeller"] = propeller_over(before["propeller"], entry["propeller"])
        entries[entry["position"]] = after
    order = ("left_outer", "left", "left_inner", "centre", "right_inner", "right", "right_outer")
    return sorted(entries.values(), key=lambda e: order.index(e["position"])) or [
        {"position": "centre", "assumed": True}
    ]


def _drive(entry: Keys, motor: Keys, propeller: Keys, controller: Keys) -> Drive:
    return Drive(
        position=entry["position"],
        motor=_motor(merged(motor, entry.get("motor", {}))),
        propeller=_propeller(propeller_over(propeller, entry.get("propeller", {}))),
        controller=_controller(merged(controller, entry.get("controller", {}))),
        rotation=entry.get("rotation"),
        arm_m=entry.get("arm_m"),
        logged_as=entry.get("logged_as"),
    )


def _loads(entries: Any) -> tuple[RatedLoad, ...]:
    return tuple(RatedLoad(**{k: v for k, v in entry.items() if v is not None}) for entry in entries or ())


def _ohm(keys: Keys) -> float | None:
    milliohm = keys.get("resistance_mohm")
    return None if milliohm is None else milliohm / 1000.0


def _inches(value: float | None) -> float | None:
    return None if value is None else value * MM_PER_INCH / 1000.0


def _motor(keys: Keys) -> Motor:
    return Motor(
        kv_rpm_per_v=keys.get("kv_rpm_per_v"),
        resistance_ohm=_ohm(keys),
        no_load_points=tuple(NoLoadPoint(**p) for p in keys.get("no_load_points") or ()),
        pole_pairs=keys.get("pole_pairs"),
        ratings=_loads(keys.get("ratings")),
        max_temperature_c=keys.get("max_temperature_c"),
    )


def _propeller(keys: Keys) -> Propeller:
    points = tuple(
        StaticPoint(**{k: v for k, v in p.items() if v is not None}) for p in keys.get("static_points") or ()
    )
    blades = keys.get("blades")
    return Propeller(
        _inches(keys.get("diameter_in")),
        _inches(keys.get("pitch_in")),
        2 if blades is None else blades,
        points,
        bool(keys.get("ducted")),
    )


def _controller(keys: Keys) -> Controller:
    return Controller(
        ratings=_loads(keys.get("ratings")),
        reversing=keys.get("reversing"),
        neutral_fraction=keys.get("neutral_fraction", 0.0),
        max_temperature_c=keys.get("max_temperature_c"),
        resistance_ohm=_ohm(keys),
    )


def _pack(keys: Keys, *, is_first: bool) -> PackSetup:
    given = {k: v for k, v in keys.items() if k in ("cells", "capacity_mah", "parallel") and v is not None}
    stated, full_cell_v = keys.get("chemistry"), keys.get("full_cell_v")
    chemistry = CHEMISTRIES[stated or LIPO.key]
    return PackSetup(
        name=keys.get("name") or "",
        ratings=_loads(keys.get("ratings")),
        resistance_ohm=_ohm(keys),
        is_first=is_first,
        chemistry=chemistry if full_cell_v is None else chemistry.ending_at(full_cell_v),
        chemistry_stated=stated is not None,
        **given,
    )


def _fed_packs(whole: Keys, motors: list[dict[str, Any]]) -> tuple[FedPack, ...]:
    """The packs that feed one motor each, in the order of the motors."""
    entries = {entry["feeds"][0]: entry for entry in whole.get("packs", ()) if entry.get("feeds")}
    found = []
    for motor in motors:
        if motor["position"] in entries:
            pack = _pack(merged(whole["pack"], entries[motor["position"]]), is_first=False)
            reserve = _reserve(whole.get("reserve", {}), pack.chemistry)
            found.append(FedPack(motor["position"], pack, reserve))
    return tuple(found)


def _reserve(keys: Keys, chemistry: Chemistry) -> Reserve:
    """What must be left; the floor of a loaded cell is its chemistry's unless the sheet has one."""
    return Reserve(**{"loaded_cell_v": chemistry.loaded_floor_v.value, **keys})


def _leads(keys: Keys) -> Leads:
    added = keys.get("added_length_m", 0.0)
    return Leads(keys.get("length_m"), added, keys.get("area_mm2"), _loads(keys.get("plug_ratings")))


def _site(keys: Keys) -> Site:
    pressure = keys.get("pressure_hpa")
    return Site(
        keys.get("elevation_m"),
        keys.get("temperature_c"),
        None if pressure is None else pressure * 100.0,
        keys.get("relative_humidity_fraction"),
    )


def drive_text(drives: tuple[Drive, ...]) -> str:
    """The motors, propellers and controllers in one line: a calibration is theirs, and another line starts
    afresh.
    """

    def number(value: float | None, scale: float, digits: int, unit: str) -> str:
        return f"? {unit}" if value is None else f"{value * scale:.{digits}f} {unit}"

    parts: list[str] = []
    for drive in drives:
        motor, propeller = drive.motor, drive.propeller
        sizes = (
            f"{number(propeller.diameter_m, 1000 / MM_PER_INCH, 2, 'in')} x "
            f"{number(propeller.pitch_m, 1000 / MM_PER_INCH, 2, 'in')}"
        )
        carries = (
            "/".join(f"{load.current_a:g}" for load in drive.controller.ratings if load.current_a is not None)
            or "?"
        )
        ducted = ", ducted" if propeller.ducted else ""
        parts.append(
            f"{drive.position}: {number(motor.kv_rpm_per_v, 1, 0, 'rpm/V')}, "
            f"{number(motor.resistance_ohm, 1000, 1, 'mohm')}, "
            f"{sizes}, {propeller.blades} blades{ducted}, controller {carries} A"
        )
    return "; ".join(parts)


def pack_text(pack: PackSetup) -> str:
    """The battery in one line."""
    resistance = "?" if pack.resistance_ohm is None else f"{pack.resistance_ohm * 1000:.2f}"
    return f"{pack.name or 'pack'}: {pack.cells}S {pack.capacity_mah:g} mAh, {resistance} mohm a cell"


def packs_text(pack: PackSetup, packs: tuple[FedPack, ...]) -> str:
    """The battery, or each that feeds one motor, in one line: a calibration of it is theirs."""
    return "; ".join(pack_text(one.pack) for one in packs) or pack_text(pack)


def _calibration(table: CalibrationTable, configuration: str, drive: str, pack: str) -> dict[str, Calibrated]:
    """What was learnt and still holds: of these motors and propellers, of this pack, of this
    configuration.
    """

    def entry(value: CalibratedTable) -> Calibrated:
        return Calibrated(
            value.value,
            value.relative_sd,
            value.flights,
            value.date,
            value.correlation or 0.0,
            value.temperature_c,
        )

    found: dict[str, Calibrated] = {}
    for key in ("drive_gain", "propeller_power"):
        value = getattr(table, key)
        if value is not None and table.drive in ("", drive):
            found[key] = entry(value)
    if table.pack_resistance is not None and table.pack in ("", pack):
        found["pack_resistance"] = entry(table.pack_resistance)
    if table.drag and configuration in table.drag:
        found["drag"] = entry(table.drag[configuration])
    return found
