"""A column in doubt, as a question: its own curve, the choices, what each would mean."""

from __future__ import annotations

from html import escape

import numpy as np
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.desk import Job
from dashboard.drawings.season import spark
from dashboard.sections.parts import sentence
from dashboard.words import said, say
from telemetry.quantities import QUANTITIES
from telemetry.trace import Column, Trace


def doubts(job: Job) -> list[tuple[Trace, Column]]:
    """Every column of a job that was left out because it could be several things."""
    return [(trace, c) for trace in job.traces for source in trace.sources for c in source.columns if c.status == "doubtful"]


def question(job: Job, trace: Trace, column: Column) -> Component:
    """One question with its choices in place: a native form, whose answer goes to the store `answered`."""
    file = trace.sources[0].file
    radios = "".join(
        f'<label class="choice"><input type="radio" name="choice" value="{escape(c["value"], quote=True)}"{" checked" if i == 0 else ""}>{escape(c["label"])}</label>'
        for i, c in enumerate(choices_for(column))
    )
    curve = _curve(trace, column)
    named = f'data-job="{escape(job.id, quote=True)}" data-file="{escape(file, quote=True)}" data-header="{escape(column.header, quote=True)}"'
    return Markup(
        f'<form class="state doubt" data-store="answered" {named}><fieldset><legend class="h2">{escape(say("bring.what_is", header=column.header, file=file))}</legend>'
        f'<div class="doubtfig">{curve}<p>{escape(sentence(column.reason))}</p></div>{radios}</fieldset>'
        f'<label class="choice"><input type="checkbox" name="remember" value="yes" checked>{escape(say("bring.remember"))}</label>'
        f'<div class="actions"><button class="do" type="submit">{escape(say("bring.use"))}</button></div></form>'
    )


def choices_for(column: Column) -> list[dict[str, str]]:
    """What the column may be: what words and units proposed, its likes at every place, and leaving it out."""
    found: list[str] = []
    if column.quantity:
        kind = QUANTITIES[column.quantity].positions
        places = {"motor": ("left", "right"), "pack or motor": ("", "left", "right"), "cell": tuple("123456")}.get(kind, ("",))
        found = [f"{column.quantity}@{column.position}".rstrip("@"), *(f"{column.quantity}@{p}".rstrip("@") for p in places)]
    reason = column.reason.casefold()
    for name in QUANTITIES:
        if said(f"quantity.{name}", name).casefold() in reason and name not in ("time_s", "event"):
            kind = QUANTITIES[name].positions
            found += [f"{name}@{p}".rstrip("@") for p in (("left", "right") if kind == "motor" else ("",) if kind != "cell" else ())]
    unique = [c for c in dict.fromkeys(found) if QUANTITIES[c.split("@")[0]].admits(c.partition("@")[2])]
    return [*({"label": _label(c), "value": c} for c in unique), {"label": say("bring.leave_out"), "value": "ignore"}]


def _label(answer: str) -> str:
    quantity, _, position = answer.partition("@")
    name = said(f"quantity.{quantity}", quantity)
    unit = QUANTITIES[quantity].unit
    unit = {"Cel": "°C", "1": "", "m/s2": "m/s²"}.get(unit, unit)
    place = position.replace("_", " ")
    words = f"{place} {name}" if place and not place.isdigit() else f"{name} {place}".strip()
    return f"{words}, {unit}" if unit else words


def _curve(trace: Trace, column: Column) -> str:
    channel = trace.channels.get((column.quantity or "", column.position))
    if channel is None:
        return ""
    values = channel.values[np.isfinite(channel.values)]
    return spark(tuple((values - values.min()).tolist()[:: max(1, values.size // 60)])) if values.size > 1 else ""
