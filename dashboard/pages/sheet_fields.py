"""What of a set-up sheet the form shows, and how what is typed becomes a changed sheet."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, get_args

from dashboard.pages.typed_units import in_unit
from dashboard.texts import say
from telemetry.errors import BadSheet
from telemetry.physics.chemistry import CHEMISTRIES, LIPO
from telemetry.sentences import say as word
from telemetry.sheet import Sheet
from telemetry.sheet.tables import MotorPosition
from telemetry.sheet.units import spellings

Path = tuple[str | int, ...]
Choices = tuple[tuple[str, str], ...]

STEADY_S = 30.0


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the form.

    Attributes
    ----------
    key : its name in the form.
    path : where it stands in the sheet, in the unit of record. A number steps into a list.
    unit : as written beside it.
    scale : what is shown is the sheet's value times this.
    text : a name, or one of the `words`; not a number.
    words : what there is to choose from, by what the sheet calls it; empty where it is typed.
    flag : "true" is yes, "" is not said.
    listed : the sheet has it as a list of one.
    label : its words are under `sheet.<label>`; "" is its key.
    """

    key: str
    path: Path
    unit: str = ""
    scale: float = 1.0
    text: bool = False
    words: Choices = ()
    flag: bool = False
    listed: bool = False
    label: str = ""


@dataclass(frozen=True, slots=True)
class FieldGroup:
    """Fields under one legend; `row` counts the entries of a list from 1, 0 for what is no list; `spare` is
    one that the sheet has not yet.
    """

    legend: str
    fields: tuple[Field, ...]
    row: int = 0
    spare: bool = False


def _ratings(key: str, table: str, unit: str, name: str = "ratings") -> tuple[Field, ...]:
    """What a part carries steadily, in a burst, and for how long."""
    what = "c_rate" if unit == "C" else "current_a"
    return (
        Field(f"{key}_steady", (table, name, "steady", what), unit),
        Field(f"{key}_burst", (table, name, "burst", what), unit),
        Field(f"{key}_burst_s", (table, name, "burst", "seconds"), "s"),
    )


