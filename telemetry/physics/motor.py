"""The first-order motor: Kv, winding resistance, no-load current.

Ω = Kv·(V − I·R), Q = (I − I0)/Kv with Kv in rad/s per volt.

Source: M. Drela, First-Order DC Electric Motor Model, MIT, 2007.
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Number = TypeVar("Number", float, Floats)

RADPS_PER_RPM = 2.0 * math.pi / 60.0


def torque_constant_nmpa(kv_rpm_per_v: float) -> float:
    """Torque per ampere, 60/(2π·Kv). [N·m/A]"""
    return 1.0 / (kv_rpm_per_v * RADPS_PER_RPM)


def speed_rpm(voltage_v: Number, current_a: Number, *, kv_rpm_per_v: float, resistance_ohm: float) -> Number:
    """Shaft speed at a voltage and a winding current. [rpm]"""
    return kv_rpm_per_v * (voltage_v - current_a * resistance_ohm)


def winding_current_a(
    voltage_v: Number, rpm: Number, *, kv_rpm_per_v: float, resistance_ohm: float
) -> Number:
    """Winding current at a voltage and a shaft speed. [A]"""
    return (voltage_v - rpm / kv_rpm_per_v) / resistance_ohm


def torque_nm(current_a: Number, no_load_current_a: Number, *, kv_rpm_per_v: float) -> Number:
    """Shaft torque of a winding current. [N·m]"""
    return (current_a - no_load_current_a) * torque_constant_nmpa(kv_rpm_per_v)


def current_of_torque_a(torque_nm: Number, no_load_current_a: Number, *, kv_rpm_per_v: float) -> Number:
    """Winding current that gives a shaft torque. [A]"""
    return torque_nm / torque_constant_nmpa(kv_rpm_per_v) + no_load_current_a


def shaft_power_w(torque_nm: Number, rpm: Number) -> Number:
    """Power at the shaft. [W]"""
    return torque_nm * rpm * RADPS_PER_RPM


def supply_current_a(duty_fraction: Number, winding_a: Number) -> Number:
    """What an ideal controller draws from the pack at a duty.

    Source: ideal buck converter, power in = power out.
    """
    return duty_fraction * winding_a


def best_efficiency_current_a(voltage_v: float, *, resistance_ohm: float, no_load_current_a: float) -> float:
    """Winding current of the best efficiency, √(V·I0/R). [A]"""
    return math.sqrt(voltage_v * no_load_current_a / resistance_ohm)


def best_efficiency_fraction(voltage_v: float, *, resistance_ohm: float, no_load_current_a: float) -> float:
    """The best efficiency at a voltage, (1 − √(I0·R/V))²."""
    return (1.0 - math.sqrt(no_load_current_a * resistance_ohm / voltage_v)) ** 2


def no_load_current_at_a(rpm: Number, *, points: tuple[tuple[float, float], ...]) -> Number:
    """No-load current at a speed, from measured points (rpm, A).

    One point holds at every speed. Two or more give a straight line by least squares, friction plus iron loss
    that grows with speed, never below zero.
    """
    speeds = np.array([p[0] for p in points])
    currents = np.array([p[1] for p in points])
    if speeds.size < 2 or np.ptp(speeds) == 0.0:
        return rpm * 0.0 + float(np.mean(currents))
    slope, level = np.polyfit(speeds, currents, 1)
    return np.maximum(level + slope * rpm, 0.0)  # type: ignore[no-any-return]
