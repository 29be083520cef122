"""The set-up sheet as a form that follows the wire from pack to propeller. Native fields; ratings are amperes
and the seconds they may last.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from html import escape
from itertools import groupby

from dashboard.pages.sheet_fields import (
    FIELDS,
    Field,
    FieldGroup,
    changed,
    fields_of,
    groups_of,
    shown,
)
from dashboard.pages.typed_units import read_number
from dashboard.texts import say
from telemetry.physics.chemistry import CHEMISTRIES, LIPO
from telemetry.sheet import Sheet

__all__ = ["FIELDS", "changed", "form", "read_number", "shown"]


def form(
    sheet: Sheet,
    *,
    assumed: Mapping[str, str],
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
    unsaved: bool = False,
) -> str:
    """The form as markup; every value is escaped.

    Parameters
    ----------
    sheet : being worked on.
    assumed : what the prediction took for fields left open.
    typed, wrong : what was refused, and why, by field; "" is the sheet as a whole.
    unsaved : whether the sheet is worked on and not saved.
    """
    values = shown(sheet) | dict(typed or {})
    wrong = wrong or {}
    singles = [g for g in groups_of(sheet) if not g.row]
    lists = groupby((g for g in groups_of(sheet) if g.row), key=lambda g: g.legend)
    groups = "".join(_group(g, values, assumed, wrong) for g in singles)
    groups += "".join(_list(legend, list(own), values, wrong) for legend, own in lists)
    told = escape(say("sheet.typed_not_sent"), quote=True)
    buttons = (
        f'<div class="actions"><button class="do" type="submit" '
        f'value="use">{escape(say("sheet.work_out"))}</button>'
        f'<button class="do second" type="submit" value="save">{escape(say("sheet.save"))}</button>'
        f'<p class="fine unsaved" role="status" data-typed="{told}">'
        f"{escape(say('sheet.not_saved')) if unsaved else ''}</p></div>"
    )
    return (
        f'<form class="sheetform" data-store="sheet-form" data-sheet="{sheet.sha256}" novalidate>'
        f"{_summary(sheet, wrong)}{groups}{buttons}</form>"
    )


def _summary(sheet: Sheet, wrong: Mapping[str, str]) -> str:
    """Everything that is wrong, each tied to its field; it takes the focus."""
    if not wrong:
        return ""
    fields = fields_of(sheet)
    items = "".join(
        f'<li><a href="#f-{key}">{escape(_name(fields[key]))}</a>: {escape(text)}</li>'
        if key in fields
        else f"<li>{escape(text)}</li>"
        for key, text in wrong.items()
    )
    head = escape(say("sheet.wrong_one" if len(wrong) == 1 else "sheet.wrong_many", count=len(wrong)))
    return (
        f'<div class="state error whole" id="form-errors" role="alert" tabindex="-1"><p>{head}</p>'
        f"<ul>{items}</ul></div>"
    )


def _name(field: Field) -> str:
    """A field's words, with the entry it belongs to."""
    words = say(f"sheet.{field.label or field.key}")
    number = next((step for step in field.path if isinstance(step, int)), None)
    if not field.label or number is None:
        return words
    return f"{say(f'sheet.entry_{field.path[0]}', number=number + 1)}, {words}"


def _group(
    group: FieldGroup, values: Mapping[str, str], assumed: Mapping[str, str], wrong: Mapping[str, str]
) -> str:
    usual = _of_chemistry(values.get("pack_chemistry", ""))
    rows = "".join(
        _row(f, values.get(f.key, ""), assumed.get(f.key, ""), wrong.get(f.key, ""), usual.get(f.key, ""))
        for f in group.fields
    )
    legend = escape(say(f"sheet.group_{group.legend}"))
    return f'<fieldset class="grp"><legend>{legend}</legend>{rows}</fieldset>'


