"""Other wishes for the timer: how sure, what reserve, how long to land; the alarm moves as they do."""

from __future__ import annotations

from typing import Any

from dash import Input, Output, State, callback, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.drawings.charge import futures
from dashboard.figures import number, spoken
from dashboard.renderers.plotly import figure
from dashboard.sections.parts import sentence
from dashboard.sections.timer import flown
from dashboard.texts import say
from dashboard.workspace import workspace
from telemetry.debrief import FlightReview, Review, timer_with
from telemetry.estimate import Undecided
from telemetry.season.timer import Timer

WISHES = (("confidence", 50, 99, 1), ("reserve", 5, 50, 1), ("landing", 0, 240, 5))
"""Which, and from, to and step of each slider."""


def controls(review: Review, flight: FlightReview) -> list[Component]:
    """Three values to type or drag; none without a sheet, a timer or what it rests on."""
    timer = flight.timer
    if isinstance(timer, Undecided) or review.setup is None:
        return []
    at = {
        "confidence": round(100 * timer.confidence),
        "reserve": round(100 * timer.reserve_fraction),
        "landing": round(timer.landing_allowance_s),
    }
    fields = [_field(key, low, high, step, at[key]) for key, low, high, step in WISHES]
    return [
        html.Div(
            [
                html.Div(fields, className="wishes"),
                html.P(id="wished", className="wished", **{"aria-live": "polite"}),
            ],
            className="noprint",
            role="group",
            **{"aria-label": say("timer.try")},
        )
    ]


def _field(key: str, low: int, high: int, step: int, value: int) -> Component:
    name = say(f"timer.{key}")
    typed = dcc.Input(id=f"wish-{key}", type="number", min=low, max=high, step=step, value=value)
    dragged = dcc.Input(id=f"drag-{key}", type="range", min=low, max=high, step=step, value=value)
    return html.Div(
        [
            html.Label([name, typed]),
            html.Label([html.Span(say("timer.drag", what=name), className="vh"), dragged]),
        ],
        className="wish",
    )


@callback(
    Output("wished", "children"),
    Output("futures", "figure"),
    Output("futures", "style"),
    *[Output(f"wish-{k}", "value") for k, *_ in WISHES],
    *[Output(f"drag-{k}", "value") for k, *_ in WISHES],
    *[Input(f"wish-{k}", "value") for k, *_ in WISHES],
    *[Input(f"drag-{k}", "value") for k, *_ in WISHES],
    Input("narrow", "data"),
    State("flight-key", "data"),
)
def _wish(*given: Any) -> tuple[Any, ...]:
    """Work the timer out again; what was dragged is typed, and the other way round."""
    *values, narrow, at = given
    typed, dragged = values[:3], values[3:]
    from_slider = str(ctx.triggered_id).startswith("drag-")
    wishes = (
        [float(d if from_slider else t) for t, d in zip(typed, dragged, strict=True)]
        if all(v not in (None, "") for v in (dragged if from_slider else typed))
        else None
    )
    review = workspace().review(at["key"])
    if wishes is None or (not narrow and ctx.triggered_id is None) or review is None or review.setup is None:
        return (no_update,) * 9
    flight = review.flights[at["place"]]
    if ctx.triggered_id in ("narrow", None):
        return (no_update, *_fan(review, flight, flight.timer, narrow=bool(narrow)), *(no_update,) * 6)
    confidence, reserve, landing_s = (
        min(max(wishes[0], 50), 99.9) / 100,
        min(max(wishes[1], 0), 90) / 100,
        min(max(wishes[2], 0), 600),
    )
    timer = timer_with(
        review, flight, confidence=confidence, reserve_fraction=reserve, landing_allowance_s=landing_s
    )
    shown = [f"{w:g}" for w in wishes]
    if isinstance(timer, Undecided):
        return (sentence(timer.reason), no_update, no_update, *shown, *shown)
    words = [
        say("timer.would_be"),
        html.B(spoken(timer.alarm_s)),
        ", ",
        say("timer.by_then", mah=number(timer.consumed_alarm_mah)),
    ]
    return (words, *_fan(review, flight, timer, narrow=bool(narrow)), *shown, *shown)


def _fan(review: Review, flight: FlightReview, timer: Timer | Undecided, *, narrow: bool) -> tuple[Any, Any]:
    """The drawing of the futures, and its height."""
    if isinstance(timer, Undecided):
        return no_update, no_update
    powered = flight.flight.powered
    start_s = 0.0 if isinstance(powered, Undecided) else powered.start_s
    drawn = futures(timer, flown(flight), start_s=start_s, past=review.history, narrow=narrow)
    return figure(drawn), {"height": f"{drawn.height:g}px"}
