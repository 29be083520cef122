"""Columns that no word explains, but whose numbers behave as only one quantity does: asked about, never used
unasked.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import rankdata

from telemetry.importers.columns.candidates import COMMANDS, Candidate
from telemetry.importers.columns.evidence import Evidence
from telemetry.importers.columns.physics import sag_slope
from telemetry.physics.charge import AS_PER_MAH, WS_PER_WH, running_integral
from telemetry.trace import Flags, Floats

Key = tuple[str, str]
Known = Mapping[Key, Candidate]


@dataclass(frozen=True, slots=True)
class Guess:
    """What a column behaves like, in which unit, and what shows it."""

    quantity: str
    position: str
    unit: str
    why: str


def guesses(columns: Collection[int], known: Known, evidence: Evidence) -> dict[int, Guess]:
    """What the columns that words leave unexplained behave like.

    Each test asks for a shape and a size at once: numbers that only rise with the current
    are taken for nothing. Quantities that the log already holds are not asked about.

    Parameters
    ----------
    columns : the unexplained ones, by index.
    known : what the other columns were read as.
    evidence : the numbers.
    """
    amps, volts = _total(known, "current_a", evidence), _total(known, "pack_voltage_v", evidence)
    found: dict[int, Guess] = {}
    for test in (_cells, _whole, _mate, _pack_current, _counter, _power, _command, _speed):
        rest = [i for i in columns if i not in found]
        found |= test(rest, known, amps, volts, evidence)
    return found


def _total(known: Known, quantity: str, evidence: Evidence) -> Floats | None:
    """The whole pack's column, else the sum of the motors' or the cells'."""
    if (quantity, "") in known:
        return evidence.values(known[quantity, ""])
    source = "cell_voltage_v" if quantity == "pack_voltage_v" else quantity
    parts = [evidence.values(c) for (q, _), c in known.items() if q == source]
    whole = len(parts) > 1 or (quantity, "centre") in known
    return np.asarray(np.sum(parts, axis=0)) if whole else None


def _alike(a: Floats, b: Floats) -> float:
    """Correlation of two curves where both speak; 0 where one stands still."""
    both = np.isfinite(a) & np.isfinite(b)
    if both.sum() < 20 or np.ptp(a[both]) <= 0 or np.ptp(b[both]) <= 0:
        return 0.0
    return float(np.corrcoef(a[both], b[both])[0, 1])


def _slope(numbers: Floats, truth: Floats) -> float:
    """The number that one unit of `truth` makes, by least squares about the means."""
    both = np.isfinite(numbers) & np.isfinite(truth)
    off, own = truth[both] - truth[both].mean(), numbers[both] - numbers[both].mean()
    return float(np.sum(off * own) / np.sum(off**2))


def _unit_of(factor: float, units: Mapping[str, float], *, within: float) -> str:
    """The unit whose size the numbers have, "" when they have none's."""
    return (
        next((name for name, size in units.items() if abs(np.log(factor / size)) < within), "")
        if factor > 0
        else ""
    )


def _running(time_s: Floats, values: Floats) -> Floats:
    """The integral over time; silence counts as nothing."""
    return running_integral(time_s, np.where(np.isfinite(values), values, 0.0)).sums


def _less_trend(time_s: Floats, values: Floats) -> Floats:
    """What is left when a straight line over time is taken out."""
    good = np.isfinite(values)
    if good.sum() < 3:
        return values
    return values - np.polyval(np.polyfit(time_s[good], values[good], 1), time_s)


def _is_integral(
    numbers: Floats,
    integral: Floats,
    evidence: Evidence,
    *,
    bends_alike: float = 0.9,
    all_alike: float = 0.999,
) -> bool:
    """Whether a column rises as an integral does, in its bends too: a clock or a distance only rises."""
    time_s = evidence.time_s
    return (
        _alike(numbers, integral) > all_alike
        and _alike(_less_trend(time_s, numbers), _less_trend(time_s, integral)) > bends_alike
    )


