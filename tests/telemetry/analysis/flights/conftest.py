"""Invented flights of a point mass with a pilot at the stick, none of the project's physics in them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest

from telemetry.trace import Channel, Trace

DT = 0.05
GRAVITY = 9.81


@dataclass
class Model:
    """Speed, height and stick, marched step by step; what happens is written down as it happens."""

    rng: np.random.Generator
    stall: float = field(init=False)
    rows: list = field(default_factory=list)
    takeoffs: list = field(default_factory=list)
    touchdowns: list = field(default_factory=list)
    time = speed = height = slope = stick = used = 0.0

    def __post_init__(self):
        rng = self.rng
        self.stall = rng.uniform(8, 13)
        self.top = self.stall * rng.uniform(2.3, 3.2)
        self.pull = rng.uniform(0.45, 1.1)
        self.full_a = rng.uniform(25, 110)
        self.unload = rng.uniform(0.2, 0.4)
        self.idle_a = rng.uniform(0.1, 0.5)
        self.shake, self.hand = 0.0, rng.uniform(0.006, 0.03)

    def march(self, command, slope=0.0, *, flying=False):
        noise = self.rng.standard_normal()
        self.shake += -DT * self.shake / 0.8 + self.hand * np.sqrt(2 * DT / 0.8) * noise
        wanted = command if command < 0.02 else float(np.clip(command + self.shake, 0.04, 1.0))
        self.stick += float(np.clip(wanted - self.stick, -2.0 * DT, 2.0 * DT))
        runs = self.stick > 0.02
        thrust = self.pull * self.stick**2 * max(0.0, 1 - self.speed / (1.35 * self.top)) if runs else 0.0
        drag = 0.26 * self.pull * (self.speed / self.top) ** 2
        if flying:
            drag += 0.02 + 0.05 * (self.stall / self.speed) ** 2
            self.slope += (
                DT
                / 0.7
                * (
                    (min(slope, -0.03) if self.speed < 1.15 * self.stall and self.height > 3 else slope)
                    - self.slope
                )
            )
            self.speed = max(
                0.7 * self.stall, self.speed + DT * GRAVITY * (thrust - drag - np.sin(self.slope))
            )
            self.height += DT * self.speed * np.sin(self.slope)
        else:
            rolling = (0.05 if self.stick > 0.05 else 0.13) if self.speed > 0.05 else 0.0
            self.speed = (
                max(0.0, self.speed + DT * GRAVITY * (thrust - drag - rolling))
                if self.speed > 0.05 or thrust > 0.05
                else 0.0
            )
            self.height, self.slope = 0.0, 0.0
        current = self.idle_a + (
            self.full_a * self.stick**2.4 * (1 - self.unload * self.speed / self.top) if runs else 0.0
        )
        self.used += current * DT / 3.6
        self.rows.append(
            (
                self.time,
                self.stick,
                current,
                self.height,
                self.speed,
                20.8 - 0.0006 * self.used - 0.018 * current,
            )
        )
        self.time += DT

    def wait(self, seconds, command=0.0):
        for _ in range(int(seconds / DT)):
            self.march(command)

    def stop(self):
        while self.speed > 0.05:
            self.march(0.0)

    def taxi(self, seconds):
        until = self.time + seconds
        while self.time < until:
            blip = self.rng.uniform(0.12, 0.26)
            for _ in range(int(self.rng.uniform(1, 3) / DT)):
                self.march(blip if self.speed < 3.5 else 0.05)
            self.wait(self.rng.uniform(0.5, 3))
        self.stop()

    def take_off(self):
        full, ramp, since, lift = (
            self.rng.uniform(0.8, 1.0),
            self.rng.uniform(0.4, 3.0),
            self.time,
            self.stall * self.rng.uniform(1.08, 1.3),
        )
        while self.speed < lift and self.time - since < 12:
            self.march(full * min(1.0, (self.time - since) / ramp))
        self.takeoffs.append(self.time)
        steep, goal, self.height, since = (
            self.rng.uniform(0.12, 0.35),
            self.rng.uniform(15, 45),
            0.01,
            self.time,
        )
        while self.height < goal and self.time - since < 25:
            self.march(full, steep, flying=True)
            self.height = max(self.height, 0.01)

    def cruise(self, seconds):
        until = self.time + seconds
        while self.time < until:
            level, goal = float(np.clip(self.rng.normal(0.55, 0.17), 0.3, 1.0)), self.rng.uniform(20, 70)
            for _ in range(int(self.rng.uniform(3, 12) / DT)):
                self.march(
                    level if self.speed > 1.4 * self.stall else max(level, 0.6),
                    float(np.clip((goal - self.height) / 40, -0.25, 0.25)),
                    flying=True,
                )
                self.height = max(self.height, 3.0)

    def go_around(self):
        low = self.rng.uniform(1.5, 5)
        while self.height > low:
            self.march(0.3, -0.1 if self.height < 40 else -0.2, flying=True)
        while self.height < 20:
            self.march(0.95, 0.2, flying=True)
            self.height = max(self.height, 0.5)

    def glide(self, idle=0.0):
        """From some height down to the ground with the motors stopped, or on idle."""
        goal, steep = self.rng.uniform(15, 45), self.rng.uniform(0.08, 0.14)
        while self.height < goal:
            self.march(0.9, 0.2, flying=True)
            self.height = max(self.height, 1.0)
        while self.height > 0.02:
            flare = min(1.0, self.height / 2.5)
            self.march(idle, -(steep * flare + 0.03 * (1 - flare)), flying=True)
        self.touchdowns.append(self.time)

    def touch(self):
        steep, closes, hold = (
            self.rng.uniform(0.07, 0.12),
            self.rng.uniform(0.5, 2.5),
            self.rng.uniform(0.25, 0.35),
        )
        while self.height > 0.02:
            flare = min(1.0, self.height / 2.5)
            self.march(
                0.0 if self.height < closes else hold, -(steep * flare + 0.03 * (1 - flare)), flying=True
            )
        self.touchdowns.append(self.time)


@dataclass(frozen=True)
class Flown:
    """Truth on an even clock, and the instants."""

    time_s: np.ndarray
    stick: np.ndarray
    current_a: np.ndarray
    height_m: np.ndarray
    speed_mps: np.ndarray
    voltage_v: np.ndarray
    takeoffs_s: list
    touchdowns_s: list

    def sensed(
        self, seed, *, sensors=("altitude", "throttle", "current"), rate_hz=None, start_s=0.0, end_s=np.inf
    ):
        """A log with the sensors' own faults: lag, creep, noise, rounding, uneven rows."""
        rng = np.random.default_rng(seed + 9999)
        rate = rate_hz or float(rng.choice([4, 5, 8, 10, 20]))
        rows = np.arange(start_s, min(end_s, self.time_s[-1]), 1 / rate)
        rows = rows + rng.uniform(-0.15, 0.15, rows.size) / rate
        every = np.ones(rows.size, dtype=bool)
        channels = {}

        def add(quantity, position, values, step):
            channels[quantity, position] = Channel(
                quantity, position, np.round(values / step) * step, every, quantity, 1 / rate, step
            )

        def at(values, late_s=0.0):
            return np.interp(rows - late_s, self.time_s, values)

        creep = np.cumsum(rng.standard_normal(rows.size)) * 0.04 / np.sqrt(rate)
        if "altitude" in sensors:
            shown = (
                at(self.height_m, rng.uniform(0.1, 0.5))
                + creep
                + rng.normal(rng.uniform(-1, 1), 0.2, rows.size)
            )
            add("altitude_m", "", shown, float(rng.choice([0.1, 0.5])))
        if "airspeed" in sensors:
            add(
                "airspeed_mps",
                "",
                np.maximum(at(self.speed_mps, 0.2) + rng.normal(0, 0.4, rows.size), 0.0),
                0.1,
            )
        if "acceleration" in sensors:
            # Wheels on grass shake with speed; the touch is one hard jolt; in the air there is the motors'
            # shake, and turns that load.
            aloft = at(self.height_m) > 0.01
            rough = np.where(
                aloft, 0.35 + 0.5 * at(self.stick), np.minimum(0.05 + 0.45 * at(self.speed_mps), 4.0)
            )
            felt = (
                9.81
                + rough * rng.standard_normal(rows.size)
                + np.where(aloft, 3.0 * np.sin(rows / 2.5) ** 2, 0.0)
            )
            for touch_s in self.touchdowns_s:
                felt[np.searchsorted(rows, touch_s) : np.searchsorted(rows, touch_s) + 2] += rng.uniform(
                    12, 25
                )
            add("acceleration_mps2", "z", felt, 0.1)
        if "throttle" in sensors:
            add("throttle_fraction", "", at(self.stick), 0.01)
        if "current" in sensors:
            add("current_a", "", at(self.current_a) * (1 + 0.01 * rng.standard_normal(rows.size)), 0.1)
            add("pack_voltage_v", "", at(self.voltage_v), 0.01)
        return Trace(rows - rows[0], channels)


