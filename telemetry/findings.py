"""Results → headline, five answers, findings, most serious first. Keys and values here; the words are in `sentences/`."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current
from telemetry.analysis.motors import Motors
from telemetry.analysis.pack import Pack
from telemetry.comparison.results import Bench, Comparison
from telemetry.estimate import Undecided
from telemetry.season.timer import Timer
from telemetry.sheet.setup import Setup
from telemetry.trace import Flight


@dataclass(frozen=True, slots=True)
class Results:
    """What the findings are drawn from."""

    flight: Flight
    pack: Pack
    capacity: Capacity
    current: Current
    motors: Motors
    bench: Bench | None
    comparison: Comparison
    timer: Timer | Undecided
    setup: Setup | None


@dataclass(frozen=True, slots=True)
class Answer:
    """One of the five: question cells, load, pair, prediction or timer."""

    question: str
    verdict: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Finding:
    """What happened, then what to do. severity: stop, check, note. `values` fill the sentence."""

    severity: str
    key: str
    subject: str
    message: str
    evidence: str
    values: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Headline, answers and findings of one flight."""

    headline: str
    answers: tuple[Answer, ...]
    findings: tuple[Finding, ...]
