"""One motor and its propeller, complete: from static points, else from sizes, else from the power such a
model has.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from telemetry.limits import SEA_LEVEL_DENSITY_KGPM3
from telemetry.physics import ducted_fan, motor, propeller
from telemetry.prediction.known import SHAFT_SHARE, KnownDrive
from telemetry.prediction.results import Assumed
from telemetry.sentences import say
from telemetry.sheet.setup import Drive, NoLoadPoint, Setup, StaticPoint

_WINDING_SHARE = 0.08
"""Part of the loaded pack's voltage lost in the winding at full throttle (common practice, no source)."""
_SPEED_SHARE = 1.0 - _WINDING_SHARE - 0.03
"""Loaded speed ÷ Kv × loaded pack voltage there: what winding, leads and switches leave."""
_USUAL_TIP_MPS = 150.0
_USUAL_PITCH_TO_DIAMETER = 0.65
_SWITCHES_V = 0.06
"""Voltage lost in a controller's switches at full throttle, counted with the winding (common practice, no
source).
"""
_WARM = 1.04
"""Winding resistance on the stand ÷ cold."""


@dataclass(frozen=True, slots=True)
class _Size:
    diameter_m: float
    diameter_sd: float
    pitch_to_diameter: float
    pitch_to_diameter_sd: float
    cp: float
    cp_sd: float
    ct: float
    ct_sd: float


@dataclass(frozen=True, slots=True)
class _Constants:
    kv: float
    kv_sd: float
    ohm: float
    ohm_sd: float
    no_load: motor.NoLoad
    no_load_sd: float
    full_current_a: float


@dataclass(frozen=True, slots=True)
class _Anchor:
    """Coefficients through the static points."""

    rpm: float
    cp: float
    cp_sd: float
    cp_power: float
    ct: float
    ct_sd: float
    ct_power: float
    torque: bool
    thrust: bool


def known_drive(
    setup: Setup, drive: Drive, *, loaded_v: float, power_w: float, said: list[Assumed]
) -> KnownDrive:
    """A complete drive.

    Parameters
    ----------
    loaded_v : the pack at full throttle, roughly. [V]
    power_w : electrical power of one motor of such a model, where the sheet says nothing. [W]
    said : grows by what was assumed.

    Returns
    -------
    Every constant with its doubt, moved by what earlier flights taught.
    """
    power_w = _power_hint(drive, loaded_v, power_w)
    size = _size(drive, loaded_v, power_w, said)
    constants = _constants(drive, size, loaded_v, power_w, said)
    anchor = _anchor(drive, size, constants, said)
    if drive.propeller.ducted:
        said.append(_jet(anchor, size))
    gain, load = setup.calibration.get("drive_gain"), setup.calibration.get("propeller_power")
    return KnownDrive(
        position=drive.position,
        kv_rpm_per_v=constants.kv * (gain.value if gain else 1.0),
        kv_sd=gain.relative_sd if gain else constants.kv_sd,
        resistance_ohm=constants.ohm,
        resistance_sd=constants.ohm_sd,
        no_load_a=constants.no_load.level_a,
        no_load_a_per_rpm=constants.no_load.a_per_rpm,
        no_load_sd=constants.no_load_sd,
        controller_ohm=drive.controller.resistance_ohm or 0.0,
        diameter_m=size.diameter_m,
        diameter_sd=size.diameter_sd,
        pitch_to_diameter=size.pitch_to_diameter,
        pitch_to_diameter_sd=size.pitch_to_diameter_sd,
        ducted=drive.propeller.ducted,
        reference_rpm=anchor.rpm,
        cp=anchor.cp * (load.value if load else 1.0),
        cp_sd=load.relative_sd if load else anchor.cp_sd,
        cp_power=anchor.cp_power,
        ct=anchor.ct,
        ct_sd=anchor.ct_sd,
        ct_power=anchor.ct_power,
        torque_anchored=anchor.torque and load is None,
        thrust_anchored=anchor.thrust,
        gain_correlation=load.correlation if load and gain else 0.0,
        heat_capacity_jpk=0.11 * constants.full_current_a * loaded_v,
    )


def _jet(anchor: _Anchor, size: _Size) -> Assumed:
    """What stands in the place of the laws of propellers in flight."""
    advance = ducted_fan.jet_advance_ratio(anchor.ct)
    speed_mps = advance * anchor.rpm / 60.0 * size.diameter_m
    return Assumed("propeller.jet_mps", round(speed_mps, 0), say("assumed", "ducted", speed_mps=speed_mps))


