"""The plan flown, step by step, for all draws at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.limits import GRAVITY_MPS2
from telemetry.prediction.airframe import drag_n, stall_speed_mps, thrust_needed_n
from telemetry.prediction.powertrain import (
    Balance,
    Supply,
    balance,
    hold,
    no_load_a,
    planned_duty,
    winding_ohm,
)
from telemetry.prediction.sampling import Sampled
from telemetry.sheet.setup import Leg
from telemetry.trace import Floats

DEFAULT_PLAN = (
    Leg("takeoff", 8.0, throttle=1.0),
    Leg("climb", 20.0, climb_mps=3.0),
    Leg("cruise", 210.0, climb_mps=0.0),
    Leg("approach", 30.0, throttle=0.25),
)
"""Flown when the sheet has no plan: a short flight of circuits (ours)."""

CRUISE_SHARE = 1.9
"""Airspeed of a cruise without one ÷ the stall (common practice, no source)."""

SLOW_SHARE = 1.3
"""The same for climb, approach, descent and landing: the usual reference speed of a landing (CS-23.73, from
memory).
"""

CIRCUIT_LOAD_FACTOR = 1.16
"""Lift ÷ weight of a circuit, root of the mean square that the induced drag goes by.

Half of a circuit is turns at a bank of 40°, lift ÷ weight 1/cos 40° (common practice, no source).
"""

_PACK_C, _WINDING_C = (-40.0, 75.0), (-40.0, 180.0)
"""Where a model of warmth still means something; beyond, cells and windings burn. [°C]"""


@dataclass(frozen=True, slots=True)
class State:
    """What a moment hands to the next, (d,) or (d, m): charge used [Ah], slow overvoltage [V], temperatures
    [°C], speeds.
    """

    used_ah: Floats
    slow_v: Floats
    pack_c: Floats
    winding_c: Floats
    airspeed_mps: Floats
    rpm: Floats | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One stretch of the plan: its leg, length and equilibrium."""

    leg: int
    seconds: float
    balance: Balance


def at_rest(sampled: Sampled, *, charge_left: float | Floats = 1.0, pack_c: float | None = None) -> State:
    """Before the motors start: pack and motors as warm as the air, or the pack at `pack_c`."""
    one = np.ones(sampled.draws)
    motors = sampled.drives.kv_rpm_per_v.shape[1]
    warm = sampled.air_c if pack_c is None else pack_c * one
    return State(
        (1.0 - charge_left) * sampled.capacity_ah * one,
        0.0 * one,
        warm,
        np.tile(sampled.air_c[:, None], motors),
        0.0 * one,
    )


def supply(sampled: Sampled, state: State) -> Supply:
    """The pack as a state has it.

    Parameters
    ----------
    state : charge used, slow overvoltage and temperature, (d,) each.

    Returns
    -------
    Open-circuit voltage less the slow part, and the resistance of the rest.
    """
    left = np.clip(1.0 - state.used_ah / sampled.capacity_ah, 0.0, 1.0)
    open_v = sampled.cells * sampled.curve.voltage_v(left)
    return Supply(open_v - state.slow_v, sampled.pack_ohm(state.pack_c))


def after(
    sampled: Sampled, state: State, found: Balance, seconds: float, *, airspeed_mps: Floats | None = None
) -> State:
    """The state after an equilibrium was held.

    Parameters
    ----------
    state : before.
    found : the equilibrium.
    seconds : for how long. [s]
    airspeed_mps : (d,) afterwards; as before where None.

    Returns
    -------
    Charge used by the current, the slow part by its time constant, pack and windings by their heat.
    """
    decay = np.exp(-seconds / sampled.slow_s)
    slow = state.slow_v * decay + found.current_a * sampled.slow_ohm(state.pack_c) * (1.0 - decay)
    pack_heat = found.current_a**2 * sampled.pack_ohm(state.pack_c) + found.current_a * state.slow_v
    pack_c = np.clip(state.pack_c + 0.85 * pack_heat * seconds / sampled.pack_heat_jpk, *_PACK_C)
    d = sampled.drives
    friction = 0.5 * no_load_a(d, np.abs(found.rpm)) * np.abs(found.motor_v)
    heat = found.winding_a**2 * winding_ohm(d, state.winding_c) + friction
    settled = sampled.air_c[:, None] + heat * d.heat_time_s / d.heat_capacity_jpk
    winding_c = np.clip(settled + (state.winding_c - settled) * np.exp(-seconds / d.heat_time_s), *_WINDING_C)
    used = state.used_ah + found.current_a * seconds / 3600.0
    return State(
        used, slow, pack_c, winding_c, state.airspeed_mps if airspeed_mps is None else airspeed_mps, found.rpm
    )


