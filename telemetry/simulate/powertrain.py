"""Pack and motors together on the fine grid: whose voltage falls with whose current."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from telemetry.simulate.cell import CellCourse, follow, low_pass, run_cell
from telemetry.simulate.drive import DriveTruth, Running, equilibrium
from telemetry.simulate.happenings import Upset
from telemetry.simulate.scenario import Scenario
from telemetry.trace import Floats

_SPOOL_S = 0.09
_MOST_ROUNDS = 14


@dataclass(frozen=True, slots=True)
class MotorCourse:
    """One motor through the flight, each (n,); rpm and thrust negative in reverse."""

    rpm: Floats
    winding_a: Floats
    supply_a: Floats
    torque_nm: Floats
    thrust_n: Floats
    temperature_c: Floats
    controller_c: Floats
    supply_v: Floats
    duty: Floats


@dataclass(frozen=True, slots=True)
class Electrics:
    """The pack and every motor through the flight, each (n,)."""

    current_a: Floats
    pack_v: Floats
    receiver_a: Floats
    pack_c: Floats
    cells: tuple[CellCourse, ...]
    motors: Mapping[str, MotorCourse]
    packs: Mapping[str, Electrics] = field(default_factory=dict)


def run(
    scenario: Scenario,
    commands: Mapping[str, Floats],
    airspeed_mps: Floats,
    upsets: Mapping[str, Upset],
    receiver_a: Floats,
) -> Electrics:
    """All packs and every motor; where each motor has a pack of its own, `packs` has each by its motor.

    Parameters
    ----------
    commands : by motor, (n,) −1…1.
    airspeed_mps : (n,).
    upsets : by motor, what happens to it.
    receiver_a : (n,) of the receiver's supply, at its own voltage. [A]

    Returns
    -------
    Currents of all packs together; the other figures of the first one.
    """
    if not scenario.packs:
        return _run_on_one(scenario, commands, airspeed_mps, upsets, receiver_a)
    each = {
        p: _run_on_one(
            scenario.alone(p),
            {p: commands[p]},
            airspeed_mps,
            {p: upsets[p]},
            receiver_a if p == scenario.positions[0] else 0.0 * receiver_a,
        )
        for p in scenario.positions
    }
    first = each[scenario.positions[0]]
    return replace(
        first,
        current_a=np.sum([one.current_a for one in each.values()], axis=0),
        motors={p: one.motors[p] for p, one in each.items()},
        packs=each,
    )


def _run_on_one(
    scenario: Scenario,
    commands: Mapping[str, Floats],
    airspeed_mps: Floats,
    upsets: Mapping[str, Upset],
    receiver_a: Floats,
) -> Electrics:
    """Voltage and current of everything, iterated until they agree to a millivolt.

    Parameters
    ----------
    commands : by motor, (n,) −1…1.
    airspeed_mps : (n,).
    upsets : by motor, what happens to it.
    receiver_a : (n,) of the receiver's supply, at its own voltage. [A]
    """
    step_s, pack = scenario.step_s, scenario.pack
    size = airspeed_mps.size
    current_a = np.zeros(size)
    supplies = {
        p: np.full(size, sum(c.open_circuit.voltage_v(c.start_left_fraction) for c in pack.cells))
        for p in commands
    }
    duties = {
        d.position: follow(
            d.duty(commands[d.position] * upsets[d.position].lit), step_s, d.controller.response_s
        )
        for d in scenario.drives
    }
    motors: dict[str, MotorCourse] = {}
    guesses: dict[str, Floats] = {}
    cells: tuple[CellCourse, ...] = ()
    before_v = np.zeros(size)
    pack_v, pack_c = before_v, before_v
    for _ in range(_MOST_ROUNDS):
        for drive in scenario.drives:
            p = drive.position
            previous = motors.get(p)
            motors[p], guesses[p] = _motor(
                scenario, drive, duties[p], supplies[p], airspeed_mps, upsets[p], previous, guesses.get(p)
            )
        bec_a = (
            scenario.receiver_v
            * receiver_a
            / (scenario.supply_efficiency * np.maximum(supplies[scenario.positions[0]], 5.0))
        )
        fresh_a = np.sum([m.supply_a for m in motors.values()], axis=0) + bec_a
        current_a = fresh_a if not cells else 0.25 * current_a + 0.75 * fresh_a
        pack_c = pack.temperature_c(current_a, step_s, scenario.air.temperature_c)
        warmed_c = pack_c - pack.start_c
        cells = tuple(
            run_cell(cell, current_a, step_s, pack.start_c + cell.warmth_fraction * warmed_c)
            for cell in pack.cells
        )
        pack_v = np.sum([cell.voltage_v for cell in cells], axis=0) - current_a * pack.plug_ohm
        supplies = {p: np.maximum(pack_v - motors[p].supply_a * pack.lead_ohm, 1.0) for p in commands}
        if np.max(np.abs(pack_v - before_v)) < 1e-3:
            break
        before_v = pack_v
    return Electrics(current_a, pack_v, receiver_a, pack_c, cells, motors)


def _motor(
    scenario: Scenario,
    drive: DriveTruth,
    duty: Floats,
    supply_v: Floats,
    airspeed_mps: Floats,
    upset: Upset,
    previous: MotorCourse | None,
    guess_rpm: Floats | None,
) -> tuple[MotorCourse, Floats]:
    """One motor at a supply voltage, and the steady speed it tends to."""
    step_s, air = scenario.step_s, scenario.air
    winding_c = np.full(duty.size, air.temperature_c) if previous is None else previous.temperature_c
    steady = equilibrium(
        drive,
        duty,
        supply_v,
        airspeed_mps,
        winding_c,
        air.density_kgm3,
        guess_rpm=guess_rpm,
        rounds=14 if guess_rpm is None else 3,
    )
    spooled = _spooled(drive, steady, duty, supply_v, airspeed_mps, air.density_kgm3, step_s)
    rpm, winding_a, torque_nm, thrust_n = upset.apply(spooled)
    heat_w = (
        winding_a**2 * drive.motor.resistance_ohm * drive.fault.winding
        + drive.loss_nm(rpm) * rpm * 2.0 * math.pi / 60.0
    )
    heat_w = heat_w + drive.fault.extra_heat_w * (np.abs(duty) > 0.02) + upset.heat_w
    cooling_s = drive.motor.cooling_s
    temperature_c = (
        air.temperature_c + low_pass(heat_w, step_s, cooling_s) * cooling_s / drive.motor.heat_capacity_jpk
    )
    supply_a = drive.supply_a(duty, winding_a)
    lost_w = winding_a**2 * drive.controller.resistance_ohm + 0.012 * supply_v * supply_a + 0.3 * upset.heat_w
    controller_c = air.temperature_c + low_pass(lost_w, step_s, 90.0) * 90.0 / 45.0
    sign = np.where(duty < 0.0, -1.0, 1.0)
    return MotorCourse(
        sign * rpm, winding_a, supply_a, torque_nm, thrust_n, temperature_c, controller_c, supply_v, duty
    ), steady.rpm


def _spooled(
    drive: DriveTruth,
    steady: Running,
    duty: Floats,
    supply_v: Floats,
    airspeed_mps: Floats,
    density_kgm3: float,
    step_s: float,
) -> Running:
    """The steady speed reached with inertia: current runs ahead of it on the way up, and is none on a free
    way down.
    """
    rpm = follow(steady.rpm, step_s, _SPOOL_S)
    turning = np.maximum(rpm, 30.0)
    air_mps = np.where(duty < 0.0, 0.0, airspeed_mps)
    load_nm, thrust_n, _ = drive.load(turning, air_mps, density_kgm3)
    reverse_power = np.where(duty < 0.0, drive.propeller.reverse_power_factor, 1.0)
    reverse_thrust = np.where(duty < 0.0, -drive.propeller.reverse_thrust_factor, 1.0)
    running = rpm > 31.0
    load_nm = np.where(running, load_nm * reverse_power, 0.0)
    faster_nm = drive.motor.inertia_kgm2 * (steady.rpm - rpm) / _SPOOL_S * 2.0 * math.pi / 60.0
    torque_nmpa = drive.motor.torque_nmpa / drive.fault.kv
    held_nm = np.where(running, load_nm + drive.loss_nm(rpm), 0.0)
    winding_a = np.where(np.abs(duty) > 1e-3, np.maximum((held_nm + faster_nm) / torque_nmpa, 0.0), 0.0)
    return Running(rpm, winding_a, load_nm, np.where(running, thrust_n * reverse_thrust, 0.0))


def twin_powers(
    scenario: Scenario,
    electrics: Electrics,
    common: Floats,
    airspeed_mps: Floats,
    chosen: npt.NDArray[np.intp],
) -> dict[str, float]:
    """Mean shaft power of each motor at one equal command and one supply voltage, over the chosen samples.
    [W]
    """
    step_s, air = scenario.step_s, scenario.air
    keep = chosen
    supply_v = np.mean([m.supply_v for m in electrics.motors.values()], axis=0)[keep]
    powers = {}
    for drive in scenario.drives:
        duty = follow(drive.duty(common), step_s, drive.controller.response_s)[keep]
        winding_c = electrics.motors[drive.position].temperature_c[keep]
        steady = equilibrium(drive, duty, supply_v, airspeed_mps[keep], winding_c, air.density_kgm3)
        powers[drive.position] = float(np.mean(steady.torque_nm * steady.rpm)) * 2.0 * math.pi / 60.0
    return powers
