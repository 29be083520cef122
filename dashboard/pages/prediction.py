"""The set-up sheet and what it leads one to expect."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

from dash import Input, Output, State, callback, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.chosen import Chosen
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


def present(chosen: Chosen) -> Present | None:
    """What a sheet says of the next flight; None without a sheet.

    Parameters
    ----------
    chosen : the aircraft, configuration and pack looked at.

    Raises
    ------
    SaglineError : the sheet cannot be used, or knows no such configuration or pack.
    """
    sheet = workspace().sheet_of(chosen.aircraft)
    if sheet is None:
        return None
    setup = workspace().with_pack(sheet, chosen.pack).setup(chosen.configuration, chosen.pack)
    found = predict(setup)
    past = workspace().earlier(setup)
    timer = next_timer(setup, found, past.flights, facts=past.facts, standing=past.standing, beside=True)
    made = made_by(setup, history=past.flights)
    return Present(sheet, setup, found, timer, past.standing, made)


def layout(aircraft: str = "", configuration: str = "", pack: str = "", **_: str) -> Component:
    """The page of what its address names; its body is made anew whenever the sheet changes."""
    chosen = Chosen(aircraft, configuration, pack)
    stores = [
        dcc.Store(id="chosen", data=chosen._asdict()),
        *(dcc.Store(id=i) for i in ("sheet-form", "new-sheet")),
        *learning.stores(),
    ]
    return html.Main([*stores, html.Div(body(chosen), id="prediction-body")], id="main")


def body(
    chosen: Chosen,
    *,
    typed: dict[str, str] | None = None,
    wrong: dict[str, str] | None = None,
    words: str = "",
) -> list[Component]:
    """Everything that follows from the sheet."""
    try:
        found = present(chosen)
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
        dcc.Link(say("expected.print_card"), href=chosen.address("/card"), className="do"),
        html.A(say("expected.change_sheet"), href="#sheet", className="do second"),
    ]
    taken = {a.key.replace(".", "_"): expected.assumed_value(a) for a in found.prediction.assumed}
    unsaved = not workspace().is_saved(found.sheet)
    form = Markup(sheet_form.form(found.sheet, assumed=taken, typed=typed, wrong=wrong, unsaved=unsaved))
    said = html.P(words, role="status", className="fine readme") if words else None
    return [
        expected.opening(found.prediction, found.setup, found.timer, found.standing, actions),
        _choices(found, chosen),
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


def _choices(found: Present, chosen: Chosen) -> Component:
    """Which aircraft, configuration and pack, where there are several; each choice is an address."""
    aircraft = workspace().aircraft()
    packs = list(found.sheet.pack_names)
    if not found.sheet.feeds:
        packs += [p.name for p in workspace().packs() if p.name not in packs and p.cells and p.capacity_mah]
    named = found.setup.pack.name if not found.setup.packs else ""
    boxes = [
        _box("aircraft", [(n, n) for n in aircraft], chosen.aircraft or found.sheet.name),
        _box(
            "configuration",
            [("", say("block.as_sheet")), *((n, n) for n in found.sheet.configuration_names)],
            found.setup.configuration,
        ),
        _box("pack", [(n, n) for n in packs], chosen.pack or named),
    ]
    return Markup(f'<div class="find noprint chosen">{"".join(boxes)}</div>' if any(boxes) else "")


def _box(which: str, options: list[tuple[str, str]], now: str) -> str:
    """A choice that is put into the address; nothing where there is none to make."""
    if len(options) < 2:
        return ""
    shown = "".join(
        f'<option value="{escape(value, quote=True)}"{" selected" if value == now else ""}>'
        f"{escape(text)}</option>"
        for value, text in options
    )
    return (
        f"<label>{escape(say(f'sheet.choose_{which}'))} "
        f'<select data-address="{which}">{shown}</select></label>'
    )


@callback(
    Output("prediction-body", "children"),
    Input("sheet-form", "data"),
    Input("new-sheet", "data"),
    Input("adopt", "data"),
    State("chosen", "data"),
    prevent_initial_call=True,
)
def _change(
    form: dict[str, Any] | None,
    new: dict[str, Any] | None,
    adopt: dict[str, Any] | None,
    at: dict[str, str],
) -> Any:
    """A changed sheet, a first one, or one that flights have taught."""
    pressed, chosen = ctx.triggered_id, Chosen(**at)
    if pressed == "new-sheet" and new:
        workspace().use_sheet(Sheet.from_text(new_sheet_text(), file=say("sheet.new_file")))
        return body(Chosen(), words=say("sheet.started"))
    if pressed == "adopt" and adopt:
        return body(chosen, words=say("learn.adopted")) if learning.adopted(chosen) else no_update
    try:
        sheet = workspace().sheet_of(chosen.aircraft)
    except SaglineError:
        return no_update
    if pressed != "sheet-form" or not form or sheet is None:
        return no_update
    typed = {str(k): str(v) for k, v in form["values"].items()}
    changed, wrong = sheet_form.changed(sheet, typed)
    if changed is None:
        return body(chosen, typed=typed, wrong=wrong)
    save = form.get("value") == "save"
    words = say("sheet.saved") if save else say("sheet.used")
    try:
        workspace().use_sheet(changed, save=save)
    except SaglineError as error:
        words = str(error)
    return body(_still(chosen, changed), words=words)


def _still(chosen: Chosen, sheet: Sheet) -> Chosen:
    """What is looked at after the sheet was changed, as far as it has it still."""
    known = (*sheet.pack_names, *(p.name for p in workspace().packs()))
    return Chosen(
        sheet.name if chosen.aircraft else "",
        chosen.configuration if chosen.configuration in sheet.configuration_names else "",
        chosen.pack if chosen.pack in known else "",
    )
