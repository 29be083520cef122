"""The one result object, and how JSON carries it."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import Any

from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current
from telemetry.analysis.ending import Ending
from telemetry.analysis.motors import Motors
from telemetry.analysis.pack import Pack
from telemetry.analysis.radio import Radio
from telemetry.comparison.results import Bench, Comparison
from telemetry.debrief.packs import PackReview
from telemetry.estimate import Undecided, plain
from telemetry.findings import Answer, Finding, Open
from telemetry.history import PastFlight
from telemetry.made import MadeBy, made_by
from telemetry.prediction import Prediction
from telemetry.season.open_checks import OpenCheck, listed
from telemetry.season.timer import Timer
from telemetry.sentences import undecided
from telemetry.sentences.fans import of_fans
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals
from telemetry.trace import Flight, Trace

SCHEMA = "sagline.review/1"
NO_SHEET = undecided("log", "no_sheet")
NO_TIME = undecided("log", "no_time")


@dataclass(frozen=True, slots=True)
class OwnerSaid:
    """What the owner said of one flight: the keys of its stops and checks that are settled, and whether it
    counts: one that is removed, or a kept flight once more, is evidence for no timer.
    """

    settled: tuple[str, ...] = ()
    counts: bool = True


@dataclass(frozen=True, slots=True)
class FlightReview:
    """Everything known of one flight.

    `decision` is clear, check, stop or open, and `open` says what makes it so. `judged` are the topics that
    its log was enough to judge, `standing` the stops and checks of earlier flights that it did not settle,
    `said` what the owner said of it. `packs` are those that feed one motor each, () where one feeds all;
    `pack` is then the one that needs action first, `capacity` and `current` are of all together.
    """

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
    signals: Signals
    decision: str
    open: tuple[Open, ...]
    radio: Radio = field(default_factory=Radio)
    ending: Ending = field(default_factory=Ending)
    judged: tuple[str, ...] = ()
    standing: tuple[OpenCheck, ...] = ()
    said: OwnerSaid = field(default_factory=OwnerSaid)
    packs: tuple[PackReview, ...] = ()

    def answer(self, question: str) -> Answer:
        """The answer to cells, load, pair, prediction or timer."""
        return next(a for a in self.answers if a.question == question)


def said_of_fans(one: FlightReview) -> FlightReview:
    """A flight with everything that is said of its drives said of ducted fans."""
    said = ("headline", "answers", "findings", "open", "bench", "motors", "comparison", "timer")
    packs = tuple(
        replace(own, comparison=of_fans(own.comparison), timer=of_fans(own.timer)) for own in one.packs
    )
    return replace(one, packs=packs, **{name: of_fans(getattr(one, name)) for name in said})


@dataclass(frozen=True, slots=True)
class Review:
    """The one result object. Holds its trace; `to_dict` leaves it out.

    `history` are the earlier flights it was given; `made_by` is what made it.
    """

    trace: Trace
    flights: tuple[FlightReview, ...]
    setup: Setup | None = None
    prediction: Prediction | Undecided = NO_SHEET
    history: tuple[PastFlight, ...] = ()
    made_by: MadeBy = field(default_factory=made_by)

    def to_dict(self) -> dict[str, Any]:
        """The object as JSON carries it, schema `sagline.review/1`; every null has its reason in
        `undecided`.
        """
        timed = self.trace.has_clock
        result, missing = plain(
            {
                "made_by": self.made_by,
                "sources": self.trace.sources,
                "duration_s": self.trace.duration_s if timed else NO_TIME,
                "sample_interval_s": self.trace.sample_interval_s if timed else NO_TIME,
                "gaps": self.trace.gaps,
                "flights": [_flight_object(f) for f in self.flights],
            }
        )
        return {"schema": SCHEMA, **result, "undecided": missing}


def _flight_object(one: FlightReview) -> dict[str, Any]:
    flight = one.flight
    return {
        "start_s": flight.start_s,
        "takeoff_s": flight.takeoff_s,
        "landing_s": flight.landing_s,
        "end_s": flight.end_s,
        "takeoff": flight.takeoff,
        "landing": flight.landing,
        "cut_off": flight.cut_off,
        "decision": one.decision,
        "open": one.open,
        "powered": flight.powered,
        "phases": flight.phases,
        "pack": one.pack,
        **({"packs": [_pack_object(p) for p in one.packs]} if one.packs else {}),
        "capacity": one.capacity,
        "current": one.current,
        "motors": one.motors,
        "bench": undecided("log", "no_bench_run") if one.bench is None else one.bench,
        "timer": one.timer,
        "open_checks": listed(one.standing),
        "prediction": one.comparison.residuals,
        "prediction_phases": one.comparison.phases,
        "headline": one.headline,
        "answers": one.answers,
        "findings": one.findings,
        "decisions": sorted(
            {*one.signals.decisions, *(d for p in one.packs for d in p.decisions)},
            key=lambda d: (d.start_s, d.quantity, d.position),
        ),
    }


def _pack_object(one: PackReview) -> dict[str, Any]:
    shown = (f.name for f in fields(one.pack) if f.metadata.get("json", True))
    return {
        "position": one.position,
        **{name: getattr(one.pack, name) for name in shown},
        "capacity": one.capacity,
        "timer": one.timer,
    }
