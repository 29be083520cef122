"""`review`: trace + sheet + history → Review, the one result object."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from telemetry.analysis import capacity as capacity_analysis
from telemetry.analysis import current as current_analysis
from telemetry.analysis import flights as flights_analysis
from telemetry.analysis import motors as motors_analysis
from telemetry.analysis import pack as pack_analysis
from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current
from telemetry.analysis.motors import Motors
from telemetry.analysis.pack import Pack
from telemetry.comparison.bench import judge_bench
from telemetry.comparison.residuals import compare
from telemetry.comparison.results import Bench, Comparison
from telemetry.errors import BadUse
from telemetry.estimate import Undecided, plain
from telemetry.findings import Answer, Finding, Results, judge
from telemetry.history import PastFlight
from telemetry.importers.alignment import align
from telemetry.prediction import Prediction, predict
from telemetry.season.timer import Timer, timer_for
from telemetry.sheet import Sheet
from telemetry.sheet.setup import Setup
from telemetry.trace import Channel, Flight, Key, Trace

SCHEMA = "sagline.review/1"
NO_SHEET = "no set-up sheet was given"


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

    def answer(self, question: str) -> Answer:
        """The answer to cells, load, pair, prediction or timer."""
        return next(a for a in self.answers if a.question == question)


@dataclass(frozen=True, slots=True)
class Review:
    """The one result object. Holds its trace; `to_dict` leaves it out and is CONTRACT's `sagline.review/1`."""

    trace: Trace
    flights: tuple[FlightReview, ...]
    setup: Setup | None = None
    prediction: Prediction | Undecided = field(default_factory=lambda: Undecided(NO_SHEET))
    history: tuple[PastFlight, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The object as JSON carries it, schema `sagline.review/1`; every null has its reason in `undecided`."""
        result, undecided = plain(
            {
                "sources": self.trace.sources,
                "duration_s": self.trace.duration_s if self.trace.has_clock else Undecided("the log has no time"),
                "sample_interval_s": self.trace.sample_interval_s if self.trace.has_clock else Undecided("the log has no time"),
                "gaps": self.trace.gaps,
                "flights": [_flight_object(f) for f in self.flights],
            }
        )
        return {"schema": SCHEMA, **result, "undecided": undecided}


def _flight_object(one: FlightReview) -> dict[str, Any]:
    flight = one.flight
    return {
        "start_s": flight.start_s,
        "takeoff_s": flight.takeoff_s,
        "landing_s": flight.landing_s,
        "end_s": flight.end_s,
        "powered": flight.powered,
        "phases": flight.phases,
        "pack": one.pack,
        "capacity": one.capacity,
        "current": one.current,
        "motors": one.motors,
        "bench": Undecided("not a bench run") if one.bench is None else one.bench,
        "timer": one.timer,
        "prediction": one.comparison.residuals,
        "headline": one.headline,
        "answers": one.answers,
        "findings": one.findings,
    }


def review(
    traces: Trace | Sequence[Trace],
    sheet: Sheet | Setup | None = None,
    history: Sequence[PastFlight] | None = None,
    *,
    configuration: str | None = None,
    pack: str | None = None,
    bench: bool = False,
) -> Review:
    """Review every flight of a log.

    Parameters
    ----------
    traces : one trace, or several recorders' of one flight; the first sets the clock.
    sheet : the set-up sheet, or one set-up of it. Without it, what needs none is given.
    history : earlier flights; the one reviewed must not stand among them.
    configuration, pack : names in the sheet; None is the sheet as it stands.
    bench : the log is a bench run, whatever it looks like.

    Raises
    ------
    BadUse : an unknown configuration or pack, or one named without a sheet.
    BadLog : several traces that share nothing to put them on one clock.
    """
    setup = _setup_of(sheet, configuration, pack)
    trace = traces if isinstance(traces, Trace) else align(traces)
    trace = _as_the_sheet_names_it(trace, setup)
    rows = tuple(history or ())
    prediction = predict(setup) if setup is not None else Undecided(NO_SHEET)
    flights = flights_analysis.find(trace, bench=bench)
    reviewed: list[FlightReview] = []
    for flight in flights:
        one = _review_flight(trace, flight, setup, prediction, rows)
        rows = (*rows, *_as_history(one, setup))
        reviewed.append(one)
    return Review(trace, tuple(reviewed), setup, prediction, tuple(history or ()))


def _setup_of(sheet: Sheet | Setup | None, configuration: str | None, pack: str | None) -> Setup | None:
    if isinstance(sheet, Setup):
        return sheet
    if sheet is None:
        if configuration or pack:
            raise BadUse("a configuration or pack was named without a set-up sheet", "Give the sheet with --sheet.")
        return None
    return sheet.setup(configuration, pack)


def _as_the_sheet_names_it(trace: Trace, setup: Setup | None) -> Trace:
    """Motors that a recorder numbers, under the side the sheet gives them; commands counted from the sheet's neutral."""
    if setup is None:
        return trace
    sides = {d.logged_as: d.position for d in setup.drives if d.logged_as}
    neutral = next((d.controller.neutral_fraction for d in setup.drives), 0.0)
    channels: dict[Key, Channel] = {}
    for (quantity, position), channel in trace.channels.items():
        side = sides.get(position, position) if quantity != "cell_voltage_v" else position
        values = channel.values
        if quantity == "throttle_fraction" and neutral:
            values = (values - neutral) / (1.0 - neutral)
        channels[(quantity, side)] = replace(channel, position=side, values=values)
    return replace(trace, channels=channels)


def _review_flight(trace: Trace, flight: Flight, setup: Setup | None, prediction: Prediction | Undecided, history: tuple[PastFlight, ...]) -> FlightReview:
    battery = setup.pack if setup is not None else None
    pack = pack_analysis.analyse(
        trace,
        flight,
        cell_count=battery.cells if battery else None,
        capacity_mah=battery.capacity_mah if battery else None,
        name=battery.name if battery else "",
    )
    capacity = capacity_analysis.analyse(trace, flight, capacity_mah=battery.capacity_mah if battery else None)
    current = current_analysis.analyse(trace, flight, ratings=setup.ratings() if setup else ())
    motors = motors_analysis.analyse(trace, flight, drives=setup.drives if setup else ())
    if setup is None or isinstance(prediction, Undecided):
        comparison = Comparison(Undecided(NO_SHEET))
    else:
        comparison = compare(trace, flight, setup, prediction, capacity=capacity, pack=pack)
    bench = judge_bench(flight, motors, current, pack, comparison.residuals, setup) if flight.is_bench else None
    timer = _timer(flight, capacity, setup, prediction, history)
    results = Results(trace, flight, pack, capacity, current, motors, bench, comparison, timer, setup)
    verdicts = judge(results)
    return FlightReview(flight, pack, capacity, current, motors, bench, timer, comparison, verdicts.headline, verdicts.answers, verdicts.findings)


def _timer(flight: Flight, capacity: Capacity, setup: Setup | None, prediction: Prediction | Undecided, history: tuple[PastFlight, ...]) -> Timer | Undecided:
    """The timer of the next flight in this configuration: history and the flight reviewed."""
    if setup is None or isinstance(prediction, Undecided):
        return Undecided("no set-up sheet was given: the pack's capacity and the reserve are not known")
    rows = (*history, *_past(flight, capacity, setup))
    return timer_for(setup, rows, prior=prediction.rate_prior)


def _as_history(one: FlightReview, setup: Setup | None) -> tuple[PastFlight, ...]:
    return _past(one.flight, one.capacity, setup)


def _past(flight: Flight, capacity: Capacity, setup: Setup | None) -> tuple[PastFlight, ...]:
    """The flight as a row of history; nothing from a bench run, a taxi run or without a charge."""
    if flight.is_bench or isinstance(flight.powered, Undecided) or isinstance(capacity.consumed_mah, Undecided):
        return ()
    duration_s = flight.powered.end_s - flight.powered.start_s
    consumed_mah = capacity.consumed_mah.value
    if duration_s <= 0 or consumed_mah <= 0:
        return ()
    return (PastFlight(duration_s, consumed_mah, setup.configuration if setup else "", pack=setup.pack.name if setup else ""),)
