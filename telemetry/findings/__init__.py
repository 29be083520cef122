"""Results → decision, headline, five answers, findings, most serious first.

Keys and values are made here; the words are in `sentences/`. A new analysis adds one
function that takes `Results` and gives findings, and its name to `FINDERS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from telemetry.estimate import Undecided
from telemetry.finding_table import SEVERITIES
from telemetry.findings.bench import SPEAK_AGAINST, find_bench, with_findings
from telemetry.findings.cells import answer_cells, find_cells
from telemetry.findings.charge import find_charge
from telemetry.findings.decision import decide, left_open
from telemetry.findings.ending import find_ending
from telemetry.findings.expectation import answer_prediction, answer_timer, find_expectation
from telemetry.findings.load import answer_load, find_load
from telemetry.findings.packs import answer_of_packs, found_in_packs
from telemetry.findings.pair import answer_pair, find_pair
from telemetry.findings.reading import find_channels, find_fit, find_reading
from telemetry.findings.types import Answer, Finding, Open, Results, Verdicts
from telemetry.sentences import counted, say

__all__ = ["Answer", "Finding", "Open", "Results", "Verdicts", "judge", "with_findings"]

ANSWERERS = (answer_cells, answer_load, answer_pair, answer_prediction, answer_timer)


FINDERS = (
    find_fit,
    find_ending,
    find_cells,
    find_charge,
    find_load,
    find_pair,
    find_expectation,
    find_reading,
    find_channels,
)
OF_A_PACK = (find_cells, find_charge, find_channels)
"""What is looked for in each pack, where each motor has one of its own."""


def judge(results: Results) -> Verdicts:
    """Everything that is said of one flight."""
    found = [f for finder in FINDERS for f in _found(results, finder)]
    found += find_bench(results, found)
    told = [_settled(f) if f.key in results.settled else f for f in found]
    ordered = tuple(sorted(told, key=lambda f: (f.settled, SEVERITIES.index(f.severity))))
    standing = [f for f in ordered if not f.settled]
    answers = tuple(_answer(results, answerer) for answerer in ANSWERERS)
    opened = left_open(results)
    decision = decide(standing, opened)
    return Verdicts(headline(results, decision, standing, opened), answers, ordered, decision, opened)


def found_in_pack(results: Results) -> list[Finding]:
    """What is found in one pack.

    Parameters
    ----------
    results : of a flight, as that pack sees it.

    Returns
    -------
    Stops, checks and notes, the most serious first.
    """
    found = [f for finder in OF_A_PACK for f in finder(results)]
    return sorted(found, key=lambda f: SEVERITIES.index(f.severity))


def _found(results: Results, finder: Callable[[Results], list[Finding]]) -> list[Finding]:
    if not results.packs or finder not in OF_A_PACK:
        return finder(results)
    shared = finder(results) if finder is find_channels else []
    return [*shared, *found_in_packs(results, finder, said=shared)]


def _answer(results: Results, answerer: Callable[[Results], Answer]) -> Answer:
    if results.packs and answerer is answer_cells:
        return answer_of_packs(results, answerer, worst_first=("weak", "undecided", "sound"))
    return answerer(results)


def _settled(finding: Finding) -> Finding:
    """A stop or check that the owner has settled, with that said; a note as it is."""
    if finding.severity not in SPEAK_AGAINST:
        return finding
    return replace(finding, message=f"{finding.message} {say('settled')}", settled=True)


def headline(results: Results, decision: str, findings: Sequence[Finding], opened: Sequence[Open]) -> str:
    """The one sentence on top, made from the decision: what speaks against the next flight or is open before
    it, else how many checks come before it. It is no order, and names no alarm beside a stop or what is open.
    """
    if decision == "stop":
        return say("headline", "stop", why=next(f.why for f in findings if f.severity == "stop"))
    if decision == "open":
        words = "; ".join(filter(None, (_open_words(opened), results.withheld)))
        return say("headline", "open", open=words)
    before = counted("checks_before", count=sum(f.severity == "check" for f in findings))
    if results.flight.is_taxi:
        return say("headline", "taxi", before=before)
    if results.bench is not None:
        first = next((f.why for f in findings if f.severity == "check"), "")
        return say("headline", "bench_check" if first else "bench", before=before, why=first)
    if results.withheld:
        return say("headline", "withheld", before=before, why=results.withheld)
    if isinstance(results.timer, Undecided):
        return say("headline", "no_timer", before=before)
    return say("headline", "timer", before=before, alarm_s=results.timer.alarm_s)


def _open_words(opened: Sequence[Open]) -> str:
    """What is open, the items of a run-up counted."""
    reasons = [one.reason for one in opened if not one.of_bench]
    items = len(opened) - len(reasons)
    return "; ".join([*reasons, *([counted("items_open", count=items)] if items else [])])
