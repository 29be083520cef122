"""Cells of the independent simulator: open-circuit curves, hysteresis, a diffusion ladder, heat.

The polarisation is a charge-transfer branch that flattens with current (an inverse hyperbolic sine) and a
ladder of four diffusion branches whose resistance grows as the root of their time constant, so that the drop
after a step goes on growing about as the root of time. All cells of a pack share the time constants, so one
set of filtered currents serves them all, whatever their own resistances are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.signal import lfilter

Floats = NDArray[np.float64]

GAS_J_PER_MOL_K = 8.314462618
TAUS_S = np.array([0.045, 1.6, 7.0, 31.0, 140.0])
LADDER = np.sqrt(TAUS_S[1:] / TAUS_S[1])

_CHARGE = np.array([0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0])
# li_ion and lifepo4: the points of B5 and B6 (Chen 2020 and Prada 2013, as the project's check values carry
# them); lipo and lihv: drawn through common practice (full, half, store, empty), no source.
_OPEN = {
    "lipo": [3.05, 3.610, 3.680, 3.733, 3.766, 3.792, 3.826, 3.876, 3.944, 4.022, 4.106, 4.148, 4.200],
    "pouch_nmc": [3.05, 3.462, 3.511, 3.585, 3.639, 3.671, 3.716, 3.797, 3.880, 3.971, 4.077, 4.136, 4.200],
    "lihv": [3.05, 3.600, 3.675, 3.730, 3.770, 3.805, 3.850, 3.915, 4.000, 4.105, 4.220, 4.280, 4.350],
    "li_ion": [2.50, 3.109, 3.296, 3.485, 3.581, 3.667, 3.751, 3.841, 3.948, 4.042, 4.097, 4.124, 4.200],
    "lifepo4": [2.10, 2.785, 2.978, 3.168, 3.206, 3.252, 3.266, 3.269, 3.274, 3.310, 3.314, 3.316, 3.600],
}
FULL_V = {"lipo": 4.20, "lihv": 4.35, "li_ion": 4.20, "lifepo4": 3.60}
FLOOR_V = {"lipo": 3.0, "lihv": 3.0, "li_ion": 2.8, "lifepo4": 2.5}
_GRID = np.linspace(0, 1, 2001)
_LOW, _HIGH = -0.10, 1.30


def open_circuit_v(chemistry: str, charge: Floats | float, pouch_share: float = 0.0) -> Floats:
    """Rest voltage of one cell at a fraction of its charge; straight lines beyond empty and full."""
    return np.interp(charge, *_curve(chemistry, round(pouch_share, 3)))


_CURVES: dict[tuple[str, float], tuple[Floats, Floats]] = {}


def _curve(chemistry: str, pouch_share: float) -> tuple[Floats, Floats]:
    key = (chemistry, pouch_share)
    if key not in _CURVES:
        volts = PchipInterpolator(_CHARGE, _OPEN[chemistry])(_GRID)
        if chemistry == "lipo" and pouch_share:
            volts += pouch_share * (PchipInterpolator(_CHARGE, _OPEN["pouch_nmc"])(_GRID) - volts)
        ends = volts[0] + 12.0 * _LOW, volts[-1] + 1.05 * (_HIGH - 1)
        _CURVES[key] = np.r_[_LOW, _GRID, _HIGH], np.r_[ends[0], volts, ends[1]]
    return _CURVES[key]


def charge_at_rest(chemistry: str, volts: float, pouch_share: float = 0.0) -> float:
    """The charge fraction whose rest voltage is `volts`."""
    charge, curve = _curve(chemistry, round(pouch_share, 3))
    return float(np.interp(volts, curve, charge))


@dataclass
class Pack:
    """A pack of cells in series; arrays hold one entry a cell, resistances at 25 °C and high charge."""

    chemistry: str
    capacity_mah: Floats
    start_charge: Floats
    ohmic_ohm: Floats
    transfer_ohm: Floats
    diffusion_ohm: Floats
    temperature_c: float
    pouch_share: float = 0.0
    self_heat_j_per_k: float = 500.0
    cooling_w_per_k: float = 0.8
    transfer_bend_a: float = 60.0
    hysteresis_v: float = 0.004
    plug_ohm: float = 0.0006
    ohmic_ea: float = 9000.0
    transfer_ea: float = 28000.0

    @property
    def cells(self) -> int:
        return len(self.capacity_mah)

    def charge(self, drawn_mah: Floats | float) -> Floats:
        """Charge fraction of each cell (last axis) after `drawn_mah` has left the pack."""
        return self.start_charge - np.asarray(drawn_mah)[..., None] / self.capacity_mah

    def hysteresis(self, drawn_mah: Floats) -> Floats:
        scale = 0.03 * float(np.mean(self.capacity_mah))
        return -self.hysteresis_v * (1 - 1.4 * np.exp(-np.maximum(drawn_mah, 0) / scale))

    def resting_v(self, drawn_mah: Floats) -> Floats:
        """Open-circuit voltage of each cell with its hysteresis."""
        bare = open_circuit_v(self.chemistry, self.charge(drawn_mah), self.pouch_share)
        return bare + np.asarray(self.hysteresis(drawn_mah))[..., None]

    def factors(self, drawn_mah: Floats, temperature_c: Floats) -> tuple[Floats, Floats]:
        """What charge and temperature multiply the ohmic and the slower resistances by, per cell."""
        charge = self.charge(drawn_mah)
        inverse = 1 / (np.asarray(temperature_c) + 273.15) - 1 / 298.15
        low = np.exp(-np.maximum(charge, -0.05) / 0.08)
        ohmic = np.exp(self.ohmic_ea / GAS_J_PER_MOL_K * inverse)[..., None] * (1 + 0.35 * low)
        slow = np.exp(self.transfer_ea / GAS_J_PER_MOL_K * inverse)[..., None] * (
            1 + 2.2 * low + 0.12 * charge**2
        )
        return ohmic, slow

    def sums(self, drawn_mah: float, temperature_c: float) -> tuple[float, float, float, list[float]]:
        """Of the whole pack: rest voltage, ohmic, charge-transfer and the ladder's resistances."""
        drawn, warm = np.array(drawn_mah), np.array(temperature_c)
        ohmic, slow = self.factors(drawn, warm)
        spread = self.diffusion_ohm * slow
        rungs = [float(x) for x in spread.sum() * LADDER / LADDER.sum()]
        rest = float(self.resting_v(drawn).sum())
        return rest, float((self.ohmic_ohm * ohmic).sum()), float((self.transfer_ohm * slow).sum()), rungs


