"""Guesses of the pair's working point at its strongest, from the sheet or from what models of this kind
have.
"""

from __future__ import annotations

import numpy as np

from telemetry.analysis.motors.blocks import Blocks
from telemetry.analysis.motors.physics import WorkingPointGuess
from telemetry.analysis.motors.sides import MotorSide

Weighted = tuple[tuple[float, float], ...]

WARM_WINDING = 1.15
"""A copper winding some 40 °C warmer than on the sheet (IEC 60028's coefficient)."""


def guesses(blocks: Blocks, left: MotorSide, right: MotorSide) -> tuple[tuple[WorkingPointGuess, float], ...]:
    """Loss shares and idle shares to weigh, each with its prior weight.

    Notes
    -----
    Without a sheet a motor at its strongest loses 3 to 18 % in the winding and idles on 2 to 6 % of its
    current (common practice, no source). A sheet's resistance is good to 25 %.
    """
    losses: Weighted = ((0.03, 0.15), (0.05, 0.25), (0.08, 0.25), (0.12, 0.2), (0.18, 0.15))
    idles: Weighted = ((0.025, 0.5), (0.055, 0.5))
    motors = [s.drive.motor for s in (left, right) if s.drive is not None]
    if motors and blocks.current_a is not None:
        command = np.mean(blocks.command, axis=0)
        top = command >= np.quantile(command, 0.9)
        duty = float(np.clip(np.median(command[top]), 0.2, 1.0))
        winding_a = float(np.median(np.mean(blocks.current_a, axis=0)[top])) / duty
        resistances = [m.resistance_ohm for m in motors if m.resistance_ohm]
        if resistances and blocks.has_voltage:
            share = (
                float(np.mean(resistances))
                * WARM_WINDING
                * winding_a
                / (duty * float(np.median(blocks.voltage_v[top])))
            )
            losses = tuple(
                (float(np.clip(share * f, 0.01, 0.4)), w) for f, w in ((0.78, 0.25), (1.0, 0.5), (1.28, 0.25))
            )
        points = [p.current_a for m in motors for p in m.no_load_points]
        if points and winding_a > 0:
            share = float(np.mean(points)) / winding_a
            idles = tuple((float(np.clip(share * f, 0.005, 0.2)), 0.5) for f in (0.75, 1.35))
    shifts = ((-0.4, 0.25), (0.0, 0.5), (0.4, 0.25))
    return tuple(
        (WorkingPointGuess(loss, idle, shift), a * b * c)
        for loss, a in losses
        for idle, b in idles
        for shift, c in shifts
    )
