"""The set-up sheet as a form that follows the wire from pack to propeller. Native fields; ratings are amperes
and the seconds they may last.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

from dashboard.texts import say
from telemetry.errors import BadSheet
from telemetry.physics.chemistry import CHEMISTRIES, LIPO
from telemetry.sentences import say as word
from telemetry.sheet import Sheet
from telemetry.sheet.units import spellings

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the form.

    Attributes
    ----------
    key : its words are under `sheet.<key>`; also its name in the form.
    path : where it stands in the sheet, in the unit of record. A number steps into a list.
    unit : as written beside it.
    scale : what is shown is the sheet's value times this.
    text : a name, or one of the `words`; not a number.
    words : what there is to choose from, by what the sheet calls it; empty where it is typed.
    """

    key: str
    path: Path
    unit: str = ""
    scale: float = 1.0
    text: bool = False
    words: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class FieldGroup:
    """Fields under one legend."""

    legend: str
    fields: tuple[Field, ...]


_BLADES = (("", say("sheet.open_propeller")), ("true", say("sheet.ducted_fan")))
_CHEMISTRIES = (
    ("", say("sheet.chemistry_not_said", usual=word("chemistry", LIPO.key))),
    *((key, word("chemistry", key)) for key in CHEMISTRIES),
)

GROUPS = (
    FieldGroup(
        "aircraft",
        (
            Field("aircraft_name", ("aircraft", "name"), text=True),
            Field("aircraft_mass_kg", ("aircraft", "mass_kg"), "kg"),
            Field("aircraft_span_m", ("aircraft", "span_m"), "m"),
            Field("aircraft_wing_area_m2", ("aircraft", "wing_area_m2"), "m²"),
            Field("aircraft_drag_area_m2", ("aircraft", "drag_area_m2"), "m²"),
            Field("field_elevation_m", ("field", "elevation_m"), "m"),
            Field("field_temperature_c", ("field", "temperature_c"), "°C"),
        ),
    ),
    FieldGroup(
        "pack",
        (
            Field("pack_name", ("pack", "name"), text=True),
            Field("pack_chemistry", ("pack", "chemistry"), text=True, words=_CHEMISTRIES),
            Field("pack_cells", ("pack", "cells")),
            Field("pack_full_cell_v", ("pack", "full_cell_v"), "V a cell"),
            Field("pack_capacity_mah", ("pack", "capacity_mah"), "mAh"),
            Field("pack_resistance_mohm", ("pack", "resistance_mohm"), "mΩ a cell"),
            Field("pack_steady", ("pack", "ratings", "steady", "c_rate"), "C"),
            Field("pack_burst", ("pack", "ratings", "burst", "c_rate"), "C"),
            Field("pack_burst_s", ("pack", "ratings", "burst", "seconds"), "s"),
        ),
    ),
    FieldGroup(
        "leads",
        (
            Field("leads_length_m", ("leads", "length_m"), "m"),
            Field("leads_added_length_m", ("leads", "added_length_m"), "m"),
            Field("leads_area_mm2", ("leads", "area_mm2"), "mm²"),
            Field("plug_steady", ("leads", "plug_ratings", "steady", "current_a"), "A"),
            Field("plug_burst", ("leads", "plug_ratings", "burst", "current_a"), "A"),
            Field("plug_burst_s", ("leads", "plug_ratings", "burst", "seconds"), "s"),
        ),
    ),
    FieldGroup(
        "controller",
        (
            Field("controller_steady", ("controller", "ratings", "steady", "current_a"), "A"),
            Field("controller_burst", ("controller", "ratings", "burst", "current_a"), "A"),
            Field("controller_burst_s", ("controller", "ratings", "burst", "seconds"), "s"),
        ),
    ),
    FieldGroup(
        "motor",
        (
            Field("motor_kv_rpm_per_v", ("motor", "kv_rpm_per_v"), "rpm/V"),
            Field("motor_resistance_mohm", ("motor", "resistance_mohm"), "mΩ"),
            Field("motor_no_load_v", ("motor", "no_load_points", 0, "voltage_v"), "V"),
            Field("motor_no_load_a", ("motor", "no_load_points", 0, "current_a"), "A"),
            Field("motor_steady", ("motor", "ratings", "steady", "current_a"), "A"),
            Field("motor_burst", ("motor", "ratings", "burst", "current_a"), "A"),
            Field("motor_burst_s", ("motor", "ratings", "burst", "seconds"), "s"),
        ),
    ),
    FieldGroup(
        "propeller",
        (
            Field("propeller_diameter_in", ("propeller", "diameter_in"), "in"),
            Field("propeller_pitch_in", ("propeller", "pitch_in"), "in"),
            Field("propeller_blades", ("propeller", "blades")),
            Field("propeller_ducted", ("propeller", "ducted"), text=True, words=_BLADES),
            Field("static_rpm", ("propeller", "static_points", 0, "rpm"), "rpm"),
            Field("static_current_a", ("propeller", "static_points", 0, "current_a"), "A"),
            Field("static_voltage_v", ("propeller", "static_points", 0, "voltage_v"), "V"),
            Field("static_thrust_n", ("propeller", "static_points", 0, "thrust_n"), "N"),
        ),
    ),
    FieldGroup(
        "reserve",
        (
            Field("reserve_fraction", ("reserve", "fraction"), "%", 100.0),
            Field("reserve_confidence", ("reserve", "confidence"), "%", 100.0),
            Field("reserve_landing_allowance_s", ("reserve", "landing_allowance_s"), "s"),
            Field("reserve_loaded_cell_v", ("reserve", "loaded_cell_v"), "V"),
            Field("reserve_go_around_s", ("reserve", "go_around_s"), "s"),
        ),
    ),
)

