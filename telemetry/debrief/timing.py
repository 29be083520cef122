"""The timer of the next flight: earlier flights, the one reviewed, and what it showed of the pack."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current
from telemetry.analysis.motors import part_temperatures
from telemetry.analysis.pack import Cell, Pack
from telemetry.comparison.contradiction import contradictions
from telemetry.debrief.packs import PackReview
from telemetry.debrief.results import FlightReview, Review
from telemetry.estimate import Estimate, Undecided, value_of
from telemetry.findings.charge import counter_off
from telemetry.findings.ending import cut_off_words
from telemetry.history import PastFlight
from telemetry.physics.charge import mean_over
from telemetry.prediction import Prediction
from telemetry.season.open_checks import OpenCheck, Raised, standing_in, with_weak_cells
from telemetry.season.pack_places import pack_words
from telemetry.season.same_drive import of_this_drive
from telemetry.season.timer import CellFacts, PackFacts, TimeLimit, Timer, time_to_limit, timer_for
from telemetry.sentences import say, undecided
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals
from telemetry.trace import Flight

NO_SHEET = undecided("timer", "no_sheet")


def next_timer(
    setup: Setup | None,
    prediction: Prediction | Undecided,
    history: Sequence[PastFlight],
    *,
    facts: PackFacts | None = None,
    standing: Sequence[OpenCheck] = (),
    beside: bool = False,
) -> Timer | Undecided:
    """The timer that sheet, prediction, past flights, facts and open checks support.

    Parameters
    ----------
    facts : of the flight flown last with this drive and pack.
    standing : stops and checks that still stand for what this set-up carries; a stop withholds the alarm, a
        weak cell shortens it.
    beside : the prediction is printed beside the timer, however little it rests on.
    """
    if setup is None:
        return NO_SHEET
    stop = stop_of(standing)
    if stop is not None:
        return withheld(stop)
    if setup.packs:
        timers = pack_timers(setup, prediction, history, facts=facts, standing=standing, beside=beside)
        return shortest(timers)
    prior = None if isinstance(prediction, Undecided) else prediction.rate_prior
    printed = prior[0] if prior and beside else 0.0
    known = with_weak_cells(facts or PackFacts(), standing)
    return timer_for(setup, history, prior=prior, facts=known, printed_mah_per_min=printed)


def pack_timers(
    setup: Setup,
    prediction: Prediction | Undecided,
    history: Sequence[PastFlight],
    *,
    facts: PackFacts | None = None,
    standing: Sequence[OpenCheck] = (),
    beside: bool = False,
) -> dict[str, Timer | Undecided]:
    """What each pack that feeds one motor would allow by itself.

    Parameters
    ----------
    setup, prediction, history, facts, standing, beside : as `next_timer`. A row of history that does not tell
        one pack from the other speaks of the one that limits, and counts for each.

    Returns
    -------
    By the pack's position.
    """
    own = of_this_drive(history, setup)
    found = {}
    for fed in setup.packs:
        rows = [row.of_pack(fed.position, fed.pack.name) for row in own]
        found[fed.position] = next_timer(
            setup.alone(fed.position),
            prediction if isinstance(prediction, Undecided) else prediction.of_pack(fed.feeds),
            rows,
            facts=(facts or PackFacts()).packs.get(fed.position),
            standing=standing_in(standing, fed.position),
            beside=beside,
        )
    return found


def shortest(timers: Mapping[str, Timer | Undecided]) -> Timer | Undecided:
    """The timer of the pack that limits.

    Parameters
    ----------
    timers : of each pack, by its position, at least one.

    Returns
    -------
    None is set while one pack has none: that pack may be the one that limits.
    """
    for place, timer in timers.items():
        if isinstance(timer, Undecided):
            return Undecided(say("of_pack", pack=pack_words(place), text=timer.reason))
    return min((t for t in timers.values() if isinstance(t, Timer)), key=lambda t: t.alarm_s)


def stop_of(standing: Sequence[OpenCheck]) -> OpenCheck | None:
    """The first stop among them."""
    return next((check for check in standing if check.raised.severity == "stop"), None)


def withheld(stop: OpenCheck) -> Undecided:
    """Why there is no alarm while a stop stands; it is this flight's own where it has no number."""
    by = say("timer", "by_flight", number=stop.flight) if stop.flight else ""
    return undecided("timer", "withheld", by=by, why=stop.raised.title.rstrip("."))


