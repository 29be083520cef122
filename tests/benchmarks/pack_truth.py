"""Invented flights whose cells are known, made with none of the project's own physics.

Each cell is an ohmic part and two or three RC pairs, run by an exact recursion on a 10 ms grid;
resistances move with temperature (Arrhenius) and charge. Sensors lag, hold, round, drop out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.signal import lfilter

from telemetry.trace import Channel, Flight, Stretch, Trace

GRID_S = 0.01


@dataclass(frozen=True)
class Truth:
    """What the cells were: (cells,) each; means over the powered time."""

    resistance_ohm: np.ndarray
    resistance_1s_ohm: np.ndarray
    resistance_10s_ohm: np.ndarray
    sag_v: np.ndarray
    open_circuit_end_v: np.ndarray
    charge_left_fraction: np.ndarray
    lag_s: float
    lead_ohm: float
    temperature_c: float


@dataclass(frozen=True)
class Scenario:
    """One flight to invent. `*_factor` are (cells,) against the nominal cell."""

    seed: int
    cells: int = 5
    capacity_mah: float = 5200.0
    seconds: float = 300.0
    rest_before_s: float = 20.0
    rest_after_s: float = 40.0
    resistance_factor: np.ndarray | None = None
    capacity_factor: np.ndarray | None = None
    start_fraction: np.ndarray | None = None
    sensor_offset_v: np.ndarray | None = None
    r0_ohm: float = 0.004
    r1_ohm: float = 0.0015
    r2_ohm: float = 0.002
    tau1_s: float = 1.0
    tau2_s: float = 30.0
    r3_ohm: float = 0.0
    tau3_s: float = 150.0
    activation_kj: float = 22.0
    warming_k: float = 15.0
    soc_rise: float = 0.3
    log_hz: float = 20.0
    voltage_hz: float = 10.0
    current_hz: float = 10.0
    lag_s: float = 0.2
    filter_s: float = 0.0
    current_filter_s: float = 0.0
    step_v: float = 0.005
    step_a: float = 0.1
    noise_v: float = 0.001
    noise_a: float = 0.2
    cruise_a: float = 38.0
    full_a: float = 80.0
    activity: float = 1.0
    drop_fraction: float = 0.0
    round_robin: bool = False
    pack_only: bool = False
    with_pack: bool = False
    motors_only: bool = False
    lead_ohm: float = 0.0015
    start_c: float = 22.0
    log_temperature: bool = False
    jitter: float = 0.0
    steady: bool = False
    curve: int = 0


def open_circuit_v(left: np.ndarray, curve: int = 0) -> np.ndarray:
    """Two invented open-circuit curves over the charge left, 0…1, and one through the usual resting voltages
    (2).
    """
    x = np.clip(left, -0.05, 1.02)
    if curve == 2:
        usual = PchipInterpolator(
            [0.0, 0.04, 0.10, 0.20, 0.30, 0.50, 0.80, 1.0], [3.30, 3.55, 3.67, 3.72, 3.76, 3.85, 4.02, 4.20]
        )
        return np.asarray(usual(np.clip(x, 0.0, 1.0)))
    if curve == 0:
        return (
            3.62
            + 0.20 * x
            + 0.36 * x**4
            + 0.02 * np.exp(-(((x - 0.55) / 0.12) ** 2))
            - 0.45 * np.exp(-(x + 0.02) / 0.045)
        )
    return (
        3.66
        + 0.06 * x
        + 0.25 * x**2
        + 0.22 * x**6
        + 0.018 * np.tanh((x - 0.38) / 0.06)
        - 0.35 * np.exp(-x / 0.05)
    )


def fly_current(s: Scenario, rng: np.random.Generator) -> np.ndarray:
    """A flight's current on the grid: rest, take-off, climb, cruise with pulls and gusts, approach, rest."""
    n = round((s.rest_before_s + s.seconds + s.rest_after_s) / GRID_S)
    t = np.arange(n) * GRID_S - s.rest_before_s
    target = np.zeros(n)
    flying = (t >= 0) & (t < s.seconds)
    if s.steady:
        target[flying] = s.cruise_a
        # slow start, no step: a steady load from before the first row to the last
        return np.full(n, s.cruise_a) + 0.3 * rng.standard_normal(n)
    target[flying] = s.cruise_a
    target[(t >= 0) & (t < 4)] = 5.0
    target[(t >= 4) & (t < 12)] = s.full_a
    target[(t >= 12) & (t < 32)] = 0.75 * s.full_a
    at = 40.0
    while at < s.seconds - 30:
        how_long = rng.uniform(1.5, 12.0)
        level = rng.choice([0.1, 0.25, 0.5, 0.8, 1.0, 1.0]) * s.full_a * rng.uniform(0.85, 1.0)
        target[(t >= at) & (t < at + how_long)] = s.cruise_a + s.activity * (level - s.cruise_a)
        at += how_long + rng.exponential(14.0) + 2.0
    down = (t >= s.seconds - 25) & flying
    target[down] = 0.3 * s.cruise_a + 0.4 * s.cruise_a * (np.sin(t[down] / 1.7) > 0.5)
    target[(t >= s.seconds - 6) & flying] = 2.0
    slow = lfilter([0.001], [1, -0.999], rng.standard_normal(n)) * np.sqrt(2 / 0.001)
    fast = lfilter([0.03], [1, -0.97], rng.standard_normal(n)) * np.sqrt(2 / 0.03)
    a = np.exp(-GRID_S / rng.uniform(0.08, 0.25))
    current = lfilter([1 - a], [1, -a], target)
    wiggle = 1 + 0.04 * slow + 0.03 * fast
    idle = 0.4
    return np.where(flying, np.maximum(current * wiggle, 0.2), np.maximum(current, 0)) + idle


