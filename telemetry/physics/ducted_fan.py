"""Fans in a duct: no propellers, for the duct holds the jet together and the blades advance by nothing.

Coefficients are those of `physics.propeller`, with the fan's own diameter. What the laws of measured
propellers say of pitch and of flight does not reach a fan; momentum theory of its jet stands in their place,
with wide doubts.
"""

from __future__ import annotations

import math

import numpy as np

from telemetry.limits import NO_SOURCE
from telemetry.physics.propeller import Scatter

STATIC_POWER_COEFFICIENT, STATIC_POWER_SCATTER = 2.1, Scatter(0.40, relative=True, source=NO_SOURCE)
"""Cp held still of fans for models, where no static point tells it (common practice, no source)."""
STATIC_THRUST_COEFFICIENT, STATIC_THRUST_SCATTER = 1.6, Scatter(0.35, relative=True, source=NO_SOURCE)
"""Ct held still likewise."""

_JET_SHARE = 0.8
"""Area of the jet ÷ that of the fan's disc: the hub takes a fifth (common practice, no source)."""

POWER_CURVE = np.array([0.0, -0.7, 0.0])
"""a, b, c of `propeller.unloading` over x = airspeed ÷ jet speed.

The jet's ideal power goes with 1 − x² at one volume flow; the three tenths that blades and duct lose stay (a
judgement).
"""
THRUST_CURVE = np.array([-1.0, 0.0, 0.0])
"""Thrust ÷ static thrust is 1 − x at one volume flow: momentum theory."""

POWER_UNLOADING_SCATTER = Scatter(0.20, relative=False, source="a judgement")
THRUST_UNLOADING_SCATTER = Scatter(0.15, relative=False, source="a judgement")
ZERO_THRUST_SCATTER = Scatter(0.15, relative=True, source="a judgement")


def jet_advance_ratio(thrust_coefficient: float) -> float:
    """Airspeed of the jet held still ÷ (n·D): at that airspeed the thrust ends.

    Parameters
    ----------
    thrust_coefficient : Ct held still, above zero.

    Returns
    -------
    J0 = √(4·Ct ÷ (0.8·π)).

    Source: momentum theory, T = ρ·A·v² of a jet of the area A.
    """
    return math.sqrt(4.0 * thrust_coefficient / (_JET_SHARE * math.pi))