def timer_with(
    review: Review,
    one: FlightReview,
    *,
    confidence: float,
    reserve_fraction: float,
    landing_allowance_s: float,
) -> Timer | Undecided:
    """The timer after one flight of a review, under other wishes than the sheet's."""
    if review.setup is None:
        return NO_SHEET
    wished = review.setup.with_reserve(
        confidence=confidence, fraction=reserve_fraction, landing_allowance_s=landing_allowance_s
    )
    return timer_after(replace(review, setup=wished), one)


def timer_after(found: Review, one: FlightReview) -> Timer | Undecided:
    """The timer once a flight of a review was flown, from all flights so far, this one included.

    None from a log that cannot be of the sheet's aircraft, nor while a stop stands.
    """
    if found.setup is None:
        return NO_SHEET
    against = contradictions(one.signals, found.setup)
    if against:
        return undecided("timer", "does_not_fit", against=against[0])
    rows = (*found.history, *flown_with(found, one))
    standing = (*unsettled(one), *one.standing)
    return next_timer(found.setup, found.prediction, rows, facts=facts_after(found, one), standing=standing)


def timers_after(found: Review, one: FlightReview) -> dict[str, Timer | Undecided]:
    """What each pack that feeds one motor would allow by itself once a flight of a review was flown.

    Parameters
    ----------
    found : the review, the flight among its flights.
    one : the flight.

    Returns
    -------
    By the pack's position; none without a sheet that has such packs, and each withheld where the flight's
    timer is.
    """
    if found.setup is None or not found.setup.packs:
        return {}
    standing = (*unsettled(one), *one.standing)
    if contradictions(one.signals, found.setup) or stop_of(standing) is not None:
        timer = timer_after(found, one)
        return {fed.position: timer for fed in found.setup.packs}
    rows = (*found.history, *flown_with(found, one))
    facts = facts_after(found, one)
    return pack_timers(found.setup, found.prediction, rows, facts=facts, standing=standing)


def facts_after(found: Review, one: FlightReview) -> PackFacts:
    """What a flight of a review showed that bounds the next one, of each pack that feeds one motor too.

    Parameters
    ----------
    found : the review, with a sheet.
    one : the flight.

    Returns
    -------
    Those of the pack; where each motor has one, those of the first with all in `packs`.
    """
    assert found.setup is not None
    each = {
        p.place: facts_of(p.signals, p.pack, p.capacity, p.current, p.setup)
        for p in one.packs
        if p.setup is not None
    }
    if each:
        return PackFacts(cells=(), packs=each)
    return facts_of(one.signals, one.pack, one.capacity, one.current, found.setup)


def raised_by(one: FlightReview) -> tuple[OpenCheck, ...]:
    """A flight's own stops and checks."""
    return tuple(
        OpenCheck(
            0, "" if one.packs else one.pack.name, Raised(f.severity, f.key, f.subject, f.title or f.message)
        )
        for f in one.findings
        if f.severity in ("stop", "check")
    )


def unsettled(one: FlightReview) -> tuple[OpenCheck, ...]:
    """A flight's own stops and checks that its owner has not settled."""
    return tuple(check for check in raised_by(one) if check.raised.key not in one.said.settled)


def flown_with(review: Review, one: FlightReview) -> tuple[PastFlight, ...]:
    """The flights of a review up to and including one, as rows of history."""
    until = next(i for i, f in enumerate(review.flights) if f is one)
    return tuple(row for f in review.flights[: until + 1] if f.said.counts for row in past(f, review.setup))


def past(one: FlightReview, setup: Setup | None) -> tuple[PastFlight, ...]:
    """A flight as a row of history; nothing from a bench or taxi run, from one that the log cut off, or
    without the charge of the whole pack. Where each motor has a pack the row speaks of the one that limits.
    """
    signals, flight, limiting = one.signals, one.flight, limiting_pack(one)
    capacity = one.capacity if limiting is None else limiting.capacity
    pack = setup.pack.name if setup else ""
    if (
        flight.is_bench
        or flight.is_taxi
        or flight.cut_off != "none"
        or isinstance(flight.powered, Undecided)
        or isinstance(capacity.consumed_mah, Undecided)
    ):
        return ()
    if not signals.counts_the_pack:
        return ()
    if (
        not flight.phases
        and isinstance(flight.takeoff_s, Undecided)
        and isinstance(flight.landing_s, Undecided)
    ):
        return ()
    duration_s = flight.powered.end_s - flight.powered.start_s
    consumed_mah = capacity.consumed_mah.value
    if duration_s <= 0 or consumed_mah <= 0:
        return ()
    date = signals.date.day
    return (
        PastFlight(
            duration_s,
            consumed_mah,
            setup.configuration if setup else "",
            date,
            pack if limiting is None else limiting.pack.name,
            by_pack=drawn_by_pack(one),
        ),
    )


