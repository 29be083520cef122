"""Body and pilot: how the aircraft moves and what hand flies it."""

from __future__ import annotations

import math
from random import Random

from .plan import Airframe, Leg, Plan

G = 9.80665


class Body:
    """Point mass: speed, path angle, heading, height; ground roll with friction."""

    def __init__(self, frame: Airframe, density: float) -> None:
        self.frame, self.density = frame, density
        self.speed = self.path = self.heading = self.height = 0.0
        self.north = self.east = 0.0
        self.flying = False
        self.load = 1.0
        self.acceleration = 0.0
        self.stall_speed = math.sqrt(2 * frame.mass_kg * G / (density * frame.wing_m2 * frame.lift_max))

    def step(self, thrust: float, air: float, load: float, bank: float, brake: float, step_s: float) -> None:
        """Advance by one step under a thrust, with an airspeed `air` and a wanted load factor."""
        frame = self.frame
        pressure = 0.5 * self.density * air * air * frame.wing_m2
        weight = frame.mass_kg * G
        most = frame.lift_max * pressure / weight
        load = max(-0.6 * most, min(load, most))
        parasite = frame.drag_m2 * (max(air, 5.0) / 20.0) ** frame.drag_speed_power
        drag = 0.5 * self.density * air * air * parasite
        if not self.flying:
            self._roll(thrust, drag, brake, step_s)
            return
        drag += frame.induced * (load * weight) ** 2 / max(pressure, 0.5)
        self.acceleration = (thrust - drag) / frame.mass_kg - G * math.sin(self.path)
        self.speed = max(2.0, self.speed + step_s * self.acceleration)
        self.path += step_s * G * (load * math.cos(bank) - math.cos(self.path)) / self.speed
        self.heading += step_s * G * load * math.sin(bank) / max(self.speed * abs(math.cos(self.path)), 2.0)
        flat = self.speed * math.cos(self.path) * step_s
        self.north += flat * math.cos(self.heading)
        self.east += flat * math.sin(self.heading)
        self.height += step_s * self.speed * math.sin(self.path)
        self.load = load
        if self.height <= 0.0:
            self.height, self.flying, self.path, self.load = 0.0, False, 0.0, 1.0

    def _roll(self, thrust: float, drag: float, brake: float, step_s: float) -> None:
        frame = self.frame
        grip = (frame.rolling + brake) * frame.mass_kg * G
        push = thrust - drag
        if self.speed <= 0.0 and abs(push) < grip:
            self.speed = self.acceleration = 0.0
            return
        self.acceleration = (push - grip) / frame.mass_kg
        self.speed = max(0.0, self.speed + step_s * self.acceleration)
        self.north += self.speed * math.cos(self.heading) * step_s
        self.east += self.speed * math.sin(self.heading) * step_s


