"""Section Pair: left against right, and why."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard.drawings import pair as drawn
from dashboard.figures import clock
from dashboard.plots import Plots
from dashboard.sections.parts import (
    Piece,
    caution,
    figure,
    note,
    of_drive,
    plot,
    row,
    sentence,
    table,
    toleranced,
    undecided,
)
from dashboard.texts import said, say
from telemetry.analysis.motors import Motors, Pair
from telemetry.debrief import FlightReview, Review
from telemetry.estimate import Estimate, Undecided
from telemetry.sheet.setup import Setup


def section(review: Review, flight: FlightReview, plots: Plots) -> Component:
    """Whether both motors of each pair pull evenly."""
    motors = flight.motors
    answer = next((a for a in flight.answers if a.question == "pair"), None)
    verdict = said(f"verdict.{answer.verdict}", answer.verdict) if answer else ""
    main: list[Piece] = []
    for number_, pair in enumerate(motors.pairs):
        main += _pair(pair, flight, review.setup, plots, number_)
    if not motors.pairs:
        single = len(motors.positions) == 1
        main = [html.H2(say("pair.heading_single" if single else "pair.heading_undecided"))]
        if answer and not single:
            main.append(html.P(answer.sentence.removeprefix(answer.short).strip() or answer.sentence))
    main.append(_events(motors))
    notes = [
        note("how-imb", say("pair.how"), [say("pair.how_1"), say("pair.how_2")]),
        caution(of_drive(review.setup, say("pair.caution"))),
    ]
    return row("pair", say("place.pair"), verdict, main, notes=notes)


def _pair(pair: Pair, flight: FlightReview, setup: Setup | None, plots: Plots, place: int) -> list[Piece]:
    name = "pair" if place == 0 else f"pair-{place + 1}"
    left, right = (f"{p}".replace("_", " ") for p in (pair.left, pair.right))
    mirrored = plots.moving(
        name,
        lambda view: drawn.mirrored(
            pair, flight.flight, flight.current, flight.motors.events, narrow=view.narrow, window=view.window
        ),
    )
    clouds = [
        html.Figure(p)
        for q in ("current_a", "rpm")
        if (p := plots.still(lambda view, q=q: drawn.against_command(pair, q))) is not None
    ]  # type: ignore[misc]
    fans = setup is not None and setup.ducted
    causes = plots.still(lambda view: drawn.causes(pair, ducted=fans))
    return [
        html.H2(_heading(pair)),
        html.P(_sentence(pair)),
        None if pair.since_s is None else html.P(say("pair.since", at=clock(pair.since_s)), className="fine"),
        plot(mirrored, say("pair.caption", left=left, right=right)),
        html.Div(clouds, className="pair2") if clouds else None,
        html.P(say("pair.command_caption"), className="fine") if clouds else None,
        html.Div(
            [
                _ratios(pair),
                html.Figure([html.P(say("draw.causes"), className="lettering"), causes])
                if causes is not None
                else "",
            ],
            className="pair2",
        ),
    ]


def _heading(pair: Pair) -> str:
    if pair.verdict == "uneven" and isinstance(pair.imbalance_fraction, Estimate):
        return say("pair.heading_uneven", side=pair.more.replace("_", " "))
    return say("pair.heading_even" if pair.verdict == "even" else "pair.heading_undecided")


def _sentence(pair: Pair) -> list[Piece]:
    words: list[Piece] = [sentence(pair.reason)] if pair.reason else []
    if isinstance(pair.imbalance_fraction, Estimate):
        words += [
            " ",
            sentence(say("pair.shaft")).rstrip("."),
            " ",
            *figure(pair.imbalance_fraction.scaled(100), "%", "how-imb", plus=True, decimals=1),
            ".",
        ]
    elif not pair.reason:
        words.append(undecided(pair.imbalance_fraction))
    return words


def _ratios(pair: Pair) -> Component:
    rows: list[list[Piece]] = [
        [say("pair.current"), toleranced(pair.current_ratio, "how-imb", decimals=3)],
        [say("pair.speed"), toleranced(pair.rpm_ratio, "how-imb", decimals=3)],
    ]
    if isinstance(pair.imbalance_fraction, Estimate):
        rows.append(
            [
                say("pair.shaft_difference"),
                toleranced(pair.imbalance_fraction.scaled(100), "how-imb", decimals=1),
            ]
        )
    return table([say("pair.against"), say("pair.ratio")], rows, say("pair.against"), right=(1,), spaced=True)


def _events(motors: Motors) -> Component | None:
    if isinstance(motors.events, Undecided):
        return html.P(undecided(motors.events), className="fine") if motors.positions else None
    if not motors.events:
        return html.P(say("pair.no_events"), className="fine") if motors.positions else None
    rows = [
        say(
            "pair.event_row",
            what=sentence(drawn.event_name(e)).rstrip("."),
            motor=e.motor.replace("_", " "),
            start=clock(e.start_s),
            length=f"{e.end_s - e.start_s:.1f}",
        )
        for e in motors.events
    ]
    return html.Div([html.H3(say("pair.events")), html.Ul([html.Li(r) for r in rows])], className="happened")