def limiting_pack(one: FlightReview) -> PackReview | None:
    """The pack that limits the flight, where each motor has one.

    Parameters
    ----------
    one : a flight.

    Returns
    -------
    The one that gave the largest share of its capacity, of its charge where no sheet tells; None where one
    pack feeds all.
    """
    if not one.packs:
        return None
    return max(
        one.packs,
        key=lambda p: value_of(p.capacity.consumed_fraction) or value_of(p.capacity.consumed_mah) or 0.0,
    )


def drawn_by_pack(one: FlightReview) -> tuple[tuple[str, float], ...]:
    """What left each pack that feeds one motor.

    Parameters
    ----------
    one : a flight.

    Returns
    -------
    Position and charge; empty where one pack feeds all, or where it is not known of each. [mAh]
    """
    found = [(p.place, value_of(p.capacity.consumed_mah)) for p in one.packs]
    known_of = tuple((place, mah) for place, mah in found if mah is not None)
    return known_of if len(known_of) == len(found) else ()


def facts_of(signals: Signals, pack: Pack, capacity: Capacity, current: Current, setup: Setup) -> PackFacts:
    """What a flight showed that bounds the next one."""
    resistance = (
        pack.resistance_10s_ohm if isinstance(pack.resistance_10s_ohm, Estimate) else pack.resistance_1s_ohm
    )
    cells = pack.cell_count if isinstance(pack.cell_count, int) else setup.pack.cells
    capacity_mah, capacity_reason = _in_log_mah(signals, pack, capacity, setup)
    return PackFacts(
        capacity_mah=capacity_mah,
        capacity_reason=capacity_reason,
        resistance_ohm=resistance.scaled(1.0 / cells) if isinstance(resistance, Estimate) else None,
        cells=tuple(_cell_facts(cell, pack) for cell in pack.cells),
        full_current_a=_full_current_a(current),
        mean_throttle_fraction=_mean_throttle(signals),
        takeoff_after_s=_takeoff_after_s(signals.flight),
        time_limits=_time_limits(signals, setup),
        charge_left=pack.charge_left_fraction,
        untold=_untold(signals.flight, pack),
    )


def _untold(flight: Flight, pack: Pack) -> str:
    """What a flight does not tell the next one, a clause; a run on the ground tells it nothing anyway."""
    found = []
    if flight.cut_off != "none" and not flight.is_bench and not flight.is_taxi:
        found.append(say("timer", "weakest", "cut_off", how=cut_off_words(flight)))
    if isinstance(pack.weak_cell, Undecided):
        found.append(say("timer", "weakest", "cells", reason=pack.weak_cell.reason))
    return "; ".join(found)


def _cell_facts(cell: Cell, pack: Pack) -> CellFacts:
    resistance_ohm = _lasting_ohm(cell)
    weak = next((w for w in pack.weak_cells if w.cell == cell.cell), None)
    others = [ohm for c in pack.cells if c.cell != cell.cell and (ohm := _lasting_ohm(c)) is not None]
    excess_ohm = max(0.0, resistance_ohm - float(np.median(others))) if resistance_ohm and others else 0.0
    missing = _missing_fraction(cell, weak.kind if weak else "")
    return CellFacts(cell.cell, resistance_ohm, missing, weak is not None, excess_ohm)


def _lasting_ohm(cell: Cell) -> float | None:
    """The drop per ampere under a lasting load, after 10 s, else after 1 s. [Ω]"""
    return value_of(cell.resistance_10s_ohm) or value_of(cell.resistance_1s_ohm)


