"""Voltages at rest, and the charge they speak of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import say

RESTING_V = np.array([3.30, 3.55, 3.67, 3.72, 3.76, 3.80, 3.85, 3.91, 3.97, 4.02, 4.10, 4.20])
RESTING_FRACTION = np.array([0.0, 0.04, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 1.0])
"""Charge left of a lithium-polymer cell by its resting voltage (common practice, no source)."""

TABLE_DOUBT_FRACTION = 0.08
"""Half of the 95 % interval: the flat middle gives 4 to 5 mV per per cent, and makes of cell differ by 25 to
35 mV. With 0.06 it held
on 85 to 92 % of simulated packs, each with a curve of its own."""

START_DOUBT_FRACTION = 0.04
"""The same before the flight, where the table is steep and the pack was charged."""

CAPACITY_DOUBT_FRACTION = 0.06
"""Half of the 95 % interval of the sheet's capacity and the current sensor's gain together."""


def charge_at(resting_v: float, *, full_cell_v: float) -> float:
    """Charge left, 0 to 1, from a cell's voltage at rest.

    A cell that is full at another voltage than 4.20 V has the upper half of the table stretched to it.
    """
    stretch = (full_cell_v - 3.85) / (4.20 - 3.85)
    table_v = np.where(RESTING_V > 3.85, 3.85 + (RESTING_V - 3.85) * stretch, RESTING_V)
    return float(np.interp(resting_v, table_v, RESTING_FRACTION))


def charge_by_rest(resting: Estimate, *, full_cell_v: float) -> Estimate:
    """Charge left from the voltage a cell comes back to."""
    doubt = TABLE_DOUBT_FRACTION + (0.03 if abs(full_cell_v - 4.20) > 0.05 else 0.0)
    middle = charge_at(resting.value, full_cell_v=full_cell_v)
    low = middle - np.hypot(doubt, middle - charge_at(resting.low, full_cell_v=full_cell_v))
    high = middle + np.hypot(doubt, charge_at(resting.high, full_cell_v=full_cell_v) - middle)
    return Estimate(middle, float(low), float(high), "resting voltage, extrapolated with the fitted pairs")


def charge_by_charge(
    start_v: float, drawn_mah: float, capacity_mah: float, *, full_cell_v: float
) -> Estimate:
    """Charge left from how full it started (by its resting voltage) and what was drawn."""
    drawn = drawn_mah / capacity_mah
    left = charge_at(start_v, full_cell_v=full_cell_v) - drawn
    return Estimate.around(
        left, float(np.hypot(START_DOUBT_FRACTION, CAPACITY_DOUBT_FRACTION * drawn)), "charge drawn"
    )


@dataclass(frozen=True, slots=True)
class ChargeLeft:
    """Both ways, both together, and what a disagreement means ("" without one)."""

    together: Estimate | Undecided
    by_rest: Estimate | Undecided
    by_charge: Estimate | Undecided
    note: str


def weigh(by_rest: Estimate | Undecided, by_charge: Estimate | Undecided) -> ChargeLeft:
    """Both ways by the inverse of their variances; when they disagree by more than both allow, the interval
    holds both.

    Both lean on one table, so together they are no surer than either.
    """
    if isinstance(by_rest, Undecided):
        return ChargeLeft(by_charge if isinstance(by_charge, Estimate) else by_rest, by_rest, by_charge, "")
    if isinstance(by_charge, Undecided):
        return ChargeLeft(by_rest, by_rest, by_charge, "")
    arms = np.array([(e.high - e.low) / 2 for e in (by_rest, by_charge)])
    weight = arms**-2.0 / np.sum(arms**-2.0)
    value = float(weight @ np.array([by_rest.value, by_charge.value]))
    apart = by_rest.value - by_charge.value
    method = "resting voltage and charge drawn"
    if abs(apart) <= float(np.hypot(*arms)):
        return ChargeLeft(Estimate.around(value, float(weight @ arms), method), by_rest, by_charge, "")
    held = Estimate(value, min(by_rest.low, by_charge.low), max(by_rest.high, by_charge.high), method)
    less = "more_drawn_shown" if apart > 0 else "less_than_drawn"
    note = say("pack", less, rest=100 * by_rest.value, charge=100 * by_charge.value)
    return ChargeLeft(held, by_rest, by_charge, note)