def filtered_currents(current_a: Floats, step_s: float) -> list[Floats]:
    """The current through each branch, exact for a current held over each step."""
    keeps = np.exp(-step_s / TAUS_S)
    return [lfilter([1 - k], [1, -k], current_a) for k in keeps]


def bend(pack: Pack, current_a: Floats | float) -> Floats:
    """How much of its small-signal resistance the charge transfer still has at a current."""
    ratio = np.abs(np.asarray(current_a)) / pack.transfer_bend_a + 1e-9
    return np.arcsinh(ratio) / ratio


def cell_voltages(
    pack: Pack, current_a: Floats, drawn_mah: Floats, temperature_c: Floats, step_s: float
) -> Floats:
    """Loaded voltage of every cell at every step, shape (steps, cells), in volts."""
    ohmic, slow = pack.factors(drawn_mah, temperature_c)
    through = filtered_currents(current_a, step_s)
    volts = pack.resting_v(drawn_mah) - current_a[:, None] * pack.ohmic_ohm * ohmic
    volts -= (through[0] * bend(pack, through[0]))[:, None] * pack.transfer_ohm * slow
    rungs = sum(y * w for y, w in zip(through[1:], LADDER / LADDER.sum(), strict=True))
    return volts - np.asarray(rungs)[:, None] * pack.diffusion_ohm * slow


def resistance_after(
    pack: Pack, seconds: float, current_a: float, drawn_mah: Floats, warm_c: Floats
) -> Floats:
    """Drop per ampere of each cell that long after a step of `current_a`, mean over the given states."""
    ohmic, slow = pack.factors(drawn_mah, warm_c)
    share = 1 - np.exp(-seconds / TAUS_S)
    ladder = float((share[1:] * LADDER).sum() / LADDER.sum())
    late = pack.transfer_ohm * share[0] * float(bend(pack, current_a)) + pack.diffusion_ohm * ladder
    return (pack.ohmic_ohm * ohmic + late * slow).mean(axis=0)
