"""What kept flights taught: new values beside the old, and one button to work on with them."""

from __future__ import annotations

from html import escape
from typing import Any

from dash import Input, Output, State, callback, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.chosen import Chosen
from dashboard.components import Markup
from dashboard.figures import number, signed
from dashboard.sections.parts import note, row, sentence, table, toleranced
from dashboard.texts import said, say
from dashboard.workspace import workspace
from telemetry.comparison.recalibration import Calibration, recalibrate
from telemetry.errors import SaglineError
from telemetry.sheet import Sheet


def section() -> Component:
    """The button, and room for what comes of it."""
    button = Markup(
        f'<button class="do second" type="button" data-store="learn">{escape(say("learn.button"))}</button>'
    )
    notes = [note("how-learn", say("learn.how"), [say("learn.how_1")])]
    return row(
        "learn",
        say("learn.place"),
        "",
        [
            html.H2(say("learn.heading")),
            html.P(say("learn.lead")),
            html.Div(button, className="actions"),
            html.Div(id="learnt", **{"aria-live": "polite"}),
        ],
        notes=notes,
    )


def stores() -> list[Component]:
    """Where the buttons put their presses."""
    return [dcc.Store(id="learn"), dcc.Store(id="adopt")]


def _shown(found: Calibration) -> list[Component]:
    rows = [
        [
            said(f"learn.{p.key}", p.key),
            number(p.old, 2),
            toleranced(p.new, "how-learn", decimals=3),
            f"{signed(100 * p.shift_fraction, 1)} %",
            str(p.flights),
        ]
        for p in found.parameters
    ]
    head = [say(f"learn.{k}") for k in ("value", "before", "now", "shift", "flights")]
    parts: list[Component] = (
        [table(head, rows, say("learn.heading"), right=range(1, 5), spaced=True)] if rows else []
    )
    parts += [
        html.P(f"{said(f'learn.{u.subject}', u.subject)}: {u.reason}.", className="fine readme")
        for u in found.unlearnt
    ]
    parts += [
        html.P(say("learn.left_out", file=one.file, reason=one.reason), className="fine readme")
        for one in found.left_out
    ]
    if rows:
        parts.append(
            html.Div(
                Markup(
                    f'<button class="do" type="button" '
                    f'data-store="adopt">{escape(say("learn.adopt"))}</button>'
                ),
                className="actions",
            )
        )
    return parts


def _learn(chosen: Chosen) -> Calibration | str:
    """What the kept flights of this aircraft and configuration teach, or a sentence why nothing."""
    try:
        sheet = workspace().sheet_of(chosen.aircraft)
        if sheet is None:
            return say("sheet.none_title")
        traces = workspace().traces(sheet.name, chosen.configuration)
        if not traces:
            return say("learn.no_flights")
        sheet = workspace().with_pack(sheet, chosen.pack)
        return recalibrate(
            sheet, traces, configuration=chosen.configuration or None, pack=chosen.pack or None
        )
    except SaglineError as error:
        return str(error)


@callback(
    Output("learnt", "children"), Input("learn", "data"), State("chosen", "data"), prevent_initial_call=True
)
def _on_learn(pressed: dict[str, Any] | None, at: dict[str, str]) -> Any:
    """Learn and show; nothing is changed yet."""
    if not pressed:
        return no_update
    found = _learn(Chosen(**at))
    return html.P(sentence(found)) if isinstance(found, str) else _shown(found)


def adopted(chosen: Chosen) -> bool:
    """Work on with what was learnt; whether there was anything."""
    found = _learn(chosen)
    sheet = workspace().sheet_of(chosen.aircraft)
    if isinstance(found, str) or sheet is None:
        return False
    workspace().use_sheet(Sheet.from_text(found.sheet_text(), file=sheet.file))
    return True