def _pair(current: np.ndarray, resistance: np.ndarray, tau: float) -> np.ndarray:
    """Voltage of an RC pair with time constant tau and a slowly moving resistance."""
    u = current * resistance
    a = np.exp(-GRID_S / tau)
    g = (1 - a) * tau / GRID_S
    return lfilter([1 - g, g - a], [1, -a], u)


def _smoothed(value: np.ndarray, tau: float) -> np.ndarray:
    """Through a first-order filter, settled at its first value."""
    a = np.exp(-GRID_S / tau)
    return lfilter([1 - a], [1, -a], value, zi=[a * value[0]])[0]


@dataclass(frozen=True)
class Recorder:
    """The rows of one log, and what its sensors share."""

    scenario: Scenario
    grid_s: np.ndarray
    log_s: np.ndarray
    rng: np.random.Generator

    def behind(self, value: np.ndarray, lag_s: float, smooth_s: float) -> np.ndarray:
        """A sensor that shows a value late, and smoothed."""
        shifted = np.interp(self.grid_s - lag_s, self.grid_s, value)
        return _smoothed(shifted, smooth_s) if smooth_s else shifted

    def channel(
        self, key: tuple[str, str], value: np.ndarray, hz: float, step: float, noise: float, phase_s: float
    ) -> Channel:
        """Held readings on the log's rows, and which are new."""
        hz = min(hz, self.scenario.log_hz)
        fresh = np.concatenate([[True], np.diff(np.floor((self.log_s - phase_s) * hz + 1e-9)) > 0])
        fresh &= self.rng.random(self.log_s.size) >= self.scenario.drop_fraction
        fresh[0] = True
        read = np.interp(self.log_s[fresh], self.grid_s, value)
        read = read + noise * self.rng.standard_normal(int(fresh.sum()))
        read = np.round(read / step) * step if step > 0 else read
        return Channel(*key, read[np.cumsum(fresh) - 1], fresh, " ".join(key).strip(), 1 / hz, step)


@dataclass(frozen=True)
class Cell:
    """One cell through the flight, on the grid, and its resistances by the length of a pulse."""

    shown_v: np.ndarray
    open_v: np.ndarray
    drop_v: np.ndarray
    left: np.ndarray
    resistance_ohm: dict[float, float]