def _cells(
    columns: Collection[int], known: Known, amps: Floats | None, volts: Floats | None, evidence: Evidence
) -> dict[int, Guess]:
    """Columns of about one level, a cell's, that make up the pack's voltage alone or with the cells that are
    known.
    """
    named = {p: evidence.values(c) for (q, p), c in known.items() if q == "cell_voltage_v"}
    pack = known.get(("pack_voltage_v", ""))
    if volts is None or (pack is None and not named):
        return {}
    missing = [str(n) for n in range(1, 15) if str(n) not in named]
    for unit, factor in (("V", 1.0), ("mV", 1e-3), ("cV", 1e-2)):
        like = [i for i in columns if _reads_as_a_cell(evidence.numbers[i] * factor, volts)]
        total = np.sum([*named.values(), *(evidence.numbers[i] * factor for i in like)], axis=0)
        if (
            not like
            or len(like) + len(named) < 2
            or (pack is not None and abs(float(np.nanmedian(total / volts)) - 1.0) > 0.02)
        ):
            continue
        why = (
            "it moves as the other cells do"
            if pack is None
            else "the cells add up to the pack's voltage with it"
        )
        return {i: Guess("cell_voltage_v", n, unit, why) for n, i in zip(missing, sorted(like), strict=False)}
    return {}


def _reads_as_a_cell(cell_v: Floats, volts: Floats) -> bool:
    good = cell_v[np.isfinite(cell_v)]
    return good.size > 20 and 2.5 < float(np.median(good)) < 4.4 and _alike(cell_v, volts) > 0.9


def _whole(
    columns: Collection[int], known: Known, amps: Floats | None, volts: Floats | None, evidence: Evidence
) -> dict[int, Guess]:
    """The pack's own column where the log names only its parts: what the motors or the cells add up to."""
    found: dict[int, Guess] = {}
    for quantity, total, units, near in (
        ("current_a", amps, {"A": 1.0, "mA": 1000.0}, 0.1),
        ("pack_voltage_v", volts, {"V": 1.0, "mV": 1000.0}, 0.03),
    ):
        if total is None or (quantity, "") in known:
            continue
        for i in columns:
            level = (
                float(np.nanmean(evidence.numbers[i])) / float(np.nanmean(total))
                if _alike(evidence.numbers[i], total) > 0.98
                else 0.0
            )
            unit = _unit_of(level, units, within=near)
            if unit and i not in found:
                parts = "motors" if quantity == "current_a" else "cells"
                found[i] = Guess(quantity, "", unit, f"it is what the {parts} add up to")
                break
    return found


_MATES = {"left": "right", "right": "left", "1": "2", "2": "1"}


def _mate(
    columns: Collection[int], known: Known, amps: Floats | None, volts: Floats | None, evidence: Evidence
) -> dict[int, Guess]:
    """The other motor of a twin: alike to the one that is named, and with it the whole where that is
    known.
    """
    found: dict[int, Guess] = {}
    for quantity in ("current_a", "rpm"):
        sides = [p for q, p in known if q == quantity and p]
        if len(sides) != 1 or sides[0] not in _MATES:
            continue
        own = known[quantity, sides[0]]
        ours = evidence.values(own)
        for i in columns:
            theirs = evidence.numbers[i] * own.factor + own.offset
            if (
                i in found
                or _alike(theirs, ours) < 0.97
                or not 0.75 < float(np.nanmean(theirs)) / float(np.nanmean(ours)) < 1.33
            ):
                continue
            if (
                quantity == "current_a"
                and amps is not None
                and abs(float(np.nanmean(ours + theirs)) / float(np.nanmean(amps)) - 1.0) > 0.08
            ):
                continue
            found[i] = Guess(quantity, _MATES[sides[0]], own.unit, f"it moves as the {sides[0]} motor's does")
            break
    return found


def _pack_current(
    columns: Collection[int], known: Known, amps: Floats | None, volts: Floats | None, evidence: Evidence
) -> dict[int, Guess]:
    """The slope of the charge counter, else what the pack's voltage sags with."""
    if amps is not None or any(q == "current_a" for q, _ in known):
        return {}
    units = {"A": 1.0, "mA": 1000.0, "dA": 10.0, "cA": 100.0}
    counted = (
        evidence.values(known["charge_mah", ""])
        if ("charge_mah", "") in known and evidence.has_clock
        else None
    )
    for i in columns:
        numbers = evidence.numbers[i]
        if counted is not None:
            integral = _running(evidence.time_s, numbers) / AS_PER_MAH
            if _is_integral(counted, integral, evidence):
                unit = _unit_of(1.0 / _slope(counted, integral), units, within=0.15)
                if unit:
                    return {
                        i: Guess(
                            "current_a",
                            "",
                            unit,
                            "its sum over time is the charge that another column counts",
                        )
                    }
        elif volts is not None and (found := sag_slope(evidence.time_s, numbers, volts)) and found[1] < -0.95:
            return {i: Guess("current_a", "", "A", "the pack's voltage sags with it")}
    return {}


