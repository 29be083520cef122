"""Whether a pack's resting voltages can be those of the chemistry that its sheet says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.joint import Joint
from telemetry.estimate import Undecided
from telemetry.physics.chemistry import CHEMISTRIES, Chemistry
from telemetry.trace import Floats

_CAPACITIES = np.arange(0.60, 1.16, 0.02)
"""Capacity of a pack against its sheet's: worn ones hold less."""


_LEAST_BEGUN = 0.20
"""Nobody begins a flight on less charge (common practice, no source)."""


def possible(rest_v: float, *, over_full_v: float = 0.06) -> tuple[Chemistry, ...]:
    """The chemistries that a cell can be of that no sheet speaks of.

    Parameters
    ----------
    rest_v : of the mean cell before a flight. [V]
    over_full_v : a charger and a sensor may be so much off. [V]

    Returns
    -------
    Those with a fifth of their charge at least and no more than full there, lithium polymer first, as most
    packs for models are; none where no cell rests at that voltage.
    """
    return tuple(
        kind
        for kind in CHEMISTRIES.values()
        if kind.curve.voltage_v(_LEAST_BEGUN) <= rest_v <= kind.curve.full_cell_v + over_full_v
    )


def kinds_of(stated: Chemistry | None, rest_v: float | Undecided) -> tuple[Chemistry, ...]:
    """What a pack's cells are: what the sheet says, else every chemistry that can rest so, one at least."""
    if stated is not None:
        return (stated,)
    return (possible(rest_v) if not isinstance(rest_v, Undecided) else ()) or tuple(CHEMISTRIES.values())


@dataclass(frozen=True, slots=True)
class Course:
    """Open-circuit voltage of a flight's mean cell against what had left the pack.

    Attributes
    ----------
    drawn_fraction : (k,) of the sheet's capacity, rising.
    open_circuit_v : (k,) as the fit of the loaded voltage tells it. [V]
    rest_v : before load. [V]
    """

    drawn_fraction: Floats
    open_circuit_v: Floats
    rest_v: float


def course_of(fitted: Joint, capacity_mah: float, rest_v: float, *, points: int = 12) -> Course:
    """The course that a joint fit tells, at `points` charges from its first to its last."""
    drawn, volts = [], []
    for one in fitted.deviations:
        g, _ = fitted.place(one.cell)
        drawn.append(fitted.drive.at(fitted.drive.charge_mah, fitted.groups[g].time_s))
        volts.append(one.open_circuit_v)
    whole = np.concatenate(drawn)
    order = np.argsort(whole, kind="stable")
    at = np.linspace(whole[order[0]], whole[order[-1]], points + 1)
    bins = np.clip(np.searchsorted(at, whole, side="right") - 1, 0, points - 1)
    count = np.bincount(bins, minlength=points)
    seen = count > 0
    mean = [
        np.bincount(bins, weights=w, minlength=points)[seen] / count[seen]
        for w in (whole, np.concatenate(volts))
    ]
    return Course(mean[0] / capacity_mah, mean[1], rest_v)


def misfit(course: Course, kind: Chemistry, *, doubt_v: float = 0.015, capacity_sd: float = 0.12) -> float:
    """How far a course lies from a chemistry's curve, 1 for as far as such cells and sheets lie.

    Parameters
    ----------
    doubt_v : of the fit, one standard deviation. [V]
    capacity_sd : of a pack's capacity against its sheet's.

    Returns
    -------
    Mean square against what curve, fit and capacity leave open, of the capacity that fits best.
    """
    curve = kind.curve
    drawn = course.drawn_fraction / _CAPACITIES[:, None]
    began = curve.charge_left_fraction(course.rest_v)
    left = np.clip(began - drawn, 0.0, 1.0)
    step = 0.02
    slope = (curve.voltage_v(left + step) - curve.voltage_v(left - step)) / (2.0 * step)
    charge, _, doubt = np.array(curve.points).T
    told = np.minimum(np.interp(left, charge, doubt) / 2.0, 0.1)
    allowed_v = np.hypot(doubt_v, np.minimum(slope * told, 0.08))
    voltage = np.mean(((course.open_circuit_v - curve.voltage_v(left)) / allowed_v) ** 2, axis=1)
    beyond_empty = np.mean((np.maximum(drawn - began, 0.0) / 0.03) ** 2, axis=1)
    return float(np.min(voltage + beyond_empty + ((_CAPACITIES - 1.0) / capacity_sd) ** 2))


def likely_other(
    course: Course, stated: Chemistry, *, least_drawn: float = 0.15, far: float = 2.0, nearer: float = 4.0
) -> str:
    """The chemistry that a course speaks for where it contradicts the stated one, "" where it does not.

    Parameters
    ----------
    least_drawn : a course that is shorter tells chemistries apart by their full voltage only.
    far : a smaller misfit contradicts nothing.
    nearer : so many times nearer another must lie to be named.

    Notes
    -----
    A pack charged higher than its sheet says is overcharged or of a kind that is charged so high: the course
    below tells.
    """
    if course.drawn_fraction.size < 4 or float(np.ptp(course.drawn_fraction)) < least_drawn:
        return ""
    here = misfit(course, stated)
    if here <= far:
        return ""
    others = {
        key: misfit(course, kind)
        for key, kind in CHEMISTRIES.items()
        if key != stated.key and course.rest_v <= kind.curve.full_cell_v + 0.05
    }
    best = min(others, key=others.__getitem__, default="")
    return best if best and here > nearer * others[best] else ""