FIELDS = {f.key: f for g in GROUPS for f in g.fields}
STEADY_S = 30.0


def shown(sheet: Sheet) -> dict[str, str]:
    """Every field as it is written in the form; "" where the sheet says nothing."""
    content = sheet.tables.model_dump(exclude_none=True)
    return {key: _written(_value_at(content, field.path), field) for key, field in FIELDS.items()}


def _value_at(content: Any, path: Path) -> Any:
    here = content
    for step in path:
        if step in ("steady", "burst"):
            place = _place(here, str(step))
            here = here[place] if place is not None else None
        elif isinstance(here, Mapping):
            here = here.get(step)
        elif isinstance(here, list | tuple) and isinstance(step, int):
            here = here[step] if step < len(here) else None
        if here is None:
            return None
    return here


def _place(entries: Any, which: str) -> int | None:
    """Which entry of a ratings list is meant: the first that lasts, or the first that does not."""
    for i, entry in enumerate(entries or ()):
        seconds = entry.get("seconds")
        if (which == "steady") == (seconds is None or seconds == STEADY_S):
            return i
    return None


def _written(value: Any, field: Field) -> str:
    if value is None or value is False:
        return ""
    if value is True:
        return "true"
    if field.text:
        return str(value)
    shown_value = value * field.scale
    return f"{shown_value:.0f}" if abs(shown_value - round(shown_value)) < 1e-9 else f"{shown_value:.4g}"


def read_number(text: str) -> float | int | None:
    """A number as typed: blanks in thousands and a decimal comma are understood; None when it is none."""
    plain = (
        text.replace("\u202f", "").replace("\u00a0", "").replace(" ", "").replace("−", "-").replace(",", ".")
    )
    try:
        value = float(plain)
    except ValueError:
        return None
    return int(value) if value.is_integer() and "." not in plain and "e" not in plain.lower() else value


