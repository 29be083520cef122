"""Was anything overloaded?"""

from __future__ import annotations

from typing import Any

from telemetry.analysis.current import Margin
from telemetry.analysis.motors import PartTemperature, part_temperatures
from telemetry.estimate import Estimate, Undecided
from telemetry.findings.types import Answer, Finding, Results
from telemetry.findings.words import answer, finding
from telemetry.limits import CLOSE_TO_RATING_FRACTION
from telemetry.sentences import capital, rating_words, say, with_limits


def answer_load(results: Results) -> Answer:
    """Within, over or undecided."""
    judged = _judged(results)
    if not judged:
        return _no_verdict(results)
    worst = min(judged, key=_room)
    values = _values(worst)
    if _is_over(worst):
        return answer("load", "over", **values)
    return answer("load", "within", margin=_room(worst), **values)


def find_load(results: Results) -> list[Finding]:
    """Every part over its rating, and the one that came closest."""
    judged = sorted(_judged(results), key=_room)
    found: list[Finding] = []
    for margin in judged:
        if _is_over(margin):
            sure = isinstance(margin.measured_a, Estimate) and margin.measured_a.low > margin.rating_a
            key = "over_rating" if sure else "maybe_over_rating"
            found.append(finding(key, margin.part, **_values(margin)))
    close = [m for m in judged if 0 <= _room(m) < CLOSE_TO_RATING_FRACTION.value]
    if close:
        values = _values(close[0])
        found.append(finding("close_to_rating", close[0].part, margin=_room(close[0]), **values))
    return found + _hot_parts(results) + _leads(results)


def _leads(results: Results) -> list[Finding]:
    """Leads hotter than their copper bears, and what lengthening them asks for."""
    found: list[Finding] = []
    for lead in results.current.leads:
        if (
            isinstance(lead.margin_fraction, Undecided)
            or lead.margin_fraction >= 0
            or isinstance(lead.rms_a, Undecided)
        ):
            continue
        start_s = 0.0 if isinstance(lead.start_s, Undecided) else lead.start_s
        values = {
            "position": lead.position,
            "rms_a": lead.rms_a,
            "window_s": lead.window_s,
            "start_s": start_s,
        }
        heat_w = 0.0 if isinstance(lead.heat_w, Undecided) else lead.heat_w
        found.append(
            finding(
                "lead_over",
                f"{lead.position} leads",
                steady_a=lead.steady_a,
                heat_w=heat_w,
                **values,
            )
        )
    added_m = results.setup.leads.added_length_m if results.setup else 0.0
    if added_m > 0 and results.bench is not None:
        found.append(finding("added_leads", "leads", added_m=added_m))
    return found


def _hot_parts(results: Results) -> list[Finding]:
    """Motors and controllers over the sheet's own temperature limits."""
    drives = results.setup.drives if results.setup else ()
    found: list[Finding] = []
    for one in part_temperatures(results.signals, drives):
        if (over := one.over) is not None:
            name = hot_subject(one)
            values = {
                "part": name,
                "part_capital": capital(name),
                "temperature_c": over.hottest_c,
                "limit_c": over.limit_c,
                "at_s": over.spans[0].start_s,
            }
            found.append(finding("part_hot", name, **values))
    return found


def hot_subject(one: PartTemperature) -> str:
    """The subject of a finding on a part's temperature: "the left motor"."""
    return f"the {one.name}"


def _no_verdict(results: Results) -> Answer:
    current = results.current
    if isinstance(current.peak_a, Undecided):
        return answer("load", "undecided", reason=capital(current.peak_a.reason))
    if not current.limits:
        return answer("load", "undecided", "undecided_no_ratings", peak_a=current.peak_a)
    reasons = [m.measured_a.reason for m in current.limits if isinstance(m.measured_a, Undecided)]
    return answer(
        "load",
        "undecided",
        reason=capital(reasons[0] if reasons else say("undecided", "findings", "no_rating")),
    )


def _judged(results: Results) -> list[Margin]:
    return [
        m
        for m in results.current.limits
        if isinstance(m.measured_a, Estimate) and not isinstance(m.margin_fraction, Undecided)
    ]


def _room(margin: Margin) -> float:
    return 9.0 if isinstance(margin.margin_fraction, Undecided) else margin.margin_fraction


def _is_over(margin: Margin) -> bool:
    return _room(margin) < 0


def _values(margin: Margin) -> dict[str, Any]:
    measured = margin.measured_a
    assert isinstance(measured, Estimate)
    start_s = 0.0 if isinstance(margin.start_s, Undecided) else margin.start_s
    return {
        "part": margin.part,
        "part_words": rating_words(margin.part),
        "part_capital": capital(rating_words(margin.part)),
        "measured_a": measured.value,
        "low": measured.low,
        "high": measured.high,
        "measured_text": with_limits(measured.value, measured.low, measured.high, decimals=1, unit="A"),
        "rating_a": margin.rating_a,
        "window_s": margin.window_s,
        "start_s": start_s,
    }