CHEMISTRY_WORDS: Choices = (
    ("", say("sheet.chemistry_not_said", usual=word("chemistry", LIPO.key))),
    *((key, word("chemistry", key)) for key in CHEMISTRIES),
)
_BLADES: Choices = (("", say("sheet.open_propeller")), ("true", say("sheet.ducted_fan")))
_REVERSING: Choices = (("", say("sheet.forward_only")), ("true", say("sheet.reversing")))
_POSITIONS: Choices = (
    ("", say("sheet.choose")),
    *((place, say(f"sheet.places.{place}")) for place in get_args(MotorPosition)),
)
_FEEDS: Choices = (("", say("sheet.feeds_all")), *_POSITIONS[1:])
_HANDS: Choices = (
    ("", say("sheet.not_said")),
    ("clockwise", say("sheet.clockwise")),
    ("anticlockwise", say("sheet.anticlockwise")),
)
_NUMBERS: Choices = (("", say("sheet.not_said")), *((str(n), str(n)) for n in range(1, 10)))
_PHASES = ("takeoff", "climb", "cruise", "descent", "approach", "go_around", "landing")
_PHASE_WORDS: Choices = (("", say("sheet.choose")), *((phase, phase.replace("_", " ")) for phase in _PHASES))

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
            Field("field_pressure_hpa", ("field", "pressure_hpa"), "hPa"),
            Field("field_relative_humidity_fraction", ("field", "relative_humidity_fraction"), "%", 100.0),
        ),
    ),
    FieldGroup(
        "pack",
        (
            Field("pack_name", ("pack", "name"), text=True),
            Field("pack_chemistry", ("pack", "chemistry"), text=True, words=CHEMISTRY_WORDS),
            Field("pack_cells", ("pack", "cells")),
            Field("pack_parallel", ("pack", "parallel")),
            Field("pack_full_cell_v", ("pack", "full_cell_v"), "V a cell"),
            Field("pack_capacity_mah", ("pack", "capacity_mah"), "mAh"),
            Field("pack_resistance_mohm", ("pack", "resistance_mohm"), "mΩ a cell"),
            *_ratings("pack", "pack", "C"),
        ),
    ),
    FieldGroup(
        "leads",
        (
            Field("leads_length_m", ("leads", "length_m"), "m"),
            Field("leads_added_length_m", ("leads", "added_length_m"), "m"),
            Field("leads_area_mm2", ("leads", "area_mm2"), "mm²"),
            *_ratings("plug", "leads", "A", "plug_ratings"),
        ),
    ),
    FieldGroup(
        "controller",
        (
            *_ratings("controller", "controller", "A"),
            Field(
                "controller_reversing", ("controller", "reversing"), text=True, words=_REVERSING, flag=True
            ),
            Field("controller_neutral_fraction", ("controller", "neutral_fraction"), "%", 100.0),
            Field("controller_max_temperature_c", ("controller", "max_temperature_c"), "°C"),
            Field("controller_resistance_mohm", ("controller", "resistance_mohm"), "mΩ"),
        ),
    ),
    FieldGroup(
        "motor",
        (
            Field("motor_kv_rpm_per_v", ("motor", "kv_rpm_per_v"), "rpm/V"),
            Field("motor_resistance_mohm", ("motor", "resistance_mohm"), "mΩ"),
            Field("motor_no_load_a", ("motor", "no_load_points", 0, "current_a"), "A"),
            Field("motor_no_load_v", ("motor", "no_load_points", 0, "voltage_v"), "V"),
            Field("motor_no_load_rpm", ("motor", "no_load_points", 0, "rpm"), "rpm"),
            Field("motor_pole_pairs", ("motor", "pole_pairs")),
            *_ratings("motor", "motor", "A"),
            Field("motor_max_temperature_c", ("motor", "max_temperature_c"), "°C"),
        ),
    ),
    FieldGroup(
        "propeller",
        (
            Field("propeller_diameter_in", ("propeller", "diameter_in"), "in"),
            Field("propeller_pitch_in", ("propeller", "pitch_in"), "in"),
            Field("propeller_blades", ("propeller", "blades")),
            Field("propeller_ducted", ("propeller", "ducted"), text=True, words=_BLADES, flag=True),
            Field("static_rpm", ("propeller", "static_points", 0, "rpm"), "rpm"),
            Field("static_current_a", ("propeller", "static_points", 0, "current_a"), "A"),
            Field("static_voltage_v", ("propeller", "static_points", 0, "voltage_v"), "V"),
            Field("static_thrust_n", ("propeller", "static_points", 0, "thrust_n"), "N"),
            Field("static_density_kgm3", ("propeller", "static_points", 0, "density_kgm3"), "kg/m³"),
        ),
    ),
    FieldGroup(
        "receiver_supply",
        (
            Field("receiver_supply_voltage_v", ("receiver_supply", "voltage_v"), "V"),
            *_ratings("receiver_supply", "receiver_supply", "A"),
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
"""Along the wire, from the aircraft and its pack to what is kept back."""

_LISTS: Mapping[str, tuple[Path, tuple[Field, ...]]] = {
    "motors": (
        ("motors",),
        (
            Field("place", ("position",), text=True, words=_POSITIONS),
            Field("rotation", ("rotation",), text=True, words=_HANDS),
            Field("arm_m", ("arm_m",), "m"),
            Field("logged_as", ("logged_as",), text=True, words=_NUMBERS),
            Field("kv_rpm_per_v", ("motor", "kv_rpm_per_v"), "rpm/V"),
            Field("diameter_in", ("propeller", "diameter_in"), "in"),
            Field("pitch_in", ("propeller", "pitch_in"), "in"),
        ),
    ),
    "packs": (
        ("packs",),
        (
            Field("name", ("name",), text=True),
            Field("chemistry", ("chemistry",), text=True, words=CHEMISTRY_WORDS),
            Field("cells", ("cells",)),
            Field("capacity_mah", ("capacity_mah",), "mAh"),
            Field("resistance_mohm", ("resistance_mohm",), "mΩ a cell"),
            Field("feeds", ("feeds",), text=True, words=_FEEDS, listed=True),
        ),
    ),
    "configurations": (
        ("configurations",),
        (
            Field("name", ("name",), text=True),
            Field("mass_kg", ("mass_kg",), "kg"),
            Field("drag_area_m2", ("drag_area_m2",), "m²"),
            Field("diameter_in", ("propeller", "diameter_in"), "in"),
            Field("pitch_in", ("propeller", "pitch_in"), "in"),
        ),
    ),
    "legs": (
        ("plan", "legs"),
        (
            Field("phase", ("phase",), text=True, words=_PHASE_WORDS),
            Field("seconds", ("seconds",), "s"),
            Field("throttle", ("throttle",), "%", 100.0),
            Field("climb_mps", ("climb_mps",), "m/s"),
            Field("airspeed_mps", ("airspeed_mps",), "m/s"),
        ),
    ),
}
"""Lists of the sheet, by their legend: where they stand, and the fields of an entry."""

FIELDS = {f.key: f for g in GROUPS for f in g.fields}
"""Those that every sheet has."""


_KEY = re.compile(r"\b[A-Za-z]+(?:_[a-z0-9]+)+\b")
_LABELS = {str(f.path[-1]): say(f"sheet.{f.key}") for f in FIELDS.values()} | {
    str(f.path[-1]): say(f"sheet.{legend}_{f.key}") for legend, (_, own) in _LISTS.items() for f in own
}


def groups_of(sheet: Sheet) -> tuple[FieldGroup, ...]:
    """Every group of a sheet's form, its lists with an empty entry or two to add.

    Parameters
    ----------
    sheet : being worked on.
    """
    found = list(GROUPS)
    for legend, (path, fields) in _LISTS.items():
        there = len(_value_at(_content(sheet), path) or ())
        for k in range(_rows(legend, there)):
            own = tuple(_of_entry(field, legend, path, k) for field in fields)
            found.append(FieldGroup(legend, own, k + 1, k >= there))
    return tuple(found)


def _rows(legend: str, there: int) -> int:
    """How many entries of a list are shown: a twin's two motors, a plan of four legs, else one more."""
    if legend == "motors":
        return 2 if there < 2 else 4 if there < 4 else there
    return max(there + 1, 4) if legend == "legs" else there + 1


def _of_entry(field: Field, legend: str, path: Path, k: int) -> Field:
    return Field(
        f"{legend}_{k}_{field.key}",
        (*path, k, *field.path),
        field.unit,
        field.scale,
        field.text,
        field.words,
        field.flag,
        field.listed,
        f"{legend}_{field.key}",
    )


def fields_of(sheet: Sheet) -> dict[str, Field]:
    """Every field of a sheet's form, by its key."""
    return {f.key: f for g in groups_of(sheet) for f in g.fields}


def _content(sheet: Sheet) -> dict[str, Any]:
    return sheet.tables.model_dump(exclude_none=True)


def shown(sheet: Sheet) -> dict[str, str]:
    """Every field as it is written in the form; "" where the sheet says nothing."""
    content = _content(sheet)
    return {key: _written(_value_at(content, field.path), field) for key, field in fields_of(sheet).items()}


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
    if field.listed:
        return str(value[0]) if value else ""
    if field.text:
        return str(value)
    shown_value = value * field.scale
    return f"{shown_value:.0f}" if abs(shown_value - round(shown_value)) < 1e-9 else f"{shown_value:.4g}"


def changed(sheet: Sheet, typed: Mapping[str, str]) -> tuple[Sheet | None, dict[str, str]]:
    """The sheet with what was typed, or what is wrong with it.

    Parameters
    ----------
    sheet : before.
    typed : every field by its key; one that says what the sheet says already is not rewritten.

    Returns
    -------
    The sheet and {}; or None and a sentence by field, under "" one that belongs to the sheet as a whole.
    """
    fields, before = fields_of(sheet), shown(sheet)
    wrong: dict[str, str] = {}
    news: list[tuple[Field, Any]] = []
    for key, field in fields.items():
        text = typed.get(key, before[key]).strip()
        if text == before[key]:
            continue
        value, fault = _meant(field, text)
        if fault:
            wrong[key] = fault
        else:
            news.append((field, value))
    news = _without_empty_entries(sheet, _together(sheet, news))
    try:
        found = _applied(sheet, news)
    except BadSheet as error:
        return None, wrong | (_blamed(sheet, news) or {"": _sentence(error)})
    return (None, wrong) if wrong else (found, {})


def _meant(field: Field, text: str) -> tuple[Any, str]:
    """What was typed as the sheet has it, None where the field was emptied; or what is wrong with it."""
    if not text:
        return None, ""
    if field.flag:
        return text == "true" or None, ""
    if field.text:
        return ([text] if field.listed else text), ""
    value, fault = in_unit(text, field.unit)
    if value is None:
        return None, fault
    return (value / field.scale if field.scale != 1.0 else value), ""


def _together(sheet: Sheet, news: Sequence[tuple[Field, Any]]) -> list[tuple[Field, Any]]:
    """Entries to add stand behind those that are there, whichever of the empty ones were filled in."""
    found = []
    for legend, (path, _) in _LISTS.items():
        there = len(_value_at(_content(sheet), path) or ())
        own = [(f, v) for f, v in news if f.path[: len(path)] == path and f.key.startswith(f"{legend}_")]
        filled = sorted(
            {int(f.path[len(path)]) for f, v in own if int(f.path[len(path)]) >= there and v is not None}
        )
        place = {k: there + n for n, k in enumerate(filled)}
        for field, value in own:
            k = int(field.path[len(path)])
            if k < there or k in place:
                moved = (*path, place.get(k, k), *field.path[len(path) + 1 :])
                found.append((Field(field.key, moved, scale=field.scale, label=field.label), value))
    lists = tuple(path for path, _ in _LISTS.values())
    single = [(f, v) for f, v in news if not any(f.path[: len(path)] == path for path in lists)]
    return [*single, *found]


def _without_empty_entries(sheet: Sheet, news: Sequence[tuple[Field, Any]]) -> list[tuple[Field, Any]]:
    """An entry whose every field was emptied goes as a whole."""
    content = _content(sheet)
    gone: list[Path] = []
    for legend, (path, fields) in _LISTS.items():
        for k, entry in enumerate(_value_at(content, path) or ()):
            filled = {f"{legend}_{k}_{f.key}" for f in fields if _value_at(entry, f.path) is not None}
            emptied = {f.key for f, v in news if v is None and f.path[: len(path) + 1] == (*path, k)}
            if (
                filled
                and filled <= emptied
                and not any(v is not None and f.path[: len(path) + 1] == (*path, k) for f, v in news)
            ):
                gone.append((*path, k))
    kept = [(f, v) for f, v in news if not any(f.path[: len(g)] == g for g in gone)]
    return [*kept, *((Field("_".join(map(str, g)), g), None) for g in gone)]


def _applied(sheet: Sheet, news: Sequence[tuple[Field, Any]]) -> Sheet:
    """The sheet with all of it. Raises BadSheet."""
    content = tomllib.loads(sheet.text)
    changes: dict[Sequence[str | int], Any] = {}
    for field, value in news:
        for path, new in _changes(content, field, value).items():
            changes[path] = new
            if len(path) == 2 and isinstance(new, list):  # the next of the same list goes on from here
                content.setdefault(str(path[0]), {})[path[1]] = deepcopy(new)
    return sheet.changed(changes) if changes else sheet


def _blamed(sheet: Sheet, news: Sequence[tuple[Field, Any]]) -> dict[str, str]:
    """Which fields cannot be taken: one after the other is, as long as any can; of those left, each whose own
    value is at fault, else the first with what they lack together.
    """
    taken: list[tuple[Field, Any]] = []
    left = list(news)
    own: dict[str, str] = {}
    while left:
        own, still = {}, []
        for one in left:
            try:
                _applied(sheet, [*taken, one])
                taken.append(one)
            except BadSheet as error:
                still.append(one)
                if error.place.endswith(str(one[0].path[-1])):
                    own[one[0].key] = _sentence(error)
        if len(still) == len(left):
            break
        left = still
    if own or not left:
        return own
    try:
        _applied(sheet, [*taken, *left])
    except BadSheet as error:
        return {left[0][0].key: _sentence(error)}
    return {}


def _sentence(error: BadSheet) -> str:
    """What is wrong, the sheet's own keys by the words of their fields."""
    text = f"{error.problem[:1].upper()}{error.problem[1:]}. {error.remedy}".strip()
    return _KEY.sub(lambda found: _LABELS.get(found[0].lower(), found[0]), text)


def _changes(content: Mapping[str, Any], field: Field, value: Any) -> dict[Path, Any]:
    """The paths to set in the owner's own text, whatever unit a key was written in there."""
    path = field.path
    if len(path) > 2 and path[2] in ("steady", "burst"):
        return _rating_change(content, path, value)
    if len(path) > 2 and path[1] in ("no_load_points", "static_points"):
        return _point_change(content, path, value)
    if isinstance(path[-1], int):
        return {path: None}
    table, key = _value_at(content, path[:-1]) or {}, str(path[-1])
    others: dict[Path, Any] = {(*path[:-1], other): None for other in spellings(key)[1:] if other in table}
    return others | {path: value} if value is not None or key in table else others


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
