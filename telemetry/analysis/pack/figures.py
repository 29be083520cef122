"""Figures of cells and pack read off a finished joint fit, each with its interval."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from telemetry.analysis.pack.joint import Joint, delays_direct
from telemetry.analysis.pack.spread import Influence, influence, variance
from telemetry.estimate import Estimate
from telemetry.trace import Floats

METHOD = "joint fit with sensor lag and two RC pairs"
TWO_SIDED = 1.96

STRUCTURE = (0.35, 0.05, 0.05)
"""What no 2-pair circuit can know, as a share of R1s − R0, for 0, 1 and 10 s (one sd); set by coverage on flights with other circuits."""


def resistances(joint: Joint, group: int, column: int) -> tuple[Floats, Influence]:
    """(3,) after 0, 1 and 10 s of one cell, and their influences. [Ω]"""
    fit = joint.fits[group]
    parts = fit.parts_ohm[:, column]
    kernel = joint.shared.kernel()
    figures = np.column_stack([np.zeros((3, fit.design.shape[1] - 3)), kernel])
    return kernel @ parts, influence(fit, group, column, figures, joint.pulled, direct=delays_direct(joint.shared, parts))


def spent(joint: Joint, *, block_s: float = 10.0) -> float:
    """How many blocks' worth of freedom the fit used: its coefficients against the rows of a block."""
    return 3.0


def estimates(joint: Joint, ohms: Floats, found: Influence) -> tuple[Estimate, Estimate, Estimate]:
    """Ohmic, 1 s and 10 s resistance with 95 % intervals."""
    structural = np.array(STRUCTURE) * abs(ohms[1] - ohms[0])
    half = TWO_SIDED * np.sqrt(variance(found, joint.pulled.prior, spent(joint)) + structural**2)
    a, b, c = (Estimate.around(float(r), float(h), METHOD) for r, h in zip(ohms, half, strict=True))
    return a, b, c


def total(found: Sequence[Influence]) -> Influence:
    """Of the sum of several cells' figures."""
    return Influence(np.sum([f.blocks for f in found], axis=0), np.sum([f.follow for f in found], axis=0))


def sag(joint: Joint, group: int, column: int, *, near_s: float = 0.3) -> tuple[Estimate, float]:
    """Largest open-circuit less loaded voltage, and its moment. [V, s]

    Read on the fit and moved by the mean residual within `near_s`, so that one coarse reading
    does not set it.
    """
    fit = joint.fits[group]
    time_s = fit.rows.group.time_s
    residual = fit.residual[:, column]
    open_v = fit.open_circuit_v[:, column]
    fitted = open_v - (fit.rows.group.volts[:, column] - residual)
    k = int(np.argmax(fitted))
    close = np.abs(time_s - time_s[k]) <= near_s
    weight = fit.rows.weight[close]
    local = float(np.sum(weight * residual[close]) / np.sum(weight))
    row = np.concatenate([fit.rows.basis[k], np.zeros(3)])[None, :]
    doubt = variance(influence(fit, group, column, row, joint.pulled), joint.pulled.prior, spent(joint))[0]
    scatter = joint.noise_v**2 / max(int(close.sum()), 1) + fit.rows.group.step_v**2 / 12 + (0.5 * local) ** 2
    value = max(float(fitted[k] - local), 0.0)
    return Estimate.around(value, TWO_SIDED * float(np.sqrt(doubt + scatter)), METHOD), float(time_s[k])


def open_circuit_end(joint: Joint, group: int, column: int) -> Estimate:
    """What one cell comes back to at rest. [V]"""
    fit = joint.fits[group]
    row = np.concatenate([fit.rows.basis[-1], np.zeros(3)])[None, :]
    value = float(fit.open_circuit_v[-1, column])
    doubt = variance(influence(fit, group, column, row, joint.pulled), joint.pulled.prior, spent(joint))[0]
    return Estimate.around(value, TWO_SIDED * float(np.hypot(np.sqrt(doubt), 0.003)), METHOD)
