"""How columns agree with one another by physics. In nats, 0 for "says nothing"."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from telemetry.importers.columns.candidates import OVERRULE_COST, Candidate
from telemetry.importers.columns.evidence import ColumnEvidence, alike
from telemetry.physics.cell import two_current_ohm
from telemetry.physics.charge import AS_PER_MAH, WS_PER_WH, running_integral
from telemetry.quantities import pack_part
from telemetry.trace import Floats

Assignment = Mapping[tuple[str, str], Candidate]
Candidates = tuple[Candidate, ...]

ELECTRICAL = (
    "pack_voltage_v",
    "cell_voltage_v",
    "receiver_voltage_v",
    "current_a",
    "charge_mah",
    "power_w",
    "energy_wh",
)
"""What a meter in the leads reads, the voltages first."""

TIED = frozenset({*ELECTRICAL, "rpm", "throttle_fraction", "altitude_m", "climb_mps"})
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
    return running_integral(time_s[good], values[good]).total


def _risen(values: Floats) -> float:
    """How far a counter went up, resets apart."""
    good = values[np.isfinite(values)]
    steps = np.diff(good)
    resets = (steps < 0) & (np.abs(good[1:]) < 0.02 * np.max(np.abs(good), initial=0.0))
    return float(steps[~resets].sum()) if steps.size else 0.0


def _sum(parts: Candidates, evidence: ColumnEvidence) -> Floats:
    """What several columns add up to, NaN where one is silent."""
    total = evidence.values(parts[0])
    for part in parts[1:]:
        total = total + evidence.values(part)
    return total


def _charge(currents: Candidates, charge: Candidate, evidence: ColumnEvidence) -> float:
    counted = _risen(evidence.values(charge))
    integral = _integral(evidence.time_s, _sum(currents, evidence)) / AS_PER_MAH
    if abs(counted) < 5 * abs(charge.factor) and abs(integral) < 30:
        return 0.0
    return _fit(_ratio(integral, counted), 0.12, reward=4.0, floor=6.0)


def _power(currents: Candidates, volts: Candidates, power: Candidate, evidence: ColumnEvidence) -> float:
    product, logged = _sum(currents, evidence) * _sum(volts, evidence), evidence.values(power)
    both = np.isfinite(product) & np.isfinite(logged)
    if not both.any() or np.abs(logged[both]).max() <= 0:
        return 0.0
    measured, expected = float(product[both].sum()), float(logged[both].sum())
    ratio = _ratio(measured, expected) if measured > 0 else _ratio(-measured, -expected)
    return _fit(ratio, 0.08, reward=4.0, floor=6.0)


def _energy(currents: Candidates, volts: Candidates, energy: Candidate, evidence: ColumnEvidence) -> float:
    integral = _integral(evidence.time_s, _sum(currents, evidence) * _sum(volts, evidence)) / WS_PER_WH
    return _fit(_ratio(integral, _risen(evidence.values(energy))), 0.12, reward=3.0, floor=5.0)


def _cells(pack: Candidate, cells: Candidates, evidence: ColumnEvidence) -> float:
    total = _sum(cells, evidence)
    both = np.isfinite(total)
    if not both.any():
        return 0.0
    return _fit(
        _ratio(float(np.median(total[both])), float(np.nanmedian(evidence.values(pack)))),
        0.02,
        reward=5.0,
        floor=2.0,
    )


def _beside(cells: Candidates, evidence: ColumnEvidence) -> float:
    """Cells of one pack read alike and are numbered without a gap."""
    levels = [float(np.nanmedian(evidence.values(c))) for c in cells if np.isfinite(evidence.values(c)).any()]
    if len(levels) < 2 or min(levels) <= 0 or max(levels) > 1.15 * min(levels):
        return 0.0
    missing = max(int(pack_part(c.position)[1]) for c in cells) - len(cells)
    return 1.0 * len(cells) - 0.5 * min(missing, 3)


def _sum_of_motors(total: Candidate, motors: Candidates, evidence: ColumnEvidence) -> float:
    summed = float(np.nansum([evidence.values(c) for c in motors]))
    return _fit(_ratio(summed, float(np.nansum(evidence.values(total)))), 0.1, reward=4.0, floor=5.0)


def _alike(motors: Candidates, evidence: ColumnEvidence) -> float:
    means = [
        float(np.nanmean(evidence.values(c))) if np.isfinite(evidence.values(c)).any() else 0.0
        for c in motors
    ]
    low, high = min(means), max(means)
    if low <= 0 or high <= 0:
        return -3.0 if low * high < 0 else 0.0
    return max(-4.0, 1.0 - 2.0 * float(np.log(high / low)) ** 2)


def sag_slope(
    time_s: Floats, amps: Floats, volts: Floats, *, over_s: float = 1.5
) -> tuple[float, float] | None:
    """Change of voltage with current over about `over_s`, and their correlation; None where current hardly
    varies.

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
    first, later = np.flatnonzero(inside), later[inside]
    moved_a, moved_v = (float(np.sum((x[later] - x[first]) ** 2)) for x in (amps, volts))
    if moved_a * moved_v <= 0:
        return 0.0, 0.0
    slope = -two_current_ohm(volts[first], amps[first], volts[later], amps[later])
    return slope, slope * (moved_a / moved_v) ** 0.5


