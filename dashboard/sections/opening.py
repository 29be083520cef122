"""The top of a flight's page: title sentence, what to do, five answers, title block."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from dashboard.drawings import strips
from dashboard.figures import HARD, MINUS, clock, hard, number, spoken
from dashboard.plots import Plots
from dashboard.texts import said, say
from telemetry.analysis.pack import Pack
from telemetry.debrief import FlightReview, Review
from telemetry.estimate import Undecided, value_of
from telemetry.findings import Answer, Finding, Open
from telemetry.sentences import sentence
from telemetry.sheet import Setup

ANCHORS = {"cells": "cells", "load": "load", "pair": "pair", "prediction": "predicted", "timer": "timer"}


def opening(
    review: Review, flight: FlightReview, plots: Plots, *, over: str, block: Component | None = None
) -> Component:
    """The letter itself, before its evidence."""
    floor_v = review.setup.reserve.loaded_cell_v if review.setup else flight.pack.usual_floor.value
    return html.Div(
        [
            html.H1([html.Span(over, className="over"), hard(flight.headline)]),
            html.Ul([_short(a, flight) for a in flight.answers], className="short only-narrow"),
            todo(flight.findings, flight.open),
            html.Div(
                [_answer(a, flight, plots, floor_v) for a in flight.answers],
                className="answers",
                role="list",
                **{"aria-label": say("page.lead")},
            ),
            title_block(review, flight) if block is None else block,
        ],
        className="opening",
    )


def _short(answer: Answer, flight: FlightReview) -> Component:
    place, verdict = say(f"place.{answer.question}"), said(f"verdict.{answer.verdict}", answer.verdict)
    if answer.question == "timer" and not isinstance(flight.timer, Undecided):
        verdict = say("timer.full_pack", alarm=clock(flight.timer.alarm_s))
    return html.Li(html.A([f"{place} ", html.B(verdict)], href=f"#{ANCHORS[answer.question]}"))


def todo(findings: Sequence[Finding], left_open: Sequence[Open] = ()) -> Component:
    """What to do, most serious first: weight is the scale, the word is always there."""
    stops = [f for f in findings if f.severity == "stop" and not f.settled]
    rest = [f for f in findings if f.severity != "stop" or f.settled]
    items = [*map(_finding, stops), *map(_open, left_open), *map(_finding, rest)]
    return html.Ol(items, className="todo")


def _open(left: Open) -> Component:
    words = [html.Span(say("severity.open"), className="sev"), " ", html.B(hard(sentence(left.reason)))]
    return html.Li(words, className="is-check")


def _finding(finding: Finding) -> Component:
    rest = hard(finding.message.removeprefix(finding.title).strip()) if finding.title else ""
    severity = "note" if finding.settled else finding.severity
    words = [html.Span(say(f"severity.{severity}"), className="sev"), " "]
    if finding.title and severity != "note":
        words += [html.B(hard(finding.title)), f" {rest}"]
    else:
        words.append(hard(finding.message))
    if finding.evidence:
        words.append(html.Span(hard(finding.evidence), className="fine"))
    return html.Li(words, className=f"is-{severity}")


def _answer(answer: Answer, flight: FlightReview, plots: Plots, floor_v: float) -> Component:
    strong = hard(answer.short or answer.sentence)
    rest = hard(answer.sentence.removeprefix(answer.short).strip()) if answer.short else ""
    bad = answer.verdict in ("weak", "over")
    words = html.Div([html.Strong(strong, className="bad" if bad else ""), rest], className="a")
    strip = _strip(answer.question, flight, plots, floor_v)
    question = html.A(say(f"question.{answer.question}"), href=f"#{ANCHORS[answer.question]}", className="q")
    return html.Div(
        [question, words, *([strip] if strip is not None else [])], className="answer", role="listitem"
    )


def _strip(question: str, flight: FlightReview, plots: Plots, floor_v: float) -> Component | None:
    if question == "cells":
        return plots.still(lambda view: strips.cells(flight.pack, floor_v=floor_v, narrow=view.narrow))
    if question == "load":
        return plots.still(lambda view: strips.load(flight.current, narrow=view.narrow))
    if question == "pair" and flight.motors.pairs:
        return plots.still(lambda view: strips.pair(flight.motors.pairs[0], narrow=view.narrow))
    if question == "prediction":
        return plots.still(lambda view: strips.predicted(flight.comparison, narrow=view.narrow))
    timer = flight.timer
    if question == "timer" and not isinstance(timer, Undecided):
        return plots.still(lambda view: strips.timer(timer, narrow=view.narrow))
    return None


def _listed(*parts: str) -> str:
    return ", ".join(p for p in parts if p)


def _with_unit(value: float | None, unit: str, form: str = "g") -> str:
    """A value of the sheet, "" where it has none or 0."""
    return f"{value:{form}}{HARD}{unit}" if value else ""


def _model(setup: Setup | None) -> str:
    return _listed(setup.name, _with_unit(setup.span_m, "m", ".2f")) if setup else say("block.no_sheet")


def _fitted(setup: Setup | None) -> str:
    if setup is None:
        return ""
    return _listed(setup.configuration or say("block.as_sheet"), _with_unit(setup.mass_kg, "kg"))


def _pack(setup: Setup | None, flight: FlightReview) -> str:
    if flight.packs:
        return "; ".join(_pack_line(one.setup, one.pack) for one in flight.packs)
    return _pack_line(setup, flight.pack)


def _pack_line(setup: Setup | None, pack: Pack) -> str:
    cells = value_of(pack.cell_count)
    size = [f"{cells:.0f}S" if cells else "", f"{number(setup.pack.capacity_mah)}{HARD}mAh" if setup else ""]
    return _listed(" ".join(s for s in size if s), pack.name)


def _air(review: Review) -> str:
    degrees = review.setup.site.temperature_c if review.setup else None
    density = None if isinstance(review.prediction, Undecided) else review.prediction.air_density_kgm3
    shown = "" if degrees is None else f"{degrees:g}{HARD}°C".replace("-", MINUS)
    return _listed(shown, _with_unit(density, "kg/m³", ".2f"))


def _drawn(flight: FlightReview) -> str:
    consumed, share = value_of(flight.capacity.consumed_mah), value_of(flight.capacity.consumed_fraction)
    if consumed is None:
        return say("page.undecided")
    return _listed(f"{number(consumed)}{HARD}mAh", "" if share is None else f"{number(100 * share)}{HARD}%")


def title_block(review: Review, flight: FlightReview) -> Component:
    """As in the corner of a drawing: which model, which pack, which air, how long, how much."""
    rows = {
        "model": _model(review.setup),
        "fitted": _fitted(review.setup),
        "pack": _pack(review.setup, flight),
        "air": _air(review),
        "aloft": _aloft(flight),
        "drawn": _drawn(flight),
        "logs": ", ".join(s.file for s in review.trace.sources),
    }
    return html.Dl(
        [html.Div([html.Dt(say(f"block.{key}")), html.Dd(text)]) for key, text in rows.items() if text],
        className="tb",
    )


def _aloft(flight: FlightReview) -> str:
    f = flight.flight
    if f.is_bench:
        return say("block.on_bench")
    if isinstance(f.takeoff_s, Undecided) or isinstance(f.landing_s, Undecided):
        return say("page.undecided")
    return spoken(f.landing_s - f.takeoff_s)