def _power_hint(drive: Drive, loaded_v: float, power_w: float) -> float:
    """Full-throttle power from a static point or a rating, else what such a model usually has."""
    measured = [
        p.current_a * (p.voltage_v or loaded_v)
        for p in drive.propeller.static_points
        if p.current_a is not None
    ]
    if measured:
        return max(measured)
    ratings = [
        load.current_a
        for part in (drive.motor, drive.controller)
        for load in part.ratings
        if load.current_a is not None
    ]
    return 0.8 * min(ratings) * loaded_v if ratings else power_w


def _size(drive: Drive, loaded_v: float, power_w: float, said: list[Assumed]) -> _Size:
    made = drive.propeller
    ratio_sd, diameter_sd = 0.02, 0.002
    if made.pitch_m is None or made.diameter_m is None:
        ratio, ratio_sd = _USUAL_PITCH_TO_DIAMETER, 0.12
    else:
        ratio = made.pitch_m / made.diameter_m
    blades = (made.blades / 2.0) ** 0.75
    cp, ct = (
        blades * propeller.static_power_coefficient(ratio),
        blades * propeller.static_thrust_coefficient(ratio),
    )
    if made.ducted:
        cp, ct = ducted_fan.STATIC_POWER_COEFFICIENT, ducted_fan.STATIC_THRUST_COEFFICIENT
    diameter = made.diameter_m
    if diameter is None:
        diameter, diameter_sd = _usual_diameter_m(drive.motor.kv_rpm_per_v, cp, loaded_v, power_w), 0.08
        said.append(
            Assumed(
                "propeller.diameter_in",
                round(diameter / 0.0254, 1),
                say("assumed", "diameter"),
            )
        )
        if made.pitch_m is not None:
            ratio = made.pitch_m / diameter
    if made.ducted:
        cp_sd, ct_sd = ducted_fan.STATIC_POWER_SCATTER.sd, ducted_fan.STATIC_THRUST_SCATTER.sd
        return _Size(diameter, diameter_sd, ratio, 0.0, cp, cp_sd, ct, ct_sd)
    if made.pitch_m is None:
        said.append(
            Assumed("propeller.pitch_in", round(ratio * diameter / 0.0254, 1), say("assumed", "pitch"))
        )
    extra = 0.10 if made.blades != 2 else 0.0
    cp_sd = math.hypot(
        propeller.STATIC_POWER_SCATTER.sd, extra, propeller.STATIC_POWER_SLOPE * ratio_sd / max(cp, 0.01)
    )
    ct_sd = math.hypot(
        propeller.STATIC_THRUST_SCATTER.sd, extra, propeller.STATIC_THRUST_SLOPE * ratio_sd / ct
    )
    return _Size(diameter, diameter_sd, ratio, ratio_sd, cp, cp_sd, ct, ct_sd)


def _usual_diameter_m(kv: float | None, cp: float, loaded_v: float, power_w: float) -> float:
    """The diameter that takes a power: at the loaded speed it goes with D⁵, at a tip speed with D²."""
    if kv is not None:
        return float((SHAFT_SHARE * power_w / _shaft_w(cp, _SPEED_SHARE * kv * loaded_v, 1.0)) ** 0.2)
    return math.sqrt(SHAFT_SHARE * power_w / _shaft_w(cp, _usual_rpm(1.0), 1.0))


def _usual_rpm(diameter_m: float) -> float:
    """The speed at which the tips are as fast as is usual. [rpm]"""
    return 60.0 * _USUAL_TIP_MPS / (math.pi * diameter_m)


def _shaft_w(cp: float, rpm: float, diameter_m: float) -> float:
    """What a propeller takes in standard air. [W]"""
    return propeller.power_w(cp, density_kgm3=SEA_LEVEL_DENSITY_KGPM3.value, rpm=rpm, diameter_m=diameter_m)


def _absorbing_rpm(size: _Size, shaft_w: float) -> float:
    """The speed at which the propeller takes a power, which goes with its cube."""
    return float((shaft_w / _shaft_w(size.cp, 1.0, size.diameter_m)) ** (1.0 / 3.0))


