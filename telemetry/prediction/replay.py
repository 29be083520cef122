"""A measured throttle flown through the sheet. Takes arrays, never a log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from telemetry.limits import GRAVITY_MPS2
from telemetry.physics.charge import mean_over
from telemetry.prediction.airframe import least_power_speed_mps
from telemetry.prediction.mission import State, accelerated, after, at_rest, supply
from telemetry.prediction.powertrain import balance, duty_of
from telemetry.prediction.sampling import Sampled
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a flight measured that the replay takes as it is, on one clock. Arrays (n,) at `time_s`.

    Attributes
    ----------
    throttle : by motor position, −1…1 with 0 no thrust. [1]
    airspeed_mps, altitude_m : None where not logged; the airspeed then comes from thrust, drag and climb.
    airborne : start and end of the time off the ground, or None while held still (a bench run).
    charge_left : at the start. [0…1]
    idle_a : what leaves the pack with the motors still. [A]
    pack_c : temperature of the pack at the start, None for that of the air. [°C]
    """

    time_s: Floats
    throttle: Mapping[str, Floats]
    airspeed_mps: Floats | None = None
    altitude_m: Floats | None = None
    airborne: tuple[float, float] | None = None
    charge_left: float = 1.0
    pack_c: float | None = None
    idle_a: float = 0.0


@dataclass(frozen=True, slots=True)
class Flown:
    """The replay: t moments, d draws (column 0 the sheet as it stands), m motors.

    `time_s` (t,) are the middles of the steps between `edges_s` (t + 1,).
    """

    time_s: Floats
    edges_s: Floats
    pack_v: Floats
    current_a: Floats
    motor_current_a: Floats
    rpm: Floats
    thrust_n: Floats
    airspeed_mps: Floats
    motor_thrust_n: Floats


def replay(
    sampled: Sampled, positions: tuple[str, ...], conditions: Conditions, *, step_s: float = 1.0
) -> Flown:
    """Fly a measured throttle.

    Parameters
    ----------
    positions : of the motors, as the sampled drives have them.
    step_s : a fifth of the seconds an aircraft takes to change its speed; the throttle is averaged over each
        step. [s]
    """
    edges = _edges(conditions.time_s, step_s)
    middle = 0.5 * (edges[1:] + edges[:-1])
    command = np.stack(
        [step_means(conditions.time_s, conditions.throttle[p], edges) for p in positions], axis=-1
    )
    climb = _climb(conditions, edges)
    state = at_rest(sampled, charge_left=conditions.charge_left, pack_c=conditions.pack_c)
    found = []
    speeds = []
    for k, now_s in enumerate(middle):
        seconds = float(edges[k + 1] - edges[k])
        speed = (
            state.airspeed_mps
            if conditions.airspeed_mps is None
            else _measured_speed(sampled, conditions, float(now_s))
        )
        duty = np.stack([duty_of(sampled, np.full(sampled.draws, abs(c))) for c in command[k]], axis=-1)
        reverse = bool(np.all(command[k] < 0.0))
        point = balance(
            sampled,
            supply(sampled, state),
            duty,
            speed,
            winding_c=state.winding_c,
            reverse=reverse,
            start_rpm=state.rpm,
            rounds=2,
        )
        found.append(point)
        speeds.append(speed)
        if conditions.airspeed_mps is None:
            speed = _next_speed(
                sampled, conditions, state, np.sum(point.thrust_n, axis=-1), climb[k], float(now_s), seconds
            )
        state = after(sampled, state, point, seconds, airspeed_mps=speed)
        state = State(
            state.used_ah,
            state.slow_v,
            state.pack_c,
            state.winding_c,
            state.airspeed_mps,
            np.maximum(np.abs(point.rpm), 300.0),
        )
    return Flown(
        time_s=middle,
        edges_s=edges,
        pack_v=np.stack([p.pack_v for p in found]),
        current_a=np.stack([p.current_a for p in found]) + conditions.idle_a,
        motor_current_a=np.stack([p.drawn_a for p in found]),
        rpm=np.stack([p.rpm for p in found]),
        thrust_n=np.stack([np.sum(p.thrust_n, axis=-1) for p in found]),
        airspeed_mps=np.stack(speeds),
        motor_thrust_n=np.stack([p.thrust_n for p in found]),
    )


def _edges(time_s: Floats, step_s: float, *, most: int = 20_000) -> Floats:
    """Edges of the steps; a log longer than five hours has longer ones than `step_s`."""
    count = min(max(1, int(np.ceil((time_s[-1] - time_s[0]) / step_s))), most)
    return np.linspace(time_s[0], time_s[-1], count + 1)


def step_means(time_s: Floats, values: Floats, edges: Floats) -> Floats:
    """Means of a sampled curve between neighbouring edges.

    Parameters
    ----------
    time_s, values : (n,) linear between samples; beyond them the outermost values hold. [s]
    edges : (k,) rising. [s]

    Returns
    -------
    (k − 1,), in the unit of the values.
    """
    return mean_over(time_s, values, edges[:-1], edges[1:])


def _climb(conditions: Conditions, edges: Floats, *, smooth_s: float = 3.0) -> Floats:
    """Rate of climb from the altitude, smoothed over `smooth_s`: long against a barometer's noise, short
    against a climb.
    """
    count = edges.size - 1
    if conditions.altitude_m is None:
        return np.zeros(count)
    step = float(edges[1] - edges[0])
    width = max(1, round(smooth_s / step))
    padded = np.pad(step_means(conditions.time_s, conditions.altitude_m, edges), width, mode="edge")
    smooth = np.convolve(padded, np.ones(width) / width, mode="same")
    return np.gradient(smooth, step)[width:-width] if smooth.size > 1 else np.zeros(count)


def _measured_speed(sampled: Sampled, conditions: Conditions, now_s: float) -> Floats:
    logged = (
        float(np.interp(now_s, conditions.time_s, conditions.airspeed_mps))
        if conditions.airspeed_mps is not None
        else 0.0
    )
    return np.full(sampled.draws, max(logged, 0.0))


def _next_speed(
    sampled: Sampled,
    conditions: Conditions,
    state: State,
    thrust_n: Floats,
    climb_mps: float,
    now_s: float,
    seconds: float,
    *,
    rolling: float = 0.06,
) -> Floats:
    """Airspeed of the next moment: none held still, slowed by the wheels on the ground, above the stall in
    the air.

    `rolling` is the friction of wheels on grass over weight (common practice, no source).
    """
    if conditions.airborne is None:
        return np.zeros(sampled.draws)
    takeoff_s, landing_s = conditions.airborne
    if takeoff_s <= now_s < landing_s:
        speed = accelerated(sampled, state.airspeed_mps, thrust_n, climb_mps, seconds)
        return np.maximum(speed, 0.7 * least_power_speed_mps(sampled))
    held = rolling * sampled.mass_kg * GRAVITY_MPS2.value
    return accelerated(
        sampled,
        state.airspeed_mps,
        thrust_n - np.where(state.airspeed_mps > 0.3, held, np.minimum(thrust_n, held)),
        0.0,
        seconds,
    )
