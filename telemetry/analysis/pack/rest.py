"""Voltages at rest, and the charge they speak of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.physics.open_circuit import LITHIUM_POLYMER
from telemetry.sentences import say

CAPACITY_DOUBT_FRACTION = 0.06
"""Half of the 95 % interval of the sheet's capacity and the current sensor's gain together."""


def charge_by_rest(resting: Estimate, *, full_cell_v: float) -> Estimate:
    """Charge left from the voltage that a cell comes back to.

    Parameters
    ----------
    resting : of the mean cell. [V]
    full_cell_v : of a full cell. [V]

    Returns
    -------
    Fraction of the full charge; the curve's uncertainty and the voltage's own are in its interval.
    """
    low, middle, high = (
        LITHIUM_POLYMER.charge_left_fraction(v, full_cell_v=full_cell_v)
        for v in (resting.low, resting.value, resting.high)
    )
    doubt = LITHIUM_POLYMER.uncertainty_fraction(middle, full_cell_v=full_cell_v)
    return Estimate(
        middle,
        float(middle - np.hypot(doubt, middle - low)),
        float(middle + np.hypot(doubt, high - middle)),
        "resting voltage, extrapolated with the fitted pairs",
    )


def charge_by_charge(
    start_v: float, drawn_mah: float, capacity_mah: float, *, full_cell_v: float
) -> Estimate:
    """Charge left from how full a pack started, by its resting voltage, and what was drawn.

    Parameters
    ----------
    start_v : of the mean cell at rest before load. [V]
    drawn_mah, capacity_mah : since then, and of the pack. [mAh]
    full_cell_v : of a full cell. [V]

    Returns
    -------
    Fraction of the full charge.
    """
    drawn = drawn_mah / capacity_mah
    began = LITHIUM_POLYMER.charge_left_fraction(start_v, full_cell_v=full_cell_v)
    doubt = LITHIUM_POLYMER.uncertainty_fraction(began, full_cell_v=full_cell_v)
    return Estimate.around(
        began - drawn, float(np.hypot(doubt, CAPACITY_DOUBT_FRACTION * drawn)), "charge drawn"
    )


@dataclass(frozen=True, slots=True)
class ChargeLeft:
    """Both ways, both together, and what a disagreement means ("" without one)."""

    together: Estimate | Undecided
    by_rest: Estimate | Undecided
    by_charge: Estimate | Undecided
    note: str


def weigh(by_rest: Estimate | Undecided, by_charge: Estimate | Undecided) -> ChargeLeft:
    """Both ways together, by the inverse of their variances.

    Parameters
    ----------
    by_rest, by_charge : fractions of the full charge.

    Returns
    -------
    Both lean on one curve, so together they are no surer than either. Where they disagree by more than both
    allow, the interval holds both and the note says what that means.
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
