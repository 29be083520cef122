"""What an event meant for the aircraft: thrust lost, and the yawing and rolling moment."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np

from telemetry.analysis.motors.results import Event
from telemetry.analysis.motors.rows import MotorRows
from telemetry.analysis.motors.sides import MotorLog, held_means
from telemetry.estimate import Estimate, Undecided
from telemetry.physics.motor import RADPS_PER_RPM
from telemetry.physics.propeller import static_thrust_coefficient, thrust_n
from telemetry.sentences import say, undecided
from telemetry.sheet.setup import Drive
from telemetry.trace import Flags, Flight, Floats

LOSING = ("cut", "stall", "out_of_step", "late_start", "thrust_lost")
UNLOADED_THRUST = (0.35, 0.65, 1.0)
"""Thrust in flight against static at the same speed: from fast flight to a standing start
(`thrust_curve`).
"""
DRIVE_EFFICIENCY = (0.65, 0.8, 0.9)
"""Shaft power ÷ power from the pack, of a motor at work (common practice, no source)."""


def weigh_events(
    events: Sequence[Event], group: Sequence[MotorRows], log: MotorLog, flight: Flight
) -> tuple[Event, ...]:
    """The same events with what they meant, where log and sheet allow it."""
    return tuple(_weighed(event, group, log, flight) if event.kind in LOSING else event for event in events)


def _weighed(event: Event, group: Sequence[MotorRows], log: MotorLog, flight: Flight) -> Event:
    if event.motor == "both":
        return dataclasses.replace(
            event, thrust_lost_fraction=1.0 if event.kind == "cut" else event.thrust_lost_fraction
        )
    one = next((s for s in group if s.position == event.motor), None)
    if one is None or len(group) < 2:
        return event
    share = _share_lost(one, event)
    twin = next(s.position for s in group if s.position != event.motor)
    drive = log.sides[twin].drive
    thrust = _twin_thrust(one, event, drive, still=_standing(flight, event))
    lost = (
        thrust
        if isinstance(thrust, Undecided) or isinstance(share, Undecided)
        else thrust.scaled(2.0 * share)
    )
    roll = _reaction(log, event, twin, drive)
    return dataclasses.replace(
        event,
        thrust_lost_fraction=share,
        thrust_lost_n=lost,
        yawing_moment_nm=_yaw(event, lost, log),
        rolling_moment_nm=roll,
        torque_helps=_helps(event, drive),
        evidence=_evidence(one, event),
    )


def _inside(one: MotorRows, event: Event) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return (one.time_s >= event.start_s) & (one.time_s <= event.end_s)


def _share_lost(one: MotorRows, event: Event) -> float | Undecided:
    """Share of the pair's thrust, half of it the one motor's. Thrust goes with speed squared, or power to two
    thirds; a cut motor gives none.
    """
    if event.kind == "thrust_lost":
        return event.thrust_lost_fraction
    if event.kind in ("cut", "stall"):
        return 0.5
    inside = _inside(one, event)
    if one.rpm is not None and one.twin_rpm is not None:
        share = np.mean(one.rpm[inside] ** 2) / max(float(np.mean(one.twin_rpm[inside] ** 2)), 1e-9)
    elif one.current is not None and one.twin_current is not None:
        share = (
            max(float(np.mean(one.current[inside])), 0.0)
            / max(float(np.mean(one.twin_current[inside])), 1e-9)
        ) ** (2.0 / 3.0)
    else:
        return undecided("motors", "neither")
    return 0.5 * float(np.clip(1.0 - share, 0.0, 1.0))


def _standing(flight: Flight, event: Event) -> bool:
    return flight.is_bench or isinstance(flight.takeoff_s, Undecided) or event.end_s < flight.takeoff_s


def _twin_thrust(one: MotorRows, event: Event, drive: Drive | None, *, still: bool) -> Estimate | Undecided:
    """Thrust of the motor that still ran, from its speed and the sheet's propeller. [N]"""
    if one.twin_rpm is None:
        return undecided("motors", "no_twin_speed")
    if drive is None:
        return undecided("motors", "no_propeller")
    square = float(np.mean((one.twin_rpm[_inside(one, event)] * one.full_rpm) ** 2))
    known = [p.thrust_n / p.rpm**2 for p in drive.propeller.static_points if p.thrust_n and p.rpm]
    size, pitch = drive.propeller.diameter_m, drive.propeller.pitch_m
    if known:
        per_square, doubt = float(np.mean(known)), 0.05
    elif size and pitch:
        per_square, doubt = (
            thrust_n(static_thrust_coefficient(pitch / size), density_kgm3=1.2, rpm=1.0, diameter_m=size),
            0.3,
        )
    else:
        return undecided("motors", "no_thrust_or_size")
    least, middle, most = (0.9, 1.0, 1.0) if still else UNLOADED_THRUST
    static = per_square * square
    return Estimate(
        static * middle,
        static * least * (1 - doubt),
        static * most * (1 + doubt),
        say("methods", "twin_thrust"),
    )


