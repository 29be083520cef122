"""Scenarios drawn at random over wide, honest ranges, for tests of coverage."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from telemetry.physics.propeller import (
    static_power_coefficient,
    static_thrust_coefficient,
    zero_thrust_advance_ratio,
)
from telemetry.simulate.cell import CellTruth, OpenCircuit, PackTruth
from telemetry.simulate.course import Air, AirframeTruth
from telemetry.simulate.drive import ControllerTruth, DriveTruth, Fault, MotorTruth, PropellerTruth
from telemetry.simulate.plan import FlownLeg, bench_steps, circuits
from telemetry.simulate.recorder import Recorder, Sensor
from telemetry.simulate.scenario import Scenario

INCH_M = 0.0254


@dataclass(frozen=True, slots=True)
class _Size:
    """The draw that everything else is scaled to."""

    cells: int
    mass_kg: float
    full_a: float
    capacity_mah: float


def random_scenario(
    seed: int,
    *,
    cells: int | None = None,
    bench: bool = False,
    rate_hz: float | None = None,
    **replacing: Any,
) -> Scenario:
    """An aircraft, its pack, its air and its sensors, drawn at random.

    Two motors, 2–6 kg, 3–8 cells that differ by up to 3 % as those of a healthy pack do, 3–34 °C; rows at
    2–20 Hz; values held up to 0.5 s, 1–50 mV and 0.01–0.5 A steps, voltage 0–0.4 s late. No fault anywhere:
    put one in with `with_fault`, `with_cell` or `happenings=`.

    Parameters
    ----------
    seed : the same seed and choices give the same scenario.
    cells : number of cells instead of a drawn one.
    bench : a run-up with throttle steps instead of a flight.
    rate_hz : of the rows, instead of a drawn one.
    replacing : fields of `Scenario` set afterwards, such as `rudder_mix=0.1` or `legs=...`.
    """
    rng = np.random.default_rng([seed, 7041])
    mass_kg = float(rng.uniform(2.0, 6.0))
    count = int(rng.integers(3, 9)) if cells is None else cells
    full_a = mass_kg * float(rng.uniform(290.0, 420.0)) / (3.6 * count)
    size = _Size(count, mass_kg, full_a, round(full_a * float(rng.uniform(45.0, 75.0)), -2))
    air = Air(
        density_kgm3=float(rng.uniform(1.05, 1.28)),
        temperature_c=float(rng.uniform(3.0, 32.0)),
        wind_mps=float(rng.uniform(0.0, 4.0)),
        gust_mps=float(rng.uniform(0.2, 0.9)),
        jitter_fraction=float(rng.uniform(0.015, 0.06)),
    )
    drive = _drive(rng, size)
    airframe = _airframe(rng, size)
    scenario = Scenario(
        name=f"drawn {seed}",
        pack=_pack(rng, size, air),
        drives=(replace(drive, position="left"), replace(drive, position="right")),
        airframe=airframe,
        air=air,
        legs=_legs(rng, size, airframe, air, bench=bench),
        receiver_a=float(rng.uniform(0.25, 0.9)),
        recorders=(_recorder(rng, size, rate_hz),),
    )
    return replace(scenario, **replacing)


def _pack(rng: np.random.Generator, size: _Size, air: Air) -> PackTruth:
    ohm = float(rng.uniform(0.012, 0.030)) / (size.capacity_mah / 1000.0)
    shares = rng.dirichlet((18.0, 7.0, 8.0))
    diffusion = float(rng.uniform(0.15, 0.5)) if rng.random() < 0.4 else 0.0
    curve = OpenCircuit(
        base_v=float(rng.uniform(3.625, 3.665)),
        rise_v=float(rng.uniform(0.26, 0.33)),
        bend_v=float(rng.uniform(0.22, 0.28)),
        knee_v=float(rng.uniform(0.25, 0.45)),
        knee_width=float(rng.uniform(0.025, 0.05)),
        step_v=float(rng.uniform(0.0, 0.014)),
        step_at=float(rng.uniform(0.45, 0.7)),
    )
    typical = CellTruth(
        capacity_mah=size.capacity_mah * float(rng.uniform(0.94, 1.03)),
        r0_ohm=ohm * float(shares[0]),
        r1_ohm=ohm * float(shares[1]),
        tau1_s=float(rng.uniform(0.5, 2.5)),
        r2_ohm=ohm * float(shares[2]),
        tau2_s=float(rng.uniform(15.0, 60.0)),
        r3_ohm=ohm * float(shares[2]) * diffusion,
        tau3_s=float(rng.uniform(150.0, 400.0)),
        start_left_fraction=float(rng.uniform(0.93, 1.0)),
        open_circuit=curve,
        ohmic_kjpmol=float(rng.uniform(14.0, 28.0)),
        slow_kjpmol=float(rng.uniform(17.0, 38.0)),
        empty_rise_fraction=float(rng.uniform(0.0, 0.4)),
    )
    return PackTruth(
        cells=tuple(_like(rng, typical) for _ in range(size.cells)),
        plug_ohm=float(rng.uniform(0.0006, 0.0025)),
        lead_ohm=float(rng.uniform(0.0015, 0.006)),
        start_c=air.temperature_c + float(rng.uniform(0.0, 12.0)),
        heat_capacity_jpk=size.capacity_mah / 1000.0 * size.cells * float(rng.uniform(20.0, 28.0)),
        cooling_s=float(rng.uniform(400.0, 1200.0)),
    )


def _like(rng: np.random.Generator, typical: CellTruth) -> CellTruth:
    """A neighbour in a healthy pack: within 3 % in resistance, 1 % in capacity, 0.3 % in charge."""
    resistance, warmth = float(rng.uniform(0.97, 1.03)), float(rng.uniform(0.9, 1.1))
    return replace(
        typical,
        capacity_mah=typical.capacity_mah * float(rng.uniform(0.99, 1.01)),
        r0_ohm=typical.r0_ohm * resistance,
        r1_ohm=typical.r1_ohm * resistance,
        r2_ohm=typical.r2_ohm * resistance,
        r3_ohm=typical.r3_ohm * resistance,
        start_left_fraction=min(typical.start_left_fraction + float(rng.uniform(-0.003, 0.003)), 1.0),
        warmth_fraction=warmth,
    )


def _drive(rng: np.random.Generator, size: _Size) -> DriveTruth:
    pitch_share = float(rng.uniform(0.5, 0.8))
    diameter_m = (8.0 + size.mass_kg * float(rng.uniform(0.75, 1.0))) * INCH_M
    power = static_power_coefficient(pitch_share) * float(rng.uniform(0.85, 1.15))
    supply_v = 3.6 * size.cells
    shaft_w = 0.80 * supply_v * size.full_a / 2.0
    rpm = 60.0 * (shaft_w / (power * 1.225 * diameter_m**5)) ** (1.0 / 3.0)
    winding_a = size.full_a / 2.0
    drop_fraction = float(rng.uniform(0.05, 0.10))
    kv = rpm / (supply_v * (1.0 - drop_fraction))
    idle_a = winding_a * float(rng.uniform(0.02, 0.045))
    iron = float(rng.uniform(0.3, 0.7))
    scatter = rng.normal(0.0, 1.0, 5)
    motor = MotorTruth(
        kv_rpm_per_v=kv,
        resistance_ohm=supply_v * drop_fraction / winding_a * 0.85,
        friction_a=idle_a * (1.0 - iron),
        iron_apkrpm=idle_a * iron / (rpm / 1000.0),
        inertia_kgm2=9e-5 * (diameter_m / 0.28) ** 4,
        heat_capacity_jpk=35.0 * size.mass_kg,
    )
    propeller = PropellerTruth(
        diameter_m=diameter_m,
        power_coefficient=power * (rpm / 6000.0) ** 0.05,
        thrust_coefficient=static_thrust_coefficient(pitch_share)
        * float(rng.uniform(0.88, 1.05))
        * (rpm / 6000.0) ** -0.12,
        zero_thrust_j=zero_thrust_advance_ratio(pitch_share) + 0.05 * float(scatter[0]),
        power_shape=(0.211 + 0.10 * float(scatter[1]), -0.398 + 0.12 * float(scatter[2]), -0.552),
        thrust_shape=(-0.237 + 0.08 * float(scatter[3]), -0.75, -0.013 - 0.08 * float(scatter[3])),
        power_speed_exponent=float(rng.uniform(-0.09, 0.0)),
        thrust_speed_exponent=float(rng.uniform(0.05, 0.16)),
    )
    controller = ControllerTruth(
        start_fraction=float(rng.uniform(0.015, 0.05)),
        bend=float(rng.uniform(-0.06, 0.06)),
        resistance_ohm=float(rng.uniform(0.001, 0.005)),
        part_load_loss=float(rng.uniform(0.0, 0.04)),
        response_s=float(rng.uniform(0.03, 0.12)),
    )
    return DriveTruth("left", motor, propeller, controller, Fault())


def _airframe(rng: np.random.Generator, size: _Size) -> AirframeTruth:
    area_m2 = size.mass_kg / float(rng.uniform(6.0, 9.0))
    return AirframeTruth(
        mass_kg=size.mass_kg,
        span_m=math.sqrt(area_m2 * float(rng.uniform(5.8, 8.0))),
        wing_area_m2=area_m2,
        drag_area_m2=area_m2 * float(rng.uniform(0.06, 0.105)),
        span_efficiency=float(rng.uniform(0.68, 0.85)),
        largest_lift=float(rng.uniform(1.1, 1.4)),
        rolling_friction=float(rng.uniform(0.04, 0.10)),
    )


def _legs(
    rng: np.random.Generator, size: _Size, airframe: AirframeTruth, air: Air, *, bench: bool
) -> tuple[FlownLeg, ...]:
    if bench:
        return bench_steps(hold_s=float(rng.uniform(5.0, 9.0)), idle_s=float(rng.uniform(2.0, 5.0)))
    airspeed_mps = airframe.stall_mps(air.density_kgm3) * float(rng.uniform(1.5, 2.0))
    level_a = airframe.drag_n(airspeed_mps, 1.05, air.density_kgm3) * airspeed_mps / 0.5 / (3.75 * size.cells)
    spent_as = float(rng.uniform(0.35, 0.72)) * size.capacity_mah * 3.6 - 14.0 * size.full_a
    return circuits(
        min(max(spent_as / level_a, 60.0), 480.0),
        airspeed_mps=airspeed_mps,
        taxi_s=float(rng.uniform(4.0, 15.0)),
        climb_throttle=float(rng.uniform(0.65, 0.9)),
        height_m=float(rng.uniform(30.0, 70.0)),
        passes=int(rng.integers(1, 5)),
        rest_before_s=float(rng.uniform(4.0, 15.0)),
        rest_after_s=float(rng.uniform(8.0, 40.0)),
    )


def _recorder(rng: np.random.Generator, size: _Size, rate_hz: float | None) -> Recorder:
    rate = float(np.exp(rng.uniform(math.log(2.0), math.log(20.0)))) if rate_hz is None else rate_hz
    row_s = 1.0 / rate
    step_v = float(rng.choice([0.001, 0.002, 0.005, 0.01, 0.01, 0.02, 0.05]))
    step_a = float(rng.choice([0.01, 0.05, 0.1, 0.1, 0.2, 0.5]))
    lag_s = float(rng.uniform(0.0, 0.4))
    held_s = float(rng.choice([0.0, 0.0, 0.2, 0.3, 0.5]))
    current_late_s = float(rng.uniform(0.0, 0.1))
    noise_v, noise_a = (
        float(rng.uniform(0.2, 0.8)) * min(step_v, 0.01),
        float(rng.uniform(0.002, 0.004)) * size.full_a,
    )

    total = Sensor("current_a", "", 0.0, step_a, current_late_s, noise=noise_a)

    def volts(quantity: str, position: str, times: float) -> Sensor:
        return Sensor(
            quantity,
            position,
            held_s,
            step_v * times,
            lag_s,
            noise=noise_v * times,
            phase=float(rng.uniform(0.05, 0.95)),
        )

    sensors = (
        Sensor("throttle_fraction", step=0.01),
        Sensor("rudder_fraction", step=0.01),
        volts("pack_voltage_v", "", 2.0),
        total,
        Sensor("charge_mah", step=1.0),
        *(volts("cell_voltage_v", str(k + 1), 1.0) for k in range(size.cells)),
        *_motor_sensors(rng, replace(total, position="left")),
        *_motor_sensors(rng, replace(total, position="right")),
        Sensor("pack_temperature_c", interval_s=1.0, step=1.0),
        Sensor("altitude_m", step=float(rng.choice([0.1, 0.5, 1.0])), noise=0.3, smoothing_s=0.4),
        Sensor("airspeed_mps", step=0.1, noise=0.4, smoothing_s=0.3, least=0.0),
    )
    return Recorder("receiver", sensors, row_s, jitter_s=float(rng.choice([0.0, 0.1])) * row_s)


def _motor_sensors(rng: np.random.Generator, current: Sensor) -> tuple[Sensor, ...]:
    """What stands at one motor beside its current."""
    speed = Sensor(
        "rpm",
        current.position,
        step=float(rng.choice([1.0, 10.0, 50.0])),
        lag_s=float(rng.uniform(0.0, 0.2)),
        relative_noise=float(rng.uniform(0.0005, 0.003)),
        unsigned=True,
    )
    temperatures = tuple(
        Sensor(q, current.position, 1.0, 1.0) for q in ("motor_temperature_c", "controller_temperature_c")
    )
    return (current, speed, *temperatures)
