"""The field card: half a page to print before the flight."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dash import html
from dash.development.base_component import Component

from dashboard.figures import HARD, MINUS, clock, limits, number, spoken
from dashboard.report import document, made_words
from dashboard.sections import expected
from dashboard.sections.parts import of_drive
from dashboard.texts import said, say
from telemetry.estimate import Estimate
from telemetry.made import MadeBy
from telemetry.prediction.results import PredictedFlight, Prediction, Static
from telemetry.quantities import pack_position
from telemetry.season.open_checks import OpenCheck
from telemetry.season.pack_places import pack_words
from telemetry.season.timer import Timer
from telemetry.sheet.setup import PackSetup, Setup

_SIDE_BY_SIDE = (0.5, 1.0)
"""Stick positions that the card has of each pack, as it has no room for more."""


def page(
    prediction: Prediction,
    setup: Setup,
    timer: Timer,
    *,
    made: MadeBy | None = None,
    standing: Sequence[OpenCheck] = (),
) -> str:
    """The card as one self-contained HTML page, 138 × 198 mm; there is none without a timer.

    `made` says what made it, where that is more than the prediction: a timer that knows past flights.
    `standing` are the checks of earlier flights that still stand.
    """
    name = ", ".join(n for n in (setup.name, setup.configuration) if n)
    return document(
        say("card.title", name=name),
        html.Main(sheet(prediction, setup, timer, made=made, standing=standing), id="main"),
        made or prediction.made_by,
        body_class="cardpage",
    )


def sheet(
    prediction: Prediction,
    setup: Setup,
    timer: Timer,
    *,
    made: MadeBy | None = None,
    standing: Sequence[OpenCheck] = (),
) -> Component:
    """The card itself."""
    return html.Article(
        [
            _head(prediction, setup),
            html.Div([_timer(timer, setup), _stops(setup)], className="cbig"),
            *_open_checks(standing),
            *_bench(prediction, setup),
            *_air(prediction),
            *_before(setup),
            _foot(prediction, made or prediction.made_by),
        ],
        className="card",
        **{"aria-label": say("page.card")},
    )


def _head(prediction: Prediction, setup: Setup) -> Component:
    sides = [said(f"position.{one.feeds}", one.feeds.replace("_", " ")) for one in setup.packs] or [""]
    pack = "; ".join(
        f"{side + ' ' if side else ''}{one.name + ', ' if one.name else ''}"
        f"{one.cells}S {number(one.capacity_mah)}{HARD}mAh"
        for side, one in zip(sides, _packs(setup), strict=True)
    )
    air = [
        f"{setup.site.temperature_c:g}{HARD}°C".replace("-", MINUS)
        if setup.site.temperature_c is not None
        else "",
        f"{prediction.air_density_kgm3:.2f}{HARD}kg/m³",
    ]
    day = say("card.day", day=date.today().isoformat())
    return html.Header(
        [
            html.P(", ".join(n for n in (setup.name, setup.configuration) if n), className="ct"),
            html.P(f"{HARD}· ".join([pack, ", ".join(a for a in air if a), day]), className="cs"),
        ]
    )


def _packs(setup: Setup) -> tuple[PackSetup, ...]:
    """Every pack that flies."""
    return tuple(one.pack for one in setup.packs) or (setup.pack,)


def _open_checks(standing: Sequence[OpenCheck]) -> list[Component]:
    """What earlier flights found and nobody has settled."""
    if not standing:
        return []
    lines = [say("list.open_since", title=c.raised.title, flight=c.flight) for c in standing]
    return [html.H2(say("card.open_checks")), html.Ul([html.Li(line) for line in lines], className="ticks")]


def _timer(timer: Timer, setup: Setup) -> Component:
    landed = clock(timer.alarm_s + timer.landing_allowance_s)
    then = say(
        "card.then",
        mah=number(timer.consumed_alarm_mah),
        allowance=spoken(timer.landing_allowance_s),
        landed=landed,
    )
    if setup.packs:
        then = say("card.by_pack", pack=timer.pack, then=then)
    head = say("card.timer_from", starts=said(f"timer.{timer.starts}", timer.starts))
    return html.Div(
        [
            html.Span(head, className="k"),
            html.Span(clock(timer.alarm_s), className="v"),
            html.Span(then, className="k"),
            html.Span(_rests_on(timer), className="k"),
        ],
        className="timer",
    )


def _rests_on(timer: Timer) -> str:
    """What the alarm was worked out from."""
    if timer.flights_used > 1:
        return say("card.rests_many", count=number(timer.flights_used))
    return say("card.rests_one" if timer.flights_used else "card.rests_none")


def _stops(setup: Setup) -> Component:
    """What ends a flight at once, from the sheet's own ratings."""
    floor_v = max((one.reserve.loaded_cell_v for one in setup.packs), default=setup.reserve.loaded_cell_v)
    stops = [[say("card.stop_cell"), html.B(f"{floor_v:.2f}{HARD}V")]]
    ratings, packs = setup.ratings(), {"", *(one.position for one in setup.packs)}
    for position, key in (("", "card.stop_pack"), ("motor", "card.stop_motor")):
        fitting = [
            r
            for r in ratings
            if (r.position in packs if position == "" else r.position not in (*packs, "receiver"))
            and r.window_s >= 30
        ]
        if fitting:
            least = min(fitting, key=lambda r: r.rating_a)
            stops.append(
                [
                    say(key),
                    html.B(f"{number(least.rating_a)}{HARD}A"),
                    f" {say('card.for_seconds', s=number(least.window_s))}",
                ]
            )
    if len(setup.drives) > 1:
        stops.append([say("card.stop_apart")])
    return html.Div(
        [html.P(html.B(say("card.stop_if")), className="k"), html.Ul([html.Li(s) for s in stops])],
        className="cstop",
    )