class Pilot:
    """Flies the plan's legs with a hand that waits, overshoots and trembles."""

    def __init__(self, plan: Plan, body: Body, chance: Random) -> None:
        self.plan, self.body, self.chance = plan, body, chance
        self.legs, self.at, self.since = plan.legs, 0, 0.0
        self.throttle, self.bank, self.load, self.brake = 0.0, 0.0, 1.0, 0.02
        self.path_wanted, self.rudder, self.turn = 0.0, 0.0, 1.0
        self.trim, self.next_look, self.straight = 0.55, 0.0, False
        self.burst_until = self.pull_until = -1.0
        self.cuts: tuple[float, ...] = ()
        self.steer = 0.0
        self.gain = 1.0 + chance.uniform(-0.25, 0.25)

    @property
    def leg(self) -> Leg:
        return self.legs[min(self.at, len(self.legs) - 1)]

    def done(self) -> bool:
        return self.at >= len(self.legs)

    def land(self, now: float) -> None:
        """Give up what was planned and land ahead."""
        kinds = [leg.kind for leg in self.legs]
        if "approach" in kinds and self.at < kinds.index("approach") and self.body.flying:
            self.at, self.since, self.cuts = kinds.index("approach"), now, ()

    def look(self, now: float, charge: float) -> None:
        """Decide anew, ten times a second."""
        leg = self.leg
        if self._over(leg, now, charge):
            self.at, self.since = self.at + 1, now
            if self.done():
                return
            leg = self.leg
            self.cuts = ()
        self.straight = False
        getattr(self, "_" + leg.kind)(leg, now - self.since, now)
        self.rudder += 0.3 * (self.chance.gauss(self.steer, 0.02) - self.rudder)

    def _over(self, leg: Leg, now: float, charge: float) -> bool:
        spent = now - self.since
        if leg.kind == "takeoff":
            return self.body.height > 4.0 or spent > 40
        if leg.kind == "climb":
            return self.body.height > leg.altitude_m - 3 or spent > 60
        if leg.kind in ("approach", "crash"):
            return not self.body.flying
        if leg.kind == "rollout":
            return (self.body.speed <= 0.05 and spent > 1) or spent > 30
        if leg.kind in ("circuit", "aerobatics", "bursts", "descend") and (
            charge <= self.plan.land_at_charge or not self.body.flying
        ):
            return True
        return spent >= leg.seconds

    def _idle(self, leg: Leg, spent: float, now: float) -> None:
        self.throttle, self.bank, self.load, self.brake = 0.0, 0.0, 1.0, 0.3

    def _step(self, leg: Leg, spent: float, now: float) -> None:
        self.throttle, self.brake = leg.throttle, 5.0

    def _roll(self, leg: Leg, spent: float, now: float) -> None:
        """Taxi: blips of throttle, steering by difference of thrust."""
        if now >= self.next_look:
            self.next_look = now + self.chance.uniform(1.0, 3.0)
            fast = self.body.speed > leg.speed_mps
            self.throttle = 0.0 if fast else leg.throttle * self.chance.uniform(0.7, 1.3)
            self.steer = self.chance.choice((-0.7, -0.3, 0.0, 0.0, 0.3, 0.7))
        self.brake = 0.02

    def _takeoff(self, leg: Leg, spent: float, now: float) -> None:
        self.throttle, self.brake, self.bank, self.steer = (
            min(leg.throttle, 0.25 + 0.5 * spent),
            0.0,
            0.0,
            0.05,
        )
        if self.body.speed > 1.2 * self.body.stall_speed:
            self.body.flying = True
        self._follow(0.22)

    def _climb(self, leg: Leg, spent: float, now: float) -> None:
        self.throttle, self.bank, self.steer = leg.throttle, 0.0, 0.0
        reserve = (self.body.speed - 1.15 * self.body.stall_speed) / self.body.stall_speed
        self._follow(max(0.02, min(0.5, 0.9 * reserve)))
        self.straight = True

    def _circuit(self, leg: Leg, spent: float, now: float) -> None:
        body = self.body
        turning = math.pi * leg.speed_mps / (G * math.tan(math.radians(leg.bank_deg)))
        phase = spent % (turning + leg.straight_s)
        in_turn = phase > leg.straight_s
        self.bank = math.radians(leg.bank_deg) * self.turn * (1 if in_turn else 0)
        self.straight = not in_turn and phase > 1.5
        if now >= self.next_look:
            self.next_look = now + self.chance.uniform(0.4, 1.6)
            short, low = leg.speed_mps - body.speed, leg.altitude_m - body.height
            self.trim = max(0.15, min(0.9, self.trim + 0.006 * short))
            ask = self.trim + self.gain * (0.028 * short + 0.006 * low) + self.chance.gauss(0, 0.02)
            self.throttle = max(0.08, min(1.0, round(ask / 0.02) * 0.02 + self.chance.gauss(0, 0.004)))
        low = leg.altitude_m - body.height + 3 * math.sin(now / 9.0)
        self._follow(max(-0.3, min(0.3, low / (4 * max(body.speed, 5)))))
        self.cuts = self._training(leg, spent)

    def _training(self, leg: Leg, spent: float) -> tuple[float, ...]:
        """Every second half minute one motor after the other is throttled back on purpose."""
        if not leg.cuts:
            return ()
        turn = int(spent // 25)
        if turn % 2 == 0:
            return ()
        side = (turn // 2) % len(leg.cuts)
        self.straight = False
        return tuple(leg.cuts[side] if i == side else 1.0 for i in range(len(leg.cuts)))

    def _aerobatics(self, leg: Leg, spent: float, now: float) -> None:
        body = self.body
        if now >= self.burst_until + leg.straight_s:
            self.burst_until = now + self.chance.uniform(1.5, 4.5)
            self.pull_until = now + (self.chance.choice((0.0, 0.0, 2.8)) if body.height > 60 else 0.0)
            self.turn = self.chance.choice((-1.0, 1.0))
        self._circuit(leg, spent, now)
        if now < self.burst_until:
            self.throttle, self.straight = 1.0, False
        if now < self.pull_until:
            self.bank, self.load = 0.0, 3.2
        elif abs(math.remainder(body.path, 2 * math.pi)) > 0.6:
            upright_climb = math.sin(body.path) > 0 and math.cos(body.path) > 0
            self.bank, self.load = 0.0, 0.1 if upright_climb else 3.0
        body.path = math.remainder(body.path, 2 * math.pi)

    def _bursts(self, leg: Leg, spent: float, now: float) -> None:
        """Motor glider: up under full power, two minutes of glide, and again."""
        phase = spent % (leg.straight_s + 120.0)
        climbing = phase < leg.straight_s
        self.throttle = leg.throttle if climbing else 0.0
        self.bank = 0.0 if climbing else math.radians(leg.bank_deg) * math.sin(now / 17.0)
        if self.body.height < 15 and not climbing:
            self._follow(-0.03)
        else:
            self._follow(0.38 if climbing else (leg.speed_mps - self.body.speed) * -0.02 - 0.05)
        self.straight = climbing

    def _descend(self, leg: Leg, spent: float, now: float) -> None:
        self.throttle, self.bank = leg.throttle, math.radians(leg.bank_deg) * 0.5
        self._follow(-0.22 if self.body.height > 25 else 0.0)

    def _crash(self, leg: Leg, spent: float, now: float) -> None:
        self.throttle, self.bank = leg.throttle, 0.0
        self._follow(-0.9)

    def _approach(self, leg: Leg, spent: float, now: float) -> None:
        body, self.bank, self.steer = self.body, 0.0, 0.0
        wanted = 1.4 * body.stall_speed
        if body.height < 1.5:
            self.throttle = 0.0
            self._follow(-0.03)
            return
        if now >= self.next_look:
            self.next_look = now + self.chance.uniform(0.4, 1.0)
            self.throttle = max(0.0, min(0.5, leg.throttle + 0.05 * (wanted - body.speed)))
        self._follow(-0.11 if body.height > 6 else -0.06)

    def _rollout(self, leg: Leg, spent: float, now: float) -> None:
        self.throttle, self.bank, self.load, self.brake = 0.0, 0.0, 1.0, 0.15

    def _follow(self, path: float) -> None:
        """Load factor that bends the path to the wanted angle."""
        body = self.body
        off = path - math.remainder(body.path, 2 * math.pi)
        ask = (math.cos(body.path) + body.speed * off / (0.7 * G)) / max(math.cos(self.bank), 0.3)
        self.load = max(-0.5, min(3.5, ask))
