"""Open-circuit voltage of a cell over its charge: one curve, and how far cells lie from it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import PchipInterpolator

from telemetry.limits import FULL_CELL_V
from telemetry.physics.arrays import Floats, Number

_FINE_CHARGE = np.linspace(0.0, 1.0, 4001)


@dataclass(frozen=True, slots=True)
class OpenCircuitCurve:
    """Resting voltages of a kind of cell. A prior for a cell that was never measured, not a measurement.

    A cell whose full charge ends at another voltage than the curve's has the upper half of the curve lifted
    or lowered, by all of the difference when full and by none at half charge.

    Attributes
    ----------
    points : rising rows of charge left (0 to 1), voltage after a long rest [V], and the half of the 95 %
        interval that a charge read there has (fraction of charge); a monotone curve runs through them.
    source : of voltages and uncertainty.
    other_full_fraction : added to the uncertainty where the full voltage is not the curve's.
    """

    points: tuple[tuple[float, float, float], ...]
    source: str
    other_full_fraction: float = 0.03

    @property
    def full_cell_v(self) -> float:
        """The curve's own voltage of a full cell. [V]"""
        return self.points[-1][1]

    def voltage_v(self, charge_left_fraction: Number, *, full_cell_v: float) -> Number:
        """Open-circuit voltage of a cell.

        Parameters
        ----------
        charge_left_fraction : number or array, held within 0…1.
        full_cell_v : of this cell's full charge. [V]

        Returns
        -------
        As `charge_left_fraction`. [V]
        """
        left = np.clip(charge_left_fraction, 0.0, 1.0)
        lifted = (full_cell_v - self.full_cell_v) * np.clip(2.0 * left - 1.0, 0.0, 1.0) ** 2
        return _interpolator(self.points)(left) + lifted  # type: ignore[no-any-return]

    def charge_left_fraction(self, voltage_v: Number, *, full_cell_v: float) -> Number:
        """The charge at which a well-rested cell shows a voltage.

        Parameters
        ----------
        voltage_v : number or array. [V]
        full_cell_v : of this cell's full charge. [V]

        Returns
        -------
        As `voltage_v`, 0 below the curve and 1 above it; exact to 1e-4.
        """
        fine_v: Floats = self.voltage_v(_FINE_CHARGE, full_cell_v=full_cell_v)
        return np.interp(voltage_v, fine_v, _FINE_CHARGE)

    def uncertainty_fraction(self, charge_left_fraction: float, *, full_cell_v: float) -> float:
        """How far a cell's charge may lie from the one that its rested voltage tells.

        Parameters
        ----------
        charge_left_fraction : as `charge_left_fraction` tells it.
        full_cell_v : of this cell's full charge. [V]

        Returns
        -------
        Half of the 95 % interval, as a fraction of the full charge.
        """
        left, _, uncertainty = np.array(self.points).T
        other = self.other_full_fraction if abs(full_cell_v - self.full_cell_v) > 0.05 else 0.0
        return float(np.interp(charge_left_fraction, left, uncertainty)) + other


@lru_cache(maxsize=8)
def _interpolator(points: tuple[tuple[float, float, float], ...]) -> PchipInterpolator:
    return PchipInterpolator(*np.array(points).T[:2])


LITHIUM_POLYMER = OpenCircuitCurve(
    points=(
        (0.00, 3.30, 0.08),
        (0.04, 3.55, 0.08),
        (0.10, 3.67, 0.08),
        (0.20, 3.72, 0.08),
        (0.30, 3.76, 0.10),
        (0.40, 3.80, 0.13),
        (0.50, 3.85, 0.13),
        (0.60, 3.91, 0.12),
        (0.70, 3.97, 0.09),
        (0.80, 4.02, 0.08),
        (0.90, 4.10, 0.05),
        (1.00, FULL_CELL_V.value, 0.04),
    ),
    source=(
        "voltages: common practice, no source. Uncertainty: holds two published lithium cobalt oxide cells, "
        "Ai et al. 2020 and Ramadass et al. 2004 as carried by pybamm, which lie up to 75 mV below in the "
        "middle; a cell with nickel in its cathode may read up to 0.3 less than it has"
    ),
)
