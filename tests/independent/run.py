"""The time loop: pack, drives, body and pilot together, 20 ms a step, every step kept."""

from __future__ import annotations

import math
from random import Random
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from .cells import TAUS_S, cell_voltages
from .drive import Drive
from .flight import Body, Pilot
from .plan import Event, Plan

Floats = NDArray[np.float64]
STEP_S = 0.02
SLOW = 5
LONGEST_S = 1000.0
PER_MOTOR = ("command", "current", "winding", "omega", "thrust", "torque", "case_c", "controller_c", "duty")
BASE = (
    "supply",
    "current",
    "drawn",
    "pack_c",
    "speed",
    "path",
    "height",
    "north",
    "east",
    "load",
    "air",
    "bank",
    "throttle",
    "rudder",
    "flying",
    "straight",
    "acceleration",
)


class Run:
    """One power-on, from the first row to the last."""

    def __init__(self, plan: Plan, seed: int) -> None:
        self.plan = plan
        self.chance = Random(seed * 7919 + plan.seed)
        self.drives = [Drive(parts, plan.air.temperature_c) for parts in plan.drives]
        self.body = Body(plan.airframe, plan.air.density)
        self.pilot = Pilot(plan, self.body, self.chance)
        self.keeps = [1 - math.exp(-STEP_S / tau) for tau in TAUS_S]
        self.y = [0.0] * len(TAUS_S)
        self.drawn = 0.0
        self.pack_c = plan.pack.temperature_c
        self.supply = 0.0
        self.heat = 0.0
        self.commands = [0.0] * len(self.drives)
        self.hand = self.lost_a = 0.0
        self.rows: list[tuple[float, ...]] = []

    def go(self) -> dict[str, Any]:
        steps = int(LONGEST_S / STEP_S)
        gusts = self._gusts(steps)
        shakes = np.random.default_rng(self.plan.seed + 5).normal(size=steps).tolist()
        for k in range(steps):
            if k % SLOW == 0:
                now = k * STEP_S
                self._slow(now)
                if self.pilot.done():
                    break
            self._fast(gusts[k], shakes[k])
        return self._table()

    def _gusts(self, steps: int) -> list[float]:
        """Gusts along the path: white noise through the low-pass of a Dryden spectrum at 18 m/s."""
        air = self.plan.air
        tau = air.gust_length_m / 18.0
        keep = math.exp(-STEP_S / tau)
        noise = np.random.default_rng(self.plan.seed + 11).normal(size=steps)
        return [float(x) for x in lfilter([air.gust_mps * math.sqrt(1 - keep**2)], [1, -keep], noise)]

    def _slow(self, now: float) -> None:
        plan = self.plan
        if round(now / STEP_S) % (2 * SLOW) == 0:
            self.rest, self.ohmic, self.transfer, self.rungs = plan.pack.sums(self.drawn, self.pack_c)
            self.ohmic += plan.pack.plug_ohm
            self.charge = float(np.median(plan.pack.charge(self.drawn)))
        share = plan.pack.cooling_w_per_k * (1 + 0.02 * self.body.speed)
        out = share * (self.pack_c - plan.air.temperature_c)
        self.pack_c += (self.heat - out) * STEP_S * SLOW / plan.pack.self_heat_j_per_k
        self.pilot.look(now, self.charge)
        for drive in self.drives:
            drive.warm(self.supply, STEP_S * SLOW, self.body.speed)
        for event in plan.events:
            self._happen(event, now)

    def _happen(self, event: Event, now: float) -> None:
        if event.ended_s is not None or event.kind == "":
            return
        if event.began_s is None:
            fits = self.commands[event.motor] >= event.needs and now >= event.after_s
            if event.airborne:
                fits = fits and self.body.flying and self.pilot.straight and self.body.height > 8
            if not fits:
                return
            event.began_s = now
        if now >= event.began_s + event.land_after_s:
            self.pilot.land(now)
        over = now >= event.began_s + event.seconds
        drive = self.drives[event.motor]
        if event.kind == "shed":
            drive.thrust_scale, drive.torque_scale = 0.42, 0.55
        elif event.kind == "limit":
            drive.ceiling = 1.0 if over else event.value
        elif event.kind in ("cut", "stall", "out_of_step", "reverse"):
            drive.mode, drive.value = ("" if over else event.kind), event.value
        if over:
            event.ended_s = now

    def _mix(self) -> None:
        """The stick's throttle through the hand's lag to each motor's own command."""
        plan, pilot = self.plan, self.pilot
        self.hand += max(-3.0 * STEP_S, min(3.0 * STEP_S, (pilot.throttle - self.hand) * 12 * STEP_S))
        base = self.hand if self.hand > 0.004 else 0.0
        for i, parts in enumerate(plan.drives):
            side = -1.0 if parts.arm_m < 0 else (1.0 if parts.arm_m > 0 else 0.0)
            command = base - side * plan.mixed_thrust * pilot.rudder * (1.0 if base > 0.02 else 0.0)
            if pilot.cuts:
                command *= pilot.cuts[i]
            reversed_now = self.drives[i].mode == "reverse"
            self.commands[i] = -self.drives[i].value if reversed_now else max(0.0, min(1.0, command))

    def _fast(self, gust: float, shake: float) -> None:
        plan, body, pilot, y = self.plan, self.body, self.pilot, self.y
        self._mix()
        air = max(
            0.0,
            body.speed + (gust if body.flying else 0.3 * gust + plan.air.wind_mps * 0.3 * (body.speed > 1)),
        )
        pushed = admitted = 0.0
        for drive, command in zip(self.drives, self.commands, strict=True):
            a, b = drive.prepare(command, STEP_S)
            pushed += a
            admitted += b
        bent = abs(y[0]) / plan.pack.transfer_bend_a + 1e-9
        inner = self.rest - self.transfer * y[0] * math.asinh(bent) / bent
        for w, v in zip(self.rungs, y[1:], strict=True):
            inner -= w * v
        rest_a = plan.receiver_a + self.lost_a
        supply = (inner + self.ohmic * (pushed - rest_a)) / (1 + self.ohmic * admitted)
        current = plan.receiver_a
        density = body.density
        thrust = lost = 0.0
        for drive in self.drives:
            drawn = drive.run(supply, air, density, STEP_S, shake)
            current += drawn
            if drive.mode in ("stall", "out_of_step"):
                lost += drawn
            thrust += drive.thrust
        self.lost_a = lost
        for i, keep in enumerate(self.keeps):
            y[i] += keep * (current - y[i])
        self.drawn += current * STEP_S / 3.6
        self.supply, self.heat = supply, max(0.0, current * (self.rest - supply))
        body.step(thrust, air, pilot.load, pilot.bank, pilot.brake, STEP_S)
        self._keep(supply, current, air)

    def _keep(self, supply: float, current: float, air: float) -> None:
        body, pilot = self.body, self.pilot
        row = [
            supply,
            current,
            self.drawn,
            self.pack_c,
            body.speed,
            body.path,
            body.height,
            body.north,
            body.east,
            body.load,
            air,
            pilot.bank,
            self.hand,
            pilot.rudder,
            float(body.flying),
            float(pilot.straight),
            body.acceleration,
        ]
        for drive, command in zip(self.drives, self.commands, strict=True):
            row += (
                command,
                drive.bus,
                drive.current,
                drive.omega,
                drive.thrust,
                drive.torque,
                drive.case_c,
                drive.controller_c,
                drive.duty,
            )
        self.rows.append(tuple(row))

    def _table(self) -> dict[str, Any]:
        """Columns of the whole run; per-motor ones are (steps, motors)."""
        grid = np.array(self.rows)
        table: dict[str, Any] = {name: grid[:, i] for i, name in enumerate(BASE)}
        each = grid[:, len(BASE) :].reshape(len(grid), len(self.drives), len(PER_MOTOR))
        table.update({"motor_" + name: each[:, :, i] for i, name in enumerate(PER_MOTOR)})
        table["time"] = np.arange(len(grid)) * STEP_S
        pack = self.plan.pack
        table["cells"] = cell_voltages(pack, table["current"], table["drawn"], table["pack_c"], STEP_S)
        table["pack_v"] = table["cells"].sum(axis=1) - table["current"] * pack.plug_ohm
        return table
