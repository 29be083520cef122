"""How columns agree with one another by physics. In nats, 0 for "says nothing"."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.evidence import Evidence
from telemetry.trace import Floats

Assignment = Mapping[tuple[str, str], Candidate]

TIED = frozenset({"pack_voltage_v", "cell_voltage_v", "receiver_voltage_v", "current_a", "charge_mah", "power_w", "energy_wh", "rpm", "throttle_fraction",
                  "altitude_m", "climb_mps"})
"""Quantities that some relation speaks of."""


def _fit(log_ratio: float | None, sd: float, *, reward: float, floor: float) -> float:
    """Score of a ratio that should be one; None is a ratio of the wrong sign."""
    if log_ratio is None:
        return -floor
    return max(-floor, reward - 0.5 * (log_ratio / sd) ** 2)


def _ratio(measured: float, expected: float) -> float | None:
    if not np.isfinite(measured + expected) or measured * expected <= 0 or measured < 0:
        return None
    return float(np.log(measured / expected))


def _integral(time_s: Floats, values: Floats) -> float:
    good = np.isfinite(values)
    return float(np.trapezoid(values[good], time_s[good])) if good.sum() > 1 else 0.0


def _risen(values: Floats) -> float:
    """How far a counter went up, resets apart."""
    good = values[np.isfinite(values)]
    steps = np.diff(good)
    resets = (steps < 0) & (np.abs(good[1:]) < 0.02 * np.max(np.abs(good), initial=0.0))
    return float(steps[~resets].sum()) if steps.size else 0.0


def _charge(current: Candidate, charge: Candidate, evidence: Evidence) -> float:
    counted = _risen(evidence.values(charge))
    integral = _integral(evidence.time_s, evidence.values(current)) / 3.6
    if abs(counted) < 5 * abs(charge.factor) and abs(integral) < 30:
        return 0.0
    return _fit(_ratio(integral, counted), 0.12, reward=4.0, floor=6.0)


def _power(current: Candidate, voltage: Candidate, power: Candidate, evidence: Evidence) -> float:
    product, logged = evidence.values(current) * evidence.values(voltage), evidence.values(power)
    both = np.isfinite(product) & np.isfinite(logged)
    if not both.any() or np.abs(logged[both]).max() < 0.5:
        return 0.0
    measured, expected = float(product[both].sum()), float(logged[both].sum())
    ratio = _ratio(measured, expected) if expected > 0 else (_ratio(-measured, -expected) if measured < 0 else None)
    return _fit(ratio, 0.08, reward=4.0, floor=6.0)


def _energy(current: Candidate, voltage: Candidate, energy: Candidate, evidence: Evidence) -> float:
    integral = _integral(evidence.time_s, evidence.values(current) * evidence.values(voltage)) / 3600
    return _fit(_ratio(integral, _risen(evidence.values(energy))), 0.12, reward=3.0, floor=5.0)


def _cells(pack: Candidate, cells: tuple[Candidate, ...], evidence: Evidence) -> float:
    total = np.sum([evidence.values(c) for c in cells], axis=0)
    both = np.isfinite(total)
    if not both.any():
        return 0.0
    return _fit(_ratio(float(np.median(total[both])), float(np.nanmedian(evidence.values(pack)))), 0.02, reward=5.0, floor=2.0)


def _sum_of_motors(total: Candidate, motors: tuple[Candidate, ...], evidence: Evidence) -> float:
    summed = float(np.nansum([evidence.values(c) for c in motors]))
    return _fit(_ratio(summed, float(np.nansum(evidence.values(total)))), 0.1, reward=4.0, floor=5.0)


def _alike(motors: tuple[Candidate, ...], evidence: Evidence) -> float:
    means = [float(np.nanmean(evidence.values(c))) if np.isfinite(evidence.values(c)).any() else 0.0 for c in motors]
    low, high = min(means), max(means)
    if low <= 0 or high <= 0:
        return -3.0 if low * high < 0 else 0.0
    return max(-4.0, 1.0 - 2.0 * float(np.log(high / low)) ** 2)


def sag_slope(time_s: Floats, amps: Floats, volts: Floats, *, over_s: float = 1.5) -> tuple[float, float] | None:
    """Change of voltage with current over about `over_s`, and their correlation; None where current hardly varies.

    Returns
    -------
    slope [Ω], negative for a supply that sags; correlation −1…1.
    """
    good = np.isfinite(amps) & np.isfinite(volts)
    if good.sum() < 20 or np.ptp(amps[good]) < 0.2 * np.max(np.abs(amps[good])):
        return None
    time_s, amps, volts = time_s[good], amps[good], volts[good]
    later = np.searchsorted(time_s, time_s + over_s)
    inside = later < time_s.size
    change_a, change_v = amps[later[inside]] - amps[inside], volts[later[inside]] - volts[inside]
    power = float(np.sum(change_a**2) * np.sum(change_v**2))
    if power <= 0:
        return 0.0, 0.0
    product = float(np.sum(change_a * change_v))
    return product / float(np.sum(change_a**2)), product / power**0.5


def _sag(voltage: Candidate, currents: tuple[Candidate, ...], evidence: Evidence) -> float:
    """The pack falls as current rises, by 1 to 15 mΩ a cell."""
    volts = evidence.values(voltage)
    found = sag_slope(evidence.time_s, np.sum([evidence.values(c) for c in currents], axis=0), volts)
    if found is None:
        return 0.0
    slope, correlation = found
    if abs(correlation) < 0.3:
        return -1.5
    if slope > 0:
        return -5.0
    cells = max(1.0, round(float(np.nanmedian(volts)) / 3.8))
    decades = abs(float(np.log(-slope / cells / 0.004)))
    return max(-5.0, 2.0 - 0.5 * (max(0.0, decades - 1.2) / 0.5) ** 2)


def _steady(supply: Candidate, currents: tuple[Candidate, ...], evidence: Evidence) -> float:
    """The receiver's supply does not follow the motors' current."""
    found = sag_slope(evidence.time_s, np.sum([evidence.values(c) for c in currents], axis=0), evidence.values(supply))
    if found is None:
        return 0.0
    return 2.0 if abs(found[1]) < 0.3 else -1.0


def _throttle(throttle: Candidate, current: Candidate, evidence: Evidence) -> float:
    """Command is zero where no current flows, well above it where much flows, and rises with it."""
    command, amps = evidence.values(throttle), evidence.values(current)
    good = np.isfinite(command) & np.isfinite(amps)
    top = float(np.max(np.abs(amps[good]), initial=0.0))
    if good.sum() < 20 or top <= 0:
        return 0.0
    command, amps = command[good], amps[good]
    resting = np.abs(amps) < 0.05 * top
    score = 0.0
    if resting.sum() >= 5:
        idle = abs(float(np.median(command[resting])))
        score += 1.5 if idle < 0.12 else max(-4.0, 1.0 - 10.0 * (idle - 0.12))
    working = np.abs(amps) > 0.5 * top
    if working.sum() >= 5:
        score += 1.0 if float(np.median(np.abs(command[working]))) > 0.25 else -2.0
    if np.ptp(np.abs(command)) > 0:
        score += 1.5 if float(np.corrcoef(np.abs(command), np.abs(amps))[0, 1]) > 0.4 else -2.0
    return score


def _climb(altitude: Candidate, climb: Candidate, evidence: Evidence) -> float:
    """The climb rate is the slope of the altitude."""
    if np.ptp(evidence.time_s) <= 0:
        return 0.0
    height, rate = evidence.values(altitude), evidence.values(climb)
    good = np.isfinite(height) & np.isfinite(rate)
    if good.sum() < 20 or np.ptp(height[good]) < 10:
        return 0.0
    time_s = evidence.time_s[good]
    steps = np.diff(time_s) * (rate[good][1:] + rate[good][:-1]) / 2
    risen = np.concatenate([[0.0], np.cumsum(steps)])
    trend = risen - np.linspace(risen[0], risen[-1], risen.size)
    own = height[good] - np.linspace(height[good][0], height[good][-1], risen.size)
    power = float(np.sum(trend**2))
    if power <= 0:
        return 0.0
    return _fit(_ratio(float(np.sum(trend * own)) / power, 1.0), 0.25, reward=2.0, floor=3.0)


def agreement(chosen: Assignment, evidence: Evidence) -> float:
    """All that ties columns to one another."""
    total, pack = chosen.get(("current_a", "")), chosen.get(("pack_voltage_v", ""))
    motors = tuple(c for (q, p), c in chosen.items() if q == "current_a" and p)
    currents = (total,) if total else motors
    score = 0.0
    for (quantity, position), one in chosen.items():
        current = chosen.get(("current_a", position))
        if quantity == "charge_mah" and current and evidence.has_clock:
            score += evidence.once("charge", (current, one), lambda c=current, o=one: _charge(c, o, evidence))  # type: ignore[misc]
        elif quantity == "power_w" and current and pack:
            score += evidence.once("power", (current, pack, one), lambda c=current, o=one: _power(c, pack, o, evidence))  # type: ignore[misc]
        elif quantity == "energy_wh" and current and pack and evidence.has_clock:
            score += evidence.once("energy", (current, pack, one), lambda c=current, o=one: _energy(c, pack, o, evidence))  # type: ignore[misc]
        elif quantity == "receiver_voltage_v" and currents:
            score += evidence.once("steady", (one, *currents), lambda o=one: _steady(o, currents, evidence))  # type: ignore[misc]
        elif quantity == "throttle_fraction" and (current or currents):
            drawn = current or currents[0]
            score += evidence.once("throttle", (one, drawn), lambda o=one, d=drawn: _throttle(o, d, evidence))  # type: ignore[misc]
        elif quantity == "climb_mps" and ("altitude_m", "") in chosen and evidence.has_clock:
            height = chosen[("altitude_m", "")]
            score += evidence.once("climb", (height, one), lambda o=one, h=height: _climb(h, o, evidence))  # type: ignore[misc]
    return score + _of_groups(chosen, evidence, pack, total, motors, currents)


def _of_groups(
    chosen: Assignment, evidence: Evidence, pack: Candidate | None, total: Candidate | None, motors: tuple[Candidate, ...], currents: tuple[Candidate, ...]
) -> float:
    score = 0.0
    cells = tuple(c for (q, _), c in chosen.items() if q == "cell_voltage_v")
    if cells and len({c.factor for c in cells}) > 1:
        score -= 3.0
    if pack and len(cells) > 1:
        score += evidence.once("cells", (pack, *cells), lambda: _cells(pack, cells, evidence))
    if pack and currents:
        score += evidence.once("sag", (pack, *currents), lambda: _sag(pack, currents, evidence))
    elif cells and currents:
        score += evidence.once("sag", (cells[0], *currents), lambda: _sag(cells[0], currents, evidence))
    if total and len(motors) > 1:
        score += evidence.once("motors", (total, *motors), lambda: _sum_of_motors(total, motors, evidence))
    for quantity in ("current_a", "rpm", "charge_mah", "power_w"):
        like = tuple(c for (q, p), c in chosen.items() if q == quantity and p)
        if len(like) > 1:
            score += evidence.once("alike", like, lambda like=like: _alike(like, evidence))  # type: ignore[misc]
    return score