def _sag(voltage: Candidate, currents: Candidates, evidence: ColumnEvidence) -> float:
    """The pack falls as current rises, by 1 to 15 mΩ a cell; by up to 100 where a header says the current's
    unit, as cells of some hundred mAh have that.
    """
    volts = evidence.values(voltage)
    found = sag_slope(evidence.time_s, _sum(currents, evidence), volts)
    if found is None:
        return 0.0
    slope, correlation = found
    if abs(correlation) < 0.3:
        return -1.5
    if slope > 0:
        return -5.0
    cells = max(1.0, round(float(np.nanmedian(volts)) / 3.8))
    off = float(np.log(-slope / cells / 0.004))
    beyond = max(0.0, -off - 1.2, off - (3.2 if all(c.stated for c in currents) else 1.2))
    return max(-5.0, 2.0 - 0.5 * (beyond / 0.5) ** 2)


def _steady(supply: Candidate, currents: Candidates, evidence: ColumnEvidence) -> float:
    """The receiver's supply does not follow the motors' current."""
    found = sag_slope(evidence.time_s, _sum(currents, evidence), evidence.values(supply))
    if found is None:
        return 0.0
    # One that falls whenever the motors draw is on their pack.
    return 2.0 if abs(found[1]) < 0.3 else -1.0 if found[1] > -0.8 else -4.0


def _throttle(throttle: Candidate, currents: Candidates, evidence: ColumnEvidence) -> float:
    """Command is zero where no current flows, well above it where much flows, and rises with it."""
    command, amps = evidence.values(throttle), _sum(currents, evidence)
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
        score += 1.5 if alike(np.abs(command), np.abs(amps)) > 0.4 else -2.0
    return score


def _turns(rpm: Candidate, currents: Candidates, evidence: ColumnEvidence) -> float:
    """Speed rises with current."""
    speed, amps = np.abs(evidence.values(rpm)), np.abs(_sum(currents, evidence))
    good = np.isfinite(speed) & np.isfinite(amps)
    return 2.0 if alike(speed[good], amps[good]) > 0.6 else 0.0


def _climb(altitude: Candidate, climb: Candidate, evidence: ColumnEvidence) -> float:
    """The climb rate is the slope of the altitude."""
    if np.ptp(evidence.time_s) <= 0:
        return 0.0
    height, rate = evidence.values(altitude), evidence.values(climb)
    good = np.isfinite(height) & np.isfinite(rate)
    if good.sum() < 20 or np.ptp(height[good]) < 10:
        return 0.0
    time_s = evidence.time_s[good]
    risen = running_integral(time_s, rate[good]).sums
    trend = risen - np.linspace(risen[0], risen[-1], risen.size)
    own = height[good] - np.linspace(height[good][0], height[good][-1], risen.size)
    power = float(np.sum(trend**2))
    if power <= 0:
        return 0.0
    return _fit(_ratio(float(np.sum(trend * own)) / power, 1.0), 0.25, reward=2.0, floor=3.0)


def _unlike_units(like: Candidates) -> float:
    """What it costs that columns of the same kind are written in different units or with different signs.

    Where all of them overrule their headers in the same way it is one mistake, not many:
    three quarters of what the others paid are given back.
    """
    if len({c.factor for c in like}) > 1:
        return 3.0
    return -0.75 * OVERRULE_COST * (len(like) - 1) if like and all(c.overrules for c in like) else 0.0


