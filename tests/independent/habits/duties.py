"""What was measured: a pack under the load of some trade, with every truth kept."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Floats = NDArray[np.float64]
RELAXES_S = 9.0


@dataclass(frozen=True)
class Duty:
    """One measurement on a regular clock, a row a sample.

    Attributes
    ----------
    kind : whose work it was: flight, ride, boat, cycler, pulses, sweep or tunnel.
    time_s : (n,) from the first row. [s]
    true : name → (n,): voltage, current, command, rpm, thrust, torque, temperatures, cells, motion, in SI.
    ohm : the pack's resistance at once. [ohm]
    start_v : the pack at rest before the first load. [V]
    consumed_mah : what left the pack, charging at rest left out. [mAh]
    """

    kind: str
    time_s: Floats
    true: dict[str, Floats]
    cells: int
    ohm: float
    start_v: float
    consumed_mah: float
    charged: bool = False

    def ohm_after(self, seconds: float) -> float:
        """The pack's drop per ampere so long after a step, without the fall of its resting voltage. [ohm]"""
        return self.ohm * (1 + 0.5 * (1 - float(np.exp(-seconds / RELAXES_S))))


def _held(rng: Random, n: int, steps: list[tuple[float, float]]) -> Floats:
    """Levels by share of the rows."""
    out = np.zeros(n)
    at = 0.0
    whole = sum(share for share, _ in steps)
    for share, level in steps:
        first, at = at, at + share
        out[round(first / whole * n) : round(at / whole * n)] = level
    return out


def _smooth(rng: Random, n: int, rows: int) -> Floats:
    """Noise of mean 0 and deviation 1 that wanders over so many rows."""
    a = float(np.exp(-1.0 / max(rows, 1)))
    white = np.random.default_rng(rng.randrange(2**31)).normal(size=n)
    return np.asarray(lfilter([np.sqrt(1 - a * a)], [1, -a], white))