def _counter(
    columns: Collection[int], known: Known, amps: Floats | None, volts: Floats | None, evidence: Evidence
) -> dict[int, Guess]:
    """The integral of the current, or of the power."""
    if amps is None or not evidence.has_clock:
        return {}
    found: dict[int, Guess] = {}
    kinds: list[tuple[str, Floats, dict[str, float], str]] = []
    if not any(q == "charge_mah" for q, _ in known):
        charge = _running(evidence.time_s, amps) / AS_PER_MAH
        kinds.append(
            ("charge_mah", charge, {"mAh": 1.0, "Ah": 1e-3, "As": 3.6}, "it counts the current over time")
        )
    if volts is not None and not any(q == "energy_wh" for q, _ in known):
        energy = _running(evidence.time_s, amps * volts) / WS_PER_WH
        kinds.append(
            (
                "energy_wh",
                energy,
                {"Wh": 1.0, "mWh": 1000.0, "J": 3600.0},
                "it counts current times voltage over time",
            )
        )
    for quantity, integral, units, why in kinds:
        for i in columns:
            numbers = evidence.numbers[i]
            if i in found or not _is_integral(numbers, integral, evidence):
                continue
            unit = _unit_of(_slope(numbers, integral), units, within=0.15)
            if unit:
                found[i] = Guess(quantity, "", unit, why)
                break
    return found


def _power(
    columns: Collection[int], known: Known, amps: Floats | None, volts: Floats | None, evidence: Evidence
) -> dict[int, Guess]:
    """The product of current and voltage."""
    if amps is None or volts is None or any(q == "power_w" for q, _ in known):
        return {}
    product = amps * volts
    for i in columns:
        if _alike(evidence.numbers[i], product) > 0.99:
            unit = _unit_of(
                _slope(evidence.numbers[i], product), {"W": 1.0, "kW": 1e-3, "mW": 1000.0}, within=0.1
            )
            if unit:
                return {i: Guess("power_w", "", unit, "it is current times voltage")}
    return {}


def _drive(
    known: Known, amps: Floats | None, evidence: Evidence
) -> tuple[Floats, str, tuple[float, float]] | None:
    """What the motors do, in words, and the power of the command that it goes with.

    A propeller's torque goes with the square of its speed, its current with command times
    torque: between the square and the cube, a little more or less by the pack's sag and the
    airspeed. Its speed goes with the command.
    """
    if amps is not None:
        return np.abs(amps), "the current", (1.35, 4.5)
    speeds = [np.abs(evidence.values(c)) for (q, _), c in known.items() if q == "rpm"]
    return (np.asarray(np.mean(speeds, axis=0)), "the motors' speed", (0.35, 1.6)) if speeds else None


def _follows(lead: Floats, drive: Floats, powers: tuple[float, float], *, least: float = 0.75) -> float:
    """How well a drive follows a lead, 0…1: their order, over working rows; 0 where the law is another's."""
    good = np.isfinite(lead) & np.isfinite(drive)
    top = float(np.percentile(drive[good], 99)) if good.sum() >= 40 else 0.0
    working = good & (drive > 0.04 * top) & (lead > 0)
    if top <= 0 or working.sum() < 30:
        return 0.0
    own, theirs = lead[working], drive[working]
    if np.ptp(own) <= 0:
        return 0.0
    order = float(np.corrcoef(rankdata(own), rankdata(theirs))[0, 1])
    hard = own > 0.3 * float(np.percentile(own, 99))
    x, y = np.log(own[hard]), np.log(theirs[hard])
    if hard.sum() < 20 or np.std(x) < 0.03:
        return 0.0
    # The line through both spreads, not the regression: scatter in either would bend that.
    power = float(np.std(y) / np.std(x))
    return order if order > least and powers[0] < power < powers[1] else 0.0


def _comes_first(time_s: Floats, lead: Floats, drive: Floats, *, reach_s: float = 1.5) -> bool:
    """Whether a column moves no later than what follows it; True where the rows are too far apart to say."""
    step_s = float(np.median(np.diff(time_s))) if time_s.size > 2 else 0.0
    if not 0 < step_s <= 0.5:
        return True
    reach = max(1, round(reach_s / step_s))
    own, theirs = np.diff(np.nan_to_num(lead)), np.diff(np.nan_to_num(drive))
    size = own.size
    if size <= 2 * reach:
        return True
    together = [
        float(np.sum(own[max(0, -k) : size - max(0, k)] * theirs[max(0, k) : size - max(0, -k)]))
        for k in range(-reach, reach + 1)
    ]
    return int(np.argmax(together)) - reach >= -1


