"""Motor, controller and propeller with a truth of their own, richer than the textbook's.

Beyond the first-order motor: iron loss that grows with speed, a winding that warms, a controller whose
duty bends between its end-points and loses most at part load, a propeller whose coefficients move with
its speed (Reynolds number) and with airspeed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from telemetry.physics.wire import copper_factor

Floats = npt.NDArray[np.float64]

_LEAST_RPM = 30.0
_REYNOLDS_RPM = 6000.0


@dataclass(frozen=True, slots=True)
class MotorTruth:
    """A motor.

    Attributes
    ----------
    resistance_ohm : winding at 20 °C. [Ω]
    friction_a, iron_apkrpm : no-load current at standstill, and what each 1000 rpm add. [A, A/krpm]
    inertia_kgm2 : rotor and propeller.
    heat_capacity_jpk, cooling_s : thermal, one node.
    """

    kv_rpm_per_v: float = 650.0
    resistance_ohm: float = 0.024
    friction_a: float = 0.7
    iron_apkrpm: float = 0.07
    inertia_kgm2: float = 9e-5
    heat_capacity_jpk: float = 70.0
    cooling_s: float = 170.0

    @property
    def torque_nmpa(self) -> float:
        """Torque per ampere. [N·m/A]"""
        return 60.0 / (2.0 * math.pi * self.kv_rpm_per_v)


@dataclass(frozen=True, slots=True)
class PropellerTruth:
    """A propeller: static coefficients at 6000 rpm, how they move with speed, how they unload.

    `power_shape` and `thrust_shape` are the coefficients of x, x², x³ in Cp/Cp0 and Ct/Ct0, x =
    J/zero_thrust_j.
    """

    diameter_m: float = 0.2794
    power_coefficient: float = 0.0490
    thrust_coefficient: float = 0.104
    zero_thrust_j: float = 0.76
    power_shape: tuple[float, float, float] = (0.30, -0.72, -0.33)
    thrust_shape: tuple[float, float, float] = (-0.36, -0.60, -0.04)
    power_speed_exponent: float = -0.05
    thrust_speed_exponent: float = 0.12
    reverse_power_factor: float = 1.1
    reverse_thrust_factor: float = 0.6

    def coefficients(
        self, rpm: Floats, airspeed_mps: Floats, density_kgm3: float
    ) -> tuple[Floats, Floats, Floats]:
        """Cp, Ct and the slope of Cp over J; rpm above zero. Each as `rpm`."""
        share = airspeed_mps / (rpm / 60.0 * self.diameter_m) / self.zero_thrust_j
        x = np.clip(share, 0.0, 1.5)
        a, b, c = self.power_shape
        d, e, f = self.thrust_shape
        speed = rpm * density_kgm3 / 1.225 / _REYNOLDS_RPM
        power = self.power_coefficient * speed**self.power_speed_exponent
        thrust = self.thrust_coefficient * speed**self.thrust_speed_exponent
        slope = power * (a + x * (2.0 * b + 3.0 * c * x)) / self.zero_thrust_j * (share <= 1.5)
        return power * (1.0 + x * (a + x * (b + x * c))), thrust * (1.0 + x * (d + x * (e + x * f))), slope


@dataclass(frozen=True, slots=True)
class ControllerTruth:
    """A controller.

    Attributes
    ----------
    start_fraction, full_fraction : commands at which it starts and is fully on: its end-points.
    bend : duty = s + bend·s·(1 − s) between them.
    resistance_ohm : of its switches. [Ω]
    part_load_loss : how much more it draws at half duty than an ideal one.
    idle_a : drawn while powered. [A]
    response_s : lag of its duty behind the command. [s]
    reversing : below −start_fraction it turns the propeller backwards.
    """

    start_fraction: float = 0.03
    full_fraction: float = 1.0
    bend: float = 0.0
    resistance_ohm: float = 0.003
    part_load_loss: float = 0.02
    idle_a: float = 0.06
    response_s: float = 0.06
    reversing: bool = True

    def duty(self, command: Floats) -> Floats:
        """Duty, negative in reverse: (n,) as `command`."""
        share = np.clip(
            (np.abs(command) - self.start_fraction) / (self.full_fraction - self.start_fraction), 0.0, 1.0
        )
        duty = share + self.bend * share * (1.0 - share)
        return np.where(command < 0.0, -duty if self.reversing else 0.0, duty)


@dataclass(frozen=True, slots=True)
class Fault:
    """What makes one side unlike its twin; 1 and 0 are no fault.

    Attributes
    ----------
    propeller_power, propeller_thrust : factors on Cp and Ct (a heavier propeller: 1.06 and about 1.03).
    kv, winding : factors on Kv and on the winding's resistance.
    full_shift, start_shift : added to the controller's end-points.
    drag_nm : friction of a bearing. [N·m]
    sensor_gain : of this side's logged current.
    extra_heat_w : into the motor, besides its losses. [W]
    """

    propeller_power: float = 1.0
    propeller_thrust: float = 1.0
    kv: float = 1.0
    winding: float = 1.0
    full_shift: float = 0.0
    start_shift: float = 0.0
    drag_nm: float = 0.0
    sensor_gain: float = 1.0
    extra_heat_w: float = 0.0


@dataclass(frozen=True, slots=True)
class DriveTruth:
    """Everything at one position, faults not yet applied."""

    position: str
    motor: MotorTruth = MotorTruth()
    propeller: PropellerTruth = PropellerTruth()
    controller: ControllerTruth = ControllerTruth()
    fault: Fault = Fault()

    def load(self, rpm: Floats, airspeed_mps: Floats, density_kgm3: float) -> tuple[Floats, Floats, Floats]:
        """Propeller torque, thrust, and the torque's slope over rpm, rpm above zero. [N·m, N, N·m per rpm]"""
        cp, ct, cp_slope = self.propeller.coefficients(rpm, airspeed_mps, density_kgm3)
        turns = rpm / 60.0
        per_torque = (
            density_kgm3 * self.propeller.diameter_m**5 / (2.0 * math.pi) * self.fault.propeller_power
        )
        advance = airspeed_mps / (turns * self.propeller.diameter_m)
        thrust_n = ct * density_kgm3 * turns**2 * self.propeller.diameter_m**4 * self.fault.propeller_thrust
        return (
            per_torque * cp * turns**2,
            thrust_n,
            per_torque * turns * (2.0 * cp - advance * cp_slope) / 60.0,
        )

    def loss_nm(self, rpm: Floats) -> Floats:
        """Friction, iron loss and bearing drag. [N·m]"""
        no_load_a = self.motor.friction_a + self.motor.iron_apkrpm * rpm / 1000.0
        return no_load_a * self.motor.torque_nmpa / self.fault.kv + self.fault.drag_nm

    def resistance_ohm(self, winding_c: Floats) -> Floats:
        """Winding at its temperature, and the controller's switches. [Ω]"""
        warm = np.asarray([copper_factor(0.0)]) + (copper_factor(1.0) - copper_factor(0.0)) * winding_c
        return self.motor.resistance_ohm * self.fault.winding * warm + self.controller.resistance_ohm

    def duty(self, command: Floats) -> Floats:
        """The controller's duty, its shifted end-points included."""
        shifted = ControllerTruth(
            start_fraction=self.controller.start_fraction + self.fault.start_shift,
            full_fraction=self.controller.full_fraction + self.fault.full_shift,
            bend=self.controller.bend,
            reversing=self.controller.reversing,
        )
        return shifted.duty(command)

    def supply_a(self, duty: Floats, winding_a: Floats) -> Floats:
        """What the controller draws from the pack. [A]"""
        on = np.abs(duty)
        extra = 1.0 + 4.0 * self.controller.part_load_loss * on * (1.0 - on)
        return on * winding_a * extra + self.controller.idle_a


