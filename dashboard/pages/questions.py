"""Columns asked about in place: those in doubt with their likely answers, and every other one to be named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

from dashboard.choices import NAMEABLE, Offer, Unread, places_of
from dashboard.components import Markup
from dashboard.drawings.season import spark
from dashboard.drops import DroppedFile, Job
from dashboard.sections.parts import sentence
from dashboard.texts import say
from telemetry.answers import Answers, answer_words, names_a_side
from telemetry.errors import SaglineError
from telemetry.importers.columns.answered import units_of
from telemetry.importers.outcome import Outcome, numbers_words
from telemetry.quantities import QUANTITIES
from telemetry.sentences import column_words
from telemetry.trace import Column


def doubts(file: DroppedFile) -> list[tuple[int, Column]]:
    """Every column of a file that is in doubt, with its place in the file."""
    return [(n, c) for n, c in enumerate(file.columns) if c.status == "doubtful"]


def numbered(file: DroppedFile) -> list[Column]:
    """The columns that name a motor by a number, where nobody has said which is left; else none."""
    found = [
        c
        for c in file.columns
        if c.quantity
        and QUANTITIES[c.quantity].positions in ("motor", "pack or motor", "whole or motor")
        and c.position in ("1", "2")
    ]
    return found if {c.position for c in found} == {"1", "2"} else []


def open_questions(job: Job) -> int:
    """How many questions a job's logs leave open."""
    read = [file for file in job.files if file.state == "read"]
    return sum(len(doubts(file)) + bool(numbered(file)) for file in read)


def sides_in(job: Job, file: str, fields: Mapping[str, str]) -> dict[str, str]:
    """What the field `sides` says of every column that numbers its motor: which number is the left one."""
    left = fields.get("sides", "")
    own = next((f for f in job.files if f.name == file), None)
    if left not in ("1", "2") or own is None:
        return {}
    return {c.header: f"{c.quantity}@{'left' if c.position == left else 'right'}" for c in numbered(own)}


def questions(job: Job, file: DroppedFile) -> Markup:
    """All questions of one log in one form, answered at once; one may be left for later.

    Nothing is chosen beforehand: what is in doubt is not settled by a careless press.
    """
    asked = "".join(_question(job, file, n, column) for n, column in doubts(file))
    sides = _which_is_left(file) if numbered(file) else ""
    return Markup(_form(job, file, asked + sides, "doubt"))


def _form(job: Job, file: DroppedFile, fields: str, sort: str) -> str:
    """A form about a log: its fields, what they would do, what is to be remembered, and the way on."""
    named = f'data-job="{escape(job.id, quote=True)}" data-file="{escape(file.name, quote=True)}"'
    ticks = "".join(
        f'<label class="choice"><input type="checkbox" name="{name}" value="yes">'
        f"{escape(say(f'bring.{name}'))}</label>"
        for name in ("remember", "remember_sides")
    )
    return (
        f'<form class="state {sort} about-columns" data-store="answered" {named} '
        f'data-none="{escape(say("bring.none_chosen"), quote=True)}" '
        f'data-working="{escape(say("bring.working_out"), quote=True)}" '
        f'aria-label="{escape(say("bring.form", file=file.name), quote=True)}">{fields}'
        f'<output class="effect" role="status" aria-live="polite"></output>{ticks}'
        f'<div class="actions"><button class="do" type="submit">{escape(say("bring.use"))}</button></div>'
        "</form>"
    )


def _question(job: Job, file: DroppedFile, n: int, column: Column) -> str:
    """One question with its choices in place, and what each makes of the column's numbers."""
    found = job.unread.get((file.name, column.header))
    offers = found.offers if found is not None else ()
    radios = "".join(_offer(n, offer) for offer in offers)
    otherwise = _radio(n, "other", escape(say("bring.something_else")))
    title = say("bring.what_is", header=column.header, file=file.name)
    return (
        f'<fieldset><legend class="h2">{escape(title)}</legend>{_hidden(n, column)}'
        f'<div class="doubtfig">{_curve(found)}<p>{escape(sentence(column.reason))} '
        f"{escape(_runs(found))}</p></div>{radios}{otherwise}{_naming(n, column)}"
        f"{_radio(n, 'ignore', escape(say('bring.leave_out')))}"
        f"{_radio(n, '', escape(say('bring.later')), checked=True)}"
        f'<p class="fine effect-of" data-effect="{n}"></p></fieldset>'
    )


