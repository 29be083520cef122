"""The way through the air: a point mass, a pilot with a stick and a throttle, wind and turbulence.

Marched in coarse steps; currents and voltages come afterwards on a fine grid.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from telemetry.limits import GRAVITY_MPS2
from telemetry.simulate.plan import FlownLeg

Floats = npt.NDArray[np.float64]

STEP_S = 0.1
_G = GRAVITY_MPS2.value
_PHASES = {
    "rest": "ground",
    "taxi": "ground",
    "bench": "ground",
    "takeoff": "takeoff",
    "climb": "climb",
    "cruise": "cruise",
    "full": "cruise",
    "glide": "descent",
    "approach": "approach",
    "land": "landing",
    "touch": "landing",
    "go_around": "go_around",
}
_LONGEST_S = {
    "takeoff": 40.0,
    "climb": 60.0,
    "approach": 60.0,
    "land": 60.0,
    "touch": 40.0,
    "go_around": 40.0,
}


@dataclass(frozen=True, slots=True)
class AirframeTruth:
    """Mass, wing and drag, and how it rolls.

    `rolling_friction` is that of wheels on short grass or of skis on snow.
    """

    mass_kg: float = 3.9
    span_m: float = 1.83
    wing_area_m2: float = 0.50
    drag_area_m2: float = 0.046
    span_efficiency: float = 0.78
    largest_lift: float = 1.25
    rolling_friction: float = 0.06
    braking_friction: float = 0.12

    def stall_mps(self, density_kgm3: float) -> float:
        """Slowest level flight. [m/s]"""
        return math.sqrt(2.0 * self.mass_kg * _G / (density_kgm3 * self.wing_area_m2 * self.largest_lift))

    def drag_n(self, airspeed_mps: float, load_factor: float, density_kgm3: float) -> float:
        """Parasitic and induced drag. [N]"""
        pressure_pa = 0.5 * density_kgm3 * max(airspeed_mps, 3.0) ** 2
        lift_n = self.mass_kg * _G * load_factor
        induced_n = lift_n**2 / (pressure_pa * math.pi * self.span_m**2 * self.span_efficiency)
        return 0.5 * density_kgm3 * airspeed_mps**2 * self.drag_area_m2 + induced_n


@dataclass(frozen=True, slots=True)
class Air:
    """The air of the day and the pilot's hand. Take-off and landing are into the wind.

    Attributes
    ----------
    gust_mps, gust_s : standard deviation and memory of turbulence. [m/s, s]
    jitter_fraction, jitter_s : standard deviation and memory of the throttle hand.
    """

    density_kgm3: float = 1.225
    temperature_c: float = 18.0
    wind_mps: float = 2.0
    gust_mps: float = 0.5
    gust_s: float = 2.0
    jitter_fraction: float = 0.03
    jitter_s: float = 1.5


@dataclass(frozen=True, slots=True)
class FlownPath:
    """The flight on the coarse grid, each (n,); phases as (name, start, end)."""

    time_s: Floats
    command: Floats
    rudder: Floats
    airspeed_mps: Floats
    ground_speed_mps: Floats
    altitude_m: Floats
    climb_mps: Floats
    course_deg: Floats
    load_factor: Floats
    phases: tuple[tuple[str, float, float], ...]
    takeoffs_s: tuple[float, ...]
    landings_s: tuple[float, ...]


@dataclass(slots=True)
class _State:
    """What the march carries along."""

    speed_mps: float = 0.0
    path: float = 0.0
    height_m: float = 0.0
    command: float = 0.0
    integral: float = 0.0
    heading: float = 0.0
    in_air: bool = False
    leg_s: float = 0.0
    turn: float = 0.0
    touched: bool = False
    from_m: float = 0.0
    goal_mps: float = 0.0


Thrust = Callable[[float, float, float], float]
"""Thrust of all motors from command, airspeed and time. [N]"""


def wander(rng: np.random.Generator, size: int, memory_s: float, step_s: float) -> Floats:
    """A first-order random walk that comes back, standard deviation 1: (size,)."""
    keep = math.exp(-step_s / max(memory_s, 1e-6))
    noise = rng.standard_normal(size) * math.sqrt(1.0 - keep**2)
    return np.asarray(lfilter([1.0], [1.0, -keep], noise), dtype=float)


def fly(
    legs: tuple[FlownLeg, ...], airframe: AirframeTruth, air: Air, thrust: Thrust, rng: np.random.Generator
) -> FlownPath:
    """Fly the legs.

    Parameters
    ----------
    legs : in order.
    thrust : of all motors; it knows what fails and when.
    rng : gusts, hand and turns.

    Returns
    -------
    The course, on steps of `STEP_S`.
    """
    most = (
        round(sum(max(leg.seconds, _LONGEST_S.get(leg.kind, 0.0)) for leg in legs) / STEP_S) + len(legs) + 2
    )
    gusts = air.gust_mps * wander(rng, most, air.gust_s, STEP_S)
    hand = wander(rng, most, air.jitter_s, STEP_S)
    pedals = wander(rng, most, 0.8, STEP_S)
    state = _State(turn=float(rng.choice([-1.0, 1.0])))
    rows: list[tuple[float, ...]] = []
    phases: list[tuple[str, float, float]] = []
    for leg in legs:
        state.leg_s, state.touched, state.from_m = 0.0, False, state.height_m
        state.heading = 0.0 if leg.kind == "approach" else state.heading
        start_s = len(rows) * STEP_S
        while not _done(leg, state) and len(rows) < most:
            k = len(rows)
            gust = float(gusts[k]) if state.in_air else 0.0
            load_factor = _load_factor(leg, state)
            _pilot(leg, state, airframe, air, float(hand[k]))
            _move(leg, state, airframe, air, thrust, k * STEP_S, gust, load_factor)
            rows.append(_row(state, air, gust, float(pedals[k]), load_factor))
            state.leg_s += STEP_S
        phases.append((_PHASES[leg.kind], start_s, len(rows) * STEP_S))
    command, rudder, airspeed, ground, altitude, climb, heading, load, flying = np.array(
        rows, dtype=np.float64
    ).T
    takeoffs_s = tuple((np.flatnonzero(np.diff(flying) > 0.0) + 1) * STEP_S)
    landings_s = tuple((np.flatnonzero(np.diff(flying) < 0.0) + 1) * STEP_S)
    time_s = np.asarray(np.arange(len(rows)) * STEP_S, dtype=np.float64)
    return FlownPath(
        time_s,
        command,
        rudder,
        airspeed,
        ground,
        altitude,
        climb,
        heading,
        load,
        _merged(phases),
        takeoffs_s,
        landings_s,
    )


def _merged(phases: list[tuple[str, float, float]]) -> tuple[tuple[str, float, float], ...]:
    merged: list[tuple[str, float, float]] = []
    for name, start_s, end_s in phases:
        if merged and merged[-1][0] == name:
            merged[-1] = (name, merged[-1][1], end_s)
        elif end_s > start_s:
            merged.append((name, start_s, end_s))
    return tuple(merged)


def _done(leg: FlownLeg, state: _State) -> bool:
    if leg.kind in _LONGEST_S and state.leg_s >= _LONGEST_S[leg.kind]:
        return True
    if leg.kind == "takeoff":
        return state.in_air and state.height_m >= 8.0
    if leg.kind in ("climb", "go_around") and leg.height_m:
        return state.height_m >= leg.height_m
    if leg.kind == "approach":
        return state.height_m <= (leg.height_m or 2.5)
    if leg.kind == "land":
        return state.touched and state.speed_mps < 0.2
    if leg.kind == "touch":
        return state.touched and state.leg_s > 1.5 and not state.in_air
    return state.leg_s >= leg.seconds - 1e-9


def _load_factor(leg: FlownLeg, state: _State) -> float:
    """Turns at both ends of a circuit of about 24 s."""
    if leg.kind not in ("cruise", "full", "glide") or not state.in_air:
        return 1.0
    return 1.0 + 0.22 * max(math.sin(2.0 * math.pi * state.leg_s / 12.0), 0.0)


def _pilot(leg: FlownLeg, state: _State, airframe: AirframeTruth, air: Air, hand: float) -> None:
    """Moves the throttle towards what the leg asks for."""
    stall_mps = airframe.stall_mps(air.density_kgm3)
    jitter = air.jitter_fraction * hand
    if leg.kind in ("rest", "glide") or (leg.kind == "bench" and leg.throttle == 0.0):
        wanted, rate = 0.0, 2.0
    elif leg.kind == "bench":
        wanted, rate = leg.throttle, 1.2
    elif leg.kind == "taxi":
        wanted, rate = max(leg.throttle * (1.0 + 4.0 * jitter), 0.0), 0.5
    elif leg.kind in ("takeoff", "go_around"):
        wanted, rate = leg.throttle or 1.0, 0.55
    elif leg.kind == "climb":
        wanted, rate = (leg.throttle or 0.75) + jitter, 0.8
    elif leg.kind == "full":
        wanted, rate = 1.0, 1.5
    elif leg.kind in ("land", "touch"):
        wanted, rate = (0.10 if state.height_m > 0.6 and not state.touched else 0.0), 0.5
    else:
        wanted, rate = max(_hold_speed(leg, state, stall_mps) + jitter, 0.0), 0.8
    step = rate * STEP_S
    state.command = min(max(state.command + min(max(wanted - state.command, -step), step), -1.0), 1.0)


def _hold_speed(leg: FlownLeg, state: _State, stall_mps: float) -> float:
    """Throttle of cruise and approach: proportional and integral on airspeed."""
    state.goal_mps = (leg.airspeed_mps or 1.5 * stall_mps) if leg.kind == "cruise" else 1.32 * stall_mps
    error = (state.goal_mps - state.speed_mps) / stall_mps
    if state.leg_s == 0.0:
        state.integral = 0.38 if leg.kind == "cruise" else 0.15
    state.integral = min(max(state.integral + 0.10 * error * STEP_S, 0.02), 0.95)
    return min(max(state.integral + 0.45 * error, 0.0), 1.0)


def _wanted_path(leg: FlownLeg, state: _State, stall_mps: float) -> float:
    """Path angle that the stick asks for. [rad]"""
    if leg.kind in ("climb", "takeoff", "go_around"):
        return min(max((state.speed_mps / stall_mps - 1.25) * 0.9, -0.02), 0.35)
    if leg.kind == "approach":
        return -0.10
    if leg.kind in ("land", "touch"):
        return -0.05 if state.height_m > 0.8 else -0.025
    if leg.kind == "glide":
        return min(max((state.speed_mps / stall_mps - 1.35) * 0.8, -0.3), 0.0)
    goal_m = leg.height_m or state.from_m
    too_slow = min((state.speed_mps / stall_mps - 1.15) * 1.5, 0.0)
    return min(max((goal_m - state.height_m) * 0.02, -0.12), 0.12) + too_slow


def _move(
    leg: FlownLeg,
    state: _State,
    airframe: AirframeTruth,
    air: Air,
    thrust: Thrust,
    time_s: float,
    gust: float,
    load_factor: float,
) -> None:
    """One step of the point mass."""
    if leg.kind == "bench":
        return
    stall_mps = airframe.stall_mps(air.density_kgm3)
    through_mps = max(state.speed_mps + gust + (0.0 if state.in_air else air.wind_mps), 0.0)
    pull_n = thrust(state.command, through_mps, time_s)
    if not state.in_air:
        lifted = min((through_mps / stall_mps) ** 2, 1.0) if leg.kind in ("takeoff", "land", "touch") else 0.0
        friction = (
            airframe.braking_friction
            if leg.kind == "land" or (leg.kind == "rest")
            else airframe.rolling_friction
        )
        held_n = friction * airframe.mass_kg * _G * (1.0 - 0.8 * lifted)
        drag_n = 0.5 * air.density_kgm3 * through_mps**2 * airframe.drag_area_m2 * 1.3
        push_n = pull_n - drag_n
        if state.speed_mps <= 0.0 and push_n < held_n:
            return
        state.speed_mps = max(state.speed_mps + (push_n - held_n) / airframe.mass_kg * STEP_S, 0.0)
        if leg.kind == "taxi":
            state.speed_mps = min(state.speed_mps, 3.0)
        if leg.kind == "takeoff" and through_mps > 1.15 * stall_mps:
            state.in_air, state.path, state.height_m, state.heading = True, 0.03, 0.05, 0.0
            state.speed_mps = through_mps
        return
    drag_n = airframe.drag_n(through_mps, load_factor, air.density_kgm3)
    state.speed_mps += ((pull_n - drag_n) / airframe.mass_kg - _G * math.sin(state.path)) * STEP_S
    state.speed_mps = max(state.speed_mps, 0.6 * stall_mps)
    state.path += (_wanted_path(leg, state, stall_mps) - state.path) * STEP_S / 0.7
    state.height_m += state.speed_mps * math.sin(state.path) * STEP_S
    state.heading += state.turn * _G * math.sqrt(max(load_factor**2 - 1.0, 0.0)) / state.speed_mps * STEP_S
    if state.height_m <= 0.0:
        state.in_air, state.touched, state.height_m, state.path = False, True, 0.0, 0.0
        state.speed_mps = max(state.speed_mps - air.wind_mps, 0.0)


def _row(state: _State, air: Air, gust: float, pedal: float, load_factor: float) -> tuple[float, ...]:
    airspeed_mps = max(state.speed_mps + gust + (0.0 if state.in_air else air.wind_mps), 0.0)
    along = air.wind_mps * math.cos(state.heading) if state.in_air else 0.0
    ground_mps = max(state.speed_mps * math.cos(state.path) - along, 0.0)
    turning = 0.12 * state.turn * (load_factor > 1.0)
    size = 0.08 if state.in_air else 0.25 * (state.speed_mps > 0.5)
    rudder = min(max(size * pedal + turning, -1.0), 1.0)
    climb_mps = state.speed_mps * math.sin(state.path)
    course_deg = math.degrees(state.heading) % 360.0
    return (
        state.command,
        rudder,
        airspeed_mps,
        ground_mps,
        state.height_m,
        climb_mps,
        course_deg,
        load_factor,
        float(state.in_air),
    )
