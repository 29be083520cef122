"""Cells with a truth of their own: open-circuit curve, ohmic part, RC pairs, warmth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from telemetry.limits import MOLAR_GAS_CONSTANT_JPMOLK, ZERO_CELSIUS_K

Floats = npt.NDArray[np.float64]
Number = TypeVar("Number", float, Floats)

_REFERENCE_K = 298.15


@dataclass(frozen=True, slots=True)
class OpenCircuit:
    """An open-circuit curve on purpose unlike `physics.open_circuit`: a line, a bend, a knee near empty, a
    step.

    base_v + rise_v·x + bend_v·x² − knee_v·exp(−x/knee_width) + step_v·tanh((x − step_at)/step_width), x
    charge left.
    """

    base_v: float = 3.645
    rise_v: float = 0.295
    bend_v: float = 0.255
    knee_v: float = 0.35
    knee_width: float = 0.035
    step_v: float = 0.008
    step_at: float = 0.6
    step_width: float = 0.06

    def voltage_v(self, left: Number) -> Number:
        """Voltage at rest. `left` below −0.02 is held there. [V]"""
        x = np.maximum(left, -0.02)
        step_v = self.step_v * np.tanh((x - self.step_at) / self.step_width)
        knee_v = self.knee_v * np.exp(-x / self.knee_width)
        return self.base_v + x * (self.rise_v + self.bend_v * x) - knee_v + step_v  # type: ignore[no-any-return]


@dataclass(frozen=True, slots=True)
class CellTruth:
    """One cell (or parallel group). Resistances are at 25 °C.

    Attributes
    ----------
    r3_ohm, tau3_s : a slower third pair, a crude diffusion; none by default.
    ohmic_kjpmol, slow_kjpmol : activation energies of the ohmic part and of the pairs. [kJ/mol]
    empty_rise_fraction : how much every resistance grows towards empty.
    warmth_fraction : this cell's warming ÷ the pack's mean.
    """

    capacity_mah: float = 5200.0
    r0_ohm: float = 0.0028
    r1_ohm: float = 0.0012
    tau1_s: float = 1.1
    r2_ohm: float = 0.0015
    tau2_s: float = 28.0
    r3_ohm: float = 0.0
    tau3_s: float = 250.0
    start_left_fraction: float = 0.985
    open_circuit: OpenCircuit = OpenCircuit()
    ohmic_kjpmol: float = 20.0
    slow_kjpmol: float = 25.0
    empty_rise_fraction: float = 0.0
    warmth_fraction: float = 1.0

    @property
    def pairs(self) -> tuple[tuple[float, float], ...]:
        """(resistance, time constant) of each RC pair. [Ω, s]"""
        pairs = ((self.r1_ohm, self.tau1_s), (self.r2_ohm, self.tau2_s), (self.r3_ohm, self.tau3_s))
        return tuple(pair for pair in pairs if pair[0] > 0.0)

    def drop_after_ohm(self, seconds: float, *, ohmic_factor: float = 1.0, slow_factor: float = 1.0) -> float:
        """Total drop per ampere that long after a step, without the fall of the open-circuit voltage. [Ω]"""
        slow_ohm = sum(r * (1.0 - np.exp(-seconds / tau)) for r, tau in self.pairs)
        return float(self.r0_ohm * ohmic_factor + slow_ohm * slow_factor)


@dataclass(frozen=True, slots=True)
class CellCourse:
    """One cell through a flight, each (n,)."""

    voltage_v: Floats
    open_circuit_v: Floats
    left_fraction: Floats
    ohmic_factor: Floats
    slow_factor: Floats


def arrhenius_factor(temperature_c: Number, energy_kjpmol: float) -> Number:
    """Resistance at a temperature ÷ that at 25 °C, exp[Ea/R·(1/T − 1/298.15 K)].

    Source: Arrhenius law.
    """
    per_kelvin = energy_kjpmol * 1000.0 / MOLAR_GAS_CONSTANT_JPMOLK.value
    return np.exp(per_kelvin * (1.0 / (temperature_c + ZERO_CELSIUS_K.value) - 1.0 / _REFERENCE_K))  # type: ignore[return-value, no-any-return, unused-ignore]


def low_pass(values: Floats, step_s: float, tau_s: float) -> Floats:
    """First-order lag of values linear between samples, exact, starting from 0: (n,) as `values`."""
    keep = np.exp(-step_s / tau_s)
    now = 1.0 - (1.0 - keep) * tau_s / step_s
    before = (1.0 - keep) - now
    lagged, _ = lfilter([now, before], [1.0, -keep], values, zi=[-now * values[0]])
    return np.asarray(lagged, dtype=float)


def follow(values: Floats, step_s: float, tau_s: float) -> Floats:
    """First-order lag that starts at the first value: (n,) as `values`."""
    if tau_s <= 0.0:
        return values
    return np.asarray(values[0] + low_pass(values - values[0], step_s, tau_s))


def run_cell(cell: CellTruth, current_a: Floats, step_s: float, temperature_c: Floats) -> CellCourse:
    """A cell under a current.

    Parameters
    ----------
    current_a : (n,) out of the cell, linear between samples, even steps. [A]
    step_s : between samples. [s]
    temperature_c : (n,) of the cell. [°C]
    """
    passed_as = np.concatenate(([0.0], np.cumsum((current_a[1:] + current_a[:-1]) / 2.0 * step_s)))
    left = cell.start_left_fraction - passed_as / (3.6 * cell.capacity_mah)
    emptying = 1.0 + cell.empty_rise_fraction * np.exp(-np.maximum(left, 0.0) / 0.1)
    ohmic = arrhenius_factor(temperature_c, cell.ohmic_kjpmol) * emptying
    slow = arrhenius_factor(temperature_c, cell.slow_kjpmol) * emptying
    open_circuit_v = cell.open_circuit.voltage_v(left)
    drop_v = cell.r0_ohm * ohmic * current_a
    for r_ohm, tau_s in cell.pairs:
        drop_v = drop_v + r_ohm * low_pass(slow * current_a, step_s, tau_s)
    return CellCourse(open_circuit_v - drop_v, open_circuit_v, left, ohmic, slow)


@dataclass(frozen=True, slots=True)
class PackTruth:
    """Cells in series, their plug and their warmth.

    Attributes
    ----------
    cells : from the negative end.
    plug_ohm : from the last cell to where the pack's voltage is sensed, both conductors. [Ω]
    lead_ohm : from there to one controller, both conductors. [Ω]
    start_c : temperature at power on. [°C]
    heat_capacity_jpk, cooling_s : of the whole pack; time constant towards the air.
    """

    cells: tuple[CellTruth, ...] = tuple(CellTruth() for _ in range(5))
    plug_ohm: float = 0.0012
    lead_ohm: float = 0.0030
    start_c: float = 22.0
    heat_capacity_jpk: float = 620.0
    cooling_s: float = 700.0

    def temperature_c(self, current_a: Floats, step_s: float, air_c: float) -> Floats:
        """Warming by the drop of all cells at 25 °C, cooling towards the air: (n,). [°C]"""
        per_ampere_ohm = sum(cell.drop_after_ohm(60.0) for cell in self.cells)
        heat_w = current_a**2 * per_ampere_ohm
        warming = low_pass(heat_w, step_s, self.cooling_s) * self.cooling_s / self.heat_capacity_jpk
        time_s = np.arange(current_a.size) * step_s
        return np.asarray(air_c + (self.start_c - air_c) * np.exp(-time_s / self.cooling_s) + warming)