def _constants(drive: Drive, size: _Size, loaded_v: float, power_w: float, said: list[Assumed]) -> _Constants:
    made = drive.motor
    kv, kv_sd = _kv(drive, size, loaded_v, power_w, said)
    measured = [p.current_a for p in drive.propeller.static_points if p.current_a is not None]
    if measured:
        current = max(measured)
    else:
        shaft_w = _shaft_w(size.cp, _SPEED_SHARE * kv * loaded_v, size.diameter_m)
        current = shaft_w / SHAFT_SHARE / loaded_v
    ohm, ohm_sd = made.resistance_ohm, 0.13
    if ohm is None:
        ohm, ohm_sd = _WINDING_SHARE * loaded_v / current, 0.4
        said.append(
            Assumed(
                "motor.resistance_mohm",
                round(ohm * 1000.0, 1),
                say("assumed", "winding"),
            )
        )
    if drive.controller.resistance_ohm is None:
        ohm += _SWITCHES_V / current
        said.append(
            Assumed(
                "controller.resistance_mohm",
                round(1000.0 * _SWITCHES_V / current, 1),
                say("assumed", "switches"),
            )
        )
    if made.no_load_points:
        points = tuple((_free_rpm(p, kv, ohm, loaded_v), p.current_a) for p in made.no_load_points)
        told = any(p.rpm or p.voltage_v for p in made.no_load_points)
        if not told:
            said.append(Assumed("motor.no_load_points", points[0][1], say("assumed", "no_load_at")))
        return _Constants(kv, kv_sd, ohm, ohm_sd, motor.no_load_of(points), 0.15 if told else 0.25, current)
    share = 0.03 * current
    said.append(Assumed("motor.no_load_points", round(share, 2), say("assumed", "no_load")))
    no_load = motor.NoLoad(0.5 * share, 0.5 * share / (_SPEED_SHARE * kv * loaded_v))
    return _Constants(kv, kv_sd, ohm, ohm_sd, no_load, 0.5, current)


def _free_rpm(point: NoLoadPoint, kv: float, ohm: float, loaded_v: float) -> float:
    """The speed at which a motor was spun without a propeller; where nothing tells it, that of flight."""
    if point.rpm is not None:
        return point.rpm
    voltage_v = _SPEED_SHARE * loaded_v if point.voltage_v is None else point.voltage_v
    return motor.speed_rpm(voltage_v, point.current_a, kv_rpm_per_v=kv, resistance_ohm=ohm)


def _kv(
    drive: Drive, size: _Size, loaded_v: float, power_w: float, said: list[Assumed]
) -> tuple[float, float]:
    made = drive.motor
    if made.kv_rpm_per_v is not None:
        return made.kv_rpm_per_v, 0.025
    ohm = made.resistance_ohm or 0.0
    stood = [
        p.rpm
        / motor.back_emf_v(
            p.voltage_v,
            p.current_a,
            resistance_ohm=_WARM * ohm if ohm else _WINDING_SHARE * p.voltage_v / p.current_a,
        )
        for p in drive.propeller.static_points
        if p.voltage_v is not None and p.current_a is not None
    ]
    free = [
        p.rpm / motor.back_emf_v(p.voltage_v, p.current_a, resistance_ohm=ohm)
        for p in made.no_load_points
        if p.rpm is not None and p.voltage_v is not None
    ]
    if free or stood:
        kv, sd, reason = (
            (float(np.mean(free)), 0.02, say("assumed", "kv_by_no_load"))
            if free
            else (float(np.mean(stood)), 0.05, say("assumed", "kv_by_static"))
        )
        said.append(Assumed("motor.kv_rpm_per_v", round(kv, 0), reason))
        return kv, sd
    kv = _absorbing_rpm(size, SHAFT_SHARE * power_w) / (_SPEED_SHARE * loaded_v)
    said.append(
        Assumed(
            "motor.kv_rpm_per_v",
            round(kv, 0),
            say("assumed", "kv"),
        )
    )
    return kv, 0.12


