"""`review`: trace + sheet + history → Review, the one result object."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current
from telemetry.analysis.motors import Motors
from telemetry.analysis.pack import Pack
from telemetry.comparison.results import Bench, Comparison
from telemetry.estimate import Undecided
from telemetry.findings import Answer, Finding
from telemetry.prediction.results import Prediction
from telemetry.season.timer import Timer
from telemetry.sheet.setup import Setup
from telemetry.trace import Flight, Trace


@dataclass(frozen=True, slots=True)
class FlightReview:
    """Everything known of one flight."""

    flight: Flight
    pack: Pack
    capacity: Capacity
    current: Current
    motors: Motors
    bench: Bench | None
    timer: Timer | Undecided
    comparison: Comparison
    headline: str
    answers: tuple[Answer, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Review:
    """The one result object. Holds its trace; `to_dict` leaves it out and is CONTRACT's `sagline.review/1`."""

    trace: Trace
    flights: tuple[FlightReview, ...]
    setup: Setup | None = None
    prediction: Prediction | Undecided = field(default_factory=lambda: Undecided("no set-up sheet was given"))

    def to_dict(self) -> dict[str, Any]:
        """The object as JSON carries it."""
        raise NotImplementedError
