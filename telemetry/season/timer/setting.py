"""The timer of a set-up: from the rate that the next flight will not pass to the time at which to come
down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from scipy.special import ndtri

from telemetry.estimate import Estimate, Undecided, plain
from telemetry.history import PastFlight
from telemetry.made import MadeBy
from telemetry.physics.charge import AS_PER_MAH
from telemetry.put_back import flown_on
from telemetry.season.same_drive import of_this_drive
from telemetry.season.timer.capacity import Usable, usable_charge
from telemetry.season.timer.floor import to_fill_in
from telemetry.season.timer.limits import Load, Loaded, charge_limits, first, mean_cell
from telemetry.season.timer.rate import ALONE_FROM_FLIGHTS, Prior, RatePrediction, predict_rate
from telemetry.season.timer.results import MoreFlights, PackFacts, Timer, TimerNow, rounded_down
from telemetry.season.timer.words import weakest_assumption
from telemetry.sentences import counted, say, undecided
from telemetry.sheet.setup import Setup

SHORTEST_FLIGHT_S = 60.0
"""A shorter run is a hop: its take-off alone would speak for the whole flight."""
FULL_OVER_MEAN = 2.5
"""Full-throttle current over the mean one where no flight or sheet says it: scale models cruise at a third to
a half (common practice, no source).
"""


def timer_for(
    setup: Setup,
    history: Sequence[PastFlight],
    *,
    prior: Prior | None = None,
    facts: PackFacts | None = None,
    printed_mah_per_min: float = 0.0,
    look_ahead: Sequence[int] = (3, 6, 12),
) -> Timer | Undecided:
    """The timer for the next flight in this set-up.

    Parameters
    ----------
    setup : one configuration with one pack; its reserve says what must be left and how sure.
    history : past flights of the aircraft; those of its present drive count, on any pack.
    prior : mean rate [mAh/min] and its relative standard deviation, as `Prediction.rate_prior`; it counts
        where the sheet says what a prediction needs, see `floor`.
    facts : what was measured of the pack and of the last flight.
    printed_mah_per_min : a mean consumption that is printed beside the timer whatever it rests on.
    look_ahead : numbers of further flights to say the worth of.

    Returns
    -------
    `Undecided` with fewer than two flights of this drive and a sheet too bare to predict one, or when no time
    is safe.
    """
    facts = facts or PackFacts()
    own = of_this_drive(history, setup)
    flights = [f for f in own if f.duration_s >= SHORTEST_FLIGHT_S]
    wanting = to_fill_in(setup)
    prior = None if wanting else prior
    if prior is None and len(flights) < 2:
        return _too_few(len(flights), len(own), len(history), wanting)
    rate = predict_rate(flights, confidence=setup.reserve.confidence, prior=prior)
    usable = usable_charge(setup, facts, flown_on(flights, setup.pack))
    bound = _bound(setup, facts, rate, usable)
    bound = _within_predicted(bound, usable, max(prior[0] if prior else 0.0, printed_mah_per_min))
    if rounded_down(bound.alarm_s) <= 0:
        landing_s = setup.reserve.landing_allowance_s
        return undecided("timer", "no_time", limit=bound.reason, landing_s=landing_s)
    doubt = weakest_assumption(
        rate,
        with_prior=prior is not None,
        capacity_measured=usable.measured,
        colder_than_flown_c=_colder_than_flown(setup, flights),
    )
    doubts = "; ".join(filter(None, (facts.untold, doubt)))
    timer = _stated(setup, facts, rate, usable, bound, look_ahead, doubts)
    return replace(timer, flights_left_out=len(history) - len(own))


def timer_to_dict(timer: Timer | Undecided, made_by: MadeBy) -> dict[str, object]:
    """What `timer --json` prints, with what made it."""
    carried, missing = plain(timer, "timer")
    made, _ = plain(made_by)
    return {"schema": "sagline.timer/1", "made_by": made, "timer": carried, "undecided": missing}


@dataclass(frozen=True, slots=True)
class _Bound:
    """What ends the flight. `landed_by_s` bounds it whatever the charge. [s, mAh]"""

    alarm_s: float
    limited_by: str
    reason: str
    spendable_mah: float
    limit_mah_per_min: float
    allowance_s: float
    landed_by_s: float
    predicted_mah_per_min: float | None = None

    def alarm_at(self, rate_mah_per_min: float) -> float:
        """The alarm if the flight takes no more than this. [s]"""
        return min(self.spendable_mah / rate_mah_per_min * 60.0, self.landed_by_s) - self.allowance_s

    def after(self, gone_mah: float) -> _Bound:
        """The same on a pack from which so much is gone already."""
        share = max(0.0, 1.0 - gone_mah / self.spendable_mah)
        return replace(self, spendable_mah=share * self.spendable_mah, landed_by_s=share * self.landed_by_s)


def _bound(setup: Setup, facts: PackFacts, rate: RatePrediction, usable: Usable) -> _Bound:
    """The first thing to give out."""
    limit_rate = rate.limit_with(usable.relative_sd)
    hardly = limit_rate / rate.median_mah_per_min
    loads = [Load(_cruise_a(facts, rate) * hardly, say("timer", "loads", "cruise"))]
    if setup.reserve.go_around_s > 0:
        loads.append(Load(_full_a(facts, rate), say("timer", "loads", "go_around")))
    charge = first(charge_limits(setup, facts, usable, loads))
    spendable_mah = charge.landed_by_mah - setup.reserve.go_around_s * _full_a(facts, rate) / AS_PER_MAH
    by_time = min(facts.time_limits, key=lambda t: t.landed_by_s, default=None)
    landed_by_s = by_time.landed_by_s if by_time is not None else math.inf
    limited_by, reason = charge.limited_by, charge.reason
    if by_time is not None and by_time.landed_by_s < spendable_mah / limit_rate * 60.0:
        limited_by, reason = by_time.limited_by, by_time.reason
    allowance_s = setup.reserve.landing_allowance_s
    alarm_s = min(spendable_mah / limit_rate * 60.0, landed_by_s) - allowance_s
    return _Bound(alarm_s, limited_by, reason, spendable_mah, limit_rate, allowance_s, landed_by_s)


def _within_predicted(bound: _Bound, usable: Usable, predicted_mah_per_min: float) -> _Bound:
    """The bound, shortened where the mean consumption that is predicted would use more than may be used: no
    page may print both. The flights' own stays within it by itself.
    """
    if predicted_mah_per_min <= 0:
        return bound
    bound = replace(bound, predicted_mah_per_min=predicted_mah_per_min)
    landed_by_s = usable.usable_mah / predicted_mah_per_min * 60.0
    if landed_by_s - bound.allowance_s >= bound.alarm_s:
        return bound
    current_a = predicted_mah_per_min * 60.0 / 1000.0
    return replace(
        bound,
        alarm_s=landed_by_s - bound.allowance_s,
        limited_by="charge",
        reason=say("timer", "limits", "predicted", current_a=current_a),
        landed_by_s=min(bound.landed_by_s, landed_by_s),
    )


def _now(setup: Setup, facts: PackFacts, bound: _Bound, usable: Usable) -> TimerNow | Undecided:
    """One more flight on what is left, which is believed to its low side, as sure as the alarm is."""
    left = facts.charge_left
    if not isinstance(left, Estimate):
        return undecided("timer", "no_charge_left") if left is None else left
    doubt = float(ndtri(setup.reserve.confidence)) * (left.high - left.low) / (2 * 1.96)
    gone_mah = (1.0 - min(1.0, left.value - doubt)) * usable.capacity_mah
    alarm_s = rounded_down(bound.after(gone_mah).alarm_at(bound.limit_mah_per_min))
    if alarm_s < SHORTEST_FLIGHT_S:
        return undecided("timer", "not_worth", left=left.value)
    return TimerNow(left.value, alarm_s)


def _stated(
    setup: Setup,
    facts: PackFacts,
    rate: RatePrediction,
    usable: Usable,
    bound: _Bound,
    ahead: Sequence[int],
    doubt: str,
) -> Timer:
    """The alarm in every form it is wanted in."""
    alarm_s = rounded_down(bound.alarm_s)
    alarm_mah = bound.limit_mah_per_min * alarm_s / 60.0
    cell = mean_cell(setup, facts, usable)
    cruise_a = _cruise_a(facts, rate)
    warning_s = usable.usable_mah / rate.median_mah_per_min * 60.0 - alarm_s
    extra: dict[str, Any] = {}
    if facts.takeoff_after_s is not None:
        extra["alarm_from_takeoff_s"] = rounded_down(alarm_s - facts.takeoff_after_s)
    if facts.mean_throttle_fraction is not None:
        extra["throttle_timer_s"] = rounded_down(alarm_s * facts.mean_throttle_fraction)
    if rate.season_limit_mah_per_min is not None:
        extra["season_alarm_s"] = rounded_down(
            bound.alarm_at(rate.season_limit_mah_per_min * bound.limit_mah_per_min / rate.limit_mah_per_min)
        )
    return Timer(
        alarm_s=alarm_s,
        starts="throttle_up",
        usable_mah=usable.usable_mah,
        reserve_fraction=usable.reserve_fraction,
        confidence=setup.reserve.confidence,
        flights_used=rate.used,
        rate_mah_per_min=rate.estimate,
        landing_allowance_s=bound.allowance_s,
        consumed_alarm_mah=alarm_mah,
        loaded_cell_alarm_v=cell.voltage_v(alarm_mah, cruise_a) if isinstance(cell, Loaded) else cell,
        limited_by=bound.limited_by,
        weakest_assumption=doubt,
        predicted_mah_per_min=bound.predicted_mah_per_min,
        now=_now(setup, facts, bound, usable),
        pack=setup.pack.name,
        fan=rate.fan,
        limit_reason=bound.reason,
        loaded_cell_reserve_v=cell.voltage_v(usable.usable_mah, cruise_a)
        if isinstance(cell, Loaded)
        else cell,
        go_around_s=setup.reserve.go_around_s,
        warning_s=warning_s,
        given_up_s=warning_s - bound.allowance_s,
        more_flights=_more_flights(rate, bound, ahead),
        **extra,
    )


def _more_flights(rate: RatePrediction, bound: _Bound, ahead: Sequence[int]) -> tuple[MoreFlights, ...]:
    """What further flights would buy if they bring the median and the scatter that are thought likely now.

    Only for numbers at which the data will stand alone; then the limit is Student's.
    """
    now_s = bound.alarm_at(rate.limit_mah_per_min)
    return tuple(
        MoreFlights(count, max(0.0, bound.alarm_at(rate.limit_after(rate.used + count)) - now_s))
        for count in ahead
        if rate.used + count >= ALONE_FROM_FLIGHTS
    )


def _cruise_a(facts: PackFacts, rate: RatePrediction) -> float:
    return facts.cruise_current_a or rate.median_mah_per_min * 60.0 / 1000.0


def _full_a(facts: PackFacts, rate: RatePrediction) -> float:
    return facts.full_current_a or FULL_OVER_MEAN * rate.median_mah_per_min * 60.0 / 1000.0


def _colder_than_flown(
    setup: Setup, flights: Sequence[PastFlight], *, cold_c: float = 10.0, near_c: float = 5.0
) -> float | None:
    """The field's temperature when it is cold and no flight on this pack was within a few degrees of it. [°C]

    Below about 10 °C a lithium pack gives noticeably less (common practice, no source).
    """
    field_c = setup.site.temperature_c
    if field_c is None or field_c >= cold_c:
        return None
    flown_c = [f.temperature_c for f in flown_on(flights, setup.pack) if f.temperature_c is not None]
    return None if any(t <= field_c + near_c for t in flown_c) else field_c


def _too_few(flights: int, rows: int, history: int, wanting: tuple[str, ...]) -> Undecided:
    held = counted("timer", "past_flights", count=flights)
    if rows > flights:
        held += say("timer", "too_short", count=rows - flights, shortest_s=SHORTEST_FLIGHT_S)
    if history > rows:
        held += counted("timer", "left_out", count=history - rows)
    if not wanting:
        return undecided("timer", "too_few", held=held)
    *others, last = wanting
    keys = say("timer", "keys", others=", ".join(others), last=last) if others else last
    return undecided("timer", "under_floor", held=held, keys=keys)
