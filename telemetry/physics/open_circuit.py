"""Open-circuit voltage of a cell over its charge: one curve, and how far cells lie from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Self

import numpy as np
from scipy.interpolate import PchipInterpolator

from telemetry.limits import FULL_CELL_V
from telemetry.physics.arrays import Floats, Number

_FINE_CHARGE = np.linspace(0.0, 1.0, 4001)


@dataclass(frozen=True, slots=True)
class OpenCircuitCurve:
    """Resting voltages of a kind of cell. A prior for a cell that was never measured, not a measurement.

    Attributes
    ----------
    points : rising rows of charge left (0 to 1), voltage after a long rest [V], and the half of the 95 %
        interval that a charge read there has (fraction of charge); a monotone curve runs through them.
    source : of voltages and uncertainty.
    rests_full_v : a cell that rests at or above it is full; None for the last point's voltage.
    """

    points: tuple[tuple[float, float, float], ...]
    source: str
    rests_full_v: float | None = None

    @property
    def full_cell_v(self) -> float:
        """What a charger ends at. [V]"""
        return self.points[-1][1]

    def ending_at(self, full_cell_v: float, *, other_fraction: float = 0.03, near_v: float = 0.05) -> Self:
        """The curve of a cell whose full charge ends at another voltage.

        The upper half is lifted or lowered, by all of the difference when full and by none at half charge.

        Parameters
        ----------
        full_cell_v : of this cell's full charge. [V]
        other_fraction : added to the uncertainty of a curve moved by more than `near_v`.
        near_v : a curve moved by less is as sure as before. [V]

        Returns
        -------
        A curve of its own; this one is left as it is.
        """
        lift_v = full_cell_v - self.full_cell_v
        if lift_v == 0.0:
            return self
        more = other_fraction if abs(lift_v) > near_v else 0.0
        moved = tuple(
            (left, volts + lift_v * max(2.0 * left - 1.0, 0.0) ** 2, doubt + more)
            for left, volts, doubt in self.points
        )
        return replace(self, points=moved)

    def voltage_v(self, charge_left_fraction: Number) -> Number:
        """Open-circuit voltage of a cell.

        Parameters
        ----------
        charge_left_fraction : number or array, held within 0…1.

        Returns
        -------
        As `charge_left_fraction`. [V]
        """
        left = np.clip(charge_left_fraction, 0.0, 1.0)
        return _interpolator(self.points)(left)  # type: ignore[return-value]

    def charge_left_fraction(self, voltage_v: Number) -> Number:
        """The charge at which a well-rested cell shows a voltage.

        Parameters
        ----------
        voltage_v : number or array. [V]

        Returns
        -------
        As `voltage_v`, 0 below the curve and 1 above it; exact to 1e-4.
        """
        volts = np.asarray(voltage_v, dtype=np.float64)
        left = np.interp(volts, _fine_v(self.points), _FINE_CHARGE)
        if self.rests_full_v is not None:
            left = np.where(volts >= self.rests_full_v, 1.0, left)
        return left if volts.ndim else float(left)  # type: ignore[return-value]

    def uncertainty_fraction(self, charge_left_fraction: float) -> float:
        """How far a cell's charge may lie from the one that its rested voltage tells.

        Parameters
        ----------
        charge_left_fraction : as `charge_left_fraction` tells it.

        Returns
        -------
        Half of the 95 % interval, as a fraction of the full charge.
        """
        left, _, uncertainty = np.array(self.points).T
        return float(np.interp(charge_left_fraction, left, uncertainty))

    @property
    def has_plateau(self) -> bool:
        """Whether a resting voltage tells no charge at some of its points."""
        return any(self.is_flat(left) for left, _, _ in self.points)

    def is_flat(self, charge_left_fraction: float, *, untold: float = 0.25) -> bool:
        """Whether a resting voltage tells no charge there: a plateau.

        Parameters
        ----------
        charge_left_fraction : as `charge_left_fraction` tells it.
        untold : a charge that is no surer than this is not told.

        Returns
        -------
        True where the uncertainty reaches `untold`.
        """
        return self.uncertainty_fraction(charge_left_fraction) >= untold


@lru_cache(maxsize=32)
def _interpolator(points: tuple[tuple[float, float, float], ...]) -> PchipInterpolator:
    return PchipInterpolator(*np.array(points).T[:2])


@lru_cache(maxsize=32)
def _fine_v(points: tuple[tuple[float, float, float], ...]) -> Floats:
    return np.asarray(_interpolator(points)(_FINE_CHARGE))


LITHIUM_POLYMER = OpenCircuitCurve(
    points=(
        (0.00, 3.30, 0.08),
        (0.04, 3.55, 0.08),
        (0.10, 3.67, 0.08),
        (0.20, 3.72, 0.08),
        (0.30, 3.76, 0.12),
        (0.40, 3.80, 0.15),
        (0.50, 3.85, 0.15),
        (0.60, 3.91, 0.13),
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

HIGH_VOLTAGE_POLYMER = OpenCircuitCurve(
    points=(
        (0.000, 3.30, 0.09),
        (0.035, 3.55, 0.09),
        (0.088, 3.67, 0.09),
        (0.176, 3.72, 0.10),
        (0.264, 3.76, 0.12),
        (0.352, 3.80, 0.15),
        (0.440, 3.85, 0.15),
        (0.528, 3.91, 0.14),
        (0.616, 3.97, 0.11),
        (0.704, 4.02, 0.09),
        (0.792, 4.10, 0.08),
        (0.880, 4.20, 0.08),
        (1.000, 4.35, 0.04),
    ),
    source=(
        "the lithium-polymer curve, of which 4.20 V is 88 % of what 4.35 V holds (83 to 92 %; common "
        "practice, no source)"
    ),
)

LITHIUM_ION = OpenCircuitCurve(
    points=(
        (0.00, 2.50, 0.06),
        (0.05, 3.109, 0.08),
        (0.10, 3.296, 0.13),
        (0.20, 3.485, 0.13),
        (0.30, 3.581, 0.12),
        (0.40, 3.667, 0.10),
        (0.50, 3.751, 0.09),
        (0.60, 3.841, 0.08),
        (0.70, 3.948, 0.08),
        (0.80, 4.042, 0.08),
        (0.90, 4.097, 0.07),
        (0.95, 4.124, 0.05),
        (1.00, 4.200, 0.04),
    ),
    source=(
        "Chen et al., J. Electrochem. Soc. 167 080534, 2020, a 21700 cell with a high-nickel cathode, as "
        "pybamm's `Chen2020` between 2.5 and 4.2 V. Uncertainty: holds Mohtat et al. 2020 and Kim et al. 2011"
    ),
)

IRON_PHOSPHATE = OpenCircuitCurve(
    points=(
        (0.00, 2.000, 0.06),
        (0.05, 2.785, 0.06),
        (0.10, 2.978, 0.08),
        (0.20, 3.168, 0.15),
        (0.30, 3.206, 0.20),
        (0.40, 3.252, 0.35),
        (0.50, 3.266, 0.45),
        (0.60, 3.269, 0.40),
        (0.70, 3.274, 0.35),
        (0.80, 3.310, 0.35),
        (0.90, 3.314, 0.30),
        (0.95, 3.316, 0.10),
        (1.00, 3.600, 0.05),
    ),
    source=(
        "Prada et al., J. Electrochem. Soc. 160 A616, 2013, as pybamm's `Prada2013` between 2.0 and 3.6 V. "
        "Uncertainty: 15 mV, what makes and a rest of half a minute differ, on a plateau"
    ),
    rests_full_v=3.35,
)
