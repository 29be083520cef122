"""The clause that says what a timer rests on least firmly."""

from __future__ import annotations

from telemetry.season.timer.rate import ALONE_FROM_FLIGHTS, RatePrediction
from telemetry.sentences import counted, say

UNDATED_CONFIDENCE = 0.95
"""At it, three flights a day without dates and half the scatter the day's, 7 to 9 in 100 landed below the
reserve in simulated futures.
"""


def weakest_assumption(
    rate: RatePrediction,
    *,
    with_prior: bool,
    capacity_measured: bool = False,
    colder_than_flown_c: float | None = None,
) -> str:
    """The first doubt that holds, the gravest first. A clause without a full stop.

    `colder_than_flown_c` is the temperature of the field when no past flight was nearly as cold. [°C]
    """
    flights, days, undated = rate.used, rate.days, rate.undated
    if flights == 0:
        return _say("prediction_alone", rate)
    if flights == 1:
        return _say("one_with_prediction", rate)
    if flights < ALONE_FROM_FLIGHTS:
        return _say("few_with_prediction" if with_prior else "few", rate)
    if days in (1, 2):
        return counted("timer", "weakest", "few_days", count=days, flights=flights)
    if colder_than_flown_c is not None:
        return say("timer", "weakest", "colder", field_c=colder_than_flown_c)
    if undated > 1:
        return _say("undated_risk" if rate.confidence == UNDATED_CONFIDENCE else "undated", rate)
    return _say("as_flown" if capacity_measured else "capacity", rate)


def _say(key: str, rate: RatePrediction) -> str:
    return say("timer", "weakest", key, flights=rate.used, undated=rate.undated)
