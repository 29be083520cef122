"""From the weighed hypotheses to a verdict, a cause and a sentence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.motors.causes import PARTS
from telemetry.analysis.motors.results import CauseLikelihood
from telemetry.analysis.motors.weigh import Weighed
from telemetry.analysis.motors.words import Names, between, even_sentence, only_sentence, uneven_sentence
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import EVEN_CURRENT_FRACTION, EVEN_SHAFT_POWER_FRACTION
from telemetry.sentences import say, sentence, undecided
from telemetry.trace import Floats

METHOD = say("methods", "pair")

ALIKE = {"rpm": ("propeller", "kv"), "current": ("propeller", "sensor")}
"""Causes that one kind of channel cannot tell apart, whatever the fit prefers."""


@dataclass(frozen=True, slots=True)
class Judged:
    """What the pair's result needs."""

    imbalance: Estimate | Undecided
    verdict: str
    cause: str
    reason: str
    causes: tuple[CauseLikelihood, ...]
    size: Estimate | Undecided


def judge(
    weighed: Weighed,
    logged: str,
    names: Names,
    *,
    uneven_above: float = 0.9,
    even_above: float = 0.7,
    even_but_for_sensor: float = 0.6,
    named_above: float = 0.85,
    named_alone: float = 0.94,
) -> Judged:
    """The verdict.

    Parameters
    ----------
    names : of the two motors, for the sentence.
    logged : "both", "rpm" or "current": what of both motors was logged.
    uneven_above : so probable must it be that the pair is beyond the limits of an even pair; one even pair in
        a hundred may pass.
    even_above : so probable that it is within them.
    even_but_for_sensor : the same where a sensor's gain is by far the likeliest cause; it then takes a second
        fault to be uneven.
    named_above : a cause's share among all that remain possible; one name in fifty may be wrong.
    named_alone : the same while the verdict is open, when "none" and a sensor remain possible too.
    """
    within = (np.abs(weighed.imbalance) < EVEN_SHAFT_POWER_FRACTION.value) & (
        np.abs(weighed.current) < EVEN_CURRENT_FRACTION.value
    )
    chance = float(np.mean(within))
    imbalance = _quantiles(weighed.imbalance)
    ordered = tuple(
        CauseLikelihood(c, p) for c, p in sorted(weighed.cause.items(), key=lambda item: -item[1])
    )
    enough_even = even_but_for_sensor if _sensor_stands_out(weighed) else even_above
    verdict = "uneven" if 1 - chance >= uneven_above else "even" if chance >= enough_even else "undecided"
    if verdict == "even":
        return _even(weighed, names, imbalance, ordered)
    known = {c: p for c, p in weighed.cause.items() if verdict != "uneven" or c not in ("none", "sensor")}
    total = sum(known.values())
    ranked = sorted(known, key=lambda c: -known[c])
    first, second = ranked[0], ranked[1]
    alike = ALIKE.get(logged, ())
    open_still = (*alike, "none", "several", *(("sensor",) if verdict == "undecided" else ()))
    enough = named_above if verdict == "uneven" else named_alone
    named = first not in open_still and known[first] >= enough * total
    if not named:
        if alike and sum(known.get(c, 0.0) for c in alike) > 0.2 * total:
            first, second = alike
        return Judged(
            imbalance,
            verdict,
            "undecided",
            between(first, second, verdict, logged, names),
            ordered,
            undecided("motors", "no_cause"),
        )
    size = _size(weighed, first)
    reason = (
        uneven_sentence(first, size, imbalance, names)
        if verdict == "uneven"
        else only_sentence(first, imbalance, names)
    )
    return Judged(imbalance, verdict, first, reason, ordered, size)


def held_to_currents(judged: Judged, current_ratio: Estimate | Undecided) -> Judged:
    """The same, but no verdict that points the other way than the pair's own currents: where shaft power is
    higher on the one side and current clearly on the other, only friction explains both.

    Parameters
    ----------
    current_ratio : right ÷ left as the sensors saw it.
    """
    if judged.verdict != "uneven" or not isinstance(judged.imbalance, Estimate):
        return judged
    if isinstance(current_ratio, Undecided) or judged.causes[0].cause == "drag":
        return judged
    more = current_ratio.value - 1.0
    if abs(more) < EVEN_CURRENT_FRACTION.value or judged.imbalance.value * more > 0.0:
        return judged
    no = undecided("motors", "crossed")
    return Judged(judged.imbalance, "undecided", "undecided", sentence(no.reason), judged.causes, no)


def _sensor_stands_out(weighed: Weighed) -> bool:
    return weighed.cause.get("sensor", 0.0) > 0.5 and weighed.cause["sensor"] > 3 * weighed.cause["none"]


def _even(
    weighed: Weighed, names: Names, imbalance: Estimate, ordered: tuple[CauseLikelihood, ...]
) -> Judged:
    mixed = float(np.median(weighed.mixed))
    cause = "none"
    if (
        abs(mixed) > EVEN_SHAFT_POWER_FRACTION.value
        and float(np.mean(np.sign(weighed.mixed) == np.sign(mixed))) > 0.97
    ):
        cause = "mixed"
    elif _sensor_stands_out(weighed):
        cause = "sensor"
    size = _size(weighed, "sensor") if cause == "sensor" else undecided("motors", "no_cause")
    return Judged(imbalance, "even", cause, even_sentence(cause, imbalance, size, names), ordered, size)


def _size(weighed: Weighed, cause: str) -> Estimate | Undecided:
    """How far the right side differs in the part that is the cause. Endpoint parts share one scale, near full
    command.
    """
    mine = {part.name for part in PARTS if part.cause == cause}
    chosen = np.array([part in mine for part in weighed.part])
    if np.count_nonzero(chosen) < 50:
        return undecided("motors", "no_size")
    return _quantiles(np.expm1(np.clip(weighed.size[chosen], -2.0, 2.0)))


def _quantiles(draws: Floats) -> Estimate:
    low, middle, high = (float(q) for q in np.quantile(draws, [0.025, 0.5, 0.975]))
    return Estimate(middle, low, high, METHOD)