def _hidden(n: int, column: Column) -> str:
    return f'<input type="hidden" name="header.{n}" value="{escape(column.header, quote=True)}">'


def _offer(n: int, offer: Offer) -> str:
    numbers = f'<span class="fine">{escape(offer.numbers)}</span>'
    return _radio(n, offer.answer, f"<span>{escape(offer.words)} {numbers}</span>")


def _radio(n: int, value: str, label: str, *, checked: bool = False) -> str:
    return (
        f'<label class="choice"><input type="radio" name="choice.{n}" value="{escape(value, quote=True)}"'
        f"{' checked' if checked else ''}>{label}</label>"
    )


def _curve(found: Unread | None) -> str:
    """The column's own curve."""
    if found is None or len(found.curve) < 2:
        return ""
    return spark(tuple(n - min(found.curve) for n in found.curve))


def _runs(found: Unread | None) -> str:
    if found is None:
        return ""
    return say("bring.runs", low=f"{found.numbers.lowest:.4g}", high=f"{found.numbers.highest:.4g}")


def _which_is_left(file: DroppedFile) -> str:
    """The question about the sides, asked once for the whole log."""
    options = [("1", "bring.sides_1"), ("2", "bring.sides_2"), ("", "bring.later")]
    radios = "".join(
        f'<label class="choice"><input type="radio" name="sides" value="{value}"'
        f"{'' if value else ' checked'}>{escape(say(key))}</label>"
        for value, key in options
    )
    return (
        f'<fieldset><legend class="h2">{escape(say("bring.sides", file=file.name))}</legend>'
        f"<p>{escape(say('bring.sides_why'))}</p>{radios}</fieldset>"
    )


def _naming(n: int, column: Column, *, first: Sequence[tuple[str, str]] = ()) -> str:
    """Three fields that name a column: what, where, in which unit; what stands in `first` comes first."""
    quantity = column.quantity or NAMEABLE[1]
    names = [*first, *((name, column_words(name)) for name in NAMEABLE)]
    shown = "" if first else quantity
    fields = (
        _select(f"quantity.{n}", say("bring.what"), names, shown),
        _select(f"place.{n}", say("bring.where"), places_of(quantity), column.position, hidden=bool(first)),
        _select(f"unit.{n}", say("bring.in_unit"), _units(quantity), column.unit, hidden=bool(first)),
    )
    label = escape(say("bring.naming", header=column.header or say("bring.no_header")), quote=True)
    return f'<div class="naming" role="group" aria-label="{label}">{"".join(fields)}</div>'


def _units(quantity: str) -> list[tuple[str, str]]:
    by_itself = [("", say("bring.unit_by_itself"))] if quantity != "time_s" else []
    return [*by_itself, *((u, u) for u in units_of(quantity))]


def _select(
    name: str, label: str, options: Sequence[tuple[str, str]], chosen: str, *, hidden: bool = False
) -> str:
    listed = "".join(
        f'<option value="{escape(value, quote=True)}"{" selected" if value == chosen else ""}>'
        f"{escape(text)}</option>"
        for value, text in options
    )
    unneeded = hidden or len(options) < 2
    return (
        f"<label{' hidden' if unneeded else ''}>{escape(label)} "
        f'<select name="{name}">{listed}</select></label>'
    )


def renaming(job: Job, file: DroppedFile, now: Outcome | None) -> Markup | None:
    """Every column of numbers that is in no doubt, to be named otherwise, left out or read after all."""
    rows = "".join(
        _renamed(job, file, n, column, now)
        for n, column in enumerate(file.columns)
        if column.status != "doubtful" and _has_numbers(job, file, column)
    )
    if not rows:
        return None
    fields = f'<div class="renaming">{rows}</div>'
    opened = " open" if file.state == "failed" else ""
    title = escape(say("bring.rename", file=file.name))
    return Markup(
        f'<details class="data renamings"{opened}><summary>{title}</summary>'
        f"{_form(job, file, fields, 'rename')}</details>"
    )


