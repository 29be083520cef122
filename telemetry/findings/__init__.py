"""Results → headline, five answers, findings, most serious first.

Keys and values are made here; the words are in `sentences/`. A new analysis adds one
function that takes `Results` and gives findings, and its name to `FINDERS`.
"""

from __future__ import annotations

from telemetry.estimate import Undecided
from telemetry.finding_table import SEVERITIES
from telemetry.findings.bench import find_bench, with_findings
from telemetry.findings.cells import answer_cells, find_cells
from telemetry.findings.expectation import answer_prediction, answer_timer, find_expectation
from telemetry.findings.load import answer_load, find_load
from telemetry.findings.pair import answer_pair, find_pair
from telemetry.findings.reading import find_fit, find_reading
from telemetry.findings.types import Answer, Finding, Results, Verdicts
from telemetry.sentences import counted, say

__all__ = ["Answer", "Finding", "Results", "Verdicts", "judge", "with_findings"]

ANSWERERS = (answer_cells, answer_load, answer_pair, answer_prediction, answer_timer)


FINDERS = (find_fit, find_cells, find_load, find_pair, find_expectation, find_reading)


def judge(results: Results) -> Verdicts:
    """Everything that is said of one flight."""
    found = [f for finder in FINDERS for f in finder(results)]
    found += find_bench(results, found)
    ordered = tuple(sorted(found, key=lambda f: SEVERITIES.index(f.severity)))
    answers = tuple(answerer(results) for answerer in ANSWERERS)
    return Verdicts(headline(results, ordered, answers), answers, ordered)


def headline(results: Results, findings: tuple[Finding, ...], answers: tuple[Answer, ...]) -> str:
    """The one sentence on top: what speaks against the next flight, how many checks come before it, and the
    timer where nothing speaks against it. It is no order, and names no alarm beside a stop.
    """
    stops = [f for f in findings if f.severity == "stop"]
    checks = [f for f in findings if f.severity == "check"]
    if results.bench is not None:
        return _bench_headline(results, [*stops, *checks])
    if stops:
        return say("headline", "stop", why=stops[0].why)
    if results.flight.is_taxi:
        return say("headline", "taxi", why=checks[0].why) if checks else say("headline", "taxi_clean")
    before = counted("checks_before", count=len(checks))
    if not isinstance(results.timer, Undecided):
        return say("headline", "timer", before=before, alarm_s=results.timer.alarm_s)
    decided = any(a.question in ("cells", "load") and a.verdict in ("sound", "within") for a in answers)
    if checks or decided:
        return say("headline", "no_timer", before=before)
    left_open = answers[0].sentence.removeprefix(answers[0].short).strip().rstrip(".").lower()
    return say("headline", "unknown", open=left_open)


def _bench_headline(results: Results, against: list[Finding]) -> str:
    assert results.bench is not None
    if against:
        return say("headline", "bench_not_ready", why=against[0].why or against[0].title.rstrip("."))
    open_items = sum(item.verdict == "undecided" for item in results.bench.items)
    if open_items:
        return say("headline", "bench_undecided", open=counted("items_open", count=open_items))
    return say("headline", "bench_ready")
