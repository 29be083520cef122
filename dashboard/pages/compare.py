"""Two groups of flights: what changed from one to the other, figure by figure; the address names them."""

from __future__ import annotations

from html import escape

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.sections.parts import note, row, sentence, table, toleranced
from dashboard.texts import say
from dashboard.workspace import workspace
from telemetry.errors import SaglineError
from telemetry.estimate import Estimate, Undecided
from telemetry.logbook import numbers_of
from telemetry.season.comparing import ComparedFigure, Comparison
from telemetry.sentences import say as word

SCALES = {"pack_resistance_1s_ohm": 1000.0, "imbalance_fraction": 100.0, "least_margin_fraction": 100.0}
"""What a figure is shown times."""


def layout(first: str = "", second: str = "", **_: str) -> Component:
    """The page of the groups in its address; without any, how to name them."""
    found: Comparison | None = None
    wrong = ""
    book = workspace().book
    if book is not None and first and second:
        try:
            found = book.compare(numbers_of(first), numbers_of(second))
        except SaglineError as error:
            wrong = str(error)
    title = say("compare.title") if found is None else _headline(found)
    opening = html.Div(
        html.H1([html.Span(say("compare.over"), className="over"), title]), className="opening"
    )
    return html.Main([opening, _groups(first, second, wrong), *_figures(found)], id="main")


def _headline(found: Comparison) -> str:
    changed = [_name(one) for one in found.figures if one.verdict == "changed"]
    if changed:
        return say("compare.changed", figures=", ".join(changed))
    same = any(one.verdict == "same" for one in found.figures)
    return say("compare.nothing" if same else "compare.undecided")


def _groups(first: str, second: str, wrong: str) -> Component:
    """Two fields for numbers of flights; what cannot be is said beside them."""
    fields = "".join(
        f'<label>{escape(say(f"compare.{which}"))} <input name="{which}" type="text" '
        f'value="{escape(value, quote=True)}" '
        f'placeholder="{hint}" autocomplete="off" required></label>'
        for which, value, hint in (("first", first, "2-5"), ("second", second, "7,9-11"))
    )
    button = f'<button class="do" type="submit">{escape(say("compare.do"))}</button>'
    form = Markup(f'<form class="find" data-address="/compare">{fields}{button}</form>', className="noprint")
    said = [html.Div(html.P(html.B(wrong)), className="state error", role="alert")] if wrong else []
    return row("groups", say("compare.groups"), "", [html.P(say("compare.lead")), *said], wide=[form])


def _figures(found: Comparison | None) -> list[Component]:
    if found is None:
        return []
    head = [
        say(f"compare.{key}") for key in ("figure", "mean_first", "mean_second", "change", "verdict", "why")
    ]
    rows = [
        [
            _name(one),
            *(toleranced(_scaled(e, one), "how-compare") for e in (one.first, one.second)),
            toleranced(_times(one.change_fraction, 100.0), "how-compare", decimals=1),
            one.verdict,
            sentence(one.reason),
        ]
        for one in found.figures
    ]
    notes = [note("how-compare", say("compare.how"), [say("compare.how_1"), say("compare.how_2")])]
    others = [html.Li(sentence(text)) for text in found.notes]
    beside = html.Div([html.P(say("compare.beside")), html.Ul(others)]) if others else None
    shown = table(head, rows, say("compare.figures"), right=(1, 2, 3), spaced=True)
    return [row("figures", say("compare.figures"), "", [beside], wide=[shown], notes=notes)]


def _name(one: ComparedFigure) -> str:
    name, _, cell = one.figure.partition("@")
    return word("compare", "figures", name, cell=cell)


def _scaled(figure: Estimate | Undecided, one: ComparedFigure) -> Estimate | Undecided:
    return _times(figure, SCALES.get(one.figure, 1.0))


def _times(figure: Estimate | Undecided, factor: float) -> Estimate | Undecided:
    return figure if isinstance(figure, Undecided) else figure.scaled(factor)


def link() -> Component:
    """The way here from the season."""
    return html.P(dcc.Link(say("compare.link"), href="/compare"), className="fine noprint")
