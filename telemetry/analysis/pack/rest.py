"""Voltages at rest, and the charge they speak of."""

from __future__ import annotations

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.trace import Floats, Stretch

RESTING_V = np.array([3.30, 3.55, 3.67, 3.72, 3.76, 3.80, 3.85, 3.91, 3.97, 4.02, 4.10, 4.20])
RESTING_FRACTION = np.array([0.0, 0.04, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 1.0])
"""Charge left of a lithium-polymer cell by its resting voltage (common practice, no source)."""

TABLE_DOUBT_FRACTION = 0.05
"""Half of the 95 % interval: the flat middle gives 4 to 5 mV per per cent, and cells differ by 20 mV."""


def charge_by_rest(resting_v: float, half_width_v: float, *, full_cell_v: float) -> Estimate:
    """Charge left, 0 to 1, from a cell's voltage at rest.

    A cell that is full at another voltage than 4.20 V has the upper half of the table stretched to it.
    """
    stretch = (full_cell_v - 3.85) / (4.20 - 3.85)
    table_v = np.where(RESTING_V > 3.85, 3.85 + (RESTING_V - 3.85) * stretch, RESTING_V)

    def read(volts: float) -> float:
        return float(np.interp(volts, table_v, RESTING_FRACTION))

    doubt = TABLE_DOUBT_FRACTION + (0.03 if abs(stretch - 1) > 0.1 else 0.0)
    middle = read(resting_v)
    low = middle - np.hypot(doubt, middle - read(resting_v - half_width_v))
    high = middle + np.hypot(doubt, read(resting_v + half_width_v) - middle)
    return Estimate(middle, max(float(low), -0.05), min(float(high), 1.05), "resting voltage, extrapolated")


def rest_before(time_s: Floats, volts: Floats, powered: Stretch, *, lag_s: float = 0.0, settled_s: float = 3.0) -> float | Undecided:
    """The last settled voltage before load: the middle of the last three readings within `settled_s` of it. [V]"""
    ready = time_s <= powered.start_s + min(lag_s, 0.0)
    if not ready.any():
        return Undecided("the log starts under load")
    last = float(time_s[ready][-1])
    return float(np.median(volts[ready & (time_s >= last - settled_s)][-3:]))


def rest_after(time_s: Floats, volts: Floats, powered: Stretch) -> tuple[float | Undecided, float | Undecided]:
    """The last reading after the load, and the rest it had had. [V, s]"""
    rested = float(time_s[-1] - powered.end_s)
    if rested <= 0.0:
        no = Undecided("the log ends under load")
        return no, no
    return float(volts[-1]), rested
