"""A hand-made flight of four minutes, ten rows a second, for tests that change one thing in it."""

from __future__ import annotations

import numpy as np

from telemetry.physics.open_circuit import LITHIUM_POLYMER
from telemetry.trace import Channel, Floats, Trace

STEP_S = 0.1
CAPACITY_MAH = 2500.0
ON_S, OFF_S, TAKEOFF_S, LANDING_S, END_S = 15.0, 215.0, 20.0, 213.0, 245.0
TIME_S = np.round(np.arange(0.0, END_S, STEP_S), 3)
QUANTITIES = (
    "throttle_fraction",
    "current_a",
    "pack_voltage_v",
    "altitude_m",
    "airspeed_mps",
    "receiver_voltage_v",
)


def made(
    *,
    began: float = 0.99,
    drawn: float = 0.60,
    until_s: float = END_S,
    without: tuple[str, ...] = (),
    **changed: Floats,
) -> Trace:
    """A trace of three cells that began and were drawn by these shares of the capacity.

    Parameters
    ----------
    until_s : where the log ends.
    without : quantities that were not logged.
    changed : other values for a quantity, or further ones, (n,); "current_a_left" is at the position left.
    """
    rng = np.random.default_rng(4)
    aloft = np.clip(np.minimum(TIME_S - TAKEOFF_S, LANDING_S - TIME_S), 0.0, 10.0) / 10.0
    runs = (TIME_S >= ON_S) & (TIME_S < OFF_S)
    stick = np.where(runs, 0.55 + 0.25 * np.sin(TIME_S / 5.0) * (aloft > 0.5), 0.0)
    shape = stick**2
    current = shape * drawn * CAPACITY_MAH * 3.6 / (np.sum(shape) * STEP_S)
    left = began - np.cumsum(current) * STEP_S / 3.6 / CAPACITY_MAH
    slow = np.zeros(TIME_S.size)
    for k in range(1, TIME_S.size):
        slow[k] = slow[k - 1] + STEP_S / 20.0 * (current[k] - slow[k - 1])
    cell = LITHIUM_POLYMER.voltage_v(left) - 0.004 * current - 0.003 * slow
    values = {
        "throttle_fraction": stick,
        "current_a": current + rng.normal(0.0, 0.05, TIME_S.size) * runs,
        "pack_voltage_v": 3.0 * cell + rng.normal(0.0, 0.004, TIME_S.size),
        "altitude_m": 40.0 * aloft + rng.normal(0.0, 0.1, TIME_S.size),
        "airspeed_mps": 14.0 * np.clip(2.0 * aloft, 0.0, 1.0)
        + rng.normal(0.0, 0.1, TIME_S.size) * (aloft > 0),
        "receiver_voltage_v": np.full(TIME_S.size, 5.2) + rng.normal(0.0, 0.01, TIME_S.size),
        **changed,
    }
    keep = until_s > TIME_S
    channels = {}
    for name, series in values.items():
        quantity, _, position = name.partition("__")
        if quantity not in without:
            fresh = np.isfinite(series[keep])
            channels[quantity, position] = Channel(quantity, position, series[keep], fresh, name, STEP_S)
    return Trace(TIME_S[keep], channels)
