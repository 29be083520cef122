"""One flight: the letter, then its evidence."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from dash import (
    ALL,
    ClientsideFunction,
    Input,
    Output,
    State,
    callback,
    clientside_callback,
    ctx,
    dcc,
    html,
    no_update,
)
from dash.development.base_component import Component

from dashboard.chosen import Chosen
from dashboard.figures import clock
from dashboard.pages import drawer, keeping
from dashboard.pages.frame import missing
from dashboard.pages.timer_wishes import controls
from dashboard.plots import Draw, ScreenPlots, View
from dashboard.renderers.plotly import figure
from dashboard.report import over_title
from dashboard.sections import cells, load, log, opening, pair, predicted, timer
from dashboard.texts import say
from dashboard.workspace import called, number_in, workspace
from telemetry.debrief import FlightReview, Review
from telemetry.logbook import KeptFlight

PATH = "/flights/<key>"


def title(key: str = "") -> str:
    """For the window."""
    number = number_in(key)
    return f"{say('flight.dropped') if number is None else say('flight.number', n=number)} · Sagline"


def layout(key: str = "", n: str = "1", **_: str) -> Component:
    """The page of one flight, by its number in the logbook or the id of a drop; `n` is the flight within a
    log.
    """
    review = workspace().review(key)
    if review is None:
        job = workspace().drops.get(key)
        if job is not None and job.state not in ("failed", "done"):
            return missing(say("flight.still_reading"), say("flight.still_reading_more"))
        last = max((f.id for f in workspace().flights()), default=0)
        return missing(
            say("flight.none", n=key[:40]), say("flight.ends_at", n=last) if last else say("flight.none_kept")
        )
    if not review.flights:
        return missing(say("flight.nothing_flown"), say("flight.nothing_flown_more"))
    place = min(max(number_in(n) or 1, 1), len(review.flights)) - 1
    flight = review.flights[place]
    parts = sections(review, flight, ScreenPlots(), key=key, place=place)
    stores = [dcc.Store(id="window"), dcc.Store(id="flight-key", data={"key": key, "place": place})]
    return html.Main(
        [*stores, *parts], id="main", **{"data-earlier": _beside(key, -1), "data-later": _beside(key, 1)}
    )


def _beside(key: str, step: int) -> str:
    """The address of the flight before or after."""
    ids = [f.id for f in reversed(workspace().flights())]
    if not key.isdecimal() or int(key) not in ids:
        return ""
    at = ids.index(int(key)) + step
    return f"/flights/{ids[at]}" if 0 <= at < len(ids) else ""


def sections(review: Review, flight: FlightReview, plots: Any, *, key: str, place: int) -> list[Component]:
    """Every section in order, for whichever kind of plots."""
    kept = workspace().kept(key)
    over = over_title(review, place, number=called(kept) if kept else "", date=kept.date if kept else "")
    bench = predicted.bench(flight, review.setup)
    return [
        opening.opening(review, flight, plots, over=over),
        *([html.P(say("flight.removed"), className="state")] if kept is not None and kept.removed else []),
        *(_siblings(review, key, place)),
        *([bench] if bench is not None else []),
        cells.section(review, flight, plots),
        load.section(review, flight, plots, controls=window_controls(flight)),
        pair.section(review, flight, plots),
        predicted.section(review, flight, plots),
        timer.section(review, flight, plots, past=review.history, controls=controls(review, flight)),
        log.section(review, actions=_actions(key, kept)),
        *([drawer.section(kept)] if kept is not None else []),
    ]


def _siblings(review: Review, key: str, place: int) -> list[Component]:
    """The other flights of the same log."""
    if len(review.flights) < 2:
        return []
    links = [
        html.Li(
            dcc.Link(say("flight.of_log", n=i + 1, headline=f.headline), href=f"/flights/{key}?n={i + 1}")
            if i != place
            else html.B(say("flight.this_one", n=i + 1))
        )
        for i, f in enumerate(review.flights)
    ]
    return [html.Nav(html.Ul(links), className="siblings", **{"aria-label": say("flight.same_log")})]


def window_controls(flight: FlightReview) -> Component:
    """From and to, for those who do not drag; the same window holds for every plot over time."""
    f = flight.flight
    fields = [
        html.Label(
            [
                say("window.from"),
                dcc.Input(
                    id="window-from", type="text", value=clock(f.start_s), debounce=True, inputMode="numeric"
                ),
            ]
        ),
        html.Label(
            [
                say("window.to"),
                dcc.Input(
                    id="window-to", type="text", value=clock(f.end_s), debounce=True, inputMode="numeric"
                ),
            ]
        ),
        html.Button(say("window.whole"), id="window-whole", className="do second", type="button"),
    ]
    span = dcc.Store(id="span", data=[f.start_s, f.end_s])
    readout = html.Output(
        say("window.hint"), id="readout", className="fine readout", **{"aria-live": "polite"}
    )
    return html.Div(
        [span, *fields, readout],
        className="window noprint",
        role="group",
        **{"aria-label": say("window.group")},
    )


def _actions(key: str, kept: KeptFlight | None) -> list[Component]:
    job = workspace().drops.get(key)
    keep: list[Component] = []
    if kept is None and workspace().book is not None and job is not None and job.kept_as is None:
        keep = [keeping.form(job), dcc.Store(id="keeping")]
    return [
        *keep,
        html.Button(say("page.print"), id="print", className="do second" if keep else "do", type="button"),
        html.A(say("page.report"), href=f"/reports/{key}.html", className="do second", download=""),
        *([_removal(kept)] if kept is not None else []),
        dcc.Link(say("page.card_next"), href=_fitted(kept).address("/card"), className="do second"),
        html.Span(
            dcc.Link(say("page.kept", number=job.kept_as), href=f"/flights/{job.kept_as}")
            if job is not None and job.kept_as
            else None,
            id="keep-words",
            role="status",
            **{"data-loading": say("page.keeping")},
        ),
    ]


def _fitted(kept: KeptFlight | None) -> Chosen:
    """What a kept flight was flown with; the sheet worked on for another."""
    return Chosen() if kept is None else Chosen(kept.aircraft, kept.configuration, kept.pack)


def _removal(kept: KeptFlight) -> Component:
    words = say("flight.restore" if kept.removed else "flight.remove")
    ident = {"removal": kept.id, "removed": not kept.removed}
    return html.Button(words, id=ident, type="button", className="do second", n_clicks=0)


@callback(
    Output("keep-words", "children", allow_duplicate=True),
    Output("onto", "data", allow_duplicate=True),
    Input({"removal": ALL, "removed": ALL}, "n_clicks"),
    prevent_initial_call=True,
)
def _set_removed(_clicks: list[int]) -> tuple[Any, Any]:
    """Take a kept flight out of every figure, or back, and show its page anew."""
    pressed = ctx.triggered_id
    if not isinstance(pressed, dict) or not ctx.triggered[0]["value"]:
        return no_update, no_update
    number = pressed["removal"]
    refused = workspace().set_removed(number, removed=pressed["removed"])
    return (refused, no_update) if refused else (no_update, f"/flights/{number}")


@dataclass(slots=True)
class Gathered:
    """Plots that only remember how each moving drawing is made."""

    draws: dict[str, Draw] = field(default_factory=dict)

    def still(self, draw: Draw) -> Component | None:
        """Nothing: what stands still is not drawn again."""
        return None

    def moving(self, name: str, draw: Draw, *, timed: bool = True) -> Component | None:
        """Remember it."""
        self.draws[name] = draw
        return None


@callback(
    Output({"plot": ALL}, "figure"),
    Output({"plot": ALL}, "style"),
    Input("window", "data"),
    Input("narrow", "data"),
    State({"plot": ALL}, "id"),
    State("flight-key", "data"),
)
def _redraw(
    window: list[float] | None, narrow: bool, plots: list[dict[str, str]], at: dict[str, Any]
) -> tuple[list[Any], list[Any]]:
    """Draw the shown part anew, thinned to it."""
    review = workspace().review(at["key"])
    as_laid_out = not narrow and not window and not ctx.triggered_id
    if review is None or as_laid_out:
        return [no_update] * len(plots), [no_update] * len(plots)
    flight = review.flights[at["place"]]
    gathered = Gathered()
    for section in (load.section, pair.section, predicted.section):
        section(review, flight, gathered)
    shown = (float(window[0]), float(window[1])) if window and window[1] > window[0] else None
    figures: list[Any] = []
    styles: list[Any] = []
    for plot in plots:
        draw = gathered.draws.get(plot["plot"])
        drawn = draw(View(narrow, shown)) if draw is not None else None
        figures.append(no_update if drawn is None else figure(drawn))
        styles.append(no_update if drawn is None else {"height": f"{drawn.height:g}px"})
    return figures, styles


clientside_callback(
    ClientsideFunction("sagline_page", "window"),
    Output("window", "data"),
    Output("window-from", "value"),
    Output("window-to", "value"),
    Input({"plot": ALL}, "relayoutData"),
    Input("window-from", "value"),
    Input("window-to", "value"),
    Input("window-whole", "n_clicks"),
    State("window", "data"),
    State("span", "data"),
    prevent_initial_call=True,
)


@callback(
    Output("keep-words", "children"),
    Input("keeping", "data"),
    State("flight-key", "data"),
    prevent_initial_call=True,
)
def _keep(given: dict[str, Any] | None, at: dict[str, Any]) -> Any:
    """Keep a dropped log with what was said of it."""
    if not given:
        return no_update
    number, remark = workspace().keep(at["key"], keeping.said_in(given["values"]))
    if number is None:
        return remark
    return [dcc.Link(say("page.kept", number=number), href=f"/flights/{number}"), " ", remark]
