"""Building findings and answers out of templates and values."""

from __future__ import annotations

from typing import Any

from telemetry.estimate import Estimate
from telemetry.finding_table import KINDS
from telemetry.findings.types import Answer, Finding
from telemetry.sentences import say, words


def finding(key: str, subject: str, severity: str = "", /, **values: Any) -> Finding:
    """A finding from its row in `finding_table` and its template in `sentences/`.

    Parameters
    ----------
    severity : which of the row's severities it is; need not be given where there is one.

    Raises
    ------
    ValueError : a severity that the row does not know, or none where it knows several.
    """
    known = KINDS[key].severities
    severity = severity or (known[0] if len(known) == 1 else "")
    if severity not in known:
        raise ValueError(f"{key} is {' or '.join(known)}, not {severity!r}")
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
