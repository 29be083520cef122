"""A run-up's findings, and its one answer: ready says what the findings say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from telemetry.comparison.results import Bench, BenchItem
from telemetry.findings.types import Finding, Results
from telemetry.findings.words import finding
from telemetry.season.pack_places import pack_words
from telemetry.sentences import capital, say

SPEAK_AGAINST = ("stop", "check")


def find_bench(results: Results, others: Sequence[Finding]) -> list[Finding]:
    """What a run-up found that no other finding says.

    Parameters
    ----------
    others : findings of the same run. A figure off its prediction is the effect of whatever else is wrong, so
        it is a finding of its own only where nothing else is.
    """
    if results.bench is None:
        return []
    said = {f.key for f in others if f.severity in SPEAK_AGAINST}
    bad = [i for i in results.bench.items if i.verdict == "not_ready" and not said & set(i.covers)]
    causes = [i for i in bad if not i.is_effect]
    effects = [] if causes or said else [i for i in bad if i.is_effect][:1]
    return [
        finding(
            "bench_item", i.check, i.severity, check=i.check, sentence=i.sentence, clause=_clause(i.sentence)
        )
        for i in (*causes, *effects)
    ]


def _clause(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:].rstrip(".")


def of_pack(bench: Bench | None, place: str) -> Bench | None:
    """The run-up with the name of the pack that its items on cells speak of.

    Parameters
    ----------
    bench : None where there is none.
    place : the pack's position, such as "left_pack"; "" where one pack feeds all.

    Returns
    -------
    The same items.
    """
    if bench is None or not place:
        return bench
    of_cells = {say("bench", "checks", check) for check in ("floor", "level")}
    pack = capital(pack_words(place))
    items = tuple(
        replace(i, sentence=say("of_pack", pack=pack, text=_clause(i.sentence) + "."))
        if i.check in of_cells
        else i
        for i in bench.items
    )
    return replace(bench, items=items)


def with_findings(bench: Bench | None, findings: Sequence[Finding]) -> Bench | None:
    """The run-up's items with one more for every stop or check that none of them says; not ready where one
    speaks against the first flight.
    """
    if bench is None:
        return None
    against = [f for f in findings if f.severity in SPEAK_AGAINST and f.key != "bench_item" and not f.settled]
    said = {key for i in bench.items if i.verdict == "not_ready" for key in i.covers}
    check = say("bench", "checks", "others")
    more = [BenchItem(check, "not_ready", f.title, covers=(f.key,)) for f in against if f.key not in said]
    items = (*bench.items, *more)
    verdicts = {i.verdict for i in items}
    ready = False if "not_ready" in verdicts else None if "undecided" in verdicts else True
    return replace(bench, ready=ready, items=items)
