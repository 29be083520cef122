"""The field card on its page, to print."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import card
from dashboard.chosen import Chosen
from dashboard.pages.frame import missing
from dashboard.pages.prediction import present
from dashboard.sections.parts import sentence
from dashboard.texts import say
from telemetry.errors import SaglineError
from telemetry.estimate import Undecided


def layout(aircraft: str = "", configuration: str = "", pack: str = "", **_: str) -> Component:
    """The card for the next flight of what the address names; without a sheet, how to get one."""
    chosen = Chosen(aircraft, configuration, pack)
    try:
        found = present(chosen)
    except SaglineError as error:
        return missing(say("card.withheld"), str(error))
    if found is None:
        return missing(say("card.none"), say("card.none_more"))
    if isinstance(found.timer, Undecided):
        return missing(say("card.withheld"), sentence(found.timer.reason))
    top = html.Div(
        [
            html.H1([html.Span(say("card.over"), className="over"), say("card.print_it")]),
            html.Div(
                [
                    html.Button(say("card.print"), id="print", className="do", type="button"),
                    html.A(
                        say("card.file"),
                        href=chosen.address("/cards/current.html"),
                        className="do second",
                        download="",
                    ),
                    dcc.Link(say("card.back"), href=chosen.address("/prediction"), className="do second"),
                ],
                className="actions",
            ),
        ],
        className="noprint opening",
    )
    return html.Main(
        [
            top,
            card.sheet(
                found.prediction, found.setup, found.timer, made=found.made_by, standing=found.standing
            ),
        ],
        id="main",
        className="cardpage",
    )
