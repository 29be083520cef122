"""Figures of cells and pack read off a finished joint fit, each with its interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.deviations import Deviation
from telemetry.analysis.pack.fit import PARTS
from telemetry.analysis.pack.joint import Joint, delays_direct
from telemetry.analysis.pack.spread import Influence, influence
from telemetry.estimate import Estimate
from telemetry.sentences import say
from telemetry.trace import Floats

METHOD = say("pack", "joint_fit")
TWO_SIDED = 1.96

STRUCTURE = (0.10, 0.03, 0.03)
"""What no two-pair circuit can know, as a share of R1s − R0, for 0, 1 and 10 s (one sd); set by coverage on
flights with other circuits.
"""

STRUCTURE_OF_ALL = (0.010, 0.012, 0.020)
"""The same as a share of the resistance itself (one sd): diffusion grows as the root of time, its slowest
part counts as open-circuit voltage, and the gain of a current sensor is good to half a per cent.
"""

FASTER_THAN_ROWS = 0.03
"""How much less the drop at once may be than the ohmic part, as a share of it (one sd). A charge transfer of
some hundredths of a second is over before the next reading, and a tenth of it (of a quarter of the drop) is
yet to come after 0.1 s: it can only make the ohmic part read high.
"""

STRUCTURE_OF_SAG = 0.017
"""As a share of the sag (one sd): diffusion over minutes, peaks between readings, and the knee that a cell
with a plateau leaves at take-off (lithium polymer alone would do with 0.011).
"""


@dataclass(frozen=True, slots=True)
class Ohms:
    """Resistance after 0, 1 and 10 s (3,), and its influences. [Ω]"""

    ohm: Floats
    pulled: Influence


def mean_ohms(joint: Joint) -> Ohms:
    """Of the mean cell."""
    kernel = joint.shared.kernel()
    parts = joint.mean.parts_ohm
    figures = np.column_stack([np.zeros((3, joint.mean.design.shape[1] - PARTS)), kernel])
    return Ohms(kernel @ parts, influence(joint.pulled, figures, delays_direct(joint.shared, parts)))


def own_ohms(joint: Joint, one: Deviation) -> Ohms:
    """What one cell has more than the mean cell."""
    kernel = joint.shared.kernel()
    figures = np.column_stack([np.zeros((3, 3)), kernel])
    return Ohms(
        kernel @ one.coefficients[3:],
        Influence(one.pulled.blocks @ figures.T, figures @ one.pulled.held @ figures.T),
    )


def estimates(ohms: Ohms) -> tuple[Estimate, Estimate, Estimate]:
    """Ohmic, 1 s and 10 s resistance with 95 % intervals, never below zero; the ohmic one reaches further
    down than up.
    """
    structural = np.hypot(
        np.array(STRUCTURE) * abs(ohms.ohm[1] - ohms.ohm[0]), np.array(STRUCTURE_OF_ALL) * np.abs(ohms.ohm)
    )
    sd = np.sqrt(ohms.pulled.variance() + structural**2)
    under = np.hypot(sd, np.array([FASTER_THAN_ROWS, 0.0, 0.0]) * np.abs(ohms.ohm))
    a, b, c = (
        Estimate(float(r), float(r - TWO_SIDED * less), float(r + TWO_SIDED * more), METHOD).floored()
        for r, less, more in zip(ohms.ohm, under, sd, strict=True)
    )
    return a, b, c


@dataclass(frozen=True, slots=True)
class Sag:
    """Largest sag of a cell, and its moment. [V, s]"""

    sag_v: Estimate
    at_s: float


def sag(joint: Joint, one: Deviation, *, near_s: float = 0.3) -> Sag:
    """Largest open-circuit less loaded voltage.

    Read on the fit and moved by the mean residual within `near_s`, so that one coarse reading
    does not set it.
    """
    g, column = joint.place(one.cell)
    group = joint.groups[g]
    mine = joint.mean.rows.group == g
    fall = -joint.mean.design[mine, -PARTS:] @ (joint.mean.parts_ohm + one.coefficients[3:])
    k = int(np.argmax(fall))
    close = np.abs(group.time_s - group.time_s[k]) <= near_s
    residual = group.volts[:, column] - (one.open_circuit_v - fall)
    weight = joint.mean.rows.weight[mine][close]
    local = float(np.sum(weight * residual[close]) / np.sum(weight))
    doubt = _open_circuit(joint, one, g, k).variance()[0]
    scatter = joint.noise_v**2 / max(int(close.sum()), 1) + group.step_v**2 / 12 + (0.5 * local) ** 2
    value = max(float(fall[k] - local), 0.0)
    scatter += (STRUCTURE_OF_SAG * value) ** 2
    return Sag(
        Estimate.around(value, TWO_SIDED * float(np.sqrt(doubt + scatter)), METHOD), float(group.time_s[k])
    )


def _open_circuit(joint: Joint, one: Deviation, group: int, row: int) -> Influence:
    """Of one cell's open-circuit voltage at a row of its group."""
    mine = np.flatnonzero(joint.mean.rows.group == group)
    figures = np.concatenate([joint.mean.rows.basis[mine[row]], np.zeros(PARTS)])[None, :]
    return influence(joint.pulled, figures)


def open_circuit_end(joint: Joint, one: Deviation) -> Estimate:
    """What one cell comes back to at rest. [V]"""
    g, _ = joint.place(one.cell)
    doubt = _open_circuit(joint, one, g, -1).variance()[0]
    return Estimate.around(
        float(one.open_circuit_v[-1]), TWO_SIDED * float(np.hypot(np.sqrt(doubt), 0.003)), METHOD
    )


def lag(joint: Joint, *, least_s: float = 0.004) -> Estimate:
    """How far the voltage runs behind the current, what it is smoothed more included. [s]

    `least_s` (one sd) is what an uneven clock of the recorder leaves.
    """
    pulled = joint.pulled
    both = pulled.shared[:, :2].sum(axis=1, keepdims=True)
    found = Influence(both, pulled.shared_held[:2, :2].sum(keepdims=True))
    half = TWO_SIDED * float(np.hypot(np.sqrt(found.variance()[0]), least_s))
    return Estimate.around(joint.shared.lag_s + joint.shared.smoothing_s, half, METHOD)
