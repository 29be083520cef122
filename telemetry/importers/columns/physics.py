"""How well a reading of the columns agrees with physics. All scores are in nats, 0 for "says nothing"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from telemetry.importers.columns.candidates import Candidate
from telemetry.quantities import QUANTITIES
from telemetry.trace import Floats

Assignment = Mapping[tuple[str, str], Candidate]

_USUAL = {
    "pack_voltage_v": (2.5, 60.0), "cell_voltage_v": (2.3, 4.45), "current_a": (-60.0, 250.0), "charge_mah": (-500.0, 30_000.0), "power_w": (-1500.0, 8000.0),
    "energy_wh": (-20.0, 700.0), "receiver_voltage_v": (3.3, 9.0), "receiver_current_a": (-1.0, 20.0), "motor_temperature_c": (-20.0, 160.0),
    "controller_temperature_c": (-20.0, 130.0), "pack_temperature_c": (-20.0, 80.0), "air_temperature_c": (-30.0, 50.0), "altitude_m": (-500.0, 4000.0),
    "climb_mps": (-50.0, 50.0), "airspeed_mps": (-3.0, 90.0), "ground_speed_mps": (0.0, 90.0), "rpm": (-1000.0, 45_000.0),
    "throttle_fraction": (-1.02, 1.05), "link_fraction": (0.0, 1.001),
}
_LEAST_TOP = {"current_a": 1.0, "rpm": 300.0, "charge_mah": 5.0, "power_w": 10.0, "energy_wh": 0.05, "throttle_fraction": 0.05, "motor_temperature_c": 3.0}


@dataclass(frozen=True, slots=True)
class Evidence:
    """Columns of a table on its clock, thinned, faults taken out.

    Attributes
    ----------
    time_s : (n,) [s]
    numbers : a column's (n,) as written, held over silent rows; NaN before its first value.
    has_clock : False when time_s only counts rows.
    """

    time_s: Floats
    numbers: tuple[Floats, ...]
    has_clock: bool

    def values(self, candidate: Candidate) -> Floats:
        """A column in a candidate's unit."""
        return self.numbers[candidate.column] * candidate.factor + candidate.offset


def alone(candidate: Candidate, evidence: Evidence) -> float:
    """How well the numbers suit the quantity by themselves: within its usual range, large enough, rising if it counts."""
    values = evidence.values(candidate)
    values = values[np.isfinite(values)]
    if values.size == 0:
        return 0.0
    quantity = QUANTITIES[candidate.quantity]
    low, high = _USUAL.get(candidate.quantity, (quantity.low, quantity.high))
    score = -8.0 * float(np.mean((values < low) | (values > high)))
    top = float(np.max(np.abs(values)))
    least = _LEAST_TOP.get(candidate.quantity)
    if least is not None and top < least:
        score -= min(6.0, 2.0 + 2.0 * float(np.log10(least / max(top, 1e-9))))
    if quantity.counts_up:
        falls = -np.minimum(np.diff(values), 0.0).sum()
        score -= 6.0 * min(1.0, float(falls) / max(float(np.ptp(values)), 1e-9))
    return score


def _gauss(log_ratio: float, sd: float, *, floor: float, reward: float) -> float:
    return max(-floor, reward - 0.5 * (log_ratio / sd) ** 2)


def _ratio(measured: float, expected: float) -> float | None:
    if measured <= 0 or expected <= 0 or not np.isfinite(measured + expected):
        return None
    return float(np.log(measured / expected))


def _integral(time_s: Floats, values: Floats) -> float:
    good = np.isfinite(values)
    return float(np.trapezoid(values[good], time_s[good])) if good.sum() > 1 else 0.0


def _risen(values: Floats) -> float:
    good = values[np.isfinite(values)]
    return float(np.maximum(np.diff(good), 0.0).sum()) if good.size > 1 else 0.0


def charge_agrees(chosen: Assignment, evidence: Evidence, position: str) -> float:
    """The counter's rise against the time integral of the current."""
    current, charge = chosen.get(("current_a", position)), chosen.get(("charge_mah", position))
    if current is None or charge is None or not evidence.has_clock:
        return 0.0
    counted, integral = _risen(evidence.values(charge)), _integral(evidence.time_s, evidence.values(current)) / 3.6
    if counted < 3 * abs(charge.factor) and abs(integral) < 20:
        return 0.0
    log_ratio = _ratio(integral, counted)
    return -6.0 if log_ratio is None else _gauss(log_ratio, 0.12, floor=6.0, reward=4.0)


def power_agrees(chosen: Assignment, evidence: Evidence, position: str) -> float:
    """Current times voltage against the power logged."""
    current, power, voltage = chosen.get(("current_a", position)), chosen.get(("power_w", position)), chosen.get(("pack_voltage_v", ""))
    if current is None or power is None or voltage is None:
        return 0.0
    product, logged = evidence.values(current) * evidence.values(voltage), evidence.values(power)
    both = np.isfinite(product) & np.isfinite(logged)
    if not both.any() or np.abs(logged[both]).max() < 1.0:
        return 0.0
    log_ratio = _ratio(float(product[both].sum()), float(logged[both].sum()))
    return -6.0 if log_ratio is None else _gauss(log_ratio, 0.08, floor=6.0, reward=4.0)


