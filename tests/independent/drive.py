"""One motor with its controller and propeller, stepped by an implicit Euler step that stays stable at 20 ms.

Motor: back voltage on speed, iron and windage loss on speed to the power 1.6, torque that sags a little with
current, copper that warms. Controller: dead-band, a throttle curve that is no straight line, on-resistance,
freewheel drop while chopping, a switching loss, a slew limit, a limiter that backs off at low supply.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .propeller import Propeller

TWO_PI = 2 * math.pi


@dataclass
class DriveParts:
    """What one motor, its controller, its leads and its propeller are in truth."""

    position: str
    kv_rpm_per_v: float
    winding_ohm: float
    no_load_a: float
    no_load_rpm: float
    propeller: Propeller
    lead_ohm: float
    arm_m: float = 0.0
    on_ohm: float = 0.0022
    freewheel_v: float = 0.12
    switching_fraction: float = 0.012
    dead_band: float = 0.03
    curve: float = 0.12
    end_point: float = 1.0
    slew_per_s: float = 5.0
    stray: float = 0.012
    rated_a: float = 40.0
    case_j_per_k: float = 90.0
    case_w_per_k: float = 0.9
    controller_j_per_k: float = 45.0
    controller_w_per_k: float = 0.45
    drag_nm: float = 0.0
    extra_heat_w: float = 0.0
    thrust_scale: float = 1.0
    torque_scale: float = 1.0
    regenerates: bool = False
    folds: bool = False
    turns_wrong_way: bool = False
    cut_off_v: float = 0.0
    reversing: bool = False


class Drive:
    """The running state of one motor."""

    def __init__(self, parts: DriveParts, air_c: float) -> None:
        self.parts = parts
        self.ke = 60 / (TWO_PI * parts.kv_rpm_per_v)
        self.iron_at = parts.no_load_rpm / 60 * TWO_PI
        self.winding_ohm = parts.winding_ohm
        self.inertia = parts.propeller.inertia_kgm2 * 1.15
        self.air_c = air_c
        self.winding_c = self.case_c = self.controller_c = air_c
        self.duty = self.omega = self.current = self.bus = 0.0
        self.thrust = self.torque = 0.0
        self.e = 0.0
        self.r = 1.0
        self.ceiling = 1.0
        self.mode = ""
        self.value = 0.0
        self.thrust_scale, self.torque_scale = parts.thrust_scale, parts.torque_scale

    def wanted(self, command: float) -> float:
        """Duty the controller aims at for a command."""
        parts = self.parts
        if self.mode == "cut":
            return 0.0
        if self.mode == "reverse":
            command = -self.value
        size = abs(command) * parts.end_point
        if size <= parts.dead_band:
            return 0.0
        size = (size - parts.dead_band) / (1 - parts.dead_band)
        size = min(size * (1 - parts.curve + parts.curve * size), 1.0, self.ceiling)
        return size if command > 0 else (-size if parts.reversing or self.mode == "reverse" else 0.0)

    def prepare(self, command: float, step_s: float) -> tuple[float, float]:
        """Take the command; return what this motor adds to the sums of the supply's balance."""
        wanted, reach = self.wanted(command), self.parts.slew_per_s * step_s
        change = wanted - self.duty
        if change > reach:
            self.duty += reach
        else:
            self.duty = max(wanted, self.duty - 3 * reach)
        d = self.duty
        self.r = self.winding_ohm + self.parts.on_ohm + d * d * self.parts.lead_ohm
        self.e = self.ke * self.omega + (self.parts.freewheel_v * (1 - abs(d)) if d > 0 else 0.0)
        if (
            self.mode in ("stall", "out_of_step")
            or d == 0.0
            or (self.bus <= 0 and not self.parts.regenerates)
        ):
            return 0.0, 0.0
        return d * self.e / self.r, d * d / self.r

    def run(self, supply_v: float, airspeed: float, density: float, step_s: float, chance: float) -> float:
        """One step; returns the current drawn from the pack."""
        d, parts = self.duty, self.parts
        if self.mode in ("stall", "out_of_step"):
            return self._lost_step(supply_v, airspeed, density, step_s, chance)
        current, live = (d * supply_v - self.e) / self.r, d != 0.0
        if not live or (current * d < 0 and not parts.regenerates):
            current, live = 0.0, False
        kt = self.ke * (1 - parts.stray * abs(current) / parts.rated_a)
        load, slope = self._load(airspeed, density)
        before = self.omega
        stiff = slope + (kt * self.ke / self.r if live else 0.0)
        gain = step_s / self.inertia
        self.omega += gain * (kt * current - load) / (1 + gain * stiff)
        if parts.folds and d == 0.0:
            self.omega *= 1 - 10 * step_s
        if live:
            current -= self.ke * (self.omega - before) / self.r
        self.current = current
        loss = parts.switching_fraction * abs(current) * 4 * abs(d) * (1 - abs(d) * 0.8)
        self.bus = d * current + (loss if live else 0.0)
        return self.bus

    def _load(self, airspeed: float, density: float) -> tuple[float, float]:
        """Torque against the shaft and its slope with speed; sets thrust and propeller torque."""
        omega, prop, parts = self.omega, self.parts.propeller, self.parts
        size, rev = prop.diameter_m, abs(omega) / TWO_PI
        slow = rev if rev > 2.0 else 2.0
        thrust, torque = prop.look_up(airspeed / (slow * size))
        reynolds = (max(slow, 20.0) / prop.reference_rev_s) ** prop.reynolds_power
        square = density * slow * rev * size**4
        self.thrust = thrust * square * self.thrust_scale
        self.torque = torque * square * size * self.torque_scale * (reynolds if torque > 0 else 1.0)
        iron = self.ke * parts.no_load_a * (max(abs(omega), 1.0) / self.iron_at) ** 0.6 + parts.drag_nm
        if omega < 0:
            self.thrust *= -0.7
            return -(self.torque + iron), 2 * self.torque / max(-omega, 5.0)
        if omega < 8.0:
            iron *= omega / 8.0
        return self.torque + iron, (2 * abs(self.torque) + 0.6 * iron) / max(omega, 8.0)

    def _lost_step(
        self, supply_v: float, airspeed: float, density: float, step_s: float, chance: float
    ) -> float:
        """Out of step, or standing still at start: current without torque to speak of."""
        load, slope = self._load(airspeed, density)
        gain = step_s / self.inertia
        push = 0.15 * self.ke * self.parts.rated_a * (0.5 + chance) if self.mode == "out_of_step" else 0.0
        self.omega += gain * (push - load) / (1 + gain * (slope + 2e-4))
        if self.mode == "stall":
            self.omega *= 1 - 30 * step_s
        share = self.value * (1 + 0.6 * chance) if self.duty > 0.02 else 0.0
        self.current = share * self.parts.rated_a
        self.bus = min(self.current * max(abs(self.duty), 0.05), supply_v / 0.05)
        return self.bus

    def warm(self, supply_v: float, step_s: float, airspeed: float) -> None:
        """Heat of winding, case and controller; winding resistance; the low-supply limiter."""
        parts, wind = self.parts, 1 + 0.06 * (airspeed + abs(self.omega) / 120)
        copper = self.current**2 * self.winding_ohm
        iron = self.ke * parts.no_load_a * (max(abs(self.omega), 1.0) / self.iron_at) ** 0.6 * abs(self.omega)
        across = (self.winding_c - self.case_c) * 4.0
        self.winding_c += step_s * (copper - across) / (0.25 * parts.case_j_per_k)
        bearing = parts.drag_nm * abs(self.omega) + (parts.extra_heat_w if self.duty else 0.0)
        self.case_c += (
            step_s
            * (across + iron + bearing - (self.case_c - self.air_c) * parts.case_w_per_k * wind)
            / (parts.case_j_per_k)
        )
        self.winding_ohm = parts.winding_ohm * (1 + 0.00393 * (self.winding_c - 20))
        waste = self.current**2 * parts.on_ohm + parts.switching_fraction * abs(self.current) * supply_v * 0.6
        waste += abs(self.bus) ** 2 * 0.0003
        out = (self.controller_c - self.air_c) * parts.controller_w_per_k * (1 + 0.05 * airspeed)
        self.controller_c += step_s * (waste - out) / parts.controller_j_per_k
        if parts.cut_off_v:
            low = supply_v < parts.cut_off_v
            self.ceiling = (
                max(0.25, self.ceiling - 0.35 * step_s) if low else min(1.0, self.ceiling + 0.04 * step_s)
            )