def fly(sampled: Sampled, legs: Sequence[Leg], *, charge_left: float = 1.0) -> tuple[Step, ...]:
    """The plan from the first leg to the last, each leg in stretches short enough for what changes in it."""
    state = at_rest(sampled, charge_left=charge_left)
    steps: list[Step] = []
    for number, leg in enumerate(legs):
        longest = 1.0 if _accelerates(leg) else max(2.0, leg.seconds / 12.0)
        count = min(max(1, int(np.ceil(leg.seconds / longest))), 120)
        for _ in range(count):
            found, state = _stretch(sampled, state, leg, leg.seconds / count)
            steps.append(Step(number, leg.seconds / count, found))
    return tuple(steps)


def _accelerates(leg: Leg) -> bool:
    return (
        leg.throttle is not None
        and leg.airspeed_mps is None
        and leg.phase in ("takeoff", "cruise", "circuits", "go_around")
    )


def _load_factor(leg: Leg) -> float:
    return CIRCUIT_LOAD_FACTOR if leg.phase == "circuits" else 1.0


def _stretch(sampled: Sampled, state: State, leg: Leg, seconds: float) -> tuple[Balance, State]:
    pack = supply(sampled, state)
    speed = _speed(sampled, state, leg)
    if leg.throttle is None:
        thrust = thrust_needed_n(sampled, speed, leg.climb_mps or 0.0, load_factor=_load_factor(leg))
        found = hold(sampled, pack, thrust, speed, winding_c=state.winding_c)
        return found, after(sampled, state, found, seconds, airspeed_mps=speed)
    duty = planned_duty(sampled, leg.throttle)
    if leg.throttle <= 0.0:
        found = balance(sampled, pack, duty, 0.0 * speed, winding_c=state.winding_c, reverse=True)
        return found, after(sampled, state, found, seconds, airspeed_mps=speed)
    found = balance(sampled, pack, duty, speed, winding_c=state.winding_c)
    if _accelerates(leg):
        speed = accelerated(
            sampled, speed, np.sum(found.thrust_n, axis=-1), 0.0, seconds, load_factor=_load_factor(leg)
        )
    return found, after(sampled, state, found, seconds, airspeed_mps=speed)


def _speed(sampled: Sampled, state: State, leg: Leg) -> Floats:
    """Airspeed of a leg: its own, that of the moment while it accelerates, else what such a leg usually
    has.
    """
    if leg.airspeed_mps is not None:
        return np.full(sampled.draws, leg.airspeed_mps)
    if leg.phase == "ground":
        return np.zeros(sampled.draws)
    if _accelerates(leg):
        if leg.phase == "takeoff" or state.airspeed_mps[0] > 0.0:
            return state.airspeed_mps
        return SLOW_SHARE * stall_speed_mps(sampled)
    if cruises(leg):
        return CRUISE_SHARE * stall_speed_mps(sampled) * sampled.pace
    return SLOW_SHARE * stall_speed_mps(sampled)


def cruises(leg: Leg) -> bool:
    """Whether a leg is flown at a pilot's pace, for want of an airspeed of its own."""
    slow = ("ground", "climb", "approach", "descent", "landing", "go_around", "takeoff")
    return leg.airspeed_mps is None and leg.phase not in slow and not _accelerates(leg)


def accelerated(
    sampled: Sampled,
    airspeed_mps: Floats,
    thrust_n: Floats,
    climb_mps: float | Floats,
    seconds: float,
    *,
    load_factor: float = 1.0,
) -> Floats:
    """Airspeed after some seconds of thrust, drag and climb on a point mass.

    Implicit in the drag, so that it doesn't overshoot.
    """
    speed = np.maximum(airspeed_mps, 0.5)
    drag = drag_n(sampled, speed, load_factor=load_factor)
    force = thrust_n - drag - sampled.mass_kg * GRAVITY_MPS2.value * climb_mps / np.maximum(speed, 5.0)
    return np.maximum(airspeed_mps + seconds * force / (sampled.mass_kg + seconds * 2.0 * drag / speed), 0.0)
