"""The set-up sheet and what it leads one to expect."""

from __future__ import annotations

from dataclasses import dataclass

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.desk import desk
from dashboard.words import say
from telemetry.estimate import Undecided
from telemetry.prediction import predict
from telemetry.prediction.results import Prediction
from telemetry.season.timer import Timer, timer_for
from telemetry.sheet import Sheet
from telemetry.sheet.setup import Setup


@dataclass(frozen=True, slots=True)
class Present:
    """The sheet being worked on and all that follows from it."""

    sheet: Sheet
    setup: Setup
    prediction: Prediction
    timer: Timer | Undecided


def present(configuration: str = "", pack: str = "") -> Present | None:
    """What the desk's sheet says of the next flight; None without a sheet."""
    sheet = desk().sheet()
    if sheet is None:
        return None
    setup = sheet.setup(configuration, pack)
    found = predict(setup)
    past = tuple(p for p in desk().history())
    return Present(sheet, setup, found, timer_for(setup, past, prior=found.rate_prior))


def layout(**_: str) -> Component:
    """To come."""
    return html.Main([html.H1(say("page.prediction")), dcc.Link(say("page.all_flights"), href="/")], id="main")