@dataclass(frozen=True, slots=True)
class Running:
    """One drive in equilibrium, each (n,). `rpm` is without sign."""

    rpm: Floats
    winding_a: Floats
    torque_nm: Floats
    thrust_n: Floats


def equilibrium(
    drive: DriveTruth,
    duty: Floats,
    supply_v: Floats,
    airspeed_mps: Floats,
    winding_c: Floats,
    density_kgm3: float,
    *,
    guess_rpm: Floats | None = None,
    rounds: int = 14,
) -> Running:
    """Speed and current at which the motor drives its propeller, by Newton's method on whole columns.

    A controller without a brake lets the motor turn freely: no current flows back.
    """
    on = np.abs(duty)
    kv = drive.motor.kv_rpm_per_v * drive.fault.kv
    torque_nmpa = drive.motor.torque_nmpa / drive.fault.kv
    resistance_ohm = drive.resistance_ohm(winding_c)
    voltage_v = on * supply_v
    air_mps = np.where(duty < 0.0, 0.0, airspeed_mps)
    heavier = np.where(duty < 0.0, drive.propeller.reverse_power_factor, 1.0)
    rpm = (
        np.maximum(kv * voltage_v * 0.9, _LEAST_RPM)
        if guess_rpm is None
        else np.maximum(guess_rpm, _LEAST_RPM)
    )
    for _ in range(rounds):
        winding_a = np.maximum((voltage_v - rpm / kv) / resistance_ohm, 0.0)
        load_nm, _, load_slope = drive.load(rpm, air_mps, density_kgm3)
        excess = winding_a * torque_nmpa - drive.loss_nm(rpm) - load_nm * heavier
        slope = -torque_nmpa / (kv * resistance_ohm) * (winding_a > 0.0) - np.maximum(
            load_slope * heavier, 1e-7
        )
        rpm = np.clip(rpm - excess / slope, np.maximum(rpm * 0.6, _LEAST_RPM), rpm * 1.6)
    winding_a = np.maximum((voltage_v - rpm / kv) / resistance_ohm, 0.0)
    load_nm, thrust_n, _ = drive.load(rpm, air_mps, density_kgm3)
    still = rpm <= _LEAST_RPM * 1.01
    factor = np.where(duty < 0.0, -drive.propeller.reverse_thrust_factor, 1.0)
    return Running(
        np.where(still, 0.0, rpm),
        winding_a,
        np.where(still, 0.0, load_nm * heavier),
        np.where(still, 0.0, thrust_n * factor),
    )