def _cell(s: Scenario, c: int, current: np.ndarray, arrhenius: np.ndarray, on: np.ndarray) -> Cell:
    def own(values: np.ndarray | None, usual: float) -> float:
        return usual if values is None else values[c]

    used = np.concatenate([[0], np.cumsum((current[1:] + current[:-1]) / 2 * GRID_S / 3.6)])
    left = own(s.start_fraction, 0.99) - used / (s.capacity_mah * own(s.capacity_factor, 1.0))
    rise = 1 + s.soc_rise * np.exp(-np.maximum(left, 0) / 0.12)
    shape = arrhenius * own(s.resistance_factor, 1.0) * rise
    pairs = ((s.r1_ohm, s.tau1_s), (s.r2_ohm, s.tau2_s), (s.r3_ohm, s.tau3_s))
    drop = current * s.r0_ohm * shape
    for r, tau in pairs:
        drop = drop + (_pair(current, r * shape, tau) if r else 0.0)
    open_v = open_circuit_v(left, s.curve)
    mean = shape[on].mean()
    resistance = {
        d: mean * (s.r0_ohm + sum(r * (1 - np.exp(-d / tau)) for r, tau in pairs)) for d in (0.0, 1.0, 10.0)
    }
    return Cell(open_v - drop + own(s.sensor_offset_v, 0.0), open_v, drop, left, resistance)


def _record(recorder: Recorder, volts: list[np.ndarray], current: np.ndarray, pack_c: np.ndarray) -> Trace:
    s, rng = recorder.scenario, recorder.rng
    phase_v, phase_i = rng.uniform(0, 1 / s.voltage_hz), rng.uniform(0, 1 / s.current_hz)
    voltage, amperes = (s.voltage_hz, s.step_v, s.noise_v), (s.current_hz, s.step_a)
    sensors: dict[tuple[str, str], tuple[np.ndarray, float, float, float, float]] = {}
    for c, v in enumerate([] if s.pack_only else volts):
        turn_s = c / s.cells / s.voltage_hz if s.round_robin else 0.0
        shown = recorder.behind(v, s.lag_s, s.filter_s)
        sensors["cell_voltage_v", str(c + 1)] = (shown, *voltage, phase_v + turn_s)
    if s.pack_only or s.with_pack:
        pack = np.sum(volts, axis=0) - s.lead_ohm * current
        sensors["pack_voltage_v", ""] = (recorder.behind(pack, s.lag_s, s.filter_s), *voltage, phase_v)
    sensed_i = recorder.behind(current, 0.0, s.current_filter_s)
    if s.motors_only:
        for side, share in (("left", 0.49), ("right", 0.51)):
            sensors["current_a", side] = (share * sensed_i, *amperes, s.noise_a / 2, phase_i)
    else:
        sensors["current_a", ""] = (sensed_i, *amperes, s.noise_a, phase_i)
    if s.log_temperature:
        sensors["pack_temperature_c", ""] = (pack_c, 1.0, 1.0, 0.0, 0.0)
    return Trace(recorder.log_s, {key: recorder.channel(key, *sensor) for key, sensor in sensors.items()})


def invent(s: Scenario) -> tuple[Trace, Flight, Truth]:
    """The log of one flight, its span, and its truth."""
    rng = np.random.default_rng(s.seed)
    current = fly_current(s, rng)
    t = np.arange(current.size) * GRID_S
    powered = Stretch(s.rest_before_s, s.rest_before_s + s.seconds)
    on = (t >= powered.start_s) & (t <= powered.end_s)
    heat = np.cumsum(current**2) * GRID_S
    temperature = s.start_c + s.warming_k * heat / heat[-1] * np.exp(-np.maximum(t - powered.end_s, 0) / 600)
    arrhenius = np.exp(s.activation_kj * 1e3 / 8.314462618 * (1 / (temperature + 273.15) - 1 / 298.15))
    cells = [_cell(s, c, current, arrhenius, on) for c in range(s.cells)]
    log_t = np.arange(0, t[-1] - 0.05, 1 / s.log_hz)
    if s.jitter:
        log_t = np.sort(log_t + s.jitter / s.log_hz * rng.uniform(-0.5, 0.5, log_t.size))
    trace = _record(Recorder(s, t, log_t, rng), [c.shown_v for c in cells], current, temperature)
    flight = Flight(0.0, float(log_t[-1]), powered.start_s + 8, powered.end_s - 3, powered)
    truth = Truth(
        *(np.array([c.resistance_ohm[d] for c in cells]) for d in (0.0, 1.0, 10.0)),
        sag_v=np.array([float(c.drop_v.max()) for c in cells]),
        open_circuit_end_v=np.array([float(c.open_v[-1]) for c in cells]),
        charge_left_fraction=np.array([float(c.left[-1]) for c in cells]),
        lag_s=s.lag_s,
        lead_ohm=s.lead_ohm if (s.pack_only or s.with_pack) else 0.0,
        temperature_c=float(temperature[on].mean()),
    )
    return trace, flight, truth