def _list(
    legend: str, entries: Sequence[FieldGroup], values: Mapping[str, str], wrong: Mapping[str, str]
) -> str:
    """The entries of a list beside one another; those to add are folded where there are some already."""
    there = [g for g in entries if not g.spare]
    spare = [g for g in entries if g.spare]
    filled = any(values.get(f.key) or wrong.get(f.key) for g in spare for f in g.fields)
    more = "".join(_entry(g, values, wrong) for g in spare)
    if there:
        more = (
            f"<details{' open' if filled else ''}><summary>{escape(say(f'sheet.add_{legend}'))}</summary>"
            f'<div class="entries">{more}</div></details>'
        )
        more = f'<div class="entries">{"".join(_entry(g, values, wrong) for g in there)}</div>{more}'
    else:
        more = f'<div class="entries">{more}</div>'
    words = escape(say(f"sheet.group_{legend}"))
    note = escape(say(f"sheet.about_{legend}"))
    about = f'<p class="fine left">{note}</p>'
    return f'<fieldset class="grp whole"><legend>{words}</legend>{about}{more}</fieldset>'


def _entry(group: FieldGroup, values: Mapping[str, str], wrong: Mapping[str, str]) -> str:
    hint = say(f"sheet.hint_{group.legend}")
    rows = "".join(_row(f, values.get(f.key, ""), "", wrong.get(f.key, ""), hint) for f in group.fields)
    legend = escape(say(f"sheet.entry_{group.fields[0].path[0]}", number=group.row))
    return f'<fieldset class="entry"><legend>{legend}</legend>{rows}</fieldset>'


def _of_chemistry(key: str) -> dict[str, str]:
    """What holds for a chemistry where the sheet says nothing, by field."""
    kind = CHEMISTRIES.get(key, LIPO)
    return {
        "pack_full_cell_v": f"{kind.curve.full_cell_v:.2f}",
        "reserve_loaded_cell_v": f"{kind.loaded_floor_v.value:.2f}",
    }


def _row(field: Field, value: str, assumed: str, wrong: str, usual: str) -> str:
    ident = f"f-{field.key}"
    said = assumed if assumed and not value and not field.words else ""
    described = f' aria-describedby="{ident}-d"' if wrong or said else ""
    ties = described + (' aria-invalid="true"' if wrong else "")
    below = ""
    if wrong:
        below = f'<p class="err" id="{ident}-d">{escape(wrong)}</p>'
    elif said:
        below = f'<p class="fine" id="{ident}-d">{escape(say("sheet.assumed", value=said))}</p>'
    label = f'<label for="{ident}">{escape(say(f"sheet.{field.label or field.key}"))}</label>'
    box = _choice(field, value, ties) if field.words else _box(field, value, usual, ties)
    return (
        f'<div class="fld">{label}<span class="inp{" name" if field.text else ""}">{box}<span '
        f'class="u">{escape(field.unit)}</span></span></div>{below}'
    )


def _box(field: Field, value: str, usual: str, ties: str) -> str:
    """A field to type in; what holds without it stands in it, in grey."""
    mode = "" if field.text else ' inputmode="decimal"'
    hint = escape(usual or say("sheet.not_known"), quote=True)
    return (
        f'<input id="f-{field.key}" name="{field.key}" type="text"{mode} '
        f'value="{escape(value, quote=True)}" placeholder="{hint}"{ties} autocomplete="off">'
    )


def _choice(field: Field, value: str, ties: str) -> str:
    """A field to choose in. Each chemistry carries what then stands in the fields that follow it."""
    options = "".join(
        f'<option value="{escape(key, quote=True)}"{" selected" if key == value else ""}'
        f"{_hints(key) if field.key == 'pack_chemistry' else ''}>{escape(text)}</option>"
        for key, text in _with_own(field, value)
    )
    return f'<select id="f-{field.key}" name="{field.key}"{ties}>{options}</select>'


def _hints(chemistry: str) -> str:
    return f' data-hints="{escape(json.dumps(_of_chemistry(chemistry)), quote=True)}"'


def _with_own(field: Field, value: str) -> Sequence[tuple[str, str]]:
    """What there is to choose from, and what the sheet has of its own."""
    if any(key == value for key, _ in field.words):
        return field.words
    return (*field.words, (value, value))
