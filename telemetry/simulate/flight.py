"""Scenario → truth and recordings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from telemetry.estimate import Estimate
from telemetry.quantities import pack_position
from telemetry.simulate.cell import low_pass
from telemetry.simulate.course import FlownPath, Thrust, fly, wander
from telemetry.simulate.csv_log import CsvDialect, write
from telemetry.simulate.drive import DriveTruth, equilibrium
from telemetry.simulate.figures import constants
from telemetry.simulate.happenings import Happened, place, reversed_command, upsets
from telemetry.simulate.plan import Happening
from telemetry.simulate.powertrain import Electrics, run
from telemetry.simulate.recorder import Recording, record
from telemetry.simulate.scenario import Scenario
from telemetry.simulate.truth import Truth
from telemetry.trace import Channel, Clock, Floats, Key, Source, Stretch, Trace


@dataclass(frozen=True, slots=True)
class Simulated:
    """A simulated log, or several recorders' logs of one flight, with the truth."""

    scenario: Scenario
    truth: Truth
    recordings: tuple[Recording, ...]

    def trace(self, recorder: int = 0) -> Trace:
        """One recorder's log as the importer should understand it, fresh samples marked."""
        recording = self.recordings[recorder]
        time_s = recording.time_s - recording.time_s[0]
        return _trace(time_s, recording.channels, (recording,))

    def merged(self) -> Trace:
        """All recorders on the first one's clock, perfectly aligned."""
        zero_s = self.recordings[0].time_s[0]
        all_s = np.unique(np.concatenate([r.time_s for r in self.recordings])) - zero_s
        channels: dict[Key, Channel] = {}
        for index, recording in enumerate(self.recordings):
            rows = np.searchsorted(all_s, recording.time_s - zero_s)
            for key, channel in recording.channels.items():
                if key in channels:
                    continue
                values, fresh = np.full(all_s.size, np.nan), np.zeros(all_s.size, dtype=bool)
                values[rows], fresh[rows] = channel.values, channel.fresh
                channels[key] = replace(channel, values=values, fresh=fresh, source=index)
        return _trace(all_s, channels, self.recordings)

    def write_csv(self, path: Path, dialect: CsvDialect | None = None, *, recorder: int = 0) -> Path:
        """One recorder's log as a CSV file."""
        return write(self.recordings[recorder], path, dialect or CsvDialect())


def simulate(scenario: Scenario, *, seed: int) -> Simulated:
    """Fly a scenario.

    Parameters
    ----------
    scenario : the whole truth.
    seed : of gusts, hand and sensor noise; the same scenario and seed give the same log.
    """
    rng = np.random.default_rng(seed)
    course = fly(scenario.legs, scenario.airframe, scenario.air, _thrust_of(scenario), rng)
    time_s = np.arange(0.0, course.time_s[-1], scenario.step_s)
    base = np.interp(time_s, course.time_s, course.command)
    rudder = np.interp(time_s, course.time_s, course.rudder)
    airspeed_mps = np.interp(time_s, course.time_s, course.airspeed_mps)
    happened = place(scenario.happenings, time_s, base)
    commands = _commands(scenario, base, rudder, happened, time_s)
    receiver_a = scenario.receiver_a * (1.0 + 0.35 * np.abs(wander(rng, time_s.size, 0.25, scenario.step_s)))
    electrics = run(
        scenario, commands, airspeed_mps, upsets(happened, time_s, scenario.positions, rng), receiver_a
    )
    stick = reversed_command(base, tuple(h for h in happened if h.motor == "both"), time_s, "both")
    series = _series(scenario, course, time_s, stick, commands, electrics, rng)
    recordings = tuple(record(recorder, time_s, series, rng) for recorder in scenario.recorders)
    truth = constants(scenario, course, time_s, series, commands, electrics, happened, recordings[0])
    return Simulated(scenario, truth, recordings)


def _commands(
    scenario: Scenario, base: Floats, rudder: Floats, happened: tuple[Happened, ...], time_s: Floats
) -> Mapping[str, Floats]:
    """Each motor's command: the common one, thrust mixed on purpose, stretches of reverse."""
    commands = {}
    for position in scenario.positions:
        side = (
            1.0
            if position.startswith("left") or position == "1"
            else -1.0
            if position.startswith("right") or position == "2"
            else 0.0
        )
        mixed = np.clip(
            base + side * scenario.rudder_mix * rudder * (base > 0.05), np.minimum(base, 0.0), 1.0
        )
        commands[position] = reversed_command(mixed, happened, time_s, position)
    return commands