def _readings(numbers: Floats, resting: Flags) -> Iterator[tuple[str, Floats]]:
    """The ways in which numbers can be a command that rests where the motors rest."""
    for ways in COMMANDS.values():
        for way in ways:
            values = numbers * way.factor + way.offset
            good = values[np.isfinite(values)]
            if good.size < 40 or float(np.mean((good > -1.05) & (good < 1.05))) < 0.99:
                continue
            at_rest = values[resting & np.isfinite(values)]
            rest = float(np.median(at_rest)) if at_rest.size >= 5 else float(np.percentile(np.abs(good), 1))
            if float(np.percentile(np.abs(good), 99)) > 0.35 and abs(rest) < 0.12:
                yield way.name, np.abs(values)


def _command(
    columns: Collection[int], known: Known, amps: Floats | None, volts: Floats | None, evidence: Evidence
) -> dict[int, Guess]:
    """Numbers in a command's range that rest with the motors, move first, and that the current follows as a
    propeller's does.
    """
    drive = _drive(known, amps, evidence)
    if drive is None or any(q == "throttle_fraction" for q, _ in known):
        return {}
    level, said, powers = drive
    resting = level < 0.04 * float(np.nanpercentile(level, 99))
    seen: dict[int, tuple[float, str]] = {}
    for i in columns:
        for unit, command in _readings(evidence.numbers[i], resting):
            score = _follows(command, level, powers)
            if score > seen.get(i, (0.0, ""))[0] and _comes_first(evidence.time_s, command, level):
                seen[i] = (score, unit)
    motors = sorted(
        {p for q, p in known if q in ("current_a", "rpm") and p}, key=lambda p: (p.startswith("right"), p)
    )
    places = (
        motors
        if len(seen) == len(motors) > 1
        else [str(n) for n in range(1, len(seen) + 1)]
        if 1 < len(seen) <= 4
        else [""] * len(seen)
    )
    found = {}
    for place, i in zip(places, sorted(seen), strict=True):
        low, high = float(np.nanmin(evidence.numbers[i])), float(np.nanmax(evidence.numbers[i]))
        sure = "" if len(seen) < 2 else "; which motor's is a guess by the order of the columns"
        found[i] = Guess(
            "throttle_fraction",
            place,
            seen[i][1],
            f"it runs from {low:.4g} to {high:.4g}, and {said} follows it as it would a throttle{sure}",
        )
    if len(found) > 4:
        best = max(seen, key=lambda i: seen[i][0])
        return {best: found[best]}
    return found


def _speed(
    columns: Collection[int], known: Known, amps: Floats | None, volts: Floats | None, evidence: Evidence
) -> dict[int, Guess]:
    """Thousands that rest with the motors and go with the current as a propeller's speed does."""
    if amps is None or any(q == "rpm" for q, _ in known):
        return {}
    draw = np.abs(amps)
    resting = draw < 0.02 * float(np.nanpercentile(draw, 99))
    seen: list[int] = []
    for i in columns:
        numbers = evidence.numbers[i]
        good = numbers[np.isfinite(numbers)]
        if (
            good.size < 40
            or not 2500 < float(np.percentile(good, 99)) < 45_000
            or float(good.min()) < 0
            or resting.sum() < 5
        ):
            continue
        if float(np.nanpercentile(numbers[resting], 25)) < 0.05 * float(np.percentile(good, 99)) and _follows(
            numbers, draw, (1.5, 4.0), least=0.55
        ):
            seen.append(i)
    motors = sorted({p for q, p in known if q == "current_a" and p}, key=lambda p: (p.startswith("right"), p))
    places = (
        motors
        if len(motors) == len(seen)
        else ["centre"]
        if len(seen) == 1
        else [str(n) for n in range(1, len(seen) + 1)]
    )
    why = "it rests with the motors and goes with the current as a propeller's speed does"
    return (
        {i: Guess("rpm", place, "rpm", why) for i, place in zip(seen, places, strict=True)}
        if len(seen) <= 4
        else {}
    )
