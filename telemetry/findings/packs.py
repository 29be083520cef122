"""What is said of packs that feed one motor each: the same of every pack, with its name."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from telemetry.findings.types import Answer, Finding, Results
from telemetry.season.pack_places import inside, pack_words, sentence_of, subject_of
from telemetry.sentences import capital, say

Finder = Callable[[Results], list[Finding]]
Answerer = Callable[[Results], Answer]


def found_in_packs(results: Results, finder: Finder, *, said: Sequence[Finding] = ()) -> Iterator[Finding]:
    """What is found in each pack, with its name.

    Parameters
    ----------
    results : with packs.
    finder : of a single pack.
    said : of the whole log: a channel that all packs share is told of once.

    Returns
    -------
    In the order of the packs.
    """
    told = {one.message for one in said}
    for place, own in results.packs.items():
        yield from (_named(one, place) for one in finder(own) if one.message not in told)


def _named(one: Finding, place: str) -> Finding:
    why = say("of_pack", pack=pack_words(place), text=one.why) if one.why else ""
    return replace(
        one,
        subject=subject_of(place, one.subject),
        title=sentence_of(place, one.title),
        message=sentence_of(place, one.message),
        why=why,
    )


def answer_of_packs(results: Results, answerer: Answerer, *, worst_first: Sequence[str]) -> Answer:
    """One answer for all packs: that of the worst, then the others'.

    Parameters
    ----------
    results : with packs.
    answerer : of a single pack.
    worst_first : its verdicts.

    Returns
    -------
    The worst verdict; the sentence names each pack.
    """
    each = [(place, answerer(own)) for place, own in results.packs.items()]
    each.sort(key=lambda one: worst_first.index(one[1].verdict))
    told = [
        replace(
            answer,
            short=say("answer_of_pack", pack=capital(pack_words(place)), text=inside(answer.short)),
            sentence=say("answer_of_pack", pack=capital(pack_words(place)), text=inside(answer.sentence)),
        )
        for place, answer in each
    ]
    return replace(told[0], sentence=" ".join(answer.sentence for answer in told))


def reason_of_packs(results: Results, reason: Callable[[Results], str]) -> str:
    """Why something is not known, of each pack where there are several.

    Parameters
    ----------
    results : of one flight.
    reason : of a single pack, "" where nothing is open.

    Returns
    -------
    Clauses joined by "; ".
    """
    if not results.packs:
        return reason(results)
    told = ((place, reason(own)) for place, own in results.packs.items())
    return "; ".join(say("of_pack", pack=pack_words(place), text=why) for place, why in told if why)
