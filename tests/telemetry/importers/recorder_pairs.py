"""Two recorders of one invented flight, their clocks minutes and parts per million apart."""

from __future__ import annotations

import numpy as np

from telemetry.estimate import Estimate
from telemetry.trace import Channel, Clock, Column, Source, Trace


def flight(seed: int, seconds: float = 250.0) -> dict[str, np.ndarray]:
    """Throttle, currents, speed and voltage at 200 Hz; the throttle is moved at odd moments."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0, seconds, 0.005)
    knots, at = [0.0, 15.0], 15.0
    levels = [0.0, 0.0]
    while at < seconds - 20:
        hold, level = float(rng.exponential(5.0)) + 1.0, float(rng.uniform(0.2, 1.0))
        knots += [at + 0.4, at + hold]
        levels += [level, level + float(rng.normal(0, 0.03))]
        at += hold
    knots += [seconds - 18, seconds]
    levels += [0.0, 0.0]
    throttle = np.clip(np.interp(time_s, knots, levels), 0, 1)
    lagged = np.empty_like(throttle)
    kernel = np.exp(-np.arange(0, 1.0, 0.005) / 0.12)
    lagged = np.convolve(throttle, kernel / kernel.sum())[: throttle.size]
    gust = 1 + 0.06 * np.interp(
        time_s,
        np.arange(0, seconds + 2, 0.8),
        rng.normal(0, 1, int((seconds + 2) / 0.8) + 1)[: np.arange(0, seconds + 2, 0.8).size],
    )
    left = 40 * lagged**2.3 * gust
    right = 41.5 * lagged**2.3 * gust
    total = left + right + 0.4
    charge = np.cumsum(total) * 0.005 / 3600
    voltage = 20.9 - 0.42 * charge - 0.013 * total
    return {
        "time": time_s,
        "throttle": throttle,
        "left": left,
        "right": right,
        "total": total,
        "voltage": voltage,
        "rpm": 11_000 * np.sqrt(lagged) * gust**-0.2,
    }


def recorded(
    flown: dict[str, np.ndarray],
    keys: dict[tuple[str, str], str],
    *,
    rate_hz: float,
    starts_s: float,
    offset_s: float,
    drift_ppm: float,
    file: str,
    seed: int,
) -> Trace:
    """A recorder's trace on its own clock: true time = offset_s + (1 + drift·1e-6)·own time, own time 0 at
    `starts_s`.
    """
    rng = np.random.default_rng(seed)
    true_s = np.arange(starts_s, flown["time"][-1] - float(rng.uniform(0, 6)), 1 / rate_hz)
    own_s = (true_s - starts_s) / (1 + drift_ppm * 1e-6)
    own_s = np.round(own_s, 3)
    channels, columns = {}, []
    for key, name in keys.items():
        step = {"throttle": 0.01, "voltage": 0.01, "rpm": 10.0}.get(name, 0.1)
        noise = {"throttle": 0.0, "voltage": 0.01, "rpm": 15.0}.get(name, 0.15)
        values = np.interp(true_s, flown["time"], flown[name]) + rng.normal(0, noise, true_s.size)
        fresh = np.full(true_s.size, True)
        channels[key] = Channel(*key, np.round(values / step) * step, fresh, name, 1 / rate_hz, step)
        columns.append(Column(name, key[0], key[1], "", "used", ""))
    exact = Estimate.around(-offset_s, 0.0)
    source = Source(
        file, file, own_s.size, 0, "utf-8", ",", ".", Clock(exact, Estimate.around(0.0, 0.0)), tuple(columns)
    )
    return Trace(own_s, channels, (source,))


def pair(seed: int) -> tuple[Trace, Trace, float, float]:
    """A receiver's log and a controller's, and the truth: offset and drift of the second on the clock of the
    first.
    """
    rng = np.random.default_rng(10_000 + seed)
    flown = flight(seed)
    start_a, start_b = float(rng.uniform(0, 4)), float(rng.uniform(0, 8))
    own_b = float(rng.uniform(-600, 600))
    drift = float(rng.uniform(-300, 300))
    a = recorded(
        flown,
        {
            ("current_a", ""): "total",
            ("pack_voltage_v", ""): "voltage",
            ("throttle_fraction", ""): "throttle",
        },
        rate_hz=float(rng.uniform(10, 20)),
        starts_s=start_a,
        offset_s=0.0,
        drift_ppm=0.0,
        file="receiver.csv",
        seed=seed,
    )
    b = recorded(
        flown,
        {("current_a", "left"): "left", ("rpm", "left"): "rpm", ("pack_voltage_v", ""): "voltage"},
        rate_hz=float(rng.uniform(4, 10)),
        starts_s=start_b,
        offset_s=own_b,
        drift_ppm=drift,
        file="left.csv",
        seed=seed + 1,
    )
    # true = start_b + (1 + d)·own; the first's clock is true − start_a; the file's own column says own +
    # own_b
    return a, b, start_b - start_a - (1 + drift * 1e-6) * own_b, drift
