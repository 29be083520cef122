"""What the owner says of a kept flight: what it was fitted with, its pack, its day, the charge put back."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from dash import Input, Output, State, callback, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.pages.keeping import options
from dashboard.pages.typed_units import read_number
from dashboard.texts import say
from dashboard.workspace import workspace
from telemetry.errors import SaglineError
from telemetry.logbook import Edits, KeptFlight

_DAY_AND_TIME = re.compile(r"(\d{4}-\d{2}-\d{2})(?: (\d{2}:\d{2}))?(.*)")


def section(kept: KeptFlight) -> Component:
    """The form, folded; what a change moves is said before it is saved."""
    values = _values(kept)
    fields = [
        *_fitted(kept, values),
        _field("day", "date", values["day"]),
        _field("time", "time", values["time"]),
        _field("temperature_c", "text", values["temperature_c"], "°C"),
        _field("put_back_mah", "text", values["put_back_mah"], "mAh"),
        _field("note", "text", values["note"]),
        _field("tags", "text", values["tags"]),
    ]
    later = workspace().flown_later(kept)
    moves = say(
        "drawer.moves_none" if not later else "drawer.moves_one" if later == 1 else "drawer.moves",
        count=later,
    )
    markup = (
        f'<form class="state drawer" data-store="drawer" data-number="{kept.id}">{"".join(fields)}'
        f'<p class="fine">{escape(moves)}</p>'
        f'<div class="actions"><button class="do" type="submit">{escape(say("drawer.save"))}</button></div>'
        "</form>"
    )
    return html.Details(
        [
            html.Summary(say("drawer.title")),
            Markup(markup),
            dcc.Store(id="drawer"),
            html.Div(id="drawer-words", role="status", **{"data-loading": say("drawer.saving")}),
        ],
        className="data noprint",
        id="details",
    )


def _values(kept: KeptFlight) -> dict[str, str]:
    """What stands in the fields."""
    found = _DAY_AND_TIME.match(kept.date)
    day, time = (found[1], found[2] or "") if found else ("", "")
    return {
        "configuration": kept.configuration,
        "pack": kept.pack,
        "day": day,
        "time": time,
        "temperature_c": "" if kept.temperature_c is None else f"{kept.temperature_c:g}",
        "put_back_mah": "" if kept.put_back_mah is None else f"{kept.put_back_mah:g}",
        "note": kept.note,
        "tags": " ".join(kept.tags),
    }


def _fitted(kept: KeptFlight, values: Mapping[str, str]) -> list[str]:
    """The sheet's configurations and packs and the logbook's, where there is a choice."""
    book = workspace().book
    sheet = book.sheet(kept.id) if book is not None else None
    if sheet is None:
        return []
    packs = [*sheet.pack_names, *(p.name for p in workspace().packs() if p.name not in sheet.pack_names)]
    found = []
    if sheet.configuration_names:
        found.append(_choice("configuration", ("", *sheet.configuration_names), values["configuration"]))
    if packs and not sheet.feeds:
        now = values["pack"] or kept.pack_called
        found.append(_choice("pack", packs if now in packs else ["", *packs], now))
    return found


def _choice(name: str, choices: Sequence[str], now: str) -> str:
    return _labelled(name, f'<select name="{name}" id="drawer-{name}">{options(choices, now)}</select>')


def _field(name: str, kind: str, value: str, unit: str = "") -> str:
    held = escape(value, quote=True)
    box = f'<input type="{kind}" name="{name}" id="drawer-{name}" value="{held}" autocomplete="off">'
    return _labelled(name, f"{box}{f' <span class=u>{escape(unit)}</span>' if unit else ''}")


def _labelled(name: str, control: str) -> str:
    label = escape(say(f"drawer.{name}"))
    return f'<div class="asked"><label for="drawer-{name}">{label}</label><span>{control}</span></div>'


def said_in(fields: Mapping[str, str], before: Edits, kept: KeptFlight) -> Edits:
    """What the fields say of a flight.

    Parameters
    ----------
    fields : of the form.
    before : what was said already; a field that stands as the log has it says nothing.
    kept : as it is listed.

    Raises
    ------
    ValueError : a field holds no number; its argument is the sentence.
    """
    now = _values(kept)
    date = " ".join(filter(None, (fields.get("day", ""), fields.get("time", ""))))
    same = (fields.get("day", ""), fields.get("time", "")) == (now["day"], now["time"])

    def number(name: str, said: float | None) -> float | None:
        text = fields.get(name, "").strip()
        if text == now[name]:
            return said
        value = read_number(text) if text else None
        if text and value is None:
            raise ValueError(say("sheet.no_number", text=text))
        return None if value is None else float(value)

    return Edits(
        before.date if same else date,
        number("put_back_mah", before.put_back_mah),
        number("temperature_c", before.temperature_c),
        fields.get("note", "").strip(),
        tuple(fields.get("tags", "").replace(",", " ").split()),
    )


@callback(
    Output("drawer-words", "children"),
    Input("drawer", "data"),
    State("flight-key", "data"),
    prevent_initial_call=True,
)
def _save(given: dict[str, Any] | None, at: dict[str, Any]) -> Any:
    """Save what was said, and offer the way back."""
    kept = workspace().kept(at["key"])
    book = workspace().book
    if not given or kept is None or book is None:
        return no_update
    undo = json.loads(given["undo"]) if given.get("undo") else None
    before = book.said_of(kept.id)
    back = {"edits": _plain(before), "configuration": kept.configuration, "pack": kept.pack}
    try:
        if undo is not None:
            change = Edits.from_plain(undo["edits"])
            configuration, pack = undo["configuration"], undo["pack"]
        else:
            values = given["values"]
            change = said_in(values, before, kept)
            configuration = values.get("configuration", kept.configuration)
            pack = values.get("pack", kept.pack)
            pack = kept.pack if pack == kept.pack_called else pack
        workspace().edit(kept.id, change, configuration=configuration, pack=pack)
    except (SaglineError, ValueError) as error:
        return html.P(html.B(str(error)), role="alert")
    words = say("drawer.undone" if undo is not None else "drawer.saved")
    button = (
        f'<button class="do second" type="button" data-store="drawer" '
        f'data-undo="{escape(json.dumps(back), quote=True)}">{escape(say("drawer.undo"))}</button>'
    )
    again = html.A(say("drawer.again"), href=f"/flights/{kept.id}", className="do second")
    return [
        html.P(words),
        html.Div([*([] if undo is not None else [Markup(button)]), again], className="actions"),
    ]


def _plain(edits: Edits) -> dict[str, Any]:
    return {
        "date": edits.date,
        "put_back_mah": edits.put_back_mah,
        "temperature_c": edits.temperature_c,
        "note": edits.note,
        "tags": list(edits.tags),
    }