def _side_sign(position: str) -> int:
    return -1 if position.startswith("left") else 1 if position.startswith("right") else 0


def _yaw(event: Event, lost: Estimate | Undecided, log: MotorLog) -> Estimate | Undecided:
    """The nose swings to the side that lost its thrust."""
    drive = log.sides[event.motor].drive
    sign = _side_sign(event.motor)
    if isinstance(lost, Undecided):
        return lost
    if not sign:
        return undecided("motors", "no_side")
    if drive is None or drive.arm_m is None:
        return undecided("motors", "no_arm")
    return lost.scaled(sign * abs(drive.arm_m))


def _reaction(log: MotorLog, event: Event, twin: str, drive: Drive | None) -> Estimate | Undecided:
    """The torque of the motor that still ran, turned round: a propeller turning clockwise, seen from behind,
    rolls the aircraft left. [N·m]
    """
    if drive is None or drive.rotation is None:
        return undecided("motors", "no_rotation")
    side = log.sides[twin]
    if side.current is None or side.rpm is None or side.voltage is None:
        return undecided("motors", "no_twin_power")
    start, end = np.array([event.start_s]), np.array([max(event.end_s, event.start_s + 0.2)])
    current, rpm, volts = (
        float(held_means(part, start, end)[0]) for part in (side.current, side.rpm, side.voltage)
    )
    if not all(map(math.isfinite, (current, rpm, volts))) or abs(rpm) < 100.0 or current <= 0.0:
        return undecided("motors", "twin_stood")
    least, middle, most = (share * current * volts / (abs(rpm) * RADPS_PER_RPM) for share in DRIVE_EFFICIENCY)
    sign = -1.0 if drive.rotation == "clockwise" else 1.0
    return Estimate(middle, least, most, say("methods", "twin_torque")).scaled(sign)


def _helps(event: Event, drive: Drive | None) -> bool | None:
    """Whether the live motor's torque reaction rolls away from the dead side (common practice, no source)."""
    sign = _side_sign(event.motor)
    if drive is None or drive.rotation is None or not sign:
        return None
    rolls_left = drive.rotation == "clockwise"
    return rolls_left if sign > 0 else not rolls_left


def _evidence(one: MotorRows, event: Event) -> str:
    inside = _inside(one, event)
    said = [
        say("events", f"{name}_twin", own=_mean(own, inside, full), twin=_mean(twin, inside, full))
        if twin is not None
        else say("events", name, own=_mean(own, inside, full))
        for name, own, twin, full in (
            ("drew", one.current, one.twin_current, one.full_current_a),
            ("turned", one.rpm, one.twin_rpm, one.full_rpm),
        )
        if own is not None
    ]
    shown = say("events", "and").join(said)
    return f"{event.evidence}; {shown}" if event.evidence else shown


def _mean(row: Floats, inside: Flags, full: float) -> float:
    return float(np.mean(row[inside])) * full
