"""How the log and the flight ended, and whether the radio stayed."""

from __future__ import annotations

from telemetry.estimate import Undecided
from telemetry.findings.types import Finding, Results
from telemetry.findings.words import finding
from telemetry.limits import LINK_LOST_S, RECEIVER_LOW_V
from telemetry.sentences import capital, counted, say, sentence
from telemetry.trace import Flight


def find_ending(results: Results) -> list[Finding]:
    """A hard end, a log cut off, a receiver's supply that fell, a link that was lost."""
    parts = (_hard, _low, _lost, _cut_off)
    return [found for part in parts for found in part(results)]


def _hard(results: Results) -> list[Finding]:
    if not results.ending.hard:
        return []
    return [finding("flight_ended_hard", "flight", shown=sentence("; ".join(results.ending.hard)))]


def _low(results: Results) -> list[Finding]:
    low = results.radio.low
    if not low:
        return []
    deepest = min(low, key=lambda one: one.lowest_v)
    supply_v = results.setup.receiver_supply_v if results.setup else None
    usual = deepest.limit_v == RECEIVER_LOW_V.value
    return [
        finding(
            "receiver_low",
            "receiver",
            lowest_v=deepest.lowest_v,
            at_s=deepest.start_s,
            seconds=sum(one.end_s - one.start_s for one in low),
            often=counted("often", count=len(low)),
            limit_v=deepest.limit_v,
            source=RECEIVER_LOW_V.source if usual else say("radio", "of_sheet", supply_v=supply_v),
        )
    ]


def _lost(results: Results) -> list[Finding]:
    lost = results.radio.lost
    if not lost:
        return []
    longest = max(lost, key=lambda one: one.end_s - one.start_s)
    return [
        finding(
            "link_lost",
            "link",
            at_s=longest.start_s,
            seconds=longest.end_s - longest.start_s,
            often=counted("often", count=len(lost)),
            most_s=LINK_LOST_S.value,
            source=LINK_LOST_S.source,
        )
    ]


def _cut_off(results: Results) -> list[Finding]:
    flight = results.flight
    if flight.cut_off == "none":
        return []
    return [finding("log_cut_off", "log", title=capital(cut_off_words(flight)), end=flight.cut_off)]


def cut_off_words(flight: Flight) -> str:
    """Which end of the flight is missing, a clause."""
    if flight.is_bench or flight.is_taxi or isinstance(flight.powered, Undecided):
        return say("cut_off", f"{flight.cut_off}_under_power")
    return say("cut_off", flight.cut_off)