def _anchor(drive: Drive, size: _Size, constants: _Constants, said: list[Assumed]) -> _Anchor:
    points = drive.propeller.static_points
    torque = [(p.rpm, _measured_cp(p, size, constants)) for p in points if p.current_a is not None]
    thrust = [
        (
            p.rpm,
            propeller.thrust_coefficient(
                p.thrust_n, density_kgm3=p.density_kgm3, rpm=p.rpm, diameter_m=size.diameter_m
            ),
        )
        for p in points
        if p.thrust_n is not None
    ]
    torque = [(rpm, cp) for rpm, cp in torque if cp > 0.0]
    rpm = max((p.rpm for p in points), default=0.0) or _usual_rpm(size.diameter_m)
    cp, cp_power = _through(torque, rpm, propeller.STATIC_POWER_REYNOLDS_EXPONENT)
    ct, ct_power = _through(thrust, rpm, propeller.STATIC_THRUST_REYNOLDS_EXPONENT)
    cp_sd, ct_sd = (0.03 / math.sqrt(min(max(len(found), 1), 3)) for found in (torque, thrust))
    if torque:
        cp_sd = math.hypot(cp_sd, _disagreement(drive, constants, said))
    elif not points:
        said.append(
            Assumed(
                "propeller.static_points",
                round(size.cp, 4),
                say("assumed", "static_fan" if drive.propeller.ducted else "static"),
            )
        )
    if not torque:
        cp, cp_sd = _beside(size.cp, size.cp_sd, ct / size.ct if thrust else 1.0, size.ct_sd)
    if not thrust:
        ct, ct_sd = _beside(size.ct, size.ct_sd, cp / size.cp if torque else 1.0, size.cp_sd)
    return _Anchor(rpm, cp, cp_sd, cp_power, ct, ct_sd, ct_power, bool(torque), bool(thrust))


def _beside(usual: float, usual_sd: float, other: float, other_sd: float) -> tuple[float, float]:
    """A coefficient that wasn't measured, from the other one ÷ its usual value: both go with the width of the
    blades.
    """
    alike = propeller.STATIC_SCATTER_CORRELATION
    if other == 1.0:
        return usual, usual_sd
    return usual * other ** (alike * usual_sd / other_sd), usual_sd * math.sqrt(1.0 - alike**2)


def _measured_cp(point: StaticPoint, size: _Size, constants: _Constants) -> float:
    """Power coefficient of a static point, its torque from current, Kv and the no-load current."""
    friction_a = motor.no_load_current_a(
        point.rpm, level_a=constants.no_load.level_a, a_per_rpm=constants.no_load.a_per_rpm
    )
    torque_nm = motor.torque_nm(point.current_a or 0.0, friction_a, kv_rpm_per_v=constants.kv)
    return propeller.power_coefficient(
        motor.shaft_power_w(torque_nm, point.rpm),
        density_kgm3=point.density_kgm3,
        rpm=point.rpm,
        diameter_m=size.diameter_m,
    )


def _through(
    points: list[tuple[float, float]],
    rpm: float,
    exponent: float,
    *,
    noise: float = 0.04,
    exponent_sd: float = 0.05,
) -> tuple[float, float]:
    """Coefficient at `rpm` and its exponent with speed, through measured points; one point leaves the usual
    exponent.
    """
    if not points:
        return 0.0, exponent
    x = np.log([p[0] / rpm for p in points])
    y = np.log([p[1] for p in points])
    if len(points) > 1:
        spread = float(np.sum((x - x.mean()) ** 2))
        slope = float(np.sum((x - x.mean()) * (y - y.mean())))
        exponent = (slope / noise**2 + exponent / exponent_sd**2) / (spread / noise**2 + 1.0 / exponent_sd**2)
    return math.exp(float(y.mean() - exponent * x.mean())), exponent


def _disagreement(
    drive: Drive, constants: _Constants, said: list[Assumed], *, allowed: float = 0.05
) -> float:
    """How far the static points are from Kv·(V − I·R), where that is beyond what honest errors explain."""
    expected = [
        (
            p.rpm,
            motor.speed_rpm(
                p.voltage_v, p.current_a, kv_rpm_per_v=constants.kv, resistance_ohm=constants.ohm * _WARM
            ),
        )
        for p in drive.propeller.static_points
        if p.voltage_v is not None and p.current_a is not None
    ]
    worst = max((seen / speed - 1.0 for seen, speed in expected if speed > 0.0), key=abs, default=0.0)
    if abs(worst) <= allowed:
        return 0.0
    reason = say("assumed", "static_above" if worst > 0 else "static_below", percent=100 * abs(worst))
    said.append(Assumed("propeller.static_points.rpm", round(worst, 3), reason))
    return abs(worst)
