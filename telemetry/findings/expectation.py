"""Did it do what was predicted, and what timer is safe?"""

from __future__ import annotations

from typing import Any

from telemetry.comparison.results import Residual
from telemetry.estimate import Undecided
from telemetry.findings.ending import cut_off_words
from telemetry.findings.types import Answer, Finding, Results
from telemetry.findings.words import answer, finding
from telemetry.quantities import fed_motor
from telemetry.season.pack_places import pack_words
from telemetry.season.timer import Timer
from telemetry.sentences import MINUS, capital, counted, say, sentence

UNITS = {
    "current_a": ("A", 1),
    "pack_voltage_v": ("V", 2),
    "cell_voltage_v": ("V", 2),
    "rpm": ("rpm", 0),
    "thrust_n": ("N", 1),
    "consumed_mah": ("mAh", 0),
}
"""Unit and decimals with which a predicted quantity is said."""


def answer_prediction(results: Results) -> Answer:
    """Kept, explained, missed or undecided."""
    residuals = results.comparison.residuals
    if isinstance(residuals, Undecided):
        return answer("prediction", "undecided", reason=capital(residuals.reason))
    if not residuals:
        return answer(
            "prediction", "undecided", reason=capital(say("undecided", "findings", "nothing_measured"))
        )
    worst = max(residuals, key=_badness)
    kept = sum(r.kept for r in residuals)
    counts: dict[str, Any] = {"kept": kept, "total": len(residuals)}
    if kept == len(residuals):
        return answer("prediction", "kept", **counts, **_values(worst))
    if all(r.kept or r.explained_by for r in residuals):
        return answer("prediction", "explained", **counts, **_values(worst))
    worst = max((r for r in residuals if not r.kept and not r.explained_by), key=_badness)
    return answer("prediction", "missed", **counts, **_values(worst))


def answer_timer(results: Results) -> Answer:
    """Set or undecided. A set one says what this flight left untold: a flight whose log does not show both
    its ends is no evidence for it, and cells that could not be compared may hide a weak one.
    """
    timer, flight, weak = results.timer, results.flight, _weak_cell(results)
    if isinstance(timer, Undecided):
        return answer("timer", "undecided", reason=capital(timer.reason))
    values = _timer_values(timer)
    limits = next((place for place, one in results.packs.items() if one.pack.name == timer.pack), "")
    if limits:
        limited = values["limited"]
        values["limited"] = say("timer", "limited_in", limited=limited, pack=pack_words(limits))
    values["cells"] = say("timer", "cells_untold", reason=weak.reason) if isinstance(weak, Undecided) else ""
    if flight.cut_off == "none" or flight.is_bench or flight.is_taxi:
        return answer("timer", "set", **values)
    alone = counted("flights_alone", count=timer.flights_used)
    return answer("timer", "set", "set_unseen", how=cut_off_words(flight), alone=alone, **values)


def _weak_cell(results: Results) -> int | Undecided | None:
    """The weak cell, undecided where it is of any pack."""
    packs = (results, *results.packs.values())
    return next((p.pack.weak_cell for p in packs if isinstance(p.pack.weak_cell, Undecided)), None)


def find_expectation(results: Results, *, far: float = 2.0) -> list[Finding]:
    """Residuals nobody explained; a run-up's are items of its own.

    Parameters
    ----------
    far : half-widths of its 95 % interval that a figure must lie off for a check. The worst of a dozen lies
        up to 1.5 off by chance (Bonferroni's correction), and a taxi run is not what is predicted.
    """
    found: list[Finding] = []
    residuals = results.comparison.residuals
    if not isinstance(residuals, Undecided) and results.bench is None:
        missed = [r for r in residuals if not r.kept]
        if missed:
            worst = max(missed, key=_badness)
            surely = _badness(worst) > far and not results.flight.is_taxi
            told = "prediction_explained" if worst.explained_by else "prediction"
            found.append(
                finding(
                    "prediction_missed",
                    say("quantities", worst.quantity),
                    "check" if surely and not worst.explained_by else "note",
                    action=say("actions", told if surely else "prediction_near"),
                    **_values(worst),
                )
            )
    return found


def quantity_words(residual: Residual) -> str:
    """What was predicted, in words: "mean current", "right speed at 50 % throttle"."""
    quantity = say("quantities", residual.quantity)
    if residual.position:
        place = residual.position
        if residual.quantity == "pack_voltage_v":
            place = fed_motor(place)
        quantity = say("statistics", "of_motor", position=place, quantity=quantity)
    return say(
        "statistics", residual.statistic, quantity=quantity, throttle=residual.throttle_fraction or 0.0
    )


def _badness(residual: Residual) -> float:
    half = max((residual.high - residual.low) / 2, 1e-9)
    return abs(residual.measured - residual.predicted) / half


def _values(residual: Residual) -> dict[str, Any]:
    unit, decimals = UNITS.get(residual.quantity, ("", 2))
    figures = {
        f"{k}_text": f"{getattr(residual, k):.{decimals}f} {unit}".strip().replace("-", MINUS)
        for k in ("measured", "low", "high")
    }
    explained = sentence(residual.explained_by) if residual.explained_by else ""
    return {
        "quantity": quantity_words(residual),
        "residual": residual.residual_fraction,
        "explained": explained.rstrip("."),
        **figures,
    }


def _timer_values(timer: Timer) -> dict[str, Any]:
    return {
        "alarm_s": timer.alarm_s,
        "starts": say("starts", timer.starts),
        "confidence": timer.confidence,
        "reserve": timer.reserve_fraction,
        "flights_words": counted("flights", count=timer.flights_used),
        "limited": say("limited_by", timer.limited_by),
    }
