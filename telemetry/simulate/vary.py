"""A scenario with one thing changed: a fault, a cell, fewer columns, other motors, part of the record."""

from __future__ import annotations

from dataclasses import replace

from telemetry.simulate.drive import DriveTruth
from telemetry.simulate.recorder import Sensor
from telemetry.simulate.scenario import Scenario


def with_fault(scenario: Scenario, position: str, **fault: float) -> Scenario:
    """The scenario with a fault of one motor, named as in `Fault`; its sensor's gain reaches the recorders
    too.
    """
    drives = tuple(
        replace(d, fault=replace(d.fault, **fault)) if d.position == position else d for d in scenario.drives
    )
    gain = fault.get("sensor_gain", 1.0)
    recorders = tuple(
        replace(
            r,
            sensors=tuple(
                replace(s, gain=s.gain * gain) if _is_current_of(s, position) else s for s in r.sensors
            ),
        )
        for r in scenario.recorders
    )
    return replace(scenario, drives=drives, recorders=recorders)


def with_cell(
    scenario: Scenario,
    number: int,
    *,
    resistance: float = 1.0,
    capacity: float = 1.0,
    start_shift: float = 0.0,
    sensor_v: float = 0.0,
) -> Scenario:
    """The scenario with one cell unlike its neighbours: factors on its resistances and capacity, its start
    charge, its sensor.
    """
    old = scenario.pack.cells[number - 1]
    new = replace(
        old,
        capacity_mah=old.capacity_mah * capacity,
        r0_ohm=old.r0_ohm * resistance,
        r1_ohm=old.r1_ohm * resistance,
        r2_ohm=old.r2_ohm * resistance,
        r3_ohm=old.r3_ohm * resistance,
        start_left_fraction=old.start_left_fraction + start_shift,
    )
    cells = (*scenario.pack.cells[: number - 1], new, *scenario.pack.cells[number:])
    recorders = tuple(
        replace(
            r,
            sensors=tuple(
                replace(s, offset=s.offset + sensor_v)
                if s.quantity == "cell_voltage_v" and s.position == str(number)
                else s
                for s in r.sensors
            ),
        )
        for r in scenario.recorders
    )
    return replace(scenario, pack=replace(scenario.pack, cells=cells), recorders=recorders)


def with_channels(
    scenario: Scenario, *, without: tuple[str, ...] = (), only: tuple[str, ...] = ()
) -> Scenario:
    """The scenario with fewer columns, named "quantity" or "quantity@position" ("current_a@" is the pack's
    alone).
    """

    def kept(sensor: Sensor) -> bool:
        names = {sensor.quantity, f"{sensor.quantity}@{sensor.position}"}
        return not names & set(without) and (not only or bool(names & set(only)))

    return replace(
        scenario,
        recorders=tuple(
            replace(r, sensors=tuple(s for s in r.sensors if kept(s))) for r in scenario.recorders
        ),
    )


def with_motors(scenario: Scenario, positions: tuple[str, ...]) -> Scenario:
    """The scenario with other motors: ("centre",), or four of half the size. All are like the first, faults
    left out.

    The motors together ask for what the pair did: Kv and propeller stay, every current grows or shrinks with
    their number.
    """
    first, share = scenario.drives[0], len(scenario.drives) / len(positions)
    motor = replace(
        first.motor,
        resistance_ohm=first.motor.resistance_ohm / share,
        friction_a=first.motor.friction_a * share,
        iron_apkrpm=first.motor.iron_apkrpm * share,
        inertia_kgm2=first.motor.inertia_kgm2 * share,
        heat_capacity_jpk=first.motor.heat_capacity_jpk * share,
    )
    propeller = replace(
        first.propeller,
        power_coefficient=first.propeller.power_coefficient * share,
        thrust_coefficient=first.propeller.thrust_coefficient * share,
    )
    controller = replace(first.controller, resistance_ohm=first.controller.resistance_ohm / share)
    drives = tuple(DriveTruth(position, motor, propeller, controller) for position in positions)
    old = {d.position for d in scenario.drives}
    recorders = tuple(
        replace(
            r,
            sensors=(
                *(s for s in r.sensors if s.position not in old),
                *(
                    replace(s, position=p)
                    for p in positions
                    for s in r.sensors
                    if s.position == scenario.positions[0]
                ),
            ),
        )
        for r in scenario.recorders
    )
    return replace(scenario, drives=drives, recorders=recorders)


def with_record(
    scenario: Scenario,
    *,
    from_s: float = 0.0,
    until_s: float = float("inf"),
    gaps_s: tuple[tuple[float, float], ...] = (),
) -> Scenario:
    """The scenario recorded only in part: a log that starts in the air, ends under load, or falls silent."""
    return replace(
        scenario,
        recorders=tuple(
            replace(r, from_s=from_s, until_s=until_s, gaps_s=gaps_s) for r in scenario.recorders
        ),
    )


def _is_current_of(sensor: Sensor, position: str) -> bool:
    return sensor.position == position and sensor.quantity in ("current_a", "charge_mah", "power_w")
