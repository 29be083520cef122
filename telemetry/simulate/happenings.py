"""What happens to a motor on the way: cut, stall, reverse, out of step, late start, overheating."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from telemetry.simulate.drive import Running
from telemetry.simulate.plan import Happening
from telemetry.trace import Flags, Floats


@dataclass(frozen=True, slots=True)
class Upset:
    """What happens to one motor, each (n,).

    Attributes
    ----------
    lit : 1 where the controller drives the motor, 0 where it does not.
    stalled_a : winding current of a motor held still, 0 where it is not. [A]
    slipping : 0 in step, above it how far out of step.
    heat_w : into the motor besides its losses. [W]
    """

    lit: Floats
    stalled_a: Floats
    slipping: Floats
    heat_w: Floats

    def apply(self, running: Running) -> tuple[Floats, Floats, Floats, Floats]:
        """Speed, winding current, torque and thrust with the upset."""
        still = self.stalled_a > 0.0
        slower = 1.0 - np.clip(self.slipping, 0.0, 0.9)
        rpm = np.where(still, 0.0, running.rpm * slower)
        winding_a = np.where(still, self.stalled_a, running.winding_a * (1.0 + 0.8 * self.slipping))
        load = np.where(still, 0.0, slower**2)
        return rpm, winding_a, running.torque_nm * load, running.thrust_n * load


@dataclass(frozen=True, slots=True)
class Happened:
    """A happening with its true times. [s from power on]"""

    kind: str
    motor: str
    start_s: float
    end_s: float
    size: float


def place(happenings: tuple[Happening, ...], time_s: Floats, command: Floats) -> tuple[Happened, ...]:
    """Happenings with the times at which they begin and end; "at the first throttle-up" is looked up."""
    up = np.flatnonzero(command > 0.05)
    first_s = float(time_s[up[0]]) if up.size else 0.0
    placed = []
    for h in happenings:
        start_s = first_s if h.start_s == 0.0 and h.kind in ("stall", "late_start") else h.start_s
        end_s = float(time_s[-1]) if h.kind == "overheating" else start_s + h.seconds
        placed.append(Happened(h.kind, h.motor, start_s, end_s, h.size))
    return tuple(placed)


def during(happened: Happened, time_s: Floats, position: str) -> Flags:
    """When it happens to this motor: (n,)."""
    mine = happened.motor in (position, "both")
    return (time_s >= happened.start_s) & (time_s < happened.end_s) & mine


def reversed_command(
    command: Floats, happened: tuple[Happened, ...], time_s: Floats, position: str
) -> Floats:
    """A motor's command with the stretches of reverse put in: (n,)."""
    for h in happened:
        if h.kind in ("reverse_ground", "reverse_air"):
            command = np.where(during(h, time_s, position), h.size or -0.3, command)
    return command


def upsets(
    happened: tuple[Happened, ...], time_s: Floats, positions: tuple[str, ...], rng: np.random.Generator
) -> Mapping[str, Upset]:
    """By motor, what happens to it."""
    found = {}
    for position in positions:
        lit, stalled, slipping, heat = (
            np.ones(time_s.size),
            np.zeros(time_s.size),
            np.zeros(time_s.size),
            np.zeros(time_s.size),
        )
        for h in happened:
            now = during(h, time_s, position)
            if h.kind in ("cut", "late_start"):
                lit = np.where(now, 0.0, lit)
            elif h.kind == "stall":
                stalled = np.where(now, h.size or 12.0, stalled)
            elif h.kind == "out_of_step":
                slipping = np.where(now, 0.35 + 0.3 * rng.random(time_s.size), slipping)
            elif h.kind == "overheating":
                heat = np.where(now, h.size or 60.0, heat)
        found[position] = Upset(lit, stalled, slipping, heat)
    return found
