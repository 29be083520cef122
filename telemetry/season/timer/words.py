"""The clause that says what a timer rests on least firmly."""

from __future__ import annotations

from telemetry.season.timer.rate import ALONE_FROM_FLIGHTS, RatePrediction

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
    if rate.used == 0 and with_prior and rate.elsewhere == 0:
        return "no flight yet, the prediction alone, which may be 20 % off: fly short, land early and measure"
    if rate.used == 0:
        return (
            f"no flight in this configuration, only {rate.elsewhere} in others and a guess at the "
            f"difference: fly short, land early and measure"
        )
    if rate.used == 1:
        lean = "the prediction" if with_prior else "flights in other configurations"
        return (
            f"one flight cannot show how much flights differ; {lean} still carries much of it: land early "
            f"and measure"
        )
    if rate.used < ALONE_FROM_FLIGHTS:
        lean = " and the prediction" if with_prior else ""
        return f"{rate.used} flights{lean} tell the spread between flights only roughly"
    if 1 < rate.days < 3 or rate.days == 1:
        return (
            f"{rate.used} flights on {rate.days} day{'s' if rate.days > 1 else ''} hardly know other weather"
        )
    if colder_than_flown_c is not None:
        return f"no past flight was as cold as {colder_than_flown_c:.0f} °C, and a cold pack holds less"
    if rate.undated > 1:
        risk = (
            "; some 8 next flights in 100 may then land in the reserve, not 5"
            if rate.confidence == UNDATED_CONFIDENCE
            else ""
        )
        return (
            f"{rate.undated} flights carry no date and count as days of their own; those of one day share "
            f"its weather and say less{risk}"
        )
    if not capacity_measured:
        return "the pack still holds what the sheet says; nobody measured it"
    return "the next flight is flown like the past ones, in weather they have seen"