def _missing_fraction(cell: Cell, kind: str) -> float:
    """How much less charge a weak cell can give than its neighbours, in parts of theirs; of one that began
    fuller, how much less the neighbours can.
    """
    if kind == "capacity" and isinstance(cell.capacity_ratio, Estimate):
        return min(0.9, max(0.0, 1.0 - cell.capacity_ratio.value))
    if kind == "unbalanced" and isinstance(cell.start_shift_fraction, Estimate):
        return min(0.9, abs(cell.start_shift_fraction.value))
    return 0.0


def _in_log_mah(
    signals: Signals, pack: Pack, capacity: Capacity, setup: Setup
) -> tuple[Estimate | None, str]:
    """The pack's capacity in the log's own mAh where something says that it is less than the sheet's, the
    least of all that is said, and what says so; None where nothing does.

    Whether the pack has aged or the sensor counts low, the reserve begins at the same reading.
    """
    said = [
        (_by_rest(pack, capacity), say("timer", "by_rest_voltage")),
        (
            _by_share(signals.agreement.slope, setup, told=bool(signals.agreement.off_fraction)),
            say("timer", "by_motors"),
        ),
        (
            _by_share(capacity.logged_ratio, setup, told=counter_off(capacity) is not None),
            say("timer", "by_counter"),
        ),
    ]
    less = [(c, how) for c, how in said if c is not None and c.value < setup.pack.capacity_mah]
    return min(less, key=lambda one: one[0].value, default=(None, said[0][1]))


def _by_share(share: Estimate | Undecided, setup: Setup, *, told: bool) -> Estimate | None:
    """The sheet's capacity as a current would count it that reads this share of another sensor's."""
    return share.scaled(setup.pack.capacity_mah) if told and isinstance(share, Estimate) else None


def _by_rest(pack: Pack, capacity: Capacity, *, least_used: float = 0.1) -> Estimate | None:
    """By the fall of the resting voltage, where it contradicts the charge drawn on the low side.

    `least_used` is the share of the charge that must have been drawn before its fall tells anything.
    """
    began, consumed = pack.start_charge_fraction, capacity.consumed_mah
    rested, counted = pack.charge_left_by_rest_fraction, pack.charge_left_by_charge_fraction
    if (
        not isinstance(rested, Estimate)
        or not isinstance(counted, Estimate)
        or not isinstance(consumed, Estimate)
        or isinstance(began, Undecided)
        or consumed.value <= 0.0
        or rested.high >= counted.low
        or began.value - rested.high <= least_used
    ):
        return None
    value, low, high = (consumed.value / (began.value - r) for r in (rested.value, rested.low, rested.high))
    return Estimate(value, low, high, say("methods", "capacity_by_rest"))


def _full_current_a(current: Current, *, window_s: float = 10.0) -> float | None:
    """The largest mean over ten seconds, else the peak: what a go-around draws. [A]"""
    sustained = [s.max_mean_a for s in current.sustained if abs(s.window_s - window_s) < 1e-6]
    return sustained[0] if sustained else value_of(current.peak_a)


def _mean_throttle(signals: Signals) -> float | None:
    powered, samples = signals.powered, signals.throttle
    if powered is None or samples is None:
        return None
    inside = (samples.time_s >= powered.start_s) & (samples.time_s <= powered.end_s)
    time_s, opened = samples.time_s[inside], np.clip(samples.values[inside], 0.0, 1.0)
    if time_s.size < 2 or time_s[-1] <= time_s[0]:
        return None
    return mean_over(time_s, opened, float(time_s[0]), float(time_s[-1]))


def _takeoff_after_s(flight: Flight) -> float | None:
    if isinstance(flight.powered, Undecided) or isinstance(flight.takeoff_s, Undecided):
        return None
    return max(0.0, flight.takeoff_s - flight.powered.start_s)


def _time_limits(signals: Signals, setup: Setup) -> tuple[TimeLimit, ...]:
    """When a motor or a controller would reach its limit, warming as it did in this flight; a bench run warms
    otherwise.
    """
    powered = signals.powered
    if powered is None or signals.flight.is_bench:
        return ()
    limits = [
        time_to_limit(
            one.samples.time_s - powered.start_s, one.samples.values, limit_c=one.limit_c, part=one.name
        )
        for one in part_temperatures(signals, setup.drives, within=powered)
        if one.limit_c is not None
    ]
    return tuple(limit for limit in limits if limit is not None)
