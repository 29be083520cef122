"""The first-order motor: Kv, winding resistance, no-load current.

Ω = Kv·(V − I·R), Q = (I − I0)/Kv with Kv in rad/s per volt. Every law takes numbers or arrays that broadcast.

Source: M. Drela, First-Order DC Electric Motor Model, MIT, 2007.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from telemetry.physics.arrays import Number

RADPS_PER_RPM = 2.0 * math.pi / 60.0


def torque_constant_nmpa(kv_rpm_per_v: Number) -> Number:
    """Torque per ampere of winding current, 60/(2π·Kv).

    Parameters
    ----------
    kv_rpm_per_v : speed constant, above zero. [rpm/V]

    Returns
    -------
    [N·m/A]

    Source: SI identity, torque constant × speed constant = 1 in coherent units.
    """
    return 1.0 / (kv_rpm_per_v * RADPS_PER_RPM)


def back_emf_v(voltage_v: Number, current_a: Number, *, resistance_ohm: Number) -> Number:
    """What is left of a voltage behind the winding, V − I·R.

    Parameters
    ----------
    voltage_v, current_a, resistance_ohm : at the winding. [V, A, Ω]

    Returns
    -------
    Speed ÷ Kv; below zero where the current takes more than there is. [V]
    """
    return voltage_v - current_a * resistance_ohm


def speed_rpm(
    voltage_v: Number, current_a: Number, *, kv_rpm_per_v: Number, resistance_ohm: Number
) -> Number:
    """Shaft speed at a voltage and a winding current, Kv·(V − I·R).

    Parameters
    ----------
    voltage_v, current_a, resistance_ohm : at the winding. [V, A, Ω]
    kv_rpm_per_v : speed constant. [rpm/V]

    Returns
    -------
    [rpm]
    """
    return kv_rpm_per_v * back_emf_v(voltage_v, current_a, resistance_ohm=resistance_ohm)


def voltage_v(rpm: Number, current_a: Number, *, kv_rpm_per_v: Number, resistance_ohm: Number) -> Number:
    """Voltage that turns a motor at a speed under a winding current, N/Kv + I·R.

    Parameters
    ----------
    rpm : of the shaft. [rpm]
    current_a, resistance_ohm : of the winding. [A, Ω]
    kv_rpm_per_v : speed constant. [rpm/V]

    Returns
    -------
    Mean voltage at the winding. [V]
    """
    return rpm / kv_rpm_per_v + current_a * resistance_ohm


def torque_nm(current_a: Number, no_load_current_a: Number, *, kv_rpm_per_v: Number) -> Number:
    """Shaft torque of a winding current, (I − I0)/Kv.

    Parameters
    ----------
    current_a, no_load_current_a : of the winding, the second what friction and iron take at this speed. [A]
    kv_rpm_per_v : speed constant. [rpm/V]

    Returns
    -------
    [N·m]
    """
    return (current_a - no_load_current_a) * torque_constant_nmpa(kv_rpm_per_v)


def current_of_torque_a(torque_nm: Number, no_load_current_a: Number, *, kv_rpm_per_v: Number) -> Number:
    """Winding current that gives a shaft torque, the inverse of `torque_nm`.

    Parameters
    ----------
    torque_nm : at the shaft. [N·m]
    no_load_current_a, kv_rpm_per_v : as `torque_nm`. [A, rpm/V]

    Returns
    -------
    [A]
    """
    return torque_nm * (kv_rpm_per_v * RADPS_PER_RPM) + no_load_current_a


def shaft_power_w(torque_nm: Number, rpm: Number) -> Number:
    """Power at the shaft, Q·Ω.

    Parameters
    ----------
    torque_nm, rpm : of the shaft. [N·m, rpm]

    Returns
    -------
    [W]
    """
    return torque_nm * rpm * RADPS_PER_RPM


def supply_current_a(duty_fraction: Number, winding_a: Number) -> Number:
    """What an ideal controller draws from the pack.

    Parameters
    ----------
    duty_fraction : share of the supply's voltage that it gives, 0…1.
    winding_a : of the motor. [A]

    Returns
    -------
    [A]

    Source: ideal buck converter, power in = power out.
    """
    return duty_fraction * winding_a


@dataclass(frozen=True, slots=True)
class NoLoad:
    """No-load current over speed: friction, and iron loss that grows with speed. [A, A per rpm]"""

    level_a: float
    a_per_rpm: float


def no_load_of(points: tuple[tuple[float, float], ...]) -> NoLoad:
    """The no-load current that measured points show.

    Parameters
    ----------
    points : at least one, (speed [rpm], current [A]).

    Returns
    -------
    One point, or several at one speed, hold at every speed. Several give a straight line by least squares,
    through nought where it would begin below.
    """
    rpm, current_a = np.array(points, dtype=float).T
    if np.ptp(rpm) == 0.0:
        return NoLoad(float(np.mean(current_a)), 0.0)
    slope, level = (float(found) for found in np.polyfit(rpm, current_a, 1))
    return NoLoad(level, slope) if level >= 0.0 else NoLoad(0.0, float(rpm @ current_a / (rpm @ rpm)))


def no_load_current_a(rpm: Number, *, level_a: Number, a_per_rpm: Number) -> Number:
    """No-load current at a speed, friction plus iron loss.

    Parameters
    ----------
    rpm : not below zero. [rpm]
    level_a, a_per_rpm : as in `NoLoad`. [A, A per rpm]

    Returns
    -------
    [A]
    """
    return level_a + a_per_rpm * rpm