def _figure(found: Estimate, decimals: int, unit: str = "") -> list[object]:
    return [
        html.B(number(found.value, decimals) + (f"{HARD}{unit}" if unit else "")),
        " ",
        html.Span(limits(found, decimals), className="iv"),
    ]


def _bench(prediction: Prediction, setup: Setup) -> list[Component]:
    """Static figures to compare a run-up with."""
    rows = [_held_still(s) for s in prediction.static if s.motors]
    if prediction.packs:
        rows = [
            _held_still(s, side=one.position)
            for one in prediction.packs
            for s in one.static
            if s.throttle_fraction in _SIDE_BY_SIDE
        ]
    if not rows:
        return []
    head = html.Tr(
        [
            html.Th(of_drive(setup, say(f"card.{k}")), scope="col", className="r" if i else "")
            for i, k in enumerate(("stick", "pack_v", "motor_a", "rpm"))
        ]
    )
    return [
        html.H2(say("card.bench")),
        html.Table([html.Thead(head), html.Tbody(rows)]),
        html.P(say("card.bench_note"), className="fine"),
    ]


def _held_still(s: Static, *, side: str = "") -> Component:
    """One stick position; `side` is the motor's where each has a pack of its own."""
    motor = s.motors[0]
    stick = expected.stick(s)
    if side:
        stick = say("card.of_side", stick=stick, side=said(f"position.{side}", side.replace("_", " ")))
    cells = [_figure(s.pack_voltage_v, 1), _figure(motor.current_a, 1), _figure(motor.rpm, 0)]
    return html.Tr([html.Th(stick, scope="row", className="k"), *(html.Td(c, className="r") for c in cells)])


def _air(prediction: Prediction) -> list[Component]:
    found = [
        (say("card.of_pack", name=name, pack=pack_words(pack_position(one.position))), figure)
        for one in prediction.packs
        for name, figure in _in_air(prediction, one.flight)
    ] or _in_air(prediction, prediction.flight)
    if not found:
        return []
    pairs = [found[i : i + 2] for i in range(0, len(found), 2)]
    rows = [
        html.Tr(
            [
                cell
                for name, figure in pair
                for cell in (html.Th(name, scope="row"), html.Td(figure, className="r"))
            ]
        )
        for pair in pairs
    ]
    return [html.H2(say("card.air")), html.Table(html.Tbody(rows))]


def _in_air(prediction: Prediction, flight: PredictedFlight) -> list[tuple[str, list[object]]]:
    """What one pack, or the only one, gives in the air."""
    takeoff = next((leg for leg in flight.legs if leg.phase == "takeoff"), None)
    found: list[tuple[str, list[object]]] = []
    mean, level = flight.mean_current_a, flight.level_current_a
    steady, words = (mean, "card.mean") if expected.unplanned(prediction) else (level, "card.level")
    if isinstance(steady, Estimate):
        found.append((say(words), _figure(steady, 0, "A")))
    if isinstance(flight.min_pack_voltage_v, Estimate):
        found.append((say("card.lowest_pack"), _figure(flight.min_pack_voltage_v, 1, "V")))
    if takeoff is not None:
        found.append((say("card.takeoff"), _figure(takeoff.current_a, 0, "A")))
    if isinstance(flight.consumed_mah, Estimate):
        found.append((say("card.drawn"), _figure(flight.consumed_mah, 0, "mAh")))
    return found


def _before(setup: Setup) -> list[Component]:
    """What is looked at before a flight. That the failsafe stops the motors, and what to do with one motor
    out, is common practice, no source.
    """
    full = dict.fromkeys(f"{one.full_cell_v - 0.05:.2f}" for one in _packs(setup))
    ticks = [*(say("card.rest", v=v) for v in full), _hands(setup), say("card.failsafe")]
    if len(setup.drives) > 1:
        ticks.append(say("card.one_out"))
    ticks.append(say("card.early"))
    if any(d.controller.reversing for d in setup.drives):
        ticks.append(say("card.reverse"))
    return [
        html.H2(say("card.before")),
        html.Ul([html.Li(t) for t in ticks], className="ticks"),
        html.P(say("card.rules"), className="fine"),
    ]


def _hands(setup: Setup) -> str:
    """Which way each propeller turns, where the sheet says it of all."""
    turns = [(d.position, d.rotation) for d in setup.drives if d.rotation is not None]
    if len(turns) < len(setup.drives):
        return of_drive(setup, say("card.hands_unknown"))
    words = ", ".join(
        f"{said(f'position.{position}', position.replace('_', ' '))} {say(f'card.{rotation}')}"
        for position, rotation in turns
    )
    return of_drive(setup, say("card.hands", words=words))


def _foot(prediction: Prediction, made: MadeBy) -> Component:
    open_ones = [expected.assumed_name(a.key) for a in prediction.assumed]
    assumed = (
        say(
            "card.assumed",
            what=", ".join(open_ones[:3])
            + (say("draw.and_more", count=len(open_ones) - 3) if len(open_ones) > 3 else ""),
        )
        if open_ones
        else ""
    )
    words = [say("page.intervals"), assumed, made_words(made)]
    return html.Footer(" ".join(filter(None, words)), className="cf")
