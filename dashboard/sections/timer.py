"""Section Timer: the alarm, what it rests on, and the fan of likely next flights."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from dashboard.drawings.charge import futures
from dashboard.figures import clock, interval, number, spoken
from dashboard.plots import Plots
from dashboard.sections.parts import Piece, caution, note, plot, row, sentence
from dashboard.texts import said, say
from telemetry.debrief import FlightReview, Review
from telemetry.debrief.packs import PackReview
from telemetry.estimate import Undecided
from telemetry.history import PastFlight
from telemetry.season.pack_places import pack_words
from telemetry.season.timer import Timer
from telemetry.trace import Samples


def flown(flight: FlightReview) -> Samples | None:
    """Charge drawn since throttle-up, over time since power on; None without a current. [s, mAh]"""
    signals = next((p.signals for p in flight.packs if _limits(p, flight)), flight.signals)
    powered, flow = signals.powered, signals.current
    if powered is None or isinstance(flow, Undecided):
        return None
    time_s = flow.within(powered).time_s
    charge_mah = flow.charge_at(time_s)
    return Samples(time_s, charge_mah - charge_mah[0])


def section(
    review: Review,
    flight: FlightReview,
    plots: Plots,
    *,
    past: Sequence[PastFlight] = (),
    controls: Sequence[Component] = (),
) -> Component:
    """What timer is safe next, with the cautions beside it."""
    timer = flight.timer
    place, careful = say("place.timer"), caution(say("timer.caution"))
    if isinstance(timer, Undecided):
        return row(
            "timer",
            place,
            say("verdict.undecided"),
            [html.H2(say("timer.heading_undecided")), html.P(sentence(timer.reason))],
            notes=[careful],
        )
    powered = flight.flight.powered
    start_s = 0.0 if isinstance(powered, Undecided) else powered.start_s
    drawn = flown(flight)
    shown = plots.moving(
        "futures",
        lambda view: futures(timer, drawn, start_s=start_s, past=past, narrow=view.narrow),
        timed=False,
    )
    main = [html.H2(heading(timer)), html.P(lead(timer)), *_of_packs(flight, timer), *controls, plot(shown)]
    return row(
        "timer", place, say("timer.full_pack", alarm=clock(timer.alarm_s)), main, notes=[careful, how(timer)]
    )


def _limits(pack: PackReview, flight: FlightReview) -> bool:
    """Whether a pack is the one that the timer speaks of."""
    return not isinstance(flight.timer, Undecided) and pack.pack.name == flight.timer.pack


def _of_packs(flight: FlightReview, timer: Timer) -> list[Component]:
    """What each pack alone would allow, where each motor has one."""
    each = [
        say("timer.of_one_pack", alarm=spoken(one.timer.alarm_s), pack=pack_words(one.place))
        for one in flight.packs
        if not isinstance(one.timer, Undecided)
    ]
    return [html.P(say("timer.of_packs", each=", ".join(each), pack=timer.pack))] if each else []


def heading(timer: Timer) -> str:
    """The timer in one line."""
    return say(
        "timer.heading",
        alarm=spoken(timer.alarm_s),
        starts=said(f"timer.{timer.starts}", timer.starts),
        confidence=number(100 * timer.confidence),
    )


def lead(timer: Timer) -> list[Piece]:
    """What the alarm promises and what it rests on."""
    odds = number(1 / max(1 - timer.confidence, 1e-6))
    words = say(
        "timer.lead",
        landing=spoken(timer.landing_allowance_s),
        reserve=number(100 * timer.reserve_fraction),
        odds=odds,
    )
    words += " " + say("timer.then", mah=number(timer.consumed_alarm_mah))
    if not isinstance(timer.loaded_cell_alarm_v, Undecided):
        words += say("timer.voltage", v=number(timer.loaded_cell_alarm_v, 2))
    if not isinstance(timer.now, Undecided):
        left = number(100 * timer.now.from_charge_fraction)
        words += " " + say("timer.now", left=left, alarm=spoken(timer.now.alarm_s))
    return [words, " ", sentence(say("timer.weakest", what=timer.weakest_assumption))]


def _left_out(timer: Timer) -> list[str]:
    count = timer.flights_left_out
    return [say(f"timer.left_out_{'one' if count == 1 else 'many'}", count=count)] if count else []


def how(timer: Timer) -> Component:
    """The note beside the timer."""
    flights = (
        say("timer.flight_none")
        if timer.flights_used == 0
        else say("timer.flight_one")
        if timer.flights_used == 1
        else say("timer.flight_many", count=timer.flights_used)
    )
    rate = timer.rate_mah_per_min
    first = say(
        "timer.how_1",
        flights=flights,
        rate=number(rate.value),
        interval=interval(rate, 0),
        usable=number(timer.usable_mah),
        reserve=number(100 * timer.reserve_fraction),
    )
    return note(
        "how-timer",
        say("timer.how"),
        [
            first,
            say(
                "timer.how_2",
                limit=said(f"timer.limit_{timer.limited_by}", timer.limited_by),
                reason=timer.limit_reason,
            ),
            *_left_out(timer),
            sentence(rate.method),
        ],
        opened=True,
    )
