"""Keeping a dropped log: when it was flown, how and with which pack, with the likely answer and why."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from html import escape

from dash import html
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.drops import Job
from dashboard.sections.parts import sentence
from dashboard.texts import say
from dashboard.workspace import Said, workspace
from telemetry.logbook import Likely, pack_choices
from telemetry.signals.dates import date_of

_DAY_AND_TIME = re.compile(r"(\d{4}-\d{2}-\d{2})(?: (\d{2}:\d{2}))?")


def form(job: Job) -> Component:
    """What is asked before a log is kept; what is likely stands there already."""
    written = next((file.written for file in job.files if file.written), "")
    offered = workspace().likely(job.traces, written=written)
    fields = [_date(offered.date), *_choices(job, offered.configuration, offered.pack), _put_back()]
    told = date_of(job.traces[0]).text
    again = job.again
    tick = ""
    if again:
        numbers = " and ".join(str(number) for number in again)
        tick = (
            f'<p class="again">{escape(say("keep.again", numbers=numbers))}</p>'
            f'<label class="choice"><input type="checkbox" name="another" value="yes">'
            f"{escape(say('keep.another'))}</label>"
        )
    markup = (
        f'<form class="state keeping" data-store="keeping" '
        f'aria-label="{escape(say("keep.title"), quote=True)}">'
        f'<input type="hidden" name="told" value="{escape(told, quote=True)}">{tick}'
        f'{"".join(fields)}<div class="actions"><button class="do" id="keep" type="submit">'
        f"{escape(say('page.keep'))}</button></div></form>"
    )
    return html.Div([html.H3(say("keep.title")), Markup(markup)], className="keep")


def _date(likely: Likely) -> str:
    found = _DAY_AND_TIME.match(likely.answer)
    day, time = (found[1], found[2] or "") if found else ("", "")
    inputs = (
        f'<input type="date" name="day" id="keep-day" aria-describedby="keep-day-why" value="{day}">'
        f'<input type="time" name="time" value="{time}" aria-label="{escape(say("keep.time"), quote=True)}">'
    )
    return _field("keep-day", say("keep.date"), inputs, likely.reason)


def _choices(job: Job, configuration: Likely, pack: Likely) -> list[str]:
    """The sheet's configurations and packs, where it has any to choose from."""
    if job.sheet is None:
        return [f'<p class="fine">{escape(say("keep.no_sheet"))}</p>']
    found = []
    if job.sheet.configuration_names:
        found.append(_choice("configuration", ("", *job.sheet.configuration_names), configuration))
    if pack_choices(job.sheet):
        found.append(_choice("pack", pack_choices(job.sheet), pack))
    return found


def options(choices: Sequence[str], now: str) -> str:
    """What there is to choose from, "" as the sheet as it stands; `now` is chosen."""
    return "".join(
        f'<option value="{escape(c, quote=True)}"{" selected" if c == now else ""}>'
        f"{escape(c or say('keep.as_it_stands'))}</option>"
        for c in choices
    )


def _choice(name: str, choices: Sequence[str], likely: Likely) -> str:
    ident, offered = f"keep-{name}", options(choices, likely.answer)
    select = f'<select name="{name}" id="{ident}" aria-describedby="{ident}-why">{offered}</select>'
    return _field(ident, say(f"keep.{name}"), select, likely.reason)


def _put_back() -> str:
    field = '<input type="number" name="put_back" id="put-back" min="1" max="100000" step="1">'
    return _field("put-back", say("page.put_back"), field, "")


def _field(ident: str, label: str, control: str, why: str) -> str:
    reason = f'<span class="fine" id="{ident}-why">{escape(sentence(why))}</span>' if why else ""
    return (
        f'<div class="asked"><label for="{ident}">{escape(label)}</label><span>{control}</span>{reason}</div>'
    )


def said_in(fields: Mapping[str, str]) -> Said:
    """What the fields of the form say. A date that stands as the log tells it is not said anew."""
    date = " ".join(filter(None, (fields.get("day", ""), fields.get("time", ""))))
    found = _DAY_AND_TIME.fullmatch(date)
    told = fields.get("told", "").startswith(date)
    charge = fields.get("put_back", "")
    return Said(
        fields.get("configuration", ""),
        fields.get("pack", ""),
        date if found and not told else "",
        float(charge) if re.fullmatch(r"\d+(\.\d+)?", charge) else None,
        fields.get("another") == "yes",
    )
