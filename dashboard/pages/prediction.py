"""The set-up sheet and what it leads one to expect."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

from dash import Input, Output, callback, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.pages import learning, sheet_form
from dashboard.plots import ScreenPlots
from dashboard.sections import expected
from dashboard.sections.parts import row
from dashboard.texts import say
from dashboard.workspace import workspace
from telemetry.debrief import next_timer
from telemetry.errors import SaglineError
from telemetry.estimate import Undecided
from telemetry.made import MadeBy, made_by
from telemetry.prediction import predict
from telemetry.prediction.results import Prediction
from telemetry.season.open_checks import OpenCheck
from telemetry.season.timer import Timer
from telemetry.sheet import Sheet, new_sheet_text
from telemetry.sheet.setup import Setup


@dataclass(frozen=True, slots=True)
class Present:
    """The sheet being worked on and all that follows from it."""

    sheet: Sheet
    setup: Setup
    prediction: Prediction
    timer: Timer | Undecided
    standing: tuple[OpenCheck, ...]
    made_by: MadeBy


def present() -> Present | None:
    """What the workspace's sheet says of the next flight; None without a sheet.

    Raises
    ------
    SaglineError : the sheet cannot be used.
    """
    sheet = workspace().sheet()
    if sheet is None:
        return None
    configuration, pack = workspace().chosen(sheet)
    setup = sheet.setup(configuration, pack)
    found = predict(setup)
    past = workspace().earlier(setup)
    timer = next_timer(setup, found, past.flights, facts=past.facts, standing=past.standing, beside=True)
    made = made_by(setup, history=past.flights)
    return Present(sheet, setup, found, timer, past.standing, made)


def layout(**_: str) -> Component:
    """The page; its body is made anew whenever the sheet changes."""
    stores = [
        dcc.Store(id=i) for i in ("sheet-form", "configuration", "pack", "new-sheet")
    ] + learning.stores()
    return html.Main([*stores, html.Div(body(), id="prediction-body")], id="main")


def body(
    *, typed: dict[str, str] | None = None, wrong: dict[str, str] | None = None, words: str = ""
) -> list[Component]:
    """Everything that follows from the sheet."""
    try:
        found = present()
    except SaglineError as error:
        return [
            html.Div(
                html.H1([html.Span(say("page.prediction"), className="over"), say("expected.cannot")]),
                className="opening",
            ),
            html.Div(html.P(html.B(str(error))), className="state error", role="alert"),
        ]
    if found is None:
        return _none()
    plots = ScreenPlots()
    actions = [
        dcc.Link(say("expected.print_card"), href="/card", className="do"),
        html.A(say("expected.change_sheet"), href="#sheet", className="do second"),
    ]
    taken = {a.key.replace(".", "_"): expected.assumed_value(a) for a in found.prediction.assumed}
    unsaved = not workspace().is_saved(found.sheet)
    form = Markup(sheet_form.form(found.sheet, assumed=taken, typed=typed, wrong=wrong, unsaved=unsaved))
    said = html.P(words, role="status", className="fine readme") if words else None
    return [
        expected.opening(found.prediction, found.setup, found.timer, found.standing, actions),
        _choices(found),
        expected.expect(found.prediction, found.setup, plots),
        *[
            s
            for s in (
                expected.ratings(found.prediction.limits, plots),
                expected.assumed(found.prediction.assumed),
            )
            if s is not None
        ],
        row("sheet", say("sheet.place"), found.sheet.file, [], wide=[said, form]),
        learning.section(),
    ]


def _none() -> list[Component]:
    """No sheet yet: two ways on."""
    start = Markup(
        f'<button class="do" type="button" data-store="new-sheet">{escape(say("sheet.start"))}</button>'
    )
    ways = html.Div(
        [start, dcc.Link(say("page.bring_in"), href="/bring-in", className="do second")], className="actions"
    )
    return [
        html.Div(
            html.H1([html.Span(say("page.prediction"), className="over"), say("sheet.none_title")]),
            className="opening",
        ),
        row(
            "sheet",
            say("sheet.place"),
            "",
            [html.Div([html.P(say("sheet.none")), ways], className="state empty")],
        ),
    ]


def _choices(found: Present) -> Component:
    """Which configuration and which pack, where the sheet names several."""
    sheet = found.sheet
    boxes = []
    for store, names, now in (
        ("configuration", sheet.configuration_names, found.setup.configuration),
        ("pack", sheet.pack_names, found.setup.pack.name),
    ):
        if len(names) > (0 if store == "configuration" else 1):
            first = [("", say("block.as_sheet"))] if store == "configuration" else []
            options = "".join(
                f'<option value="{escape(v, quote=True)}"{" selected" if v == now else ""}>'
                f"{escape(t)}</option>"
                for v, t in [*first, *((n, n) for n in names)]
            )
            boxes.append(
                f"<label>{escape(say(f'sheet.choose_{store}'))} <select "
                f'data-store="{store}">{options}</select></label>'
            )
    return Markup(f'<div class="find noprint chosen">{"".join(boxes)}</div>' if boxes else "")


@callback(
    Output("prediction-body", "children"),
    Input("sheet-form", "data"),
    Input("configuration", "data"),
    Input("pack", "data"),
    Input("new-sheet", "data"),
    Input("adopt", "data"),
    prevent_initial_call=True,
)
def _change(
    form: dict[str, Any] | None,
    configuration: dict[str, Any] | None,
    pack: dict[str, Any] | None,
    new: dict[str, Any] | None,
    adopt: dict[str, Any] | None,
) -> Any:
    """Another configuration or pack, a changed sheet, or a first one."""
    pressed = ctx.triggered_id
    if pressed == "new-sheet" and new:
        workspace().use_sheet(Sheet.from_text(new_sheet_text(), file=say("sheet.new_file")))
        return body(words=say("sheet.started"))
    if pressed == "adopt" and adopt:
        return body(words=say("learn.adopted")) if learning.adopted() else no_update
    if pressed == "configuration" and configuration:
        workspace().choose(configuration=configuration["value"])
        return body()
    if pressed == "pack" and pack:
        workspace().choose(pack=pack["value"])
        return body()
    sheet = workspace().sheet()
    if pressed != "sheet-form" or not form or sheet is None:
        return no_update
    typed = {str(k): str(v) for k, v in form["values"].items()}
    changed, wrong = sheet_form.changed(sheet, typed)
    if changed is None:
        return body(typed=typed, wrong=wrong)
    save = form.get("value") == "save"
    try:
        workspace().use_sheet(changed, save=save)
    except SaglineError as error:
        return body(words=str(error))
    return body(words=say("sheet.saved") if save else say("sheet.used"))