@pytest.fixture(scope="session")
def fly() -> Callable[..., Flown]:
    """Factory: `fly(seed, flights=1, touches=0, go_arounds=0, glides=False)`; the same choices give the same
    flight.
    """
    kept: dict = {}

    def make(seed, *, flights=1, touches=0, go_arounds=0, glides=False):
        if (seed, flights, touches, go_arounds, glides) not in kept:
            kept[seed, flights, touches, go_arounds, glides] = _flown(
                seed, flights, touches, go_arounds, glides
            )
        return kept[seed, flights, touches, go_arounds, glides]

    return make


def _flown(seed, flights, touches, go_arounds, glides):
    rng = np.random.default_rng(seed)
    model = Model(rng)
    model.wait(rng.uniform(5, 20))
    for _ in range(flights):
        model.taxi(rng.uniform(5, 15))
        model.wait(rng.uniform(2, 8))
        model.take_off()
        model.cruise(rng.uniform(50, 90))
        for _ in range(go_arounds):
            model.go_around()
            model.cruise(20)
        for _ in range(touches):
            model.touch()
            model.take_off()
            model.cruise(30)
        if glides:
            model.glide()
        else:
            model.touch()
        model.stop()
        model.wait(rng.uniform(12, 30))
        model.taxi(rng.uniform(4, 12))
        model.wait(rng.uniform(10, 25))
    return Flown(*np.array(model.rows).T, model.takeoffs, model.touchdowns)