def agreement(chosen: Assignment, evidence: ColumnEvidence) -> float:
    """All that ties columns to one another; each pack that feeds one motor ties its own."""
    of_packs: dict[str, dict[tuple[str, str], Candidate]] = {}
    for (quantity, position), one in chosen.items():
        pack, place = pack_part(position)
        of_packs.setdefault(pack, {})[quantity, place] = one
    shared = of_packs.pop("", {})
    return _of_one_pack(shared, evidence) + sum(_of_one_pack(own, evidence) for own in of_packs.values())


def _of_one_pack(chosen: Assignment, evidence: ColumnEvidence) -> float:
    """What ties the columns of one pack and all that it feeds."""
    total, pack = chosen.get(("current_a", "")), chosen.get(("pack_voltage_v", ""))
    motors = tuple(c for (q, p), c in chosen.items() if q == "current_a" and p)
    cells = tuple(c for (q, _), c in chosen.items() if q == "cell_voltage_v")
    # One motor of several is not the whole: its sibling may be dead or not logged.
    whole = motors if len(motors) > 1 or ("current_a", "centre") in chosen else ()
    currents, volts = (total,) if total else whole, (pack,) if pack else cells
    score = _of_groups(chosen, evidence, pack, cells, total, motors)
    if volts and currents:
        score += evidence.once("sag", (volts[0], *currents), lambda: _sag(volts[0], currents, evidence))
    for (quantity, position), one in chosen.items():
        own = chosen.get(("current_a", position))
        score += _of_one(
            quantity, one, (own,) if own else (() if position else currents), volts, chosen, evidence
        )
    return score


def _of_one(
    quantity: str,
    one: Candidate,
    currents: Candidates,
    volts: Candidates,
    chosen: Assignment,
    evidence: ColumnEvidence,
) -> float:
    """What ties one column to the currents and voltages of its place."""
    if quantity == "climb_mps":
        height = chosen.get(("altitude_m", ""))
        return (
            evidence.once("climb", (height, one), lambda: _climb(height, one, evidence))
            if height and evidence.has_clock
            else 0.0
        )
    if not currents:
        return 0.0
    if quantity == "charge_mah" and evidence.has_clock:
        return evidence.once("charge", (*currents, one), lambda: _charge(currents, one, evidence))
    if quantity == "power_w" and volts:
        return evidence.once(
            "power", (*currents, *volts, one), lambda: _power(currents, volts, one, evidence)
        )
    if quantity == "energy_wh" and volts and evidence.has_clock:
        return evidence.once(
            "energy", (*currents, *volts, one), lambda: _energy(currents, volts, one, evidence)
        )
    if quantity == "receiver_voltage_v":
        return evidence.once("steady", (one, *currents), lambda: _steady(one, currents, evidence))
    if quantity == "rpm":
        return evidence.once("turns", (one, *currents), lambda: _turns(one, currents, evidence))
    if quantity == "throttle_fraction":
        return evidence.once("throttle", (one, *currents), lambda: _throttle(one, currents, evidence))
    return 0.0


def _of_groups(
    chosen: Assignment,
    evidence: ColumnEvidence,
    pack: Candidate | None,
    cells: Candidates,
    total: Candidate | None,
    motors: Candidates,
) -> float:
    """What ties cells to their pack, motors to their total and to one another."""
    score = 0.0
    score -= _unlike_units(cells)
    if len(cells) > 1:
        score += evidence.once("beside", cells, lambda: _beside(cells, evidence))
    if pack and len(cells) > 1:
        score += evidence.once("cells", (pack, *cells), lambda: _cells(pack, cells, evidence))
    if total and (len(motors) > 1 or [m.position for m in motors] == ["centre"]):
        score += evidence.once("motors", (total, *motors), lambda: _sum_of_motors(total, motors, evidence))
    for quantity in ("current_a", "rpm", "charge_mah", "power_w"):
        like = tuple(c for (q, p), c in chosen.items() if q == quantity and p)
        if len(like) > 1:
            score -= _unlike_units(like)
            score += evidence.once("alike", like, lambda like=like: _alike(like, evidence))  # type: ignore[misc]
    return score