def _has_numbers(job: Job, file: DroppedFile, column: Column) -> bool:
    used = column.status == "used" and column.quantity not in (None, "event")
    return used or (file.name, column.header) in job.unread


def _renamed(job: Job, file: DroppedFile, n: int, column: Column, now: Outcome | None) -> str:
    given = column.header in answers_of(job, file)
    used = column.status == "used" and bool(column.quantity)
    first = [("", say("bring.as_it_is"))]
    first += [("ignore", say("bring.leave_out"))] if used else []
    first += [("forget", say("bring.by_itself"))] if given else []
    return (
        f'<div class="renamed"><p><b>{escape(column.header or say("bring.no_header"))}</b> '
        f'<span class="fine">{escape(_now(job, file, column, now))}</span></p>{_hidden(n, column)}'
        f'{_naming(n, column, first=first)}<p class="fine effect-of" data-effect="{n}"></p></div>'
    )


def _now(job: Job, file: DroppedFile, column: Column, now: Outcome | None) -> str:
    """What a column is read as now, with its numbers; where it is left out, those of the file."""
    read = now.columns.get(column.header) if now is not None else None
    if read is not None and read.quantity and read.numbers is not None:
        name = column_words(read.quantity, read.position)
        return say("bring.now", name=name, numbers=numbers_words(read.quantity, read.numbers))
    found = job.unread.get((file.name, column.header))
    return say("bring.now_out", runs=_runs(found)) if found is not None else ""


def answers_of(job: Job, file: DroppedFile) -> dict[str, str]:
    """The answers that hold for a log: those given here, and those remembered for its headings."""
    return {**_remembered(file), **job.answers.get(file.name, {})}


def _remembered(file: DroppedFile) -> dict[str, str]:
    try:
        return Answers().for_headers(file.headers) if file.columns else {}
    except SaglineError:
        return {}


def answers_given(job: Job, file: DroppedFile) -> Markup | None:
    """The answers that hold for a log, each with a way to forget it."""
    given, kept = answers_of(job, file), _remembered(file)
    if not given:
        return None
    rows = "".join(
        _given(
            header,
            say(
                "bring.for_later" if kept.get(header) == answer else "bring.for_this",
                answer=answer_words(answer),
            ),
            {"store": "answered", "job": job.id, "file": file.name, "forget": header},
        )
        for header, answer in given.items()
    )
    title = escape(say("bring.given", file=file.name))
    return Markup(f'<h2 class="lettering">{title}</h2><ul class="given">{rows}</ul>')


def _given(header: str, words: str, data: Mapping[str, str]) -> str:
    """An answer in a list, with the way to forget it."""
    held = " ".join(f'data-{name}="{escape(value, quote=True)}"' for name, value in data.items())
    label = escape(say("bring.forget_of", header=header), quote=True)
    return (
        f"<li><span><b>{escape(header)}</b>: {escape(words)}</span>"
        f'<button class="do second" type="button" {held} aria-label="{label}">'
        f"{escape(say('bring.forget'))}</button></li>"
    )


def everything_remembered() -> Markup | None:
    """What is remembered of every recorder, each answer with a way to forget it; None where nothing is."""
    try:
        kept = Answers().remembered()
    except SaglineError as error:
        return Markup(f'<p class="state error">{escape(str(error))}</p>')
    if not kept:
        return None
    blocks = []
    for one in kept:
        rows = "".join(
            _given(
                header,
                f"{answer_words(answer)}{_side_warning(answer)}",
                {"store": "forgotten", "key": one.key, "header": header},
            )
            for header, answer in one.answers.items()
        )
        title = say("bring.headings_of", file=one.file) if one.file else say("bring.headings_unnamed")
        blocks.append(f'<h2 class="lettering">{escape(title)}</h2><ul class="given">{rows}</ul>')
    return Markup("".join(blocks))


def _side_warning(answer: str) -> str:
    return f" ({say('bring.side_kept')})" if names_a_side(answer) else ""
