"""Pack, leads, controllers, motors and propellers in equilibrium, for all draws at once.

Shapes: d draws, m motors; arrays are (d,) for the aircraft and (d, m) for its motors, and may
carry leading axes besides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from telemetry.limits import COPPER_TEMPERATURE_COEFFICIENT_PK, SEA_LEVEL_DENSITY_KGPM3
from telemetry.physics.motor import RADPS_PER_RPM
from telemetry.prediction.known import WINDING_REFERENCE_C
from telemetry.prediction.sampling import Sampled, SampledDrives
from telemetry.trace import Floats

_LEAST_RPM = 30.0
_FREE_SHARE = 1.12
"""J/J0 at which a propeller takes no torque: root of the power curve of `physics.propeller`, all pitches."""


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
    """Winding resistance at a temperature. (d, m) [Ω]"""
    return drives.winding_ohm * (
        1.0 + COPPER_TEMPERATURE_COEFFICIENT_PK.value * (temperature_c - WINDING_REFERENCE_C)
    )


def torque_of(
    sampled: Sampled, rpm: Floats, airspeed_mps: Floats, *, reverse: bool = False
) -> tuple[Floats, Floats]:
    """Torque the propellers take, and how it grows with their speed. (d, m) [N·m], [N·m per rpm]"""
    d = sampled.drives
    shape, slope, share = _shape(d.power_curve, d.cp_bend, d, rpm, airspeed_mps)
    scale = (
        sampled.density_kgm3[:, None]
        * d.diameter_m**5
        / (2.0 * math.pi * 3600.0)
        * (d.cp * d.reverse_cp if reverse else d.cp)
    )
    still = scale * rpm**2 * _reynolds_share(sampled, rpm) ** d.cp_power
    return still * shape, still / rpm * ((2.0 + d.cp_power) * shape - share * slope)


def thrust_of(
    sampled: Sampled, rpm: Floats, airspeed_mps: Floats, *, reverse: bool = False
) -> tuple[Floats, Floats]:
    """Thrust of the propellers, backwards below zero, and how it grows with their speed. (d, m) [N], [N per
    rpm]
    """
    d = sampled.drives
    shape, slope, share = _shape(d.thrust_curve, d.ct_bend, d, rpm, airspeed_mps)
    scale = (
        sampled.density_kgm3[:, None] * d.diameter_m**4 / 3600.0 * (-d.ct * d.reverse_ct if reverse else d.ct)
    )
    still = scale * rpm**2 * _reynolds_share(sampled, rpm) ** d.ct_power
    return still * shape, still / rpm * ((2.0 + d.ct_power) * shape - share * slope)


def _reynolds_share(sampled: Sampled, rpm: Floats) -> Floats:
    """Reynolds number of the blades ÷ that at the reference speed in standard air: it goes with speed and
    density.
    """
    return (
        rpm / sampled.drives.reference_rpm * (sampled.density_kgm3[:, None] / SEA_LEVEL_DENSITY_KGPM3.value)
    )


def _shape(
    curve: Floats,
    bend: Floats,
    d: SampledDrives,
    rpm: Floats,
    airspeed_mps: Floats,
    *,
    bent_at: float = 0.9,
    last: float = 1.2,
) -> tuple[Floats | float, Floats | float, Floats | float]:
    """Coefficient ÷ its held-still value, its slope over x, and x = J/J0.

    The scatter of propellers grows from none held still to all of it at `bent_at`; beyond `last` nothing was
    measured.
    """
    if not airspeed_mps.any():
        return 1.0, 0.0, 0.0
    share = np.minimum(airspeed_mps[:, None] * 60.0 / (rpm * d.diameter_m * d.zero_thrust_advance), last)
    a, b, c = curve
    below = share < bent_at
    shape = 1.0 + share * (a + share * (b + share * c)) + bend * np.where(below, share / bent_at, 1.0)
    slope = np.where(share < last, a + share * (2.0 * b + share * 3.0 * c) + bend * below / bent_at, 0.0)
    return shape, slope, share


def _winding_current(
    sampled: Sampled, rpm: Floats, airspeed_mps: Floats, reverse: bool
) -> tuple[Floats, Floats]:
    """Current that holds the propeller at a speed, never below zero (a controller doesn't brake in flight),
    and its slope over rpm.
    """
    d = sampled.drives
    torque, slope = torque_of(sampled, rpm, airspeed_mps, reverse=reverse)
    per_torque = d.kv_rpm_per_v * RADPS_PER_RPM
    current = torque * per_torque + d.no_load_a + d.no_load_a_per_rpm * rpm
    return np.maximum(current, 0.0), np.where(
        current > 0.0, np.maximum(slope * per_torque + d.no_load_a_per_rpm, 0.0), 0.0
    )


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
    duty : (d, m) share of the supply voltage each controller gives, 0…1.
    airspeed_mps : (d,).
    winding_c : (d, m) temperature of the windings. [°C]
    start_rpm : a guess from a moment before, which spares rounds.
    rounds : of Newton's method on pack voltage and speeds together; 7 from nothing leave less than 1e-6.
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
        held = (rpm * per_v + ohm * current) / stiff
        drawn = duty * (current - slope * held)
        pack_v = (supply.behind_v - supply.ohm * np.sum(drawn, axis=-1)) / (
            1.0 + supply.ohm * np.sum(duty**2 * slope / stiff, axis=-1)
        )
        rpm = np.maximum(rpm - held + duty * pack_v[:, None] / stiff, _LEAST_RPM)
    return _settled(sampled, supply, duty, airspeed_mps, rpm, reverse)


def _settled(
    sampled: Sampled, supply: Supply, duty: Floats, airspeed_mps: Floats, rpm: Floats, reverse: bool
) -> Balance:
    """All quantities from the speeds found. A propeller that drives its motor turns freely, at `_FREE_SHARE`
    of J0.
    """
    d = sampled.drives
    running = duty > 0.0
    winding = np.where(running, _winding_current(sampled, rpm, airspeed_mps, reverse)[0], 0.0)
    free = np.where(
        winding > 0.0,
        0.0,
        airspeed_mps[:, None] * 60.0 / (d.diameter_m * d.zero_thrust_advance * _FREE_SHARE),
    )
    rpm = np.maximum(np.where(running, rpm, 0.0), free)
    drawn = duty * winding
    total = np.sum(drawn, axis=-1)
    pack_v = supply.behind_v - supply.ohm * total
    motor_v = np.where(
        running,
        duty * (pack_v[:, None] - sampled.lead_ohm[:, None] * drawn) - winding * d.controller_ohm,
        0.0,
    )
    turning = np.maximum(rpm, _LEAST_RPM)
    torque = (winding - d.no_load_a - d.no_load_a_per_rpm * rpm) / (d.kv_rpm_per_v * RADPS_PER_RPM)
    torque = np.where(running, np.maximum(torque, 0.0), 0.0)
    most = thrust_bound_n(sampled, torque * rpm * RADPS_PER_RPM)
    thrust = thrust_of(sampled, turning, airspeed_mps, reverse=reverse)[0]
    thrust = np.where(
        running | (free > 0.0), np.where(winding > 0.0, np.clip(thrust, -most, most), thrust), 0.0
    )
    turned = -1.0 if reverse else 1.0
    return Balance(pack_v, total, turned * motor_v, winding, drawn, turned * rpm, torque, thrust)


def thrust_bound_n(sampled: Sampled, power_w: Floats) -> Floats:
    """The most thrust a disc held still gives for a shaft power, in flight even less. (d, m) [N]

    Source: actuator-disc (momentum) theory, (2·ρ·A·P²)^(1/3).
    """
    disc_m2 = math.pi / 4.0 * sampled.drives.diameter_m**2
    return np.cbrt(2.0 * sampled.density_kgm3[:, None] * disc_m2 * power_w**2)


def hold(
    sampled: Sampled, supply: Supply, thrust_n: Floats, airspeed_mps: Floats, *, winding_c: Floats
) -> Balance:
    """Equilibrium that gives a total thrust, shared evenly by the motors; full throttle where that is not
    enough.

    Parameters
    ----------
    thrust_n : (d,), below zero counts as none.
    """
    d = sampled.drives
    motors = d.kv_rpm_per_v.shape[1]
    wanted = np.maximum(thrust_n, 0.0)[:, None] / motors
    rpm = _rpm_of_thrust(sampled, wanted, airspeed_mps)
    winding, _ = _winding_current(sampled, rpm, airspeed_mps, False)
    motor_v = rpm / d.kv_rpm_per_v + winding * winding_ohm(d, winding_c)
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
    density = sampled.density_kgm3[:, None]
    coasting = airspeed_mps[:, None] * 60.0 / (d.diameter_m * d.zero_thrust_advance)
    rpm = 1.1 * coasting + 60.0 * np.sqrt(wanted_n / (d.ct * density * d.diameter_m**4)) + 100.0
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
