"""Building findings and answers out of templates and values."""

from __future__ import annotations

from typing import Any

from telemetry.estimate import Estimate
from telemetry.findings.types import Answer, Finding
from telemetry.sentences import say, words

SEVERITIES = ("stop", "check", "note")


def finding(severity: str, key: str, subject: str, **values: Any) -> Finding:
    """A finding from its template in `sentences/`."""
    title = say("findings", key, "title", **values)
    action = say("findings", key, "action", **values)
    why = say("findings", key, "why", **values) if "why" in words()["findings"][key] else ""
    return Finding(
        severity,
        key,
        subject,
        values,
        f"{title} {action}",
        say("findings", key, "evidence", **values),
        title,
        why,
    )


def answer(question: str, verdict: str, template: str = "", **values: Any) -> Answer:
    """One of the five answers from its template, which is the verdict's own unless named."""
    path = ("answers", question, template or verdict)
    short = say(*path, "short", **values)
    return Answer(question, verdict, f"{short} {say(*path, 'rest', **values)}", short)


def bounds(estimate: Estimate) -> dict[str, Any]:
    """The three figures of an estimate, as templates name them."""
    return {"value": estimate.value, "low": estimate.low, "high": estimate.high}


def capital(text: str) -> str:
    """The text with its first letter raised."""
    return text[:1].upper() + text[1:]


def sentence(clause: str) -> str:
    """A clause as a sentence: first letter raised, one full stop."""
    return capital(clause.strip().rstrip(".")) + "."


def window_words(window_s: float) -> str:
    """How long a rating may last."""
    return "steadily" if window_s >= 30.0 else f"for {window_s:g} s"
