"""Sensors and recorder: what of the true course of a run reaches a log, and how it is spoiled on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from .plan import Plan
from .run import STEP_S

Floats = NDArray[np.float64]


@dataclass
class Sensor:
    """How one quantity is measured."""

    lag_s: float = 0.0
    gain: float = 1.0
    offset: float = 0.0
    noise: float = 0.0
    step: float = 0.0
    refresh_s: float = 0.0
    blank_between: bool = False
    decimals: int = 2


@dataclass
class Column:
    """One column of a log."""

    heading: str
    values: Floats
    decimals: int = 2


@dataclass
class Log:
    """A log before it is written: its own clock, its columns by key."""

    time_s: Floats
    true_s: Floats
    columns: dict[str, Column]
    name: str = "log.csv"
    delimiter: str = ","
    time_heading: str = "Time (s)"
    time_scale: float = 1.0
    time_decimals: int = 2
    notes: dict[str, Any] = field(default_factory=dict)

    def keep_rows(self, keep: NDArray[np.bool_]) -> None:
        self.time_s, self.true_s = self.time_s[keep], self.true_s[keep]
        for column in self.columns.values():
            column.values = column.values[keep]


HEADINGS: dict[str, tuple[str, ...]] = {
    "pack_v": ("Pack voltage (V)", "Battery voltage (V)", "Voltage of the pack (V)"),
    "cell": ("Cell {} (V)", "Cell {} voltage (V)", "Voltage of cell {} (V)"),
    "current": ("Current (A)", "Pack current (A)", "Battery current (A)"),
    "used": ("Charge used (mAh)", "Used (mAh)", "Consumed charge (mAh)"),
    "throttle": ("Throttle (%)", "Throttle command (%)", "Throttle position (%)"),
    "throttle.": ("Throttle {} (%)", "Throttle {} motor (%)", "Throttle command {} (%)"),
    "current.": ("Current {} (A)", "Current {} motor (A)", "Controller current {} (A)"),
    "rpm.": ("Speed {} (rpm)", "RPM {}", "Propeller speed {} (rpm)"),
    "motor_c.": ("Motor temperature {} (°C)", "Temperature motor {} (°C)"),
    "controller_c.": ("Controller temperature {} (°C)", "Temperature controller {} (°C)"),
    "thrust.": ("Thrust {} (N)", "Thrust of {} motor (N)"),
    "torque.": ("Torque {} (Nm)", "Torque of {} motor (Nm)"),
    "pack_c": ("Pack temperature (°C)", "Battery temperature (°C)"),
    "air_c": ("Air temperature (°C)", "Outside temperature (°C)"),
    "altitude": ("Altitude (m)", "Height (m)", "Relative altitude (m)"),
    "climb": ("Climb rate (m/s)", "Vertical speed (m/s)"),
    "airspeed": ("Airspeed (m/s)", "Air speed (m/s)"),
    "ground": ("Ground speed (m/s)", "Speed over ground (m/s)"),
    "receiver_v": ("Receiver voltage (V)", "Receiver supply (V)"),
    "link": ("Link quality (%)", "Radio link quality (%)"),
    "vibration": ("Vibration (m/s²)", "Vibration (m/s2)"),
    "rudder": ("Rudder (%)", "Rudder command (%)"),
    "acceleration": ("Acceleration X (m/s²)", "Acceleration x (m/s2)"),
}


def heading(key: str, choice: int, words: tuple[str, str] = ("", "")) -> str:
    """The heading of a column, one of a few wordings."""
    stem = key.split(".")[0] + ("." if "." in key and not key.startswith("cell") else "")
    texts = HEADINGS[stem]
    place = key.split(".")[1] if "." in key else ""
    return texts[choice % len(texts)].format(place.replace("_", " "))


def _usual(key: str, chance: Random, rated_a: float) -> Sensor:
    """An ordinary sensor of that quantity."""
    kind, amps = key.split(".")[0], 0.1 if rated_a > 10 else 0.01
    table: dict[str, Sensor] = {
        "pack_v": Sensor(0.03, 1 + chance.gauss(0, 0.0015), 0, 0.006, 0.01),
        "cell": Sensor(0.03, 1.0, chance.gauss(0, 0.0015), 0.0015, 0.001, decimals=3),
        "current": Sensor(
            0.02,
            1 + chance.gauss(0, 0.005),
            chance.gauss(0, 0.0004 * rated_a),
            min(0.08, 0.004 * rated_a),
            amps,
            decimals=1 if amps > 0.05 else 2,
        ),
        "used": Sensor(step=1.0, decimals=0),
        "throttle": Sensor(step=chance.choice((0.1, 0.5, 1.0)), decimals=1),
        "rudder": Sensor(step=0.5, decimals=1),
        "rpm": Sensor(0.05, 1, 0, 0.0, 10, decimals=0),
        "motor_c": Sensor(3.0, 1, chance.gauss(0, 0.7), 0.1, 1, 0.5, decimals=0),
        "controller_c": Sensor(2.0, 1, chance.gauss(0, 0.7), 0.1, 1, 0.5, decimals=0),
        "pack_c": Sensor(5.0, 1, chance.gauss(0, 0.5), 0.1, 1, 1.0, decimals=0),
        "air_c": Sensor(5.0, 1, chance.gauss(0, 0.5), 0.1, 1, 1.0, decimals=0),
        "altitude": Sensor(0.3, 1, 0, 0.25, 0.1, chance.choice((0.0, 0.2)), decimals=1),
        "climb": Sensor(0.4, 1, 0, 0.1, 0.1, decimals=1),
        "airspeed": Sensor(0.2, 1 + chance.gauss(0, 0.02), 0, 0.25, 0.1, decimals=1),
        "ground": Sensor(0.3, 1, 0, 0.1, 0.1, 0.2, decimals=1),
        "receiver_v": Sensor(0.02, 1, 0, 0.01, 0.01),
        "link": Sensor(0, 1, 0, 0, 1, 0.2, decimals=0),
        "vibration": Sensor(0, 1, 0, 0.2, 0.1, decimals=1),
        "acceleration": Sensor(0, 1, 0, 0.3, 0.1, decimals=1),
        "thrust": Sensor(0.05, 1 + chance.gauss(0, 0.004), 0, 0.05, 0.01),
        "torque": Sensor(0.05, 1 + chance.gauss(0, 0.004), 0, 0.001, 0.001, decimals=3),
    }
    return table[kind]


def sources(plan: Plan, table: dict[str, Any]) -> dict[str, Floats]:
    """Every quantity that could be logged, at every step."""
    found: dict[str, Floats] = {
        "pack_v": table["pack_v"],
        "current": table["current"],
        "used": table["drawn"] - table["drawn"][0],
        "throttle": table["throttle"] * 100,
        "rudder": table["rudder"] * 100,
        "pack_c": table["pack_c"],
        "air_c": np.full(len(table["time"]), plan.air.temperature_c),
        "altitude": table["height"],
        "climb": table["speed"] * np.sin(table["path"]),
        "airspeed": _pitot(plan, table),
        "ground": np.abs(table["speed"] * np.cos(table["path"]) + _wind(plan, table)),
        "receiver_v": _receiver(plan, table),
        "link": _link(plan, table),
        "vibration": _vibration(table),
        "acceleration": table["acceleration"],
    }
    for i in range(plan.pack.cells):
        found[f"cell.{i + 1}"] = table["cells"][:, i]
    for i, parts in enumerate(plan.drives):
        end = "." + parts.position
        found["throttle" + end] = table["motor_command"][:, i] * 100
        found["current" + end] = table["motor_current"][:, i]
        found["rpm" + end] = np.abs(table["motor_omega"][:, i]) * 30 / np.pi
        found["motor_c" + end] = table["motor_case_c"][:, i]
        found["controller_c" + end] = table["motor_controller_c"][:, i]
        found["thrust" + end] = table["motor_thrust"][:, i] * (-1 if parts.turns_wrong_way else 1)
        found["torque" + end] = table["motor_torque"][:, i]
    return found


def _pitot(plan: Plan, table: dict[str, Any]) -> Floats:
    """A dynamic-pressure probe; on the ground it reads little and noise."""
    return np.where(table["air"] > 3.0, table["air"], 0.3 * table["air"])


def _wind(plan: Plan, table: dict[str, Any]) -> Floats:
    return -plan.air.wind_mps * np.cos(table["north"] * 0 + _heading(table)) * table["flying"]


def _heading(table: dict[str, Any]) -> Floats:
    return np.unwrap(np.arctan2(np.gradient(table["east"]), np.gradient(table["north"]) + 1e-12))


def _receiver(plan: Plan, table: dict[str, Any]) -> Floats:
    """Supply of the receiver: servos pull it down a little when the load changes."""
    busy = np.abs(np.gradient(table["load"], STEP_S)) + 0.4 * table["flying"]
    volts = plan.receiver_v - lfilter([0.1], [1, -0.9], np.minimum(busy, 4.0)) * 0.04
    for start_s, seconds, low_v in plan.receiver_dips:
        inside = (table["time"] >= start_s) & (table["time"] < start_s + seconds)
        volts = np.where(inside, low_v, volts)
    return volts


def _link(plan: Plan, table: dict[str, Any]) -> Floats:
    far = np.hypot(table["north"] - table["north"].mean(), table["east"] - table["east"].mean())
    noise = np.random.default_rng(plan.seed + 3).normal(0, 1.2, len(far))
    return np.clip(100 - 6 * far / (far.max() + 50) + noise, 70, 100)


def _vibration(table: dict[str, Any]) -> Floats:
    rev = np.abs(table["motor_omega"]) / 2 / np.pi
    base = 1.2 * (rev / 120) ** 2
    shed = (table["motor_shed"] * 30.0) * (rev / 120) ** 2
    return np.sqrt((base**2 + shed**2).sum(axis=1))


def sample(source: Floats, sensor: Sensor, at: NDArray[np.int64], chance: np.random.Generator) -> Floats:
    """Lag, gain, offset, noise, rounding, then held or blank between refreshes."""
    values = source
    if sensor.lag_s > 0:
        keep = float(np.exp(-STEP_S / sensor.lag_s))
        values = lfilter([1 - keep], [1, -keep], source, zi=[keep * source[0]])[0]
    refresh = at
    fresh = np.ones(len(at), dtype=bool)
    if sensor.refresh_s > 0:
        tick = np.floor((at * STEP_S + 0.05) / sensor.refresh_s)
        fresh = np.r_[True, np.diff(tick) > 0]
        refresh = at[np.maximum.accumulate(np.where(fresh, np.arange(len(at)), 0))]
    noise = chance.normal(size=len(source))[refresh] if sensor.noise else 0.0
    read = values[refresh] * sensor.gain + sensor.offset + sensor.noise * noise
    if sensor.step:
        read = np.round(read / sensor.step) * sensor.step + 0.0
    return np.where(fresh, read, np.nan) if sensor.blank_between else read


def record(plan: Plan, table: dict[str, Any]) -> Log:
    """The log of the first recorder, before the edits that a fault may make."""
    recorder = plan.recorder
    chance, draw = Random(plan.seed + 17), np.random.default_rng(plan.seed + 17)
    true_s = _row_times(recorder, float(table["time"][-1]), draw)
    at = np.clip(np.round(true_s / STEP_S).astype(np.int64), 0, len(table["time"]) - 1)
    found = sources(plan, table)
    columns = {}
    for key in recorder["channels"]:
        sensor = _usual(key, chance, sum(d.rated_a for d in plan.drives))
        every = recorder["sensors"].get("cell", {}) if key.startswith("cell") else {}
        for name, value in {**every, **recorder["sensors"].get(key, {})}.items():
            setattr(sensor, name, value)
        recorder["used_sensors"][key] = sensor
        text = heading(key, recorder["wording"])
        columns[key] = Column(text, sample(_counted(key, found, recorder), sensor, at, draw), sensor.decimals)
    own = (true_s - recorder.get("clock_zero_s", 0.0)) / (1 + recorder["drift_ppm"] * 1e-6)
    return Log(
        own,
        true_s,
        columns,
        delimiter=recorder["delimiter"],
        time_heading=recorder["time_heading"],
        time_scale=recorder["time_scale"],
        time_decimals=recorder["time_decimals"],
    )


def _counted(key: str, found: dict[str, Floats], recorder: dict[str, Any]) -> Floats:
    """A charge counter integrates what its own current sensor sees."""
    sensor = recorder["used_sensors"].get("current")
    if key != "used" or sensor is None:
        return found[key]
    return found["used"] * sensor.gain


def _row_times(recorder: dict[str, Any], end_s: float, draw: np.random.Generator) -> Floats:
    start = recorder.get("start_s", 0.0)
    times = np.arange(start, min(end_s, recorder.get("end_s", 1e9)) - 0.005, 1 / recorder["rate_hz"])
    times = times + draw.uniform(0, recorder["jitter_s"], len(times))
    keep = draw.random(len(times)) >= recorder["dropped"]
    keep[:3] = True
    return times[keep]


Edit = Callable[[Log, dict[str, Any], Plan], None]
