"""A column in doubt, as a question: its own curve, the choices, what each would mean."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.drawings.season import spark
from dashboard.drops import Job
from dashboard.sections.parts import sentence
from dashboard.texts import said, say
from telemetry.quantities import QUANTITIES, pack_part, pack_position
from telemetry.trace import Column, Trace


def doubts(job: Job) -> list[tuple[Trace, Column]]:
    """Every column of a job that was left out because it could be several things."""
    return [
        (trace, c)
        for trace in job.traces
        for source in trace.sources
        for c in source.columns
        if c.status == "doubtful"
    ]


def question(job: Job, trace: Trace, column: Column) -> Component:
    """One question with its choices in place: a native form, whose answer goes to the store `answered`.

    Where several answers are likely none is chosen beforehand: what is in doubt is not settled by a careless
    press.
    """
    file = trace.sources[0].file
    numbers = job.curves.get((file, column.header), ())
    likely = choices_for(column, numbers)
    radios = "".join(_radio(value, label, checked=len(likely) == 1) for value, label in likely)
    others = "".join(
        f'<option value="{escape(value, quote=True)}">{escape(label)}</option>'
        for value, label in everything()
    )
    other = (
        f'<label class="choice other">{_input("other", checked=False)}{escape(say("bring.something_else"))} '
        f'<select name="other">{others}</select></label>'
    )
    out = _radio("ignore", say("bring.leave_out"), checked=not likely)
    named = (
        f'data-job="{escape(job.id, quote=True)}" data-file="{escape(file, quote=True)}" '
        f'data-header="{escape(column.header, quote=True)}"'
    )
    return Markup(
        f'<form class="state doubt" data-store="answered" {named}>'
        f"<fieldset><legend "
        f'class="h2">{escape(say("bring.what_is", header=column.header, file=file))}</legend>'
        f'<div class="doubtfig">{_curve(numbers)}<p>{escape(sentence(column.reason))}'
        f"{escape(_range(numbers))}</p></div>{radios}{other}{out}</fieldset>"
        f'<label class="choice"><input type="checkbox" name="remember" value="yes" '
        f"checked>{escape(say('bring.remember'))}</label>"
        f'<div class="actions"><button class="do" '
        f'type="submit">{escape(say("bring.use"))}</button></div></form>'
    )


def _input(value: str, *, checked: bool) -> str:
    return (
        f'<input type="radio" name="choice" required '
        f'value="{escape(value, quote=True)}"{" checked" if checked else ""}>'
    )


def _radio(value: str, label: str, *, checked: bool) -> str:
    return f'<label class="choice">{_input(value, checked=checked)}{escape(label)}</label>'


def _curve(numbers: Sequence[float]) -> str:
    """The column's own curve."""
    return spark(tuple(n - min(numbers) for n in numbers)) if len(numbers) > 1 else ""


def _range(numbers: Sequence[float]) -> str:
    return " " + say("bring.runs", low=f"{min(numbers):.4g}", high=f"{max(numbers):.4g}") if numbers else ""


def numbered(job: Job) -> list[tuple[Trace, list[Column]]]:
    """Logs whose motors are only numbered, and the columns that name one: nobody has said which is left."""
    found = []
    for trace in job.traces:
        columns = [
            c
            for s in trace.sources
            for c in s.columns
            if c.quantity
            and QUANTITIES[c.quantity].positions in ("motor", "pack or motor")
            and c.position in ("1", "2")
        ]
        if {c.position for c in columns} == {"1", "2"}:
            found.append((trace, columns))
    return found


def which_is_left(job: Job, trace: Trace) -> Component:
    """The question about the sides, asked once for the whole log."""
    file = trace.sources[0].file
    named = f'data-job="{escape(job.id, quote=True)}" data-file="{escape(file, quote=True)}" data-header=""'
    radios = "".join(_radio(value, say(f"bring.sides_{value}"), checked=False) for value in ("1", "2"))
    return Markup(
        f'<form class="state doubt" data-store="answered" {named}><fieldset><legend '
        f'class="h2">{escape(say("bring.sides", file=file))}</legend>'
        f"<p>{escape(say('bring.sides_why'))}</p>{radios}</fieldset>"
        f'<label class="choice"><input type="checkbox" name="remember" value="yes" '
        f"checked>{escape(say('bring.remember'))}</label>"
        f'<div class="actions"><button class="do" '
        f'type="submit">{escape(say("bring.use"))}</button></div></form>'
    )


def sides_answer(columns: Sequence[Column], left: str) -> dict[str, str]:
    """What each numbered column is, once motor `left` is known to be the left one."""
    return {c.header: f"{c.quantity}@{'left' if c.position == left else 'right'}" for c in columns}


def choices_for(column: Column, numbers: Sequence[float] = ()) -> list[tuple[str, str]]:
    """What the column most likely is, as answer and label: what was proposed, and every quantity whose noun
    the doubt speaks of.

    A temperature that the column's own numbers forbid is not offered.
    """
    found = _proposed(column)
    reason = set(column.reason.casefold().replace(",", " ").split())
    for name in QUANTITIES:
        if name == column.quantity or (
            name not in ("time_s", "event")
            and said(f"quantity.{name}", name).split()[-1] in reason
            and _may_be(name, numbers)
        ):
            found += _places(name)
    return [(c, label(c)) for c in dict.fromkeys(found)]


_PACKS = (pack_position("left"), pack_position("right"))


def _proposed(column: Column) -> list[str]:
    """What was proposed; of a pack that feeds one motor, nobody having said which, either side."""
    pack, part = pack_part(column.position)
    if pack in _PACKS:
        return [f"{column.quantity}@{side}{f'.{part}' if part else ''}" for side in _PACKS]
    return [f"{column.quantity}@{column.position}".rstrip("@")] if column.quantity else []


def _may_be(name: str, numbers: Sequence[float]) -> bool:
    """Whether a temperature can have these numbers, be they °C or °F; other quantities come in too many units
    to tell.
    """
    quantity = QUANTITIES[name]
    return (
        quantity.unit != "Cel"
        or not numbers
        or (min(numbers) >= quantity.low and max(numbers) <= 1.8 * quantity.high + 32)
    )


def everything() -> list[tuple[str, str]]:
    """Every answer there is, but time and marks."""
    return [(c, label(c)) for name in QUANTITIES if name not in ("time_s", "event") for c in _places(name)]


def _places(name: str) -> list[str]:
    """A quantity at each place it commonly has."""
    kind = QUANTITIES[name].positions
    places = {
        "motor": ("left", "right"),
        "pack or motor": ("", "left", "right"),
        "cell": tuple("123456"),
    }.get(kind, ("",))
    return [f"{name}@{p}".rstrip("@") for p in places]


def label(answer: str) -> str:
    """An answer in words: 'right controller temperature, °C'."""
    quantity, _, position = answer.partition("@")
    name = said(f"quantity.{quantity}", quantity)
    unit = {"Cel": "°C", "1": "", "m/s2": "m/s²", "/min": "rpm"}.get(
        QUANTITIES[quantity].unit, QUANTITIES[quantity].unit
    )
    place = position.replace("_", " ")
    words = f"{place} {name}" if place and not place.isdigit() else f"{name} {place}".strip()
    return f"{words}, {unit}" if unit else words