def energy_agrees(chosen: Assignment, evidence: Evidence) -> float:
    """The energy counter's rise against charge at the pack's voltage."""
    energy, current, voltage = chosen.get(("energy_wh", "")), chosen.get(("current_a", "")), chosen.get(("pack_voltage_v", ""))
    if energy is None or current is None or voltage is None or not evidence.has_clock:
        return 0.0
    integral = _integral(evidence.time_s, evidence.values(current) * evidence.values(voltage)) / 3600
    log_ratio = _ratio(integral, _risen(evidence.values(energy)))
    return -4.0 if log_ratio is None else _gauss(log_ratio, 0.12, floor=4.0, reward=3.0)


def cells_agree(chosen: Assignment, evidence: Evidence) -> float:
    """The sum of the cells against the pack."""
    pack = chosen.get(("pack_voltage_v", ""))
    cells = [c for (q, _), c in chosen.items() if q == "cell_voltage_v"]
    if pack is None or not cells:
        return 0.0
    total = np.sum([evidence.values(c) for c in cells], axis=0)
    log_ratio = _ratio(float(np.nanmedian(total)), float(np.nanmedian(evidence.values(pack))))
    return -5.0 if log_ratio is None else _gauss(log_ratio, 0.02, floor=5.0, reward=5.0)


def motors_agree(chosen: Assignment, evidence: Evidence) -> float:
    """The sum of the motors' currents against the total."""
    total = chosen.get(("current_a", ""))
    motors = [c for (q, p), c in chosen.items() if q == "current_a" and p]
    if total is None or len(motors) < 2:
        return 0.0
    summed = float(np.nansum([evidence.values(c) for c in motors]))
    log_ratio = _ratio(summed, float(np.nansum(evidence.values(total))))
    return -5.0 if log_ratio is None else _gauss(log_ratio, 0.08, floor=5.0, reward=4.0)


def motors_alike(chosen: Assignment, evidence: Evidence) -> float:
    """Like columns come in pairs: the motors' means lie within a factor of two or so."""
    score = 0.0
    for quantity in ("current_a", "rpm", "charge_mah", "power_w"):
        means = [abs(float(np.nanmean(evidence.values(c)))) for (q, p), c in chosen.items() if q == quantity and p and np.isfinite(evidence.values(c)).any()]
        if len(means) > 1 and max(means) > 0:
            score += max(-4.0, 1.0 - 2.0 * float(np.log(max(means) / max(min(means), 1e-9))) ** 2)
    return score


def sag_agrees(chosen: Assignment, evidence: Evidence) -> float:
    """The pack falls as current rises, by 1 to 20 mΩ a cell; a supply that does not is another."""
    current = chosen.get(("current_a", ""))
    voltage = chosen.get(("pack_voltage_v", ""))
    parts = [current] if current else [c for (q, p), c in chosen.items() if q == "current_a" and p]
    if voltage is None or not parts:
        return 0.0
    amps = np.sum([evidence.values(c) for c in parts], axis=0)
    volts = evidence.values(voltage)
    both = np.isfinite(amps) & np.isfinite(volts)
    if both.sum() < 20 or np.ptp(amps[both]) <= 0:
        return 0.0
    slope = sag_slope(amps[both], volts[both])
    if slope is None:
        return 0.0
    cells = max(1.0, round(float(np.median(volts[both])) / 3.8))
    if slope >= 0:
        return -4.0
    log_ratio = float(np.log(-slope / cells / 0.004))
    return max(-4.0, 2.0 - 0.5 * (max(0.0, abs(log_ratio) - 1.0) / 0.6) ** 2)


def sag_slope(amps: Floats, volts: Floats) -> float | None:
    """dV/dI of quick changes, None where current hardly varies. [Ω]"""
    reach = max(1, amps.size // 200)
    change_a, change_v = amps[reach:] - amps[:-reach], volts[reach:] - volts[:-reach]
    power = float(np.sum(change_a**2))
    if power <= 0 or np.ptp(amps) < 0.3 * max(float(np.max(np.abs(amps))), 1e-9):
        return None
    return float(np.sum(change_a * change_v)) / power


def agreement(chosen: Assignment, evidence: Evidence) -> float:
    """All that ties columns to one another."""
    positions = {p for (_, p) in chosen}
    score = cells_agree(chosen, evidence) + energy_agrees(chosen, evidence) + motors_agree(chosen, evidence) + motors_alike(chosen, evidence)
    score += sag_agrees(chosen, evidence)
    return score + sum(charge_agrees(chosen, evidence, p) + power_agrees(chosen, evidence, p) for p in positions)
