"""What the findings are drawn from, and what they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current
from telemetry.analysis.ending import Ending
from telemetry.analysis.motors import Motors
from telemetry.analysis.pack import Pack
from telemetry.analysis.radio import Radio
from telemetry.comparison.results import Bench, Comparison
from telemetry.estimate import Undecided
from telemetry.season.timer import Timer
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals
from telemetry.trace import Flight, Trace


@dataclass(frozen=True, slots=True)
class Results:
    """One flight, analysed. `contradictions` say why its log and the sheet cannot belong together, `withheld`
    which stop of an earlier flight still stands and leaves no alarm, "" without one, `settled` the keys of
    its stops and checks that the owner has settled. `packs` are the same of each pack that feeds one motor,
    by its position; `pack` is then the one that needs action first.
    """

    signals: Signals
    pack: Pack
    capacity: Capacity
    current: Current
    motors: Motors
    bench: Bench | None
    comparison: Comparison
    timer: Timer | Undecided
    setup: Setup | None
    contradictions: tuple[str, ...] = ()
    radio: Radio = field(default_factory=Radio)
    ending: Ending = field(default_factory=Ending)
    withheld: str = ""
    settled: tuple[str, ...] = ()
    packs: Mapping[str, Results] = field(default_factory=dict)

    @property
    def trace(self) -> Trace:
        """The whole log, cleaned."""
        return self.signals.trace

    @property
    def flight(self) -> Flight:
        """The flight looked at."""
        return self.signals.flight


@dataclass(frozen=True, slots=True)
class Answer:
    """One of the five: question cells, load, pair, prediction or timer. `short` is the part of the sentence
    to read first.
    """

    question: str
    verdict: str
    sentence: str
    short: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What happened, then what to do.

    severity is stop, check or note; `message` is `title` (what happened) and the action;
    `why` is the clause for the headline; `values` are what the sentences were filled with. A `settled` stop
    or check was settled by the owner: it happened, but decides nothing any more.
    """

    severity: str
    key: str
    subject: str
    values: dict[str, Any]
    message: str
    evidence: str
    title: str = ""
    why: str = field(default="", metadata={"json": False})
    settled: bool = False


@dataclass(frozen=True, slots=True)
class Open:
    """What a log leaves open before the next flight: `what` is cells, load, flight, clock or charge."""

    what: str
    reason: str
    of_bench: bool = field(default=False, metadata={"json": False})


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Headline, answers and findings of one flight; `decision` is clear, check, stop or open, and `open`
    holds what makes it so.
    """

    headline: str
    answers: tuple[Answer, ...]
    findings: tuple[Finding, ...]
    decision: str
    open: tuple[Open, ...]
