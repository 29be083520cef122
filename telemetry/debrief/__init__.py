"""`review`: trace + sheet + history → Review, the one result object."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from telemetry.analysis import capacity as capacity_analysis
from telemetry.analysis import current as current_analysis
from telemetry.analysis import ending as ending_analysis
from telemetry.analysis import flights as flights_analysis
from telemetry.analysis import motors as motors_analysis
from telemetry.analysis import pack as pack_analysis
from telemetry.analysis import radio as radio_analysis
from telemetry.comparison.bench import judge_bench
from telemetry.comparison.contradiction import contradictions
from telemetry.comparison.residuals import compare
from telemetry.comparison.results import Comparison
from telemetry.debrief.results import NO_SHEET, FlightReview, OwnerSaid, Review
from telemetry.debrief.timing import (
    flown_with,
    next_timer,
    raised_by,
    stop_of,
    timer_after,
    timer_with,
    unsettled,
    withheld,
)
from telemetry.errors import BadUse
from telemetry.estimate import Estimate
from telemetry.findings import Results, judge, with_findings
from telemetry.findings.judged import judged
from telemetry.history import PastFlight
from telemetry.importers.alignment import align
from telemetry.made import made_by
from telemetry.prediction import predict
from telemetry.put_back import flown_on, put_backs
from telemetry.season.open_checks import OpenCheck, still_standing
from telemetry.sheet import Sheet
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals, cleaned, in_sheet_terms, signals_of
from telemetry.trace import Flight, Trace

__all__ = [
    "FlightReview",
    "OwnerSaid",
    "Review",
    "flown_with",
    "next_timer",
    "raised_by",
    "review",
    "timer_with",
]


def review(
    traces: Trace | Sequence[Trace],
    sheet: Sheet | Setup | None = None,
    history: Sequence[PastFlight] | None = None,
    *,
    configuration: str | None = None,
    pack: str | None = None,
    bench: bool = False,
    standing: Sequence[OpenCheck] = (),
    said: Mapping[int, OwnerSaid] | None = None,
) -> Review:
    """Review every flight of a log.

    Parameters
    ----------
    traces : one trace, or several recorders' of one flight; the first sets the clock.
    sheet : the set-up sheet, or one set-up of it. Without it, what needs none is given.
    history : earlier flights; the one reviewed must not stand among them.
    configuration, pack : names in the sheet; None is the sheet as it stands.
    bench : the log is a bench run, whatever it looks like.
    standing : stops and checks of earlier flights that still stand for what the set-up carries.
    said : what the owner said of single flights, by their place in the log from 0.

    Raises
    ------
    BadUse : an unknown configuration or pack, or one named without a sheet.
    BadLog : several traces that share nothing to put them on one clock.
    """
    setup = _setup_of(sheet, configuration, pack)
    lone_motor = setup is not None and setup.names_motors and len(setup.positions) == 1
    trace = traces if isinstance(traces, Trace) else align(traces, lone_motor=lone_motor)
    if setup is not None:
        trace = in_sheet_terms(trace, setup)
    trace = cleaned(trace)
    given = tuple(history or ())
    prediction = predict(setup) if setup is not None else NO_SHEET
    made = made_by(setup, trace.sources, given, bench=bench)
    found = Review(trace, (), setup, prediction, given, made)
    carried, told = tuple(standing), said or {}
    for place, flight in enumerate(flights_analysis.find(trace, bench=bench)):
        one = _review_flight(found, flight, carried, told.get(place, OwnerSaid()))
        found = replace(found, flights=(*found.flights, one))
        if one.said.counts:
            carried = (*one.standing, *unsettled(one))
    return found


def _setup_of(sheet: Sheet | Setup | None, configuration: str | None, pack: str | None) -> Setup | None:
    if isinstance(sheet, Setup):
        return sheet
    if sheet is None:
        if configuration or pack:
            raise BadUse(
                "a configuration or pack was named without a set-up sheet", "Give the sheet with --sheet."
            )
        return None
    return sheet.setup(configuration, pack)


def _review_flight(
    so_far: Review, flight: Flight, standing: Sequence[OpenCheck], said: OwnerSaid
) -> FlightReview:
    setup = so_far.setup
    signals = signals_of(so_far.trace, flight)
    capacity_mah = setup.pack.capacity_mah if setup is not None else None
    pack = _battery(signals, setup, _begun(so_far, flight))
    radio = radio_analysis.analyse(signals, supply_v=setup.receiver_supply_v if setup else None)
    ending = ending_analysis.analyse(signals)
    put_back = put_backs(flown_on(so_far.history, setup.pack if setup else None))
    capacity = capacity_analysis.analyse(signals, capacity_mah=capacity_mah, put_back=put_back)
    current = _load(signals, setup)
    motors = motors_analysis.analyse(signals, drives=setup.drives if setup else ())
    comparison = Comparison(NO_SHEET) if setup is None else compare(signals, setup, pack=pack)
    bench = judge_bench(flight, motors, current, pack, comparison.residuals, setup, signals)
    against = contradictions(signals, setup) if setup is not None else ()
    results = Results(
        signals,
        pack,
        capacity,
        current,
        motors,
        bench,
        comparison,
        NO_SHEET,
        setup,
        against,
        radio,
        ending,
        settled=said.settled,
    )
    topics = judged(results)
    verdicts = judge(results)
    one = FlightReview(
        flight,
        pack,
        capacity,
        current,
        motors,
        with_findings(bench, verdicts.findings),
        NO_SHEET,
        comparison,
        "",
        (),
        verdicts.findings,
        signals,
        verdicts.decision,
        verdicts.open,
        radio,
        ending,
        topics,
        still_standing(standing, topics),
        said,
    )
    return _with_timer(replace(so_far, flights=(*so_far.flights, one)), one, results)


def _with_timer(found: Review, one: FlightReview, results: Results) -> FlightReview:
    """The flight with the timer that its own findings and all that stands leave, and what is said of both."""
    timer = timer_after(found, one)
    earlier = stop_of(one.standing)
    verdicts = judge(replace(results, timer=timer, withheld=withheld(earlier).reason if earlier else ""))
    return replace(
        one,
        timer=timer,
        headline=verdicts.headline,
        answers=verdicts.answers,
        findings=verdicts.findings,
        decision=verdicts.decision,
        open=verdicts.open,
    )


def _begun(so_far: Review, flight: Flight) -> Estimate | None:
    """What the flight before left, where it is of the same log and nothing came between."""
    before = so_far.flights[-1] if so_far.flights else None
    if before is None or before.flight.end_s < flight.start_s:
        return None
    left = before.pack.charge_left_fraction
    return left if isinstance(left, Estimate) else None


def _battery(signals: Signals, setup: Setup | None, begun: Estimate | None) -> pack_analysis.Pack:
    if setup is None:
        return pack_analysis.analyse(signals, chemistry=None, begun=begun)
    pack = setup.pack
    return pack_analysis.analyse(
        signals,
        cell_count=pack.cells,
        capacity_mah=pack.capacity_mah,
        name=pack.name,
        chemistry=pack.chemistry,
        begun=begun,
    )


def _load(signals: Signals, setup: Setup | None) -> current_analysis.Current:
    if setup is None:
        return current_analysis.analyse(signals)
    return current_analysis.analyse(
        signals,
        ratings=setup.ratings(),
        leads=setup.leads,
        positions=setup.positions,
        capacity_mah=setup.pack.capacity_mah,
    )
