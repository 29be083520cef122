"""One invented flight whose truth is known: a plain twin on five cells, not the project's simulator's."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

Key = tuple[str, str]


@dataclass
class TwinFlight:
    """The truth: values by quantity and position, on one clock."""

    time_s: np.ndarray
    values: dict[Key, np.ndarray]
    consumed_mah: float


def _throttle(time_s: np.ndarray, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    end = time_s[-1]
    knots = [0.0, 12.0, 13.0, 20.0, 22.0, 34.0]
    level = [0.0, 0.0, 0.25, 0.2, 0.95, 0.9]
    at = 36.0
    while at < end - 32:
        knots += [at, at + 4.0]
        level += [float(rng.uniform(0.3, 0.85))] * 2
        at += float(rng.uniform(5.0, 10.0))
    knots += [end - 26, end - 22, end - 14, end - 12, end]
    level += [0.25, 0.12, 0.1, 0.0, 0.0]
    return np.interp(time_s, knots, level)


@cache
def fly(seed: int, *, cells: int = 5, seconds: float = 150.0, rate_hz: float = 10.0) -> TwinFlight:
    """One flight of a twin: two unequal motors, cells of unlike resistance, one clock."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, seconds, 1 / rate_hz)
    command = _throttle(time_s, seed)
    slow = np.convolve(np.pad(command, (8, 0), mode="edge"), np.ones(9) / 9, mode="valid")[: time_s.size]
    airborne = np.clip((time_s - 26) / 6, 0, 1) * np.clip((seconds - 16 - time_s) / 6, 0, 1)
    load = (1.0 - 0.25 * airborne) * (
        1 + 0.02 * np.sin(time_s / 1.7) + 0.015 * rng.standard_normal(time_s.size)
    )
    values: dict[Key, np.ndarray] = {}
    lean = {"left": 1.0, "right": 1.0 + float(rng.uniform(-0.06, 0.06))}
    total = 0.35 + 0.02 * rng.standard_normal(time_s.size)
    for side, share in lean.items():
        values["current_a", side] = 42.0 * share * slow**2.4 * load
        total = total + values["current_a", side]
    values["current_a", ""] = total
    step = np.diff(time_s)
    charge = np.concatenate([[0.0], np.cumsum(step * (total[1:] + total[:-1]) / 2)]) / 3.6
    values["charge_mah", ""] = charge
    used = charge / 5200.0
    slow_current = np.zeros_like(total)
    for i in range(1, total.size):
        slow_current[i] = slow_current[i - 1] + (total[i] - slow_current[i - 1]) * (1 - math.exp(-0.1 / 8.0))
    pack = np.zeros_like(total)
    for cell in range(1, cells + 1):
        ohm = 0.0022 * float(rng.uniform(0.85, 1.2))
        resting = 4.19 - 0.004 * float(rng.uniform(0, 3)) - 0.62 * used - 0.25 * used**4
        values["cell_voltage_v", str(cell)] = resting - ohm * total - 0.5 * ohm * slow_current
        pack = pack + values["cell_voltage_v", str(cell)]
    values["pack_voltage_v", ""] = pack
    values["power_w", ""] = pack * total
    power = values["power_w", ""]
    values["energy_wh", ""] = np.concatenate([[0.0], np.cumsum(step * (power[1:] + power[:-1]) / 2)]) / 3600
    values["throttle_fraction", ""] = command
    for side, share in lean.items():
        values["rpm", side] = (
            11_000 * slow**0.85 * (pack / 20) * (2 - share) * (1 + 0.002 * rng.standard_normal(time_s.size))
        )
        heat = np.convolve(np.pad(total, (400, 0)), np.exp(-np.arange(401) / 250) / 250, mode="valid")[
            : time_s.size
        ]
        values["motor_temperature_c", side] = 17.0 + 1.1 * heat * share
        values["controller_temperature_c", side] = 19.0 + 0.8 * heat * share
    values["pack_temperature_c", ""] = 21.0 + 0.4 * heat
    values["air_temperature_c", ""] = 16.0 - 0.4 * airborne + 0.05 * np.sin(time_s / 20)
    values["receiver_voltage_v", ""] = (
        5.96 + 0.02 * rng.standard_normal(time_s.size) + 0.03 * np.sin(time_s / 3)
    )
    climb = (
        3.0
        * np.gradient(
            np.convolve(np.pad(airborne, (20, 20), mode="edge"), np.ones(41) / 41, mode="valid"), time_s
        )
        * 14
    )
    climb = climb + airborne * 1.4 * np.sin(time_s / 6)
    values["climb_mps", ""] = climb
    height = np.concatenate([[0.0], np.cumsum(step * (climb[1:] + climb[:-1]) / 2)])
    values["altitude_m", ""] = height - airborne * 0.0
    values["airspeed_mps", ""] = airborne * (17 + 3 * np.sin(time_s / 9)) + 0.4
    values["ground_speed_mps", ""] = airborne * (17 + 5 * np.sin(time_s / 14)) + 0.1
    values["link_fraction", ""] = np.clip(0.97 - 0.1 * np.abs(np.sin(time_s / 11)), 0, 1)
    return TwinFlight(time_s, values, float(charge[-1] - charge[0]))