def vary(seed: int, **fixed: object) -> Scenario:
    """A scenario drawn at random: sensors at 8–20 Hz, steps of 1–20 mV, lags, cells within ±3 %."""
    rng = np.random.default_rng(seed + 77_000)
    cells = int(rng.integers(3, 7))
    r = rng.uniform(0.0015, 0.006)
    drawn: dict[str, object] = {
        "cells": cells,
        "capacity_mah": float(rng.choice([4000.0, 5000.0, 5200.0, 6000.0])),
        "seconds": float(rng.uniform(200, 400)),
        "rest_before_s": float(rng.uniform(5, 40)),
        "rest_after_s": float(rng.uniform(5, 60)),
        "resistance_factor": 1 + rng.uniform(-0.03, 0.03, cells),
        "capacity_factor": 1 + rng.uniform(-0.03, 0.03, cells),
        "start_fraction": rng.uniform(0.93, 1.0) + rng.uniform(-0.003, 0.003, cells),
        "r0_ohm": r,
        "r1_ohm": r * rng.uniform(0.2, 0.6),
        "r2_ohm": r * rng.uniform(0.3, 0.8),
        "tau1_s": float(np.exp(rng.uniform(np.log(0.4), np.log(2.5)))),
        "tau2_s": float(np.exp(rng.uniform(np.log(12), np.log(60)))),
        "activation_kj": rng.uniform(12, 30),
        "warming_k": rng.uniform(5, 22),
        "soc_rise": rng.uniform(0, 0.5),
        "voltage_hz": float(rng.choice([8, 10, 10, 20])),
        "current_hz": float(rng.choice([8, 10, 10, 20])),
        "log_hz": float(rng.choice([20, 25, 50])),
        "lag_s": rng.uniform(-0.1, 0.4),
        "step_v": float(rng.choice([0.001, 0.005, 0.01, 0.02])),
        "step_a": float(rng.choice([0.05, 0.1, 0.5])),
        "cruise_a": rng.uniform(28, 45),
        "full_a": rng.uniform(65, 110),
        "noise_v": rng.uniform(0.0005, 0.003),
        "noise_a": rng.uniform(0.1, 0.6),
        "curve": int(rng.integers(0, 2)),
        "start_c": rng.uniform(10, 32),
        "drop_fraction": float(rng.choice([0.0, 0.0, 0.02])),
        "round_robin": bool(rng.random() < 0.2),
    }
    drawn.update(fixed)
    for key in ("resistance_factor", "capacity_factor", "start_fraction"):
        value = np.asarray(drawn[key])
        if value.size != drawn["cells"]:
            drawn[key] = np.resize(value, int(drawn["cells"]))  # type: ignore[call-overload]
    # a flight that would empty the pack is shortened
    scenario = Scenario(seed=seed, **drawn)  # type: ignore[arg-type]
    spent = fly_current(scenario, np.random.default_rng(seed)).sum() * GRID_S / 3.6 / scenario.capacity_mah
    if spent > 0.82:
        drawn["seconds"] = scenario.seconds * 0.8 / spent
        scenario = Scenario(seed=seed, **drawn)  # type: ignore[arg-type]
    return scenario
