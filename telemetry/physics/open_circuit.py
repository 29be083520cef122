"""Open-circuit voltage of a lithium-polymer cell over its charge.

A generic curve through the resting voltages that the trade uses. Real cells lie within some
10 mV of it in the middle and further off near empty: a prior, not a measurement.

Source: common practice, no source (4.20 V full, 4.02 at 80 %, 3.85 at 50 %, 3.76 at 30 %, 3.72 at
20 %, 3.67 at 10 %); below 10 % a steep fall to 3.27 V, our assumption.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from telemetry.limits import FULL_CELL_V

Floats = npt.NDArray[np.float64]
Number = TypeVar("Number", float, Floats)

RESTING_TABLE = (
    (0.0, 3.27),
    (0.1, 3.67),
    (0.2, 3.72),
    (0.3, 3.76),
    (0.5, 3.85),
    (0.8, 4.02),
    (1.0, FULL_CELL_V.value),
)
"""Charge left (fraction) and voltage after a long rest. [V]"""

_CURVE = PchipInterpolator(*np.array(RESTING_TABLE).T)
_SLOPE = _CURVE.derivative()
_FINE_CHARGE = np.linspace(0.0, 1.0, 4001)


def voltage_v(charge_left_fraction: Number, *, full_cell_v: float = FULL_CELL_V.value) -> Number:
    """Open-circuit voltage of a cell.

    Parameters
    ----------
    charge_left_fraction : held within 0…1.
    full_cell_v : of this cell's full charge; the difference to 4.20 V fades out towards half charge. [V]

    Returns
    -------
    As `charge_left_fraction`. [V]
    """
    left = np.clip(charge_left_fraction, 0.0, 1.0)
    lifted = (full_cell_v - FULL_CELL_V.value) * np.clip(2.0 * left - 1.0, 0.0, 1.0) ** 2
    return _CURVE(left) + lifted  # type: ignore[no-any-return]


def slope_v(charge_left_fraction: Number, *, full_cell_v: float = FULL_CELL_V.value) -> Number:
    """Slope of the curve, volts for the whole charge, always above zero within 0…1. [V]"""
    left = np.clip(charge_left_fraction, 0.0, 1.0)
    lifted = (full_cell_v - FULL_CELL_V.value) * 4.0 * np.clip(2.0 * left - 1.0, 0.0, 1.0)
    return _SLOPE(left) + lifted  # type: ignore[no-any-return]


def charge_left_fraction(voltage_v: Number, *, full_cell_v: float = FULL_CELL_V.value) -> Number:
    """The charge at which a well-rested cell shows a voltage, 0 below the curve and 1 above it."""
    return np.interp(voltage_v, _curve_table(full_cell_v), _FINE_CHARGE)


def _curve_table(full_cell_v: float) -> Floats:
    return voltage_v(_FINE_CHARGE, full_cell_v=full_cell_v)
