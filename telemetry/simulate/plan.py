"""What the pilot means to do: legs of a flight, steps of a bench run, faults that happen on the way."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FlownLeg:
    """A part of the plan.

    Attributes
    ----------
    kind : rest, taxi, takeoff, climb, cruise, full, glide, approach, land (flare, touch-down, roll to a
        stop), touch (as land, but rolling on), go_around, or bench (both motors held at `throttle`, model
        held still).
    seconds : how long; takeoff, climb to a height, approach, land, touch and go_around end by themselves.
    throttle : of taxi, takeoff, climb, go_around, bench.
    airspeed_mps : of cruise; 0 means 1.5 × the stalling speed.
    height_m : to climb to; of cruise 0 means "stay"; where approach ends, 2.5 m by default.
    """

    kind: str
    seconds: float = 0.0
    throttle: float = 0.0
    airspeed_mps: float = 0.0
    height_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Happening:
    """Something a motor does.

    Attributes
    ----------
    kind : cut, stall, reverse_ground, reverse_air, out_of_step, late_start, overheating.
    motor : a position, or "both".
    start_s : from power on; 0 for a stall or late start means "at the first throttle-up". [s]
    seconds : how long; of overheating until the end of the flight. [s]
    size : stall, the current held in A; reverse, the command (below zero); overheating, W into the motor.
    """

    kind: str
    motor: str
    start_s: float = 0.0
    seconds: float = 1.0
    size: float = 0.0


def circuits(
    seconds: float,
    *,
    taxi_s: float = 8.0,
    airspeed_mps: float = 0.0,
    climb_throttle: float = 0.75,
    height_m: float = 45.0,
    passes: int = 2,
    rest_before_s: float = 8.0,
    rest_after_s: float = 25.0,
) -> tuple[FlownLeg, ...]:
    """A whole flight: taxi, take-off, climb, cruise broken by full-throttle passes, approach, landing,
    rest.
    """
    between_s = seconds / (passes + 1)
    middle: list[FlownLeg] = [FlownLeg("cruise", between_s, airspeed_mps=airspeed_mps)]
    for _ in range(passes):
        middle += [FlownLeg("full", 5.0), FlownLeg("cruise", between_s, airspeed_mps=airspeed_mps)]
    return (
        FlownLeg("rest", rest_before_s),
        FlownLeg("taxi", taxi_s, throttle=0.16),
        FlownLeg("takeoff", throttle=0.95),
        FlownLeg("climb", throttle=climb_throttle, height_m=height_m),
        *middle,
        FlownLeg("approach"),
        FlownLeg("land"),
        FlownLeg("taxi", taxi_s, throttle=0.15),
        FlownLeg("rest", rest_after_s),
    )


def touch_and_go(seconds: float, *, airspeed_mps: float = 0.0) -> tuple[FlownLeg, ...]:
    """Two circuits with the wheels touching between them, and a go-around before the last landing: one
    flight.
    """
    again = (
        FlownLeg("takeoff", throttle=0.95),
        FlownLeg("climb", throttle=0.75, height_m=35.0),
        FlownLeg("cruise", seconds / 3.0, airspeed_mps=airspeed_mps),
    )
    turned = (
        FlownLeg("approach", height_m=8.0),
        FlownLeg("go_around", throttle=0.95, height_m=35.0),
        FlownLeg("cruise", seconds / 3.0, airspeed_mps=airspeed_mps),
    )
    begun = (
        FlownLeg("rest", 8.0),
        FlownLeg("taxi", 8.0, throttle=0.16),
        *again,
        FlownLeg("approach"),
        FlownLeg("touch"),
    )
    return (*begun, *again, *turned, FlownLeg("approach"), FlownLeg("land"), FlownLeg("rest", 20.0))


def several(
    flights: int, seconds: float, *, idle_s: float = 40.0, airspeed_mps: float = 0.0
) -> tuple[FlownLeg, ...]:
    """Some flights on one power-on, the model standing between them."""
    one = circuits(
        seconds, airspeed_mps=airspeed_mps, passes=1, rest_before_s=idle_s / 2.0, rest_after_s=idle_s / 2.0
    )
    return one * flights


def taxi_only(seconds: float = 60.0) -> tuple[FlownLeg, ...]:
    """Out and back without leaving the ground."""
    return (
        FlownLeg("rest", 8.0),
        FlownLeg("taxi", seconds / 2.0, throttle=0.17),
        FlownLeg("rest", 5.0),
        FlownLeg("taxi", seconds / 2.0, throttle=0.16),
        FlownLeg("rest", 10.0),
    )


def bench_steps(
    *,
    throttles: tuple[float, ...] = (0.25, 0.5, 0.75, 1.0),
    hold_s: float = 7.0,
    idle_s: float = 4.0,
    reverse: float = -0.2,
    reverse_s: float = 3.0,
) -> tuple[FlownLeg, ...]:
    """A run-up on the bench: each throttle held, idle between, a short reverse check at the end (0 leaves it
    out).
    """
    legs = [FlownLeg("rest", 8.0)]
    for throttle in throttles:
        legs += [FlownLeg("bench", hold_s, throttle=throttle), FlownLeg("bench", idle_s)]
    if reverse:
        legs += [FlownLeg("bench", reverse_s, throttle=reverse)]
    return (*legs, FlownLeg("rest", 15.0))