def _thrust_of(scenario: Scenario) -> Thrust:
    """Thrust for the march: a table over motor voltage and airspeed, supply sagging with charge and
    current.
    """
    pack, air = scenario.pack, scenario.air
    full_v = float(sum(cell.open_circuit.voltage_v(cell.start_left_fraction) for cell in pack.cells))
    voltages, speeds = np.linspace(0.0, full_v, 36), np.linspace(0.0, 50.0, 26)
    tables = [_table(drive, voltages, speeds, air.density_kgm3) for drive in scenario.drives]
    sag_ohm = (
        sum(cell.drop_after_ohm(10.0) for cell in pack.cells)
        + pack.plug_ohm
        + pack.lead_ohm / max(len(scenario.drives), 1)
    )
    as_full = 3.6 * min(cell.capacity_mah for cell in pack.cells)
    upsetting = [h for h in scenario.happenings if h.kind in ("cut", "stall", "out_of_step", "reverse_air")]
    now = {"as": 0.0, "a": 0.0, "s": 0.0}

    def thrust(command: float, airspeed_mps: float, time_s: float) -> float:
        left = pack.cells[0].start_left_fraction - now["as"] / as_full
        open_v = float(sum(cell.open_circuit.voltage_v(left) for cell in pack.cells[:1])) * len(pack.cells)
        supply_v = max(open_v - now["a"] * sag_ohm, 1.0)
        total_n, total_a = 0.0, 0.0
        for drive, (thrusts, currents) in zip(scenario.drives, tables, strict=True):
            duty = _duty(drive, command)
            pull_n = _look_up(thrusts, duty * supply_v / full_v * 35.0, airspeed_mps / 2.0)
            total_n += pull_n * _share(upsetting, drive.position, time_s)
            total_a += duty * _look_up(currents, duty * supply_v / full_v * 35.0, airspeed_mps / 2.0)
        total_a /= max(len(scenario.packs), 1)
        now["as"] += max(time_s - now["s"], 0.0) * total_a
        now["a"], now["s"] = total_a, time_s
        return total_n

    return thrust


def _table(
    drive: DriveTruth, voltages: Floats, speeds: Floats, density_kgm3: float
) -> tuple[list[list[float]], list[list[float]]]:
    volts, mps = (grid.ravel() for grid in np.meshgrid(voltages, speeds, indexing="ij"))
    running = equilibrium(
        drive, np.ones(volts.size), volts, mps, np.full(volts.size, 50.0), density_kgm3, rounds=25
    )
    shape = (voltages.size, speeds.size)
    return running.thrust_n.reshape(shape).tolist(), running.winding_a.reshape(shape).tolist()


def _look_up(table: list[list[float]], row: float, column: float) -> float:
    """Between four entries of a table."""
    i, j = min(int(row), len(table) - 2), min(int(column), len(table[0]) - 2)
    u, v = row - i, column - j
    return (1 - u) * ((1 - v) * table[i][j] + v * table[i][j + 1]) + u * (
        (1 - v) * table[i + 1][j] + v * table[i + 1][j + 1]
    )


def _duty(drive: DriveTruth, command: float) -> float:
    """The controller's duty of one forward command; the march needs no more."""
    low = drive.controller.start_fraction + drive.fault.start_shift
    high = drive.controller.full_fraction + drive.fault.full_shift
    share = min(max((command - low) / (high - low), 0.0), 1.0)
    return share + drive.controller.bend * share * (1.0 - share)


def _share(happenings: list[Happening], position: str, time_s: float) -> float:
    """How much of its thrust a motor gives with what happens to it."""
    for h in happenings:
        if h.motor in (position, "both") and h.start_s <= time_s < h.start_s + h.seconds:
            return {"out_of_step": 0.3, "reverse_air": -0.3}.get(h.kind, 0.0)
    return 1.0


