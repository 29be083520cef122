"""What surrounds every page: the mark, the way to the other pages, the choice of paper, the keys."""

from __future__ import annotations

from typing import Any

import dash
from dash import Input, Output, callback, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import preferences
from dashboard.chosen import Chosen
from dashboard.components import Markup
from dashboard.demo import is_invented
from dashboard.report import MARK
from dashboard.texts import say
from dashboard.workspace import workspace

PAGES = (
    ("flights", "/"),
    ("season", "/season"),
    ("bring_in", "/bring-in"),
    ("prediction", "/prediction"),
    ("card", "/card"),
)

INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<meta name="color-scheme" content="light dark">
<title>{%title%}</title>
{%favicon%}
{%css%}
</head>
<body>
<noscript><p style="padding:2rem">This page needs its script; it comes from this machine alone.</p></noscript>
{%app_entry%}
<footer style="display:none"></footer>
{%config%}
{%scripts%}
{%renderer%}
</body>
</html>"""


def layout() -> Component:
    """The frame, once for all pages."""
    return html.Div(
        [
            html.A(say("page.to_page"), href="#main", className="skip"),
            html.Div(
                id="server-gone",
                role="alert",
                className="gone",
                **{"data-gone": say("page.server_gone"), "data-back": say("page.server_back")},
            ),
            html.Div(
                [
                    html.Header(
                        [
                            dcc.Link([Markup(MARK), "Sagline"], href="/", className="mark"),
                            html.Nav(id="nav", **{"aria-label": say("page.pages")}),
                        ],
                        className="top",
                    ),
                    html.Div(id="invented"),
                    html.Div(dash.page_container, className="pages", **{"data-loading": say("page.loading")}),
                    footer(),
                ],
                className="sheet",
            ),
            dcc.Store(id="narrow", data=False),
            dcc.Store(id="nothing"),
            dcc.Store(id="onto"),
        ]
    )


def footer() -> Component:
    """What may be chosen, and the keys."""
    keys = html.Details(
        [
            html.Summary(say("page.keys_title")),
            html.Ul(
                [
                    html.Li(say(f"keys.{k}"))
                    for k in ("sections", "flights", "answers", "find", "note", "print", "plot", "list")
                ]
            ),
        ],
        className="data",
        id="keys",
    )
    return html.Footer([preferences.panel(), keys, html.P(say("page.intervals"))])


@callback(
    Output("nav", "children"),
    Output("invented", "children"),
    Input("_pages_location", "pathname"),
    Input("_pages_location", "search"),
)
def _navigation(pathname: str | None, search: str | None = None) -> tuple[list[Component], list[Component]]:
    """The links, the present one marked, and whether the logbook is an invented one. What is looked at goes
    along to the card and back.
    """
    chosen = Chosen.read(search or "")
    at = pathname or "/"
    here = (
        "flights"
        if at == "/" or at.startswith("/flights")
        else next((k for k, p in PAGES[1:] if at.startswith(p)), "")
    )
    return [
        dcc.Link(
            say(f"page.{key}"),
            href=chosen.address(path) if key in ("prediction", "card") else path,
            **({"className": "here"} if key == here else {}),
        )
        for key, path in PAGES
    ], _invented()


def _invented() -> list[Component]:
    """Over every page of the invented logbook: that it is one, and the way back to one's own."""
    if not is_invented(workspace().flights()):
        return []
    visiting = workspace().folder != workspace().own
    back = (
        [html.Button(say("demo.back"), id="own-logbook", type="button", className="do second", n_clicks=0)]
        if visiting
        else []
    )
    return [
        html.Aside(
            [html.P(say("demo.invented")), *back], className="invented", **{"aria-label": say("demo.label")}
        )
    ]


@callback(
    Output("onto", "data", allow_duplicate=True), Input("own-logbook", "n_clicks"), prevent_initial_call=True
)
def _back_to_own(clicks: int | None) -> Any:
    """Open the owner's logbook again."""
    if not clicks:
        return no_update
    workspace().open(workspace().own)
    return "/"


def not_found(**_: str) -> Component:
    """A page for addresses that lead nowhere."""
    return missing(say("page.not_there_title"), say("page.not_there"))


def missing(title: str, words: str) -> Component:
    """What is not there, and one way on."""
    return html.Main(
        [
            html.Div(html.H1([html.Span(say("page.flights"), className="over"), title]), className="opening"),
            html.P([words, " ", dcc.Link(say("page.all_flights"), href="/")], className="not-there"),
        ],
        id="main",
    )
