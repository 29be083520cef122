"""Aircraft of another physics against their sheets: propellers from blade-element theory, motors with curved
iron loss.

    python tests/benchmarks/prediction_blades.py 100

Nothing of `telemetry` makes the truth. Blade elements with momentum inflow and Prandtl's tip loss (textbook
method, from memory); sections with stall and drag; twist of constant pitch. The motor's iron loss grows with
speed to the power 1.4, its winding is warm, its controller has switches of a few milliohm; cells of the pack
have their own resting curve.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from telemetry.estimate import Estimate
from telemetry.prediction import predict
from telemetry.sheet import Sheet

INCH, GRAVITY = 0.0254, 9.80665


@dataclass(frozen=True)
class Blades:
    """CT and CP over J of one propeller, by blade elements."""

    diameter_m: float
    pitch_m: float
    count: int
    chord: float
    camber_deg: float
    lift_slope: float
    stall_cl: float
    drag0: float

    def coefficients(self, advance: float) -> tuple[float, float]:
        """CT and CP at an advance ratio."""
        radius = self.diameter_m / 2.0
        r = np.linspace(0.2, 0.985, 40) * radius
        turning = 2.0 * np.pi  # one revolution per second
        speed = advance * self.diameter_m
        chord = self.chord * radius * (0.55 + 1.6 * (r / radius) - 1.75 * (r / radius) ** 2).clip(0.15)
        twist = np.arctan(self.pitch_m / (2.0 * np.pi * r))
        low, high = np.full(r.size, -speed + 1e-6), np.full(r.size, 4.0 * self.diameter_m)
        for _ in range(50):
            middle = 0.5 * (low + high)
            less = self._excess(middle, r, radius, turning, speed, chord, twist)[0] > 0.0
            low, high = np.where(less, middle, low), np.where(less, high, middle)
        _, thrust, torque = self._excess(0.5 * (low + high), r, radius, turning, speed, chord, twist)
        d = self.diameter_m
        return float(np.trapezoid(thrust, r)) / d**4, 2.0 * np.pi * float(np.trapezoid(torque, r)) / d**5

    def _excess(self, inflow, r, radius, turning, speed, chord, twist):
        """Blade loading less momentum, and both loadings for a density of one. (sections,)"""
        across, along = speed + inflow, turning * r
        angle = np.arctan2(across, along)
        attack = twist - angle + np.radians(self.camber_deg)
        linear = self.lift_slope * attack
        lift = self.stall_cl * np.tanh(linear / self.stall_cl)
        drag = (
            self.drag0
            + 0.012 * (lift - 0.3) ** 2
            + 0.25 * np.maximum(np.abs(linear) - self.stall_cl, 0.0) ** 1.5
        )
        pressure = 0.5 * (across**2 + along**2) * chord * self.count
        thrust = pressure * (lift * np.cos(angle) - drag * np.sin(angle))
        torque = pressure * (lift * np.sin(angle) + drag * np.cos(angle)) * r
        tip = (
            2.0
            / np.pi
            * np.arccos(
                np.exp(-self.count / 2.0 * (radius - r) / (r * np.maximum(np.abs(np.sin(angle)), 0.02))).clip(
                    0.0, 1.0
                )
            )
        )
        return thrust - 4.0 * np.pi * r * across * inflow * tip, thrust, torque


@dataclass(frozen=True)
class Craft:
    """One aircraft of known truth."""

    blades: Blades
    advances: np.ndarray
    ct: np.ndarray
    cp: np.ndarray
    kv: float
    ohm: float
    iron_a: float
    switch_ohm: float
    lead_ohm: float
    pack_ohm: float
    cells: int
    capacity_ah: float
    density: float
    temperature_c: float
    motors: int
    mass_kg: float
    span_m: float
    drag_m2: float
    oswald: float
    curve_v: float

    def loads(self, rpm: float, speed: float) -> tuple[float, float]:
        """Torque and thrust."""
        turns, d = rpm / 60.0, self.blades.diameter_m
        advance = speed / (turns * d)
        reynolds = (rpm / 8000.0) ** -0.06, (rpm / 8000.0) ** 0.08
        torque = (
            np.interp(advance, self.advances, self.cp)
            * reynolds[0]
            * self.density
            * turns**2
            * d**5
            / (2.0 * np.pi)
        )
        return torque, np.interp(advance, self.advances, self.ct) * reynolds[
            1
        ] * self.density * turns**2 * d**4

    def winding_a(self, rpm: float, speed: float) -> float:
        torque, _ = self.loads(rpm, speed)
        return torque * self.kv * np.pi / 30.0 + self.iron_a * (0.4 + 0.6 * (rpm / 8000.0) ** 1.4)

    def open_v(self, left: float) -> float:
        """A resting curve of its own, `curve_v` per cell from the usual one in the middle."""
        table = np.interp(
            left, [0.0, 0.1, 0.2, 0.3, 0.5, 0.8, 1.0], [3.3, 3.66, 3.72, 3.76, 3.85, 4.01, 4.20]
        )
        return self.cells * (table + self.curve_v * np.sin(np.pi * left))

    def full_throttle(self, volts: float, drop_ohm: float, warm: float = 1.06) -> tuple[float, float]:
        """Speed and current of each motor behind a source."""
        ohm = self.ohm * warm + self.switch_ohm + drop_ohm
        rpm = brentq(lambda n: n / self.kv + ohm * self.winding_a(n, 0.0) - volts, 300.0, self.kv * volts)
        return rpm, self.winding_a(rpm, 0.0)

    def held_ten_seconds(self) -> tuple[float, float, float, float]:
        """Current of the pack, speed, thrust of a motor, pack voltage: full pack, full throttle, after ten
        seconds.
        """
        total = 0.0
        for _ in range(30):
            left = 1.0 - total * 10.0 / 3600.0 / self.capacity_ah
            rpm, one = self.full_throttle(
                self.open_v(left), self.lead_ohm + self.motors * self.pack_ohm * 1.22
            )
            total = self.motors * one
        return total, rpm, self.loads(rpm, 0.0)[1], self.open_v(left) - total * self.pack_ohm * 1.22

    def level(self, speed: float) -> float:
        """Current of the pack in level flight at 60 % charge."""
        pressure = 0.5 * self.density * speed**2
        drag = pressure * self.drag_m2 + (self.mass_kg * GRAVITY) ** 2 / (
            pressure * np.pi * self.span_m**2 * self.oswald
        )
        rpm = brentq(
            lambda n: self.loads(n, speed)[1] - drag / self.motors,
            0.75 * speed * 60.0 / (1.2 * self.blades.diameter_m),
            40_000.0,
        )
        winding = self.winding_a(rpm, speed)
        power = self.motors * winding * (rpm / self.kv + winding * (self.ohm * 1.08 + self.switch_ohm)) * 1.02
        volts, ohm = self.open_v(0.6), self.pack_ohm * 1.4 + self.lead_ohm / self.motors
        return (volts - np.sqrt(max(volts**2 - 4.0 * ohm * power, 0.0))) / (2.0 * ohm)


def draw(rng) -> Craft:
    """An aircraft at random, its propeller matched to its pack and motor."""
    cells, motors = int(rng.integers(3, 7)), int(rng.integers(1, 3))
    diameter = rng.uniform(9.0, 15.0) * INCH
    ratio = rng.uniform(0.45, 0.85)
    blades = Blades(
        diameter,
        ratio * diameter,
        2,
        rng.uniform(0.15, 0.22),
        rng.uniform(1.5, 4.5),
        rng.uniform(5.2, 6.0),
        rng.uniform(1.0, 1.3),
        rng.uniform(0.012, 0.026),
    )
    advances = np.linspace(0.0, 1.4 * ratio + 0.35, 40)
    pairs = np.array([blades.coefficients(a) for a in advances])
    volts = 3.75 * cells
    watts = rng.uniform(350.0, 900.0)
    turns = (0.8 * watts / (pairs[0, 1] * 1.225 * diameter**5)) ** (1 / 3)
    kv = turns * 60.0 / (0.82 * volts)
    amps = watts / volts
    mass = motors * watts / rng.uniform(200.0, 330.0)
    span = np.sqrt(mass / rng.uniform(1.0, 1.4))
    capacity = motors * amps / rng.uniform(10.0, 16.0)
    return Craft(
        blades,
        advances,
        pairs[:, 0],
        pairs[:, 1],
        kv,
        rng.uniform(0.05, 0.11) * volts / amps,
        rng.uniform(0.02, 0.04) * amps,
        rng.uniform(0.0, 0.005),
        rng.uniform(0.002, 0.006),
        cells * rng.uniform(0.013, 0.022) / capacity,
        cells,
        capacity,
        rng.uniform(1.08, 1.26),
        rng.uniform(5.0, 30.0),
        motors,
        mass,
        span,
        rng.uniform(0.05, 0.09) * span**2 / 6.5,
        rng.uniform(0.7, 0.88),
        rng.normal(0.0, 0.008),
    )


def sheet_of(craft: Craft, rng, speed: float) -> str:
    """What its owner writes: Kv ± 3 %, winding ± 15 %, static point ± 3 %, drag area ± 15 %."""

    def off(fraction):
        return 1.0 + fraction * rng.uniform(-1.0, 1.0)

    warm = np.exp(24_000 / 8.314 * (1.0 / (craft.temperature_c + 273.15) - 1.0 / 298.15))
    volts = 3.75 * craft.cells
    rpm, amps = craft.full_throttle(volts, 0.0)
    thrust = craft.loads(rpm, 0.0)[1] * 1.225 / craft.density
    torque_a = (amps - craft.iron_a) * 1.225 / craft.density + craft.iron_a
    places = ("left", "right") if craft.motors == 2 else ("centre",)
    return "\n".join(
        [
            f"[aircraft]\nmass_kg = {craft.mass_kg * off(0.02)}\nspan_m = {craft.span_m}\ndrag_area_m2 = "
            f"{craft.drag_m2 * off(0.15)}",
            f"[field]\ntemperature_c = {craft.temperature_c}\npressure_hpa = "
            f"{craft.density * 2.8705287 * (craft.temperature_c + 273.15)}",
            f"[pack]\ncells = {craft.cells}\ncapacity_mah = {1000 * craft.capacity_ah * off(0.02)}",
            f"resistance_mohm = {1000 * craft.pack_ohm / craft.cells / warm * off(0.2)}",
            f"[motor]\nkv_rpm_per_v = {craft.kv * off(0.03)}\nresistance_mohm = "
            f"{1000 * craft.ohm * off(0.15)}",
            f"no_load_points = [{{voltage_v = {0.6 * volts}, current_a = "
            f"{craft.iron_a * (0.4 + 0.6 * (0.57 * volts * craft.kv / 8000) ** 1.4) * off(0.05)}}}]",
            f"[propeller]\ndiameter_in = {craft.blades.diameter_m / INCH}\npitch_in = "
            f"{craft.blades.pitch_m / INCH * off(0.03)}",
            f"static_points = [{{rpm = {rpm * off(0.03)}, current_a = {torque_a * off(0.03)}, voltage_v = "
            f"{volts}, thrust_n = {thrust * off(0.03)}}}]",
            f"[leads]\nlength_m = 0.4\narea_mm2 = {0.8 / 58 / craft.lead_ohm}",
            *(f'[[motors]]\nposition = "{p}"' for p in places),
            f'[plan]\nlegs = [{{phase = "cruise", seconds = 200, airspeed_mps = {speed}}}]',
        ]
    )


def campaign(count: int, first: int = 0) -> dict[str, list[tuple[float, bool, float]]]:
    """Error, whether covered, relative half-width, of each figure."""
    found: dict[str, list[tuple[float, bool, float]]] = {}

    def add(name: str, e: Estimate, truth: float) -> None:
        found.setdefault(name, []).append(
            (e.value / truth - 1.0, e.low <= truth <= e.high, (e.high - e.low) / 2.0 / e.value)
        )

    for seed in range(first, first + count):
        rng = np.random.default_rng([seed, 77])
        craft = draw(rng)
        stall = np.sqrt(2.0 * craft.mass_kg * GRAVITY / (craft.density * 1.2 * craft.span_m**2 / 6.5))
        speed = float(stall * rng.uniform(1.4, 1.9))
        prediction = predict(Sheet.from_text(sheet_of(craft, rng, speed)).setup())
        full = next(s for s in prediction.static if s.throttle_fraction == 1.0)
        total, rpm, thrust, volts = craft.held_ten_seconds()
        add("current", full.current_a, total)
        add("rpm", full.motors[0].rpm, rpm)
        add("thrust", full.motors[0].thrust_n, thrust)
        add("pack voltage", full.pack_voltage_v, volts)
        if not isinstance(prediction.flight.level_current_a, Estimate):
            continue
        add("level current", prediction.flight.level_current_a, craft.level(speed))
    return found


if __name__ == "__main__":
    for name, rows in campaign(int(sys.argv[1]) if len(sys.argv) > 1 else 60).items():
        errors, held, halves = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
        a = np.abs(errors)
        print(
            f"{name:14s} n {a.size}  mean {100 * errors.mean():+5.1f} %  median {100 * np.median(a):4.1f} %  "
            f"90th {100 * np.quantile(a, 0.9):4.1f} %  "
            f"covered {100 * held.mean():3.0f} %  half-width {100 * np.median(halves):4.1f} %"
        )
