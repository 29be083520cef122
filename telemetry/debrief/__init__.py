"""`review`: trace + sheet + history → Review, the one result object."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from telemetry.analysis import capacity as capacity_analysis
from telemetry.analysis import current as current_analysis
from telemetry.analysis import ending as ending_analysis
from telemetry.analysis import flights as flights_analysis
from telemetry.analysis import motors as motors_analysis
from telemetry.analysis import pack as pack_analysis
from telemetry.analysis import radio as radio_analysis
from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current
from telemetry.analysis.motors import Motors
from telemetry.analysis.pack import Pack
from telemetry.analysis.radio import Radio
from telemetry.comparison.bench import judge_bench
from telemetry.comparison.contradiction import contradictions
from telemetry.comparison.residuals import compare
from telemetry.comparison.results import Comparison
from telemetry.debrief.packs import (
    PackReview,
    joined_capacity,
    joined_comparison,
    joined_current,
    own_ratings,
    setup_of_pack,
    with_timers,
)
from telemetry.debrief.results import NO_SHEET, FlightReview, OwnerSaid, Review, said_of_fans
from telemetry.debrief.timing import (
    flown_with,
    next_timer,
    raised_by,
    stop_of,
    timer_after,
    timer_with,
    timers_after,
    unsettled,
    withheld,
)
from telemetry.errors import BadUse
from telemetry.estimate import Estimate, value_of
from telemetry.finding_table import SEVERITIES
from telemetry.findings import Results, found_in_pack, judge, with_findings
from telemetry.findings.bench import of_pack
from telemetry.findings.judged import judged
from telemetry.history import PastFlight
from telemetry.importers.alignment import align
from telemetry.made import made_by
from telemetry.prediction import predict
from telemetry.put_back import flown_on, put_backs
from telemetry.season.open_checks import OpenCheck, still_standing
from telemetry.season.pack_places import pack_words
from telemetry.sentences import say
from telemetry.sheet import Sheet
from telemetry.sheet.setup import Rating, Setup
from telemetry.signals import (
    Signals,
    cleaned,
    in_sheet_terms,
    in_terms_of_packs,
    of_the_aircraft,
    packs_of,
    signals_of,
)
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
    trace = in_terms_of_packs(cleaned(trace), setup)
    given = tuple(history or ())
    prediction = predict(setup) if setup is not None else NO_SHEET
    made = made_by(setup, trace.sources, given, bench=bench)
    found = Review(trace, (), setup, prediction, given, made)
    carried, told = tuple(standing), said or {}
    fed = packs_of(trace, setup)
    aircraft = of_the_aircraft(trace, fed)
    for place, flight in enumerate(flights_analysis.find(aircraft, bench=bench)):
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
    signals = signals_of(so_far.trace, flight, packs=packs_of(so_far.trace, setup))
    radio = radio_analysis.analyse(signals, supply_v=setup.receiver_supply_v if setup else None)
    motors = motors_analysis.analyse(signals, drives=setup.drives if setup else ())
    parts = {place: _pack_results(so_far, signals, place, radio, motors, said) for place in signals.packs}
    pack, capacity, current, comparison = (
        _of_all(parts, signals, so_far) if parts else _of_one(so_far, signals, setup, _begun(so_far, flight))
    )
    bench = judge_bench(flight, motors, current, pack, comparison.residuals, setup, signals)
    bench = of_pack(bench, next((place for place, own in parts.items() if own.pack is pack), ""))
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
        _against(signals, setup),
        radio,
        ending_analysis.analyse(signals),
        settled=said.settled,
        packs=parts,
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
        results.ending,
        topics,
        still_standing(standing, topics),
        said,
        packs=tuple(_pack_review(place, own) for place, own in parts.items()),
    )
    return _with_timer(replace(so_far, flights=(*so_far.flights, one)), one, results)


def _pack_review(place: str, own: Results) -> PackReview:
    return PackReview(
        place, own.signals, own.setup, own.pack, own.capacity, own.current, own.comparison, NO_SHEET
    )


def _pack_results(
    so_far: Review, whole: Signals, place: str, radio: Radio, motors: Motors, said: OwnerSaid
) -> Results:
    """One pack that feeds one motor: all that is analysed of a single pack."""
    signals, setup = whole.packs[place], setup_of_pack(so_far.setup, place)
    before = _begun(so_far, whole.flight, place)
    ratings = own_ratings(so_far.setup, place)
    found = _of_one(so_far, signals, setup, before, ratings=ratings)
    against = contradictions(signals, setup) if setup is not None else ()
    return Results(
        signals,
        found.pack,
        found.capacity,
        found.current,
        motors,
        None,
        found.comparison,
        NO_SHEET,
        setup,
        against,
        radio,
        settled=said.settled,
    )


def _against(signals: Signals, setup: Setup | None) -> tuple[str, ...]:
    """Why log and sheet cannot belong together, of each pack that feeds one motor too."""
    if setup is None:
        return ()
    found = list(contradictions(signals, setup))
    for place, own in signals.packs.items():
        share = setup_of_pack(setup, place)
        if share is not None:
            found += [say("of_pack", pack=pack_words(place), text=c) for c in contradictions(own, share)]
    return tuple(found)


class _OfAPack(NamedTuple):
    """What is analysed of a pack and all that it feeds."""

    pack: Pack
    capacity: Capacity
    current: Current
    comparison: Comparison


def _of_one(
    so_far: Review,
    signals: Signals,
    setup: Setup | None,
    begun: Estimate | None,
    *,
    ratings: Sequence[Rating] | None = None,
) -> _OfAPack:
    """One pack; `ratings` are those that it is judged by, all of the set-up by default."""
    pack = _battery(signals, setup, begun)
    put_back = put_backs(flown_on(so_far.history, setup.pack if setup else None))
    capacity_mah = setup.pack.capacity_mah if setup is not None else None
    capacity = capacity_analysis.analyse(signals, capacity_mah=capacity_mah, put_back=put_back)
    comparison = Comparison(NO_SHEET) if setup is None else compare(signals, setup, pack=pack)
    return _OfAPack(pack, capacity, _load(signals, setup, ratings), comparison)


def _of_all(parts: Mapping[str, Results], whole: Signals, so_far: Review) -> _OfAPack:
    """All packs together: the one that needs action first, and the sums."""
    setup = so_far.setup
    packs = [_pack_review(place, own) for place, own in parts.items()]
    first = min(parts.values(), key=_urgency)
    capacity = joined_capacity(capacity_analysis.analyse(whole), packs, setup.capacity_mah if setup else None)
    current = joined_current(_load(whole, setup), packs)
    return _OfAPack(first.pack, capacity, current, joined_comparison(packs))


def _urgency(own: Results) -> tuple[int, float]:
    """Which pack needs action first: by its gravest finding, then by what it has left."""
    worst = next((f.severity for f in found_in_pack(own)), SEVERITIES[-1])
    left = value_of(own.pack.charge_left_fraction)
    return SEVERITIES.index(worst), 1.0 if left is None else left


def _with_timer(found: Review, one: FlightReview, results: Results) -> FlightReview:
    """The flight with the timer that its own findings and all that stands leave, and what is said of both."""
    timer = timer_after(found, one)
    earlier = stop_of(one.standing)
    verdicts = judge(replace(results, timer=timer, withheld=withheld(earlier).reason if earlier else ""))
    made = replace(
        one,
        timer=timer,
        packs=with_timers(one.packs, timers_after(found, one)),
        headline=verdicts.headline,
        answers=verdicts.answers,
        findings=verdicts.findings,
        decision=verdicts.decision,
        open=verdicts.open,
    )
    return said_of_fans(made) if found.setup is not None and found.setup.ducted else made


def _begun(so_far: Review, flight: Flight, place: str = "") -> Estimate | None:
    """What the flight before left, where it is of the same log and nothing came between; in the pack at
    `place` where each motor has its own.
    """
    before = so_far.flights[-1] if so_far.flights else None
    if before is None or before.flight.end_s < flight.start_s:
        return None
    own = {one.place: one.pack for one in before.packs}
    left = own.get(place, before.pack).charge_left_fraction
    return left if isinstance(left, Estimate) else None


def _battery(signals: Signals, setup: Setup | None, begun: Estimate | None) -> Pack:
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


def _load(
    signals: Signals, setup: Setup | None, ratings: Sequence[Rating] | None = None
) -> current_analysis.Current:
    if setup is None:
        return current_analysis.analyse(signals)
    return current_analysis.analyse(
        signals,
        ratings=setup.ratings() if ratings is None else ratings,
        leads=setup.leads,
        positions=setup.positions,
        capacity_mah=setup.capacity_mah,
    )
