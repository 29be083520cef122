"""The timer from bare numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence

from telemetry.history import PastFlight
from telemetry.season.timer.rate import Prior, predict_rate
from telemetry.season.timer.results import TimerSuggestion, rounded_down
from telemetry.season.timer.words import weakest_assumption


def suggest_timer(
    durations_s: Sequence[float],
    consumed_mah: Sequence[float],
    *,
    capacity_mah: float,
    reserve_fraction: float,
    confidence: float,
    landing_allowance_s: float,
    prior: Prior | None = None,
    dates: Sequence[str] | None = None,
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
    dates : (n,) ISO dates, "" where not known; flights of one date share its weather. Without
        them each flight counts as if it had weather of its own.

    Raises
    ------
    ValueError : no prior and fewer than two flights, or a figure that cannot be.
    """
    _refuse_nonsense(
        durations_s, consumed_mah, capacity_mah, reserve_fraction, confidence, landing_allowance_s, prior
    )
    if dates is not None and len(dates) != len(durations_s):
        raise ValueError(
            f"{len(durations_s)} durations but {len(dates)} dates: give one of each for every flight"
        )
    days = dates if dates is not None else [""] * len(durations_s)
    flights = [
        PastFlight(float(seconds), float(charge), date=day)
        for seconds, charge, day in zip(durations_s, consumed_mah, days, strict=True)
    ]
    rate = predict_rate(flights, confidence=confidence, prior=prior)
    usable_mah = capacity_mah * (1.0 - reserve_fraction)
    alarm_s = rounded_down(usable_mah / rate.limit_mah_per_min * 60.0 - landing_allowance_s)
    return TimerSuggestion(
        alarm_s,
        rate.estimate,
        rate.limit_mah_per_min,
        rate.used,
        weakest_assumption(rate, with_prior=prior is not None),
        rate.fan,
    )


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
        raise ValueError(
            f"{len(durations_s)} durations but {len(consumed_mah)} charges: give one of each for every flight"
        )
    for name, values in (
        ("durations_s", durations_s),
        ("consumed_mah", consumed_mah),
        ("capacity_mah", [capacity_mah]),
    ):
        if any(not (math.isfinite(value) and value > 0) for value in values):
            raise ValueError(f"{name} must be above zero and finite")
    if not 0 <= reserve_fraction < 1:
        raise ValueError(f"reserve_fraction is 0 or more and below 1, not {reserve_fraction}")
    if not 0.5 <= confidence < 1:
        raise ValueError(f"confidence is 0.5 or more and below 1, not {confidence}")
    if not (math.isfinite(landing_allowance_s) and landing_allowance_s >= 0):
        raise ValueError(f"landing_allowance_s is 0 or more, not {landing_allowance_s}")
    if prior is not None and not (
        math.isfinite(prior[0]) and prior[0] > 0 and math.isfinite(prior[1]) and prior[1] >= 0
    ):
        raise ValueError(
            f"prior is a rate above zero and a relative standard deviation of 0 or more, not {prior}"
        )
    if prior is None and len(durations_s) < 2:
        raise ValueError(
            "give two past flights or a prior: one flight says nothing of how much the next may differ"
        )