@pytest.fixture
def bench_log() -> Callable[..., Trace]:
    """Factory: a run-up in steps of throttle, held still; `altitude` and `speed` add sensors that stay
    still.
    """

    def make(*, steps=(0.25, 0.5, 0.75, 1.0), hold_s=7.0, altitude=False, speed=False, throttle=True, seed=1):
        rng = np.random.default_rng(seed)
        time_s = np.arange(0, 10 + len(steps) * (hold_s + 4) + 10, 0.1)
        command = np.zeros(time_s.size)
        for k, step in enumerate(steps):
            begins = 10 + k * (hold_s + 4)
            command[(time_s >= begins) & (time_s < begins + hold_s)] = step
        current = 0.4 + 60 * command**2.5 + rng.normal(0, 0.1, time_s.size)
        every = np.ones(time_s.size, dtype=bool)
        series = {"current_a": (current, 0.1), "pack_voltage_v": (20.8 - 0.02 * current, 0.01)}
        if throttle:
            series["throttle_fraction"] = (command, 0.01)
        if altitude:
            series["altitude_m"] = (0.3 + rng.normal(0, 0.15, time_s.size), 0.1)
        if speed:
            series["airspeed_mps"] = (np.abs(rng.normal(0, 0.4, time_s.size)), 0.1)
        return Trace(
            time_s,
            {(q, ""): Channel(q, "", np.round(v / s) * s, every, q, 0.1, s) for q, (v, s) in series.items()},
        )

    return make