def _demand(rng: Random, kind: str, n: int) -> Floats:
    """Current over the largest, from -1 to 1."""
    wander = _smooth(rng, n, max(n // 60, 2))
    fine = _smooth(rng, n, 3)
    if kind in ("flight", "boat"):
        plan = [(0.06, 0.0), (0.05, 0.9), (0.6, 0.45), (0.1, 0.7), (0.1, 0.3), (0.06, 0.0)]
        base = _held(rng, n, plan)
        return np.where(base > 0, np.clip(base + 0.06 * wander + 0.01 * fine, 0.02, 1.0), 0.0)
    if kind == "ride":
        plan = [(0.05, 0.0)]
        for _ in range(6):
            plan += [(0.1, rng.uniform(0.4, 1.0)), (0.04, rng.uniform(0.1, 0.4)), (0.002, -0.15), (0.02, 0.0)]
        base = _held(rng, n, plan)
        return np.where(base != 0, base + 0.04 * np.abs(base) * wander, 0.0)
    if kind == "cycler":
        return _held(
            rng, n, [(0.08, 0.0), (0.5, 1.0), (0.1, 0.0), *rng.choice([[], [(0.3, -0.5), (0.1, 0.0)]])]
        )
    if kind == "pulses":
        plan = [(0.08, 0.0)]
        for _ in range(rng.randint(4, 7)):
            plan += [(0.06, 1.0), (0.08, 0.0)]
        return _held(rng, n, plan)
    if kind == "sweep":
        return np.linspace(0.0, 1.0, n) ** 2.2 + 0.008
    base = _held(rng, n, [(0.1, 0.05), *[(0.1, rng.uniform(0.1, 1.0)) for _ in range(8)], (0.05, 0.05)])
    return np.clip(base + 0.03 * wander, 0.0, 1.1)


def _clock(rng: Random, kind: str) -> tuple[float, int]:
    """The step of the clock [s] and the number of rows."""
    if kind == "sweep":
        return rng.uniform(1.5, 2.5), rng.randint(11, 24)
    step_s, span_s = {
        "flight": ([0.1, 0.2, 0.5, 1.0], (180, 480)),
        "ride": ([0.5, 1.0, 2.0], (900, 3000)),
        "boat": ([1.0, 2.0, 5.0, 10.0], (1500, 5400)),
        "cycler": ([1.0, 5.0, 10.0], (2400, 7200)),
        "pulses": ([0.1, 0.5, 1.0], (200, 900)),
        "tunnel": ([0.1, 0.2], (120, 400)),
    }[kind]
    step = rng.choice(step_s)
    return step, min(int(rng.uniform(*span_s) / step), 3000)


def measure(rng: Random, kind: str) -> Duty:
    """One duty of a kind, with its truth."""
    step_s, n = _clock(rng, kind)
    time_s = np.arange(n) * step_s
    demand = _demand(rng, kind, n)
    one_cell = kind in ("cycler", "pulses") and rng.random() < 0.5
    cells = (
        1
        if one_cell
        else {"ride": rng.randint(7, 14), "boat": rng.randint(4, 12)}.get(kind, rng.randint(2, 8))
    )
    hours = float(np.sum(np.maximum(demand, 0)) * step_s / 3600)
    capacity_ah = rng.uniform(1.2, 12.0)
    used = rng.uniform(0.3, 0.8) if kind not in ("sweep", "pulses", "tunnel") else rng.uniform(0.03, 0.2)
    largest_a = min(used * capacity_ah / hours, 30 * capacity_ah, 140.0)
    current = demand * largest_a
    drawn_ah = np.concatenate([[0.0], np.cumsum((current[1:] + current[:-1]) / 2) * step_s / 3600])
    left = np.clip(1 - rng.uniform(0.0, 0.06) - drawn_ah / capacity_ah, 0.02, 1.0)
    open_v = 3.35 + 0.58 * left + 0.24 * left**5 - 0.5 * np.exp(-28 * left)
    cell_ohm = rng.uniform(0.012, 0.03) / capacity_ah
    a = float(np.exp(-step_s / RELAXES_S))
    # The current runs straight from row to row.
    g = (1 - a) * RELAXES_S / step_s
    slow = current[0] + np.asarray(lfilter([1 - g, g - a], [1, -a], current - current[0]))
    spread = [rng.uniform(0.96, 1.06) for _ in range(cells)]
    true: dict[str, Floats] = {}
    for k, more in enumerate(spread):
        true[f"cell{k + 1}"] = open_v + 0.003 * (more - 1) * 10 - more * cell_ohm * (current + 0.5 * slow)
    voltage = np.sum([true[f"cell{k + 1}"] for k in range(cells)], axis=0)
    command = np.clip(np.maximum(demand, 0) ** 0.45, 0, 1)
    kv = rng.uniform(200, 900) * (3.0 if cells < 5 else 1.0)
    speed = kv * voltage * command * 0.78
    power = voltage * current
    true |= {
        "voltage": voltage,
        "current": current,
        "charge": drawn_ah * 1000,
        "power": power,
        "energy": np.concatenate([[0.0], np.cumsum((power[1:] + power[:-1]) / 2) * step_s / 3600]),
        "command": command,
        "rpm": speed,
        "thrust": 1e-7 * speed**2 * rng.uniform(0.5, 2.0),
        "torque": np.maximum(power, 0) * 0.8 / np.maximum(speed * 2 * np.pi / 60, 20),
    }
    outside = rng.uniform(8, 30)
    for name, slower, rise in (("motor_c", 120.0, 45.0), ("esc_c", 60.0, 30.0), ("pack_c", 400.0, 18.0)):
        b = float(np.exp(-step_s / slower))
        true[name] = outside + rise * lfilter([1 - b], [1, -b], np.maximum(demand, 0))
    true["air_c"] = outside + 0.2 * _smooth(rng, n, n // 4)
    moving = np.asarray(lfilter([0.05], [1, -0.95], np.maximum(command, 0)))
    if kind == "ride":
        true["rpm"] = kv * 3.6 * cells * moving
    true["ground"] = moving * {"ride": 11.0, "boat": 4.0}.get(kind, 17.0)
    true["air"] = true["ground"] + 0.3 * np.abs(_smooth(rng, n, 30)) * moving
    true["height"] = np.where(kind == "flight", moving * 60 + 4 * moving * _smooth(rng, n, n // 20), 0.0)
    course = (40 + 90 * np.sin(time_s / 40)) % 360
    true["course"] = course
    north = np.cumsum(true["ground"] * np.cos(np.radians(course))) * step_s
    east = np.cumsum(true["ground"] * np.sin(np.radians(course))) * step_s
    true["lat"] = 47.1 + north / 111_200
    true["lon"] = 8.4 + east / 75_700
    out_a = np.maximum(current, 0.0) if kind == "cycler" else current
    consumed = float(np.sum((out_a[1:] + out_a[:-1]) / 2) * step_s / 3.6)
    charged = kind == "cycler" and bool((demand < 0).any())
    ohm = float(sum(spread) * cell_ohm)
    return Duty(kind, time_s, true, cells, ohm, float(voltage[0]), consumed, charged)