def changed(sheet: Sheet, typed: Mapping[str, str]) -> tuple[Sheet | None, dict[str, str]]:
    """The sheet with what was typed, or what is wrong with it by field ("" is the sheet as a whole)."""
    before = shown(sheet)
    wrong: dict[str, str] = {}
    found = sheet
    for key, text in typed.items():
        field = FIELDS.get(key)
        if field is None or text.strip() == before[key]:
            continue
        value: Any = text.strip() or None
        if field.words is _BLADES:
            value = value == "true" or None
        if value is not None and not field.text:
            value = read_number(text)
            if value is None:
                wrong[key] = say("sheet.no_number", text=text.strip())
                continue
            value = value / field.scale if field.scale != 1.0 else value
        try:
            found = found.changed(_changes(found, field, value))
        except BadSheet as error:
            wrong[key] = _sentence(error)
    return (None, wrong) if wrong else (found, {})


def _sentence(error: BadSheet) -> str:
    return f"{error.problem[:1].upper()}{error.problem[1:]}. {error.remedy}".strip()


def _changes(sheet: Sheet, field: Field, value: Any) -> dict[Path, Any]:
    """The paths to set in the owner's own text, whatever unit a key was written in there."""
    import tomllib

    content = tomllib.loads(sheet.text)
    path = field.path
    if len(path) > 2 and path[2] in ("steady", "burst"):
        return _rating_change(content, path, value)
    if len(path) > 2 and isinstance(path[2], int):
        return _point_change(content, path, value)
    table, key = str(path[0]), str(path[1])
    others: dict[Path, Any] = {
        (table, other): None for other in spellings(key)[1:] if other in content.get(table, {})
    }
    return others | {path: value} if value is not None or key in content.get(table, {}) else others


def _rating_change(content: Mapping[str, Any], path: Path, value: Any) -> dict[Path, Any]:
    table, key, which, part = (str(p) for p in path)
    entries = [dict(e) for e in content.get(table, {}).get(key, [])]
    place = _place(entries, which)
    if place is None:
        if value is None:
            return {}
        new = {part: value} if part != "seconds" else {}
        entries.append(new | ({"seconds": value if part == "seconds" else 10.0} if which == "burst" else {}))
    elif value is None and part != "seconds":
        entries.pop(place)
    elif value is not None:
        entries[place] |= {part: value}
    return {(table, key): entries or None}


def _point_change(content: Mapping[str, Any], path: Path, value: Any) -> dict[Path, Any]:
    table, key, _, part = (str(p) for p in path)
    points = [dict(p) for p in content.get(table, {}).get(key, [])]
    first = points[0] if points else {}
    first = {k: v for k, v in (first | {part: value}).items() if v is not None}
    points = [first, *points[1:]] if first else points[1:]
    return {(table, key): points or None}


def form(
    sheet: Sheet,
    *,
    assumed: Mapping[str, str],
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
) -> str:
    """The form as markup; every value is escaped. `assumed` is what the prediction took for fields left
    open.
    """
    values = shown(sheet) | dict(typed or {})
    groups = "".join(_group(g, values, assumed, wrong or {}) for g in GROUPS)
    whole = f'<p class="err" role="alert">{escape(wrong[""])}</p>' if wrong and wrong.get("") else ""
    buttons = (
        f'<div class="actions"><button class="do" type="submit" '
        f'value="use">{escape(say("sheet.work_out"))}</button>'
        f'<button class="do second" type="submit" value="save">{escape(say("sheet.save"))}</button></div>'
    )
    return f'<form class="sheetform" data-store="sheet-form" novalidate>{whole}{groups}{buttons}</form>'


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
    label = f'<label for="{ident}">{escape(say(f"sheet.{field.key}"))}</label>'
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
        f"{_hints(key) if field.words is _CHEMISTRIES else ''}>{escape(text)}</option>"
        for key, text in field.words
    )
    return f'<select id="f-{field.key}" name="{field.key}"{ties}>{options}</select>'


def _hints(chemistry: str) -> str:
    return f' data-hints="{escape(json.dumps(_of_chemistry(chemistry)), quote=True)}"'
