"""Pack, leads, controllers, motors and propellers in equilibrium, for all draws at once.

Shapes: d draws, m motors; arrays are (d,) for the aircraft and (d, m) for its motors, and may
carry leading axes besides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.physics import motor, propeller
from telemetry.physics.wire import copper_factor
from telemetry.prediction.sampling import Sampled, SampledDrives
from telemetry.trace import Floats

_LEAST_RPM = 30.0


@dataclass(frozen=True, slots=True)
class Supply:
    """The pack at a moment: voltage without the fast drop, and the resistance of that drop. (d,) [V], [Ω]"""

    behind_v: Floats
    ohm: Floats


@dataclass(frozen=True, slots=True)
class Balance:
    """The drive in equilibrium. Pack (d,), motors (d, m).

    `motor_v` is what the controller gives, `drawn_a` what it draws from the pack. In reverse `motor_v`, `rpm`
    and `thrust_n` are below zero, currents and torque are not.
    """

    pack_v: Floats
    current_a: Floats
    motor_v: Floats
    winding_a: Floats
    drawn_a: Floats
    rpm: Floats
    torque_nm: Floats
    thrust_n: Floats


def duty_of(sampled: Sampled, throttle: Floats, *, start: Floats | None = None) -> Floats:
    """Share of the supply a controller gives at a throttle of 0…1: (…, d) from (…, d) or a number.

    `start` is the command at which the motors start, the draws' own by default.
    """
    begins = sampled.throttle_start if start is None else start
    duty = np.clip((throttle - begins) / (1.0 - begins), 0.0, 1.0)
    return duty + sampled.throttle_bend * duty * (1.0 - duty)


def planned_duty(sampled: Sampled, throttle: float) -> Floats:
    """Duty of all controllers at a planned throttle, either sense: (d, m).

    The sheet as it stands has throttle × supply at the motors; the draws have a throttle curve of their own.
    """
    start = np.where(np.arange(sampled.draws) == 0, 0.0, sampled.throttle_start)
    duty = duty_of(sampled, np.full(sampled.draws, abs(throttle)), start=start)
    return np.tile(duty[:, None], sampled.drives.kv_rpm_per_v.shape[1])


def winding_ohm(drives: SampledDrives, temperature_c: Floats) -> Floats:
    """Winding resistance at a temperature, copper from the sheet's 20 °C.

    Parameters
    ----------
    temperature_c : (d, m) of the windings. [°C]

    Returns
    -------
    (d, m). [Ω]
    """
    return drives.winding_ohm * copper_factor(temperature_c)


def no_load_a(drives: SampledDrives, rpm: Floats) -> Floats:
    """What friction and iron take at a speed.

    Parameters
    ----------
    rpm : (d, m), not below zero.

    Returns
    -------
    (d, m). [A]
    """
    return motor.no_load_current_a(rpm, level_a=drives.no_load_a, a_per_rpm=drives.no_load_a_per_rpm)


def torque_of(
    sampled: Sampled, rpm: Floats, airspeed_mps: Floats, *, reverse: bool = False
) -> tuple[Floats, Floats]:
    """Torque the propellers take, and how it grows with their speed.

    Parameters
    ----------
    rpm : (d, m), above zero.
    airspeed_mps : (d,).
    reverse : whether they turn backwards.

    Returns
    -------
    Torque and slope, (d, m) each. [N·m], [N·m per rpm]
    """
    d = sampled.drives
    shape, slope, share = _shape(d.power_curve, d.cp_bend, d, rpm, airspeed_mps)
    cp = (d.cp * d.reverse_cp if reverse else d.cp) * _reynolds_ratio(sampled, rpm) ** d.cp_power
    still = propeller.torque_nm(
        cp, density_kgm3=sampled.density_kgm3[:, None], rpm=rpm, diameter_m=d.diameter_m
    )
    return still * shape, still / rpm * ((2.0 + d.cp_power) * shape - share * slope)


def thrust_of(
    sampled: Sampled, rpm: Floats, airspeed_mps: Floats, *, reverse: bool = False
) -> tuple[Floats, Floats]:
    """Thrust of the propellers, and how it grows with their speed.

    Parameters
    ----------
    rpm, airspeed_mps, reverse : as `torque_of`.

    Returns
    -------
    Thrust, backwards below zero, and slope, (d, m) each. [N], [N per rpm]
    """
    d = sampled.drives
    shape, slope, share = _shape(d.thrust_curve, d.ct_bend, d, rpm, airspeed_mps)
    ct = (-d.ct * d.reverse_ct if reverse else d.ct) * _reynolds_ratio(sampled, rpm) ** d.ct_power
    still = propeller.thrust_n(
        ct, density_kgm3=sampled.density_kgm3[:, None], rpm=rpm, diameter_m=d.diameter_m
    )
    return still * shape, still / rpm * ((2.0 + d.ct_power) * shape - share * slope)


def _reynolds_ratio(sampled: Sampled, rpm: Floats) -> Floats:
    return propeller.reynolds_ratio(
        rpm, reference_rpm=sampled.drives.reference_rpm, density_kgm3=sampled.density_kgm3[:, None]
    )


def _shape(
    curve: Floats,
    bend: Floats,
    d: SampledDrives,
    rpm: Floats,
    airspeed_mps: Floats,
    *,
    bent_at: float = 0.9,
) -> tuple[Floats | float, Floats | float, Floats | float]:
    """Coefficient ÷ its held-still value, its slope over x, and x = J/J0.

    The scatter of propellers grows from none held still to all of it at `bent_at`.
    """
    if not airspeed_mps.any():
        return 1.0, 0.0, 0.0
    advance = propeller.advance_ratio(airspeed_mps[:, None], rpm=rpm, diameter_m=d.diameter_m)
    share = advance / d.zero_thrust_advance
    below = share < bent_at
    shape = propeller.unloading(share, curve) + bend * np.where(below, share / bent_at, 1.0)
    slope = propeller.unloading_slope(share, curve) + bend * below / bent_at
    return shape, slope, share


def _winding_current(
    sampled: Sampled, rpm: Floats, airspeed_mps: Floats, reverse: bool
) -> tuple[Floats, Floats]:
    """Current that holds the propeller at a speed, never below zero (a controller doesn't brake in flight),
    and its slope over rpm.
    """
    d = sampled.drives
    torque, slope = torque_of(sampled, rpm, airspeed_mps, reverse=reverse)
    current = motor.current_of_torque_a(torque, no_load_a(d, rpm), kv_rpm_per_v=d.kv_rpm_per_v)
    rise = motor.current_of_torque_a(slope, d.no_load_a_per_rpm, kv_rpm_per_v=d.kv_rpm_per_v)
    return np.maximum(current, 0.0), np.where(current > 0.0, np.maximum(rise, 0.0), 0.0)


def balance(
    sampled: Sampled,
    supply: Supply,
    duty: Floats,
    airspeed_mps: Floats,
    *,
    winding_c: Floats,
    reverse: bool = False,
    start_rpm: Floats | None = None,
    rounds: int = 7,
) -> Balance:
    """Equilibrium at a duty.

    Parameters
    ----------
    supply : the pack at this moment.
    duty : (d, m) share of the supply voltage each controller gives, 0…1.
    airspeed_mps : (d,).
    winding_c : (d, m) temperature of the windings. [°C]
    reverse : whether the motors turn backwards.
    start_rpm : (d, m) a guess from a moment before, which spares rounds.
    rounds : of Newton's method on pack voltage and speeds together; 7 from nothing leave less than 1e-6.

    Returns
    -------
    The drive where voltages and torques balance.
    """
    d = sampled.drives
    ohm = winding_ohm(d, winding_c) + d.controller_ohm + duty**2 * sampled.lead_ohm[:, None]
    per_v = 1.0 / d.kv_rpm_per_v
    rpm = np.maximum(
        d.kv_rpm_per_v * duty * supply.behind_v[:, None] * 0.85 if start_rpm is None else np.abs(start_rpm),
        _LEAST_RPM,
    )
    for _ in range(rounds):
        current, slope = _winding_current(sampled, rpm, airspeed_mps, reverse)
        stiff = per_v + ohm * slope
        held = motor.voltage_v(rpm, current, kv_rpm_per_v=d.kv_rpm_per_v, resistance_ohm=ohm) / stiff
        drawn = motor.supply_current_a(duty, current - slope * held)
        pack_v = (supply.behind_v - supply.ohm * np.sum(drawn, axis=-1)) / (
            1.0 + supply.ohm * np.sum(duty**2 * slope / stiff, axis=-1)
        )
        rpm = np.maximum(rpm - held + duty * pack_v[:, None] / stiff, _LEAST_RPM)
    return _settled(sampled, supply, duty, airspeed_mps, rpm, reverse)


def _settled(
    sampled: Sampled, supply: Supply, duty: Floats, airspeed_mps: Floats, rpm: Floats, reverse: bool
) -> Balance:
    """All quantities from the speeds found. A propeller slower than the air turns it drives its motor, which
    then draws nothing and turns freely.
    """
    d = sampled.drives
    running = duty > 0.0
    free = _rpm_at_share(sampled, airspeed_mps, propeller.FREE_ADVANCE_SHARE)
    driven = running if reverse else running & (rpm > free)
    winding = np.where(driven, _winding_current(sampled, rpm, airspeed_mps, reverse)[0], 0.0)
    free = np.where(winding > 0.0, 0.0, free)
    rpm = np.maximum(np.where(running, rpm, 0.0), free)
    drawn = motor.supply_current_a(duty, winding)
    total = np.sum(drawn, axis=-1)
    pack_v = supply.behind_v - supply.ohm * total
    motor_v = np.where(
        running,
        duty * (pack_v[:, None] - sampled.lead_ohm[:, None] * drawn) - winding * d.controller_ohm,
        0.0,
    )
    turning = np.maximum(rpm, _LEAST_RPM)
    torque = motor.torque_nm(winding, no_load_a(d, rpm), kv_rpm_per_v=d.kv_rpm_per_v)
    torque = np.where(running, np.maximum(torque, 0.0), 0.0)
    most = propeller.static_thrust_bound_n(
        motor.shaft_power_w(torque, rpm),
        density_kgm3=sampled.density_kgm3[:, None],
        diameter_m=d.diameter_m,
    )
    thrust = thrust_of(sampled, turning, airspeed_mps, reverse=reverse)[0]
    thrust = np.where(
        running | (free > 0.0), np.where(winding > 0.0, np.clip(thrust, -most, most), thrust), 0.0
    )
    turned = -1.0 if reverse else 1.0
    return Balance(pack_v, total, turned * motor_v, winding, drawn, turned * rpm, torque, thrust)


def _rpm_at_share(sampled: Sampled, airspeed_mps: Floats, share: float) -> Floats:
    """Speed at which the propellers advance by a share of J0. (d, m) [rpm]"""
    d = sampled.drives
    return propeller.rpm_of_advance_ratio(
        airspeed_mps[:, None], d.zero_thrust_advance * share, diameter_m=d.diameter_m
    )


def hold(
    sampled: Sampled, supply: Supply, thrust_n: Floats, airspeed_mps: Floats, *, winding_c: Floats
) -> Balance:
    """Equilibrium that gives a total thrust, shared evenly by the motors; full throttle where that is not
    enough.

    Parameters
    ----------
    supply : the pack at this moment.
    thrust_n : (d,), below zero counts as none. [N]
    airspeed_mps : (d,).
    winding_c : (d, m) temperature of the windings. [°C]

    Returns
    -------
    The drive at that thrust, or at full throttle.
    """
    d = sampled.drives
    motors = d.kv_rpm_per_v.shape[1]
    wanted = np.maximum(thrust_n, 0.0)[:, None] / motors
    rpm = _rpm_of_thrust(sampled, wanted, airspeed_mps)
    winding, _ = _winding_current(sampled, rpm, airspeed_mps, False)
    motor_v = motor.voltage_v(
        rpm, winding, kv_rpm_per_v=d.kv_rpm_per_v, resistance_ohm=winding_ohm(d, winding_c)
    )
    power = (motor_v + winding * d.controller_ohm) * winding
    pack_v = supply.behind_v
    drawn = power / pack_v[:, None]
    for _ in range(8):
        drawn = power / np.maximum(
            pack_v[:, None] - sampled.lead_ohm[:, None] * drawn, 0.3 * supply.behind_v[:, None]
        )
        pack_v = np.maximum(supply.behind_v - supply.ohm * np.sum(drawn, axis=-1), 0.3 * supply.behind_v)
    duty = (motor_v + winding * d.controller_ohm) / np.maximum(
        pack_v[:, None] - sampled.lead_ohm[:, None] * drawn, 1e-6
    )
    short = np.any(duty > 1.0, axis=-1)
    held = Balance(
        pack_v,
        np.sum(drawn, axis=-1),
        motor_v,
        winding,
        drawn,
        rpm,
        torque_of(sampled, rpm, airspeed_mps)[0],
        thrust_of(sampled, rpm, airspeed_mps)[0],
    )
    if not short.any():
        return held
    full = balance(sampled, supply, np.ones_like(duty), airspeed_mps, winding_c=winding_c)
    return _where(short, full, held)


def _rpm_of_thrust(sampled: Sampled, wanted_n: Floats, airspeed_mps: Floats, *, rounds: int = 9) -> Floats:
    """Speed at which each propeller gives a thrust: Newton from above on a curve that only rises there."""
    d = sampled.drives
    coasting = _rpm_at_share(sampled, airspeed_mps, 1.0)
    at_one_rpm = propeller.thrust_n(
        d.ct, density_kgm3=sampled.density_kgm3[:, None], rpm=np.ones(1), diameter_m=d.diameter_m
    )
    rpm = 1.1 * coasting + np.sqrt(wanted_n / at_one_rpm) + 100.0
    for _ in range(rounds):
        thrust, slope = thrust_of(sampled, rpm, airspeed_mps)
        rpm = np.maximum(
            rpm - (thrust - wanted_n) / np.maximum(slope, 1e-7), np.maximum(0.8 * coasting, _LEAST_RPM)
        )
    return rpm


def _where(condition: Floats, yes: Balance, no: Balance) -> Balance:
    def pick(a: Floats, b: Floats) -> Floats:
        return np.where(condition if a.ndim == 1 else condition[:, None], a, b)

    fields = ("pack_v", "current_a", "motor_v", "winding_a", "drawn_a", "rpm", "torque_nm", "thrust_n")
    return Balance(*(pick(getattr(yes, f), getattr(no, f)) for f in fields))
