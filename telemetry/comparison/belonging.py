"""Which flights a sheet may learn from: its own aircraft's, whole, ordinary, once, and in agreement."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis import motors as motors_analysis
from telemetry.analysis import pack as pack_analysis
from telemetry.comparison.contradiction import contradictions
from telemetry.comparison.fitting import KEYS, NOTHING, Belief, Evidence, Told
from telemetry.estimate import Estimate, Undecided, value_of
from telemetry.limits import CURRENTS_AGREE_FRACTION, EMPTY_AT_REST_FRACTION
from telemetry.sentences import say
from telemetry.sheet.setup import Setup
from telemetry.signals import Flow, Signals
from telemetry.trace import Floats

_UNUSUAL = ("cut", "stall", "out_of_step", "reverse_air", "thrust_lost", "controller_limited")
"""Events after which a flight's means are no longer those of the sheet's drive."""

_JUDGED = ("propeller_power", "drive_gain", "pack_resistance")
"""Factors of parts; drag may well be another than entered, and stays with its configuration."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A flight that taught nothing, and why."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True)
class Lesson:
    """One flight that may teach: `readings` are those it is recognised by, `told` what it tells."""

    file: str
    evidence: Evidence
    told: Told
    readings: Floats

    @property
    def mark(self) -> str:
        """The same for a flight's log in whatever bytes it was written."""
        return hashlib.sha256(np.round(self.readings, 3).tobytes()).hexdigest()[:16]


def another_aircraft(signals: Signals, setup: Setup) -> str:
    """Why the log is none of the sheet's aircraft, "" when it may be."""
    against = contradictions(signals, setup)
    if against:
        return say("left_out", "another_aircraft", what=against[0])
    before = None if signals.voltage is None else signals.rest.before(signals.voltage.samples)
    if isinstance(before, float):
        cell_v, least_v = before / setup.pack.cells, EMPTY_AT_REST_FRACTION.value * setup.pack.full_cell_v
        if cell_v < least_v:
            what = say("left_out", "too_few_cells", reads_v=before, cells=setup.pack.cells)
            return say("left_out", "another_aircraft", what=what)
    return ""


def unusual(signals: Signals, setup: Setup) -> str:
    """Why the flight shows something else than the sheet's aircraft as it usually flies, "" when it does
    not.
    """
    flight = signals.flight
    if flight.is_taxi:
        return say("left_out", "taxi")
    if flight.cut_off != "none":
        return say("left_out", f"cut_off_{flight.cut_off}")
    events = motors_analysis.analyse(signals, drives=setup.drives).events
    for event in () if isinstance(events, Undecided) else events:
        if event.kind in _UNUSUAL:
            return say("left_out", "event", kind=event.kind.replace("_", " "), at_s=event.start_s)
    shares = shares_of(signals, setup)
    return _against_motors(signals, setup) or next(filter(None, (_against_rest(*s) for s in shares)), "")


def shares_of(signals: Signals, setup: Setup) -> list[tuple[Signals, Setup]]:
    """What each pack that feeds one motor sees and flies; all of it where one pack feeds all.

    Parameters
    ----------
    signals : of a flight, with the sheet's packs.
    setup : of the whole aircraft.

    Returns
    -------
    In the order of the packs, at least one.
    """
    packs = [fed.position for fed in setup.packs]
    return [(signals.packs[place], setup.alone(place)) for place in packs] or [(signals, setup)]


def _against_motors(signals: Signals, setup: Setup) -> str:
    """Pack current against the sum of the motors'; what flows at rest is the receiver's."""
    pack, motors, powered = signals.current, signals.motor_currents, signals.powered
    if not isinstance(pack, Flow) or pack.how or powered is None or set(motors) < set(setup.positions):
        return ""
    rest_a = value_of(signals.agreement.rest_a)
    idle_a = 0.0 if rest_a is None else rest_a - signals.agreement.offset_a
    seconds = powered.end_s - powered.start_s
    together = sum(motors[p].charge_mah(powered) for p in setup.positions)
    less = (pack.charge_mah(powered) - idle_a * seconds / 3.6) / max(together, 1e-9) - 1.0
    if abs(less) <= CURRENTS_AGREE_FRACTION.value:
        return ""
    return say("left_out", "currents", much=100 * abs(less), word="less" if less < 0 else "more")


def _against_rest(signals: Signals, setup: Setup) -> str:
    """Charge drawn against the fall of the voltage at rest, beyond what both leave open."""
    pack = pack_analysis.analyse(
        signals,
        cell_count=setup.pack.cells,
        capacity_mah=setup.pack.capacity_mah,
        chemistry=setup.pack.chemistry,
    )
    rest, drawn = pack.charge_left_by_rest_fraction, pack.charge_left_by_charge_fraction
    if not isinstance(rest, Estimate) or not isinstance(drawn, Estimate):
        return ""
    both = np.hypot(rest.high - rest.low, drawn.high - drawn.low) / 2.0
    if rest.value >= drawn.value - both:
        return ""
    return say("left_out", "rest", rest=100 * rest.value, drawn=100 * drawn.value)