def _series(
    scenario: Scenario,
    course: FlownPath,
    time_s: Floats,
    stick: Floats,
    commands: Mapping[str, Floats],
    electrics: Electrics,
    rng: np.random.Generator,
) -> Mapping[Key, Floats]:
    """Every quantity that a sensor may show, on the fine grid."""
    series = {("throttle_fraction", ""): stick}
    names = ("rudder", "airspeed_mps", "ground_speed_mps", "altitude_m", "climb_mps", "course_deg")
    keys = ("rudder_fraction", "airspeed_mps", "ground_speed_mps", "altitude_m", "climb_mps", "course_deg")
    for name, key in zip(names, keys, strict=True):
        series[(key, "")] = np.interp(time_s, course.time_s, getattr(course, name))
    drift_m = 1.2 * wander(rng, time_s.size, 90.0, scenario.step_s)
    series[("altitude_m", "")] = series[("altitude_m", "")] + drift_m - drift_m[0]
    series |= _pack_series(scenario, electrics)
    for position, motor in electrics.motors.items():
        power_w = motor.supply_a * motor.supply_v
        series |= {
            ("throttle_fraction", position): commands[position],
            ("current_a", position): motor.supply_a,
            ("rpm", position): motor.rpm,
            ("supply_v", position): motor.supply_v,
            ("power_w", position): power_w,
            ("charge_mah", position): _passed(motor.supply_a, scenario.step_s) / 3.6,
            ("thrust_n", position): motor.thrust_n,
            ("torque_nm", position): motor.torque_nm,
            ("motor_temperature_c", position): motor.temperature_c,
            ("controller_temperature_c", position): motor.controller_c,
        }
    load = np.interp(time_s, course.time_s, course.load_factor)
    series[("acceleration_mps2", "z")] = 9.80665 * load + 0.6 * wander(rng, time_s.size, 0.1, scenario.step_s)
    series[("link_fraction", "")] = np.clip(
        0.97 - 0.05 * np.abs(wander(rng, time_s.size, 3.0, scenario.step_s)), 0.0, 1.0
    )
    return series


def _pack_series(scenario: Scenario, electrics: Electrics) -> dict[Key, Floats]:
    power_w = electrics.pack_v * electrics.current_a
    step_s = scenario.step_s
    series = {
        ("pack_voltage_v", ""): electrics.pack_v,
        ("current_a", ""): electrics.current_a,
        ("charge_mah", ""): _passed(electrics.current_a, step_s) / 3.6,
        ("power_w", ""): power_w,
        ("energy_wh", ""): _passed(power_w, step_s) / 3600.0,
        ("pack_temperature_c", ""): low_pass(electrics.pack_c - electrics.pack_c[0], step_s, 15.0)
        + electrics.pack_c[0],
        ("air_temperature_c", ""): np.full(electrics.pack_c.size, scenario.air.temperature_c),
        ("receiver_voltage_v", ""): scenario.receiver_v - 0.06 * electrics.receiver_a,
        ("receiver_current_a", ""): electrics.receiver_a,
    }
    series |= {("cell_voltage_v", str(k + 1)): cell.voltage_v for k, cell in enumerate(electrics.cells)}
    if not electrics.packs:
        return series
    shared = ("air_temperature_c", "receiver_voltage_v", "receiver_current_a")
    found = {key: values for key, values in series.items() if key[0] in shared}
    for motor, own in electrics.packs.items():
        for (quantity, inside), values in _pack_series(replace(scenario, packs={}), own).items():
            if quantity not in shared:
                position = pack_position(motor)
                found[quantity, f"{position}.{inside}" if inside else position] = values
    together = electrics.current_a
    power_w = np.sum([one.current_a * one.pack_v for one in electrics.packs.values()], axis=0)
    return found | {
        ("current_a", ""): together,
        ("charge_mah", ""): _passed(together, step_s) / 3.6,
        ("power_w", ""): power_w,
        ("energy_wh", ""): _passed(power_w, step_s) / 3600.0,
    }


def _passed(values: Floats, step_s: float) -> Floats:
    """Running integral. [unit · s]"""
    return np.concatenate(([0.0], np.cumsum((values[1:] + values[:-1]) / 2.0 * step_s)))


def _trace(time_s: Floats, channels: Mapping[Key, Channel], recordings: tuple[Recording, ...]) -> Trace:
    zero_s = recordings[0].time_s[0]
    gaps = tuple(
        Stretch(float(before), float(after))
        for recording in recordings[:1]
        for before, after in _silences(recording.time_s - zero_s, recording.recorder.interval_s)
    )
    return Trace(time_s, channels, tuple(_source(r, float(r.time_s[0] - zero_s)) for r in recordings), gaps)


def _silences(time_s: Floats, interval_s: float) -> list[tuple[float, float]]:
    at = np.flatnonzero(np.diff(time_s) > max(3.0 * interval_s, 1.0))
    return [(float(time_s[k]), float(time_s[k + 1])) for k in at]


def _source(recording: Recording, first_s: float) -> Source:
    recorder = recording.recorder
    offset_s = first_s - float(recording.own_time_s[0]) * (1.0 + recorder.clock_drift_ppm * 1e-6)
    clock = Clock(
        Estimate.around(offset_s, 0.0, "simulated"),
        Estimate.around(recorder.clock_drift_ppm, 0.0, "simulated"),
    )
    return Source(f"{recorder.name}.csv", "", recording.time_s.size, 0, "utf-8", ",", ".", clock, ())
