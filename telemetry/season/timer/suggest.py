"""The timer: from the rate that the next flight will not pass to the time at which to come down."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from telemetry.estimate import Undecided, plain
from telemetry.history import PastFlight
from telemetry.season.timer.limits import ChargeLimit, Loaded, capacity_of, charge_limits, first, mean_cell
from telemetry.season.timer.rate import ALONE_FROM_FLIGHTS, Prior, RatePrediction, predict_rate
from telemetry.season.timer.results import MoreFlights, PackFacts, Timer, TimerSuggestion
from telemetry.season.timer.words import weakest_assumption
from telemetry.sheet.setup import Setup

ALARM_STEP_S = 5.0
SHORTEST_FLIGHT_S = 60.0
"""A shorter run is a hop: its take-off alone would speak for the whole flight."""


def suggest_timer(
    durations_s: Sequence[float],
    consumed_mah: Sequence[float],
    *,
    capacity_mah: float,
    reserve_fraction: float,
    confidence: float,
    landing_allowance_s: float,
    prior: Prior | None = None,
) -> TimerSuggestion:
    """The longest alarm time at which the next flight lands above the reserve, with the stated confidence.

    Parameters
    ----------
    durations_s, consumed_mah : (n,) powered time and charge of each past flight. [s, mAh]
    capacity_mah : of the pack as it is now. [mAh]
    reserve_fraction : to be left at landing, 0 … below 1.
    confidence : share of flights that land above the reserve, above 0.5 and below 1.
    landing_allowance_s : from the alarm to the stop of the motors. [s]
    prior : mean rate [mAh/min] and its relative standard deviation, from a prediction.

    Raises
    ------
    ValueError : no prior and fewer than two flights, or a figure that cannot be.

    Notes
    -----
    The flights carry no dates: each counts as if it had weather of its own.
    """
    _refuse_nonsense(durations_s, consumed_mah, capacity_mah, reserve_fraction, confidence, landing_allowance_s, prior)
    flights = [PastFlight(float(seconds), float(charge)) for seconds, charge in zip(durations_s, consumed_mah, strict=True)]
    rate = predict_rate(flights, confidence=confidence, prior=prior)
    usable_mah = capacity_mah * (1.0 - reserve_fraction)
    alarm_s = _rounded_down(usable_mah / rate.limit_mah_per_min * 60.0 - landing_allowance_s)
    return TimerSuggestion(alarm_s, rate.estimate, rate.limit_mah_per_min, rate.used, weakest_assumption(rate, with_prior=prior is not None), rate.fan)


def timer_for(
    setup: Setup,
    history: Sequence[PastFlight],
    *,
    prior: Prior | None = None,
    priors: Mapping[str, Prior] | None = None,
    facts: PackFacts | None = None,
    look_ahead: Sequence[int] = (3, 6, 12),
) -> Timer | Undecided:
    """The timer for the next flight in this set-up.

    Parameters
    ----------
    setup : one configuration with one pack; its reserve says what must be left and how sure.
    history : past flights, in any configuration and on any pack.
    prior : mean rate [mAh/min] and its relative standard deviation, as `Prediction.rate_prior`.
    priors : the same for other configurations, by name; then only the difference that the sheet
        does not foretell is left to learn.
    facts : what was measured of the pack and of the last flight.
    look_ahead : numbers of further flights to say the worth of.

    Returns
    -------
    `Undecided` without a prediction and with fewer than two flights, or when no time is safe.
    """
    facts = facts or PackFacts()
    flights = [f for f in history if f.duration_s >= SHORTEST_FLIGHT_S]
    if prior is None and len(flights) < 2:
        return Undecided(_too_few(len(flights), len(history)))
    rate = predict_rate(flights, setup.configuration, confidence=setup.reserve.confidence, prior=prior, priors=priors)
    limit = _charge_limit(setup, facts, rate)
    spare_mah = _go_around_mah(setup, facts, rate)
    by_charge_s = (limit.landed_by_mah - spare_mah) / rate.limit_mah_per_min * 60.0 - setup.reserve.landing_allowance_s
    by_time = min(facts.time_limits, key=lambda t: t.landed_by_s, default=None)
    by_time_s = by_time.landed_by_s - setup.reserve.landing_allowance_s if by_time else math.inf
    by_time_first = by_time is not None and by_time_s < by_charge_s
    limited_by, reason = (by_time.limited_by, by_time.reason) if by_time is not None and by_time_first else (limit.limited_by, limit.reason)
    alarm_s = _rounded_down(min(by_charge_s, by_time_s))
    if alarm_s <= 0:
        allowance = f"{setup.reserve.landing_allowance_s:.0f} s for the landing"
        return Undecided(f"{reason} leaves no time to fly once {allowance} are kept back")
    gains = () if by_time_first else _more_flights(rate, setup.reserve.confidence, limit.landed_by_mah - spare_mah, look_ahead)
    timer = _stated(setup, facts, rate, alarm_s, limited_by, reason, gains, with_prior=prior is not None)
    if rate.season_limit_mah_per_min is None:
        return timer
    season_s = (limit.landed_by_mah - spare_mah) / rate.season_limit_mah_per_min * 60.0 - setup.reserve.landing_allowance_s
    return replace(timer, season_alarm_s=_rounded_down(min(season_s, by_time_s)))


def timer_to_dict(timer: Timer | Undecided) -> dict[str, object]:
    """What `timer --json` prints."""
    carried, undecided = plain(timer, "timer")
    return {"schema": "sagline.timer/1", "timer": carried, "undecided": undecided}


def _stated(
    setup: Setup,
    facts: PackFacts,
    rate: RatePrediction,
    alarm_s: float,
    limited_by: str,
    reason: str,
    gains: tuple[MoreFlights, ...],
    *,
    with_prior: bool,
) -> Timer:
    """The alarm in every form it is wanted in."""
    capacity_mah, measured = capacity_of(setup, facts)
    reserve = setup.reserve
    usable_mah = capacity_mah * (1.0 - reserve.fraction)
    alarm_mah = rate.limit_mah_per_min * alarm_s / 60.0
    cruise_a = facts.cruise_current_a or rate.median_mah_per_min * 60.0 / 1000.0
    cell = mean_cell(setup, facts)
    warning_s = usable_mah / rate.median_mah_per_min * 60.0 - alarm_s
    extra: dict[str, float | Undecided] = {}
    if facts.takeoff_after_s is not None:
        extra["alarm_from_takeoff_s"] = _rounded_down(alarm_s - facts.takeoff_after_s)
    if facts.mean_throttle_fraction is not None:
        extra["throttle_timer_s"] = _rounded_down(alarm_s * facts.mean_throttle_fraction)
    return Timer(
        alarm_s=alarm_s,
        starts="throttle_up",
        usable_mah=usable_mah,
        reserve_fraction=reserve.fraction,
        confidence=reserve.confidence,
        flights_used=rate.used,
        rate_mah_per_min=rate.estimate,
        landing_allowance_s=reserve.landing_allowance_s,
        consumed_alarm_mah=alarm_mah,
        loaded_cell_alarm_v=cell.voltage_v(alarm_mah, cruise_a) if isinstance(cell, Loaded) else cell,
        limited_by=limited_by,
        weakest_assumption=weakest_assumption(rate, with_prior=with_prior, capacity_measured=measured),
        fan=rate.fan,
        limit_reason=reason,
        flights_elsewhere=rate.elsewhere,
        loaded_cell_reserve_v=cell.voltage_v(usable_mah, cruise_a) if isinstance(cell, Loaded) else cell,
        go_around_s=reserve.go_around_s,
        warning_s=warning_s,
        given_up_s=warning_s - reserve.landing_allowance_s,
        more_flights=gains,
        **extra,
    )


def _charge_limit(setup: Setup, facts: PackFacts, rate: RatePrediction) -> ChargeLimit:
    capacity_mah, _ = capacity_of(setup, facts)
    cruise_a = facts.cruise_current_a or rate.median_mah_per_min * 60.0 / 1000.0
    return first(charge_limits(setup, facts, capacity_mah * (1.0 - setup.reserve.fraction), cruise_a))


def _go_around_mah(setup: Setup, facts: PackFacts, rate: RatePrediction, *, full_over_mean: float = 2.5) -> float:
    """Charge set aside for a go-around. [mAh]

    Without a full-throttle current, 2.5 times the mean one is taken: scale models cruise at a
    third to a half of it (common practice, no source).
    """
    full_a = facts.full_current_a or full_over_mean * rate.median_mah_per_min * 60.0 / 1000.0
    return setup.reserve.go_around_s * full_a / 3.6


def _more_flights(rate: RatePrediction, confidence: float, spendable_mah: float, ahead: Sequence[int]) -> tuple[MoreFlights, ...]:
    """What further flights would buy if they bring the median and the scatter that are thought likely now.

    Only for numbers at which the data will stand alone; then the limit is Student's.
    """
    now_s = spendable_mah / rate.limit_mah_per_min * 60.0
    return tuple(
        MoreFlights(count, max(0.0, spendable_mah / rate.limit_after(rate.used + count, confidence) * 60.0 - now_s))
        for count in ahead
        if rate.used + count >= ALONE_FROM_FLIGHTS
    )


def _rounded_down(seconds: float) -> float:
    return max(0.0, math.floor((seconds + 1e-9) / ALARM_STEP_S) * ALARM_STEP_S)


def _too_few(flights: int, rows: int) -> str:
    short = f", {rows - flights} shorter than {SHORTEST_FLIGHT_S:.0f} s" if rows > flights else ""
    held = "no past flight" if flights == 0 else "one past flight"
    return f"{held}{short} and no prediction: one flight says nothing of how much the next may differ"


def _refuse_nonsense(
    durations_s: Sequence[float],
    consumed_mah: Sequence[float],
    capacity_mah: float,
    reserve_fraction: float,
    confidence: float,
    landing_allowance_s: float,
    prior: Prior | None,
) -> None:
    if len(durations_s) != len(consumed_mah):
        raise ValueError(f"{len(durations_s)} durations but {len(consumed_mah)} charges: give one of each for every flight")
    for name, values in (("durations_s", durations_s), ("consumed_mah", consumed_mah), ("capacity_mah", [capacity_mah])):
        if any(not (math.isfinite(value) and value > 0) for value in values):
            raise ValueError(f"{name} must be above zero and finite")
    if not 0 <= reserve_fraction < 1:
        raise ValueError(f"reserve_fraction is 0 or more and below 1, not {reserve_fraction}")
    if not 0.5 <= confidence < 1:
        raise ValueError(f"confidence is 0.5 or more and below 1, not {confidence}")
    if not (math.isfinite(landing_allowance_s) and landing_allowance_s >= 0):
        raise ValueError(f"landing_allowance_s is 0 or more, not {landing_allowance_s}")
    if prior is not None and not (math.isfinite(prior[0]) and prior[0] > 0 and math.isfinite(prior[1]) and prior[1] >= 0):
        raise ValueError(f"prior is a rate above zero and a relative standard deviation of 0 or more, not {prior}")
    if prior is None and len(durations_s) < 2:
        raise ValueError("give two past flights or a prior: one flight says nothing of how much the next may differ")
