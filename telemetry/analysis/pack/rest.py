"""Voltages at rest, and the charge they speak of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.physics.chemistry import Chemistry
from telemetry.physics.open_circuit import OpenCircuitCurve
from telemetry.sentences import say, undecided

CAPACITY_DOUBT_FRACTION = 0.06
"""Half of the 95 % interval of the sheet's capacity and the current sensor's gain together."""


def charge_by_rest(resting: Estimate, curve: OpenCircuitCurve) -> Estimate | Undecided:
    """Charge left from the voltage that a cell comes back to.

    Parameters
    ----------
    resting : of the mean cell. [V]
    curve : of its chemistry.

    Returns
    -------
    Fraction of the full charge; the curve's uncertainty and the voltage's own are in its interval. On a
    plateau, where the voltage tells no charge, the reason.
    """
    low, middle, high = (curve.charge_left_fraction(v) for v in (resting.low, resting.value, resting.high))
    if curve.is_flat(middle):
        return undecided("pack", "plateau", rest_v=resting.value)
    doubt = curve.uncertainty_fraction(middle)
    return Estimate(
        middle,
        max(float(middle - np.hypot(doubt, middle - low)), 0.0),
        float(middle + np.hypot(doubt, high - middle)),
        say("pack", "rest_by_fit"),
    )


def of_any(
    kinds: Sequence[Chemistry], tell: Callable[[OpenCircuitCurve], Estimate | Undecided]
) -> Estimate | Undecided:
    """What a voltage tells of the charge, whichever of some chemistries the cells are of.

    Parameters
    ----------
    kinds : one at least, the likeliest first.
    tell : by the curve of one.

    Returns
    -------
    The likeliest one's figure, its interval that of all; a reason where one of them tells no charge.
    """
    found = [tell(kind.curve) for kind in kinds]
    known = [one for one in found if isinstance(one, Estimate)]
    if len(known) < len(found):
        return next(one for one in found if isinstance(one, Undecided))
    if len(known) == 1:
        return known[0]
    names = ", ".join(say("chemistry", kind.key) for kind in kinds)
    method = say("pack", "of_any", method=known[0].method, names=names)
    return replace(known[0], low=min(e.low for e in known), high=max(e.high for e in known), method=method)


def settled(reading_v: float, rested_s: float, *, least_s: float = 10.0) -> Estimate | None:
    """What a cell that was read after a flight comes back to, without a fit to tell it. [V]

    Parameters
    ----------
    reading_v, rested_s : of the mean cell, and the rest it had had. [V, s]
    least_s : a shorter rest tells nothing.

    Notes
    -----
    Half a minute after the landing a quarter to a half of the slow part is still missing, some hundredths of
    a volt after a flight's usual load (a judgement from simulated flights).
    """
    if rested_s < least_s:
        return None
    return Estimate(reading_v + 0.02, reading_v, reading_v + 0.05, say("pack", "rest_unsettled"))


def start_charge(
    start_v: float, curve: OpenCircuitCurve, *, volts_over_full: float = 1.0, most_over: float = 0.1
) -> Estimate:
    """How full a pack began, by its resting voltage before load.

    Parameters
    ----------
    start_v : of the mean cell. [V]
    curve : of its chemistry.
    volts_over_full : what a whole charge more than full adds, as steep as the curve ends. [V]
    most_over : more than that no cell takes.

    Returns
    -------
    Fraction of the full charge; on a plateau its interval is as wide as the plateau.
    """
    began = curve.charge_left_fraction(start_v)
    began += min(max(start_v - curve.full_cell_v, 0.0) / volts_over_full, most_over)
    doubt = curve.uncertainty_fraction(began)
    low, high = max(began - doubt, 0.0), began + doubt
    if curve.is_flat(began):
        return Estimate(began, low, min(high, 1.0), say("pack", "rest_on_plateau"))
    return Estimate(began, low, high, say("pack", "rest_before_load"))


def on_one_charge(rested: Estimate | Undecided, before: Estimate | None) -> Estimate | Undecided:
    """How full a flight began that may go on with the charge of the flight before.

    Parameters
    ----------
    rested : by the resting voltage before load.
    before : what the flight before left, None where there was none or the pack may be another.

    Returns
    -------
    What was left, unless the pack rests above it: then it was charged, or is another.
    """
    if before is None or (isinstance(rested, Estimate) and rested.low > before.high):
        return rested
    if isinstance(rested, Undecided):
        return before
    return weighed(rested, before, say("pack", "rest_carried"))


def charge_by_charge(
    began: Estimate, drawn_mah: float, capacity_mah: float, *, sensor_off: float = 0.0
) -> Estimate:
    """Charge left from how full a pack started and what was drawn.

    Parameters
    ----------
    began : fraction of the full charge.
    drawn_mah, capacity_mah : since then, and of the pack. [mAh]
    sensor_off : by how much another sensor contradicts the current's. [1]

    Returns
    -------
    Fraction of the full charge.
    """
    drawn = drawn_mah / capacity_mah
    half = float(
        np.hypot((began.high - began.low) / 2, max(CAPACITY_DOUBT_FRACTION, abs(sensor_off)) * drawn)
    )
    left = max(began.value - drawn, 0.0)
    return Estimate(left, max(left - half, 0.0), left + half, say("pack", "charge_drawn"))


def weighed(one: Estimate, other: Estimate, method: str) -> Estimate:
    """Two estimates of a charge by the inverse of their variances.

    Both lean on one curve, so together they are no surer than either.
    """
    arms = np.array([max((e.high - e.low) / 2, 1e-6) for e in (one, other)])
    weight = arms**-2.0 / np.sum(arms**-2.0)
    value = float(weight @ np.array([one.value, other.value]))
    half = float(weight @ arms)
    return Estimate(value, max(value - half, 0.0), value + half, method)


@dataclass(frozen=True, slots=True)
class ChargeLeft:
    """Both ways, both together, and what a disagreement means ("" without one)."""

    together: Estimate | Undecided
    by_rest: Estimate | Undecided
    by_charge: Estimate | Undecided
    note: str


def weigh(
    by_rest: Estimate | Undecided, by_charge: Estimate | Undecided, curve: OpenCircuitCurve
) -> ChargeLeft:
    """Both ways together, by the inverse of their variances.

    Parameters
    ----------
    by_rest, by_charge : fractions of the full charge.
    curve : of the cells' chemistry.

    Returns
    -------
    Both lean on one curve, so together they are no surer than either. Where they disagree by more than both
    allow, with the curve as uncertain as it is at either charge, the note says what that means, the interval
    holds both, and the rest is believed: it leans on neither the sheet nor the current's sensor.
    """
    if isinstance(by_rest, Undecided):
        return ChargeLeft(by_charge if isinstance(by_charge, Estimate) else by_rest, by_rest, by_charge, "")
    if isinstance(by_charge, Undecided):
        return ChargeLeft(by_rest, by_rest, by_charge, "")
    apart = by_rest.value - by_charge.value
    there = curve.uncertainty_fraction(by_charge.value)
    resting = max((by_rest.high - by_rest.low) / 2, there)
    if abs(apart) <= float(np.hypot(resting, (by_charge.high - by_charge.low) / 2)):
        together = weighed(by_rest, by_charge, say("pack", "rest_and_charge"))
        return ChargeLeft(together, by_rest, by_charge, "")
    held = replace(by_rest, low=min(by_rest.low, by_charge.low), high=max(by_rest.high, by_charge.high))
    less = "more_drawn_shown" if apart > 0 else "less_than_drawn"
    note = say("pack", less, rest=100 * by_rest.value, charge=100 * by_charge.value)
    return ChargeLeft(held, by_rest, by_charge, note)