def readings_of(signals: Signals) -> Floats:
    """What a flight is recognised by: the readings of its current, voltage or throttle that were logged."""
    for quantity in ("current_a", "pack_voltage_v", "throttle_fraction"):
        for position in ("", *signals.motors):
            found = signals.fresh(quantity, position, least=50)
            if found is not None:
                return found.values
    return signals.voltage.samples.values if signals.voltage is not None else np.zeros(0)


def same_flight(one: Floats, other: Floats, *, window: int = 32, alike: float = 0.95) -> bool:
    """Whether one series of readings is a stretch of the other.

    Parameters
    ----------
    one, other : (n,), (m,) readings in order of time.
    window : readings that are looked for first, where they vary most.
    alike : share of all readings that must then be equal. Noise makes it impossible for two flights.
    """
    few, many = (one, other) if one.size <= other.size else (other, one)
    if few.size < window:
        return False
    few, many = np.round(few, 3), np.round(many, 3)
    moves = np.cumsum(np.concatenate(([0], np.diff(few) != 0)))
    first = int(np.argmax(moves[window - 1 :] - moves[: few.size - window + 1]))
    views = np.lib.stride_tricks.sliding_window_view(many, window)
    begins = np.flatnonzero(views[:, 0] == few[first]) - first
    begins = begins[(begins >= 0) & (begins + few.size <= many.size)]
    return any(float(np.mean(many[b : b + few.size] == few)) >= alike for b in begins)


def agreeing(
    lessons: Sequence[Lesson], before: Belief, *, learnt: Sequence[str], beyond: float = 4.0
) -> tuple[list[Lesson], list[LeftOut]]:
    """Those that agree with what was known beforehand, and with one another.

    Each is held against what earlier flights taught; then against the others with it; a lone one against the
    sheet. Flights that agree outweigh the sheet: it was written to be corrected by them.

    Parameters
    ----------
    before : what the sheet, or an earlier calibration of the `learnt` factors, says.
    beyond : standard deviations of both doubts together, over three factors, from which a flight contradicts;
        by chance one in a thousand does (chi-squared, 3 degrees of freedom: 16.3).

    Returns
    -------
    The lessons kept, and those left out with their reasons. Two that contradict each other, with nothing
    learnt earlier to tell which is right, are both left out.
    """
    out: list[LeftOut] = []
    kept: list[Lesson] = []
    for one in lessons:
        key, far = _furthest(before, one.told, learnt)
        if far <= beyond:
            kept.append(one)
        else:
            out.append(LeftOut(one.file, _reason(key, before, one, "known")))
    while len(kept) > 1:
        others = [before.after(sum((o.told for o in kept if o is not one), start=NOTHING)) for one in kept]
        found = [_furthest(belief, one.told) for belief, one in zip(others, kept, strict=True)]
        worst = int(np.argmax([far for _, far in found]))
        if found[worst][1] <= beyond:
            return kept, out
        both = len(kept) == 2 and found[worst][0] not in learnt
        for k in range(len(kept)) if both else [worst]:
            out.append(LeftOut(kept[k].file, _reason(found[k][0], others[k], kept[k], "others")))
        kept = [] if both else [one for k, one in enumerate(kept) if k != worst]
    for one in kept:
        key, far = _furthest(before, one.told, _JUDGED)
        if far > beyond:
            return [], [*out, LeftOut(one.file, _reason(key, before, one, "sheet"))]
    return kept, out


def _furthest(before: Belief, told: Told, keys: Sequence[str] = _JUDGED) -> tuple[str, float]:
    """How far a flight lies from what was believed of some factors, and the one that explains most of it.

    The distance is Mahalanobis's: factors that a flight tells only together are judged together.
    """
    after = before.after(told)
    speaks = np.abs(before.surprise(told)) > 0.0
    chosen = [k for k, key in enumerate(KEYS) if key in _JUDGED and key in keys and speaks[k]]
    if not chosen:
        return "", 0.0
    moved = (after.mean - before.mean)[chosen]
    allowed = (before.covariance - after.covariance)[np.ix_(chosen, chosen)]
    inverse: Floats = np.asarray(np.linalg.inv(allowed + 1e-9 * np.eye(len(chosen))), dtype=np.float64)
    alone = (inverse @ moved) ** 2 / np.diag(inverse)
    distance = float(np.sqrt(max(float(moved @ inverse @ moved), 0.0)))
    return KEYS[chosen[int(np.argmax(alone))]], distance


def _reason(key: str, before: Belief, one: Lesson, against: str) -> str:
    """What a flight says of a factor, and what the sheet, the earlier flights or the others say."""
    k = KEYS.index(key)
    wide = Belief(before.mean, before.covariance + np.diag((np.arange(len(KEYS)) == k) * 1.0))
    cause = key
    if key == "pack_resistance" and one.evidence.conditions.pack_c is None:
        cause = "pack_resistance_unseen"
    return say(
        "left_out",
        f"against_{against}",
        key=key.replace("_", " "),
        here=float(np.exp(wide.after(one.told).mean[k])),
        there=float(np.exp(before.mean[k])),
        cause=say("left_out", "causes", cause),
    )
