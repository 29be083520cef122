"""From TOML text to checked tables; every fault one sentence with file, table and key."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from telemetry.errors import BadSheet
from telemetry.sheet import bounds, units
from telemetry.sheet.tables import LoadTable, SheetTables

_Fault = tuple[units.Path, str, str]  # where, what, and the remedy
_ARRAYS = ("packs", "motors", "configurations")
_LISTS = ("ratings", "plug_ratings", "no_load_points", "static_points", "legs")
_NEEDED = {
    "cells": "say how many cells are in series, such as cells = 5",
    "capacity_mah": "give the capacity on the label, such as capacity_mah = 5200",
}


def read_text(path: Path) -> str:
    """The text of a sheet.

    Raises
    ------
    BadSheet : no such file, a folder, not UTF-8 text, or larger than any sheet.
    """
    try:
        return bounds.bytes_of(path).decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except FileNotFoundError:
        raise BadSheet(
            "no such set-up sheet",
            "Check its name, or write one with 'sagline predict --new'.",
            file=path.name,
        ) from None
    except UnicodeDecodeError:
        raise BadSheet("this is not a text in UTF-8", "Save it as UTF-8 text.", file=path.name) from None
    except OSError as error:
        raise BadSheet(
            f"it cannot be read ({(error.strerror or 'unknown reason').lower()})",
            "Give a set-up sheet in TOML.",
            file=path.name,
        ) from None


def checked(text: str, file: str) -> SheetTables:
    """The tables of a sheet, in units of record.

    Raises
    ------
    BadSheet : the text is not TOML, a key is unknown or in a wrong unit, or a value is impossible.
    """
    content = parsed(text, file)
    try:
        normal = units.normalise(content)
    except units.Clash as clash:
        problem = f"{clash.first} and {clash.second} say the same thing twice"
        raise BadSheet(
            problem, "Keep one of them.", file=file, place=_place((*clash.path, clash.second), content)
        ) from None
    _need_pack(normal.content, file)
    try:
        tables = SheetTables.model_validate(normal.content)
    except ValidationError as error:
        raise _bad(error.errors()[0], normal, file) from None
    _need_sense(tables, normal.content, file)
    return tables


def parsed(text: str, file: str) -> dict[str, Any]:
    """A TOML text as plain tables, whatever its keys.

    Raises
    ------
    BadSheet : not TOML, or larger, deeper or with longer numbers than any sheet.
    """
    bounds.check_text(text, file)
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        at = re.search(r"\(at line (\d+), column \d+\)", message)
        what = re.sub(r"\s*\(at .*\)$", "", message)
        line = int(at.group(1)) if at else len(text.splitlines())
        problem = f"this is not TOML ({what[:1].lower()}{what[1:]})"
        raise BadSheet(
            problem, "Put this line right: a key, an equals sign, a value.", file=file, line=line
        ) from None
    except RecursionError:
        raise bounds.too_deep(file) from None
    except ValueError:
        # More digits than Python reads into a whole number.
        raise bounds.too_long(file) from None
    bounds.check_numbers(content, file)
    return content


def _need_pack(content: Mapping[str, Any], file: str) -> None:
    pack = content.get("pack")
    if pack is None:
        raise BadSheet("there is no [pack]", "Add [pack] with cells and capacity_mah.", file=file)
    packs = content.get("packs")
    each = [p for p in packs if isinstance(p, Mapping)] if isinstance(packs, list) else []
    own = {k for k in _NEEDED if each and all("feeds" in p and k in p for p in each)}
    for key, remedy in _NEEDED.items():
        if key in own:
            continue
        near = (
            {k for k in pack if units.stem_of(k) == units.stem_of(key)}
            if isinstance(pack, Mapping)
            else {key}
        )
        if not near:
            raise BadSheet(
                f"{key} is missing", f"{remedy[0].upper()}{remedy[1:]}.", file=file, place="[pack]"
            )


def _need_sense(tables: SheetTables, content: Mapping[str, Any], file: str) -> None:
    """What a single key can't show: names given twice, a leg without an order, a rating without amperes."""
    for path, problem, remedy in chain(
        _misnamed(tables), _unfed(tables), _faulty_legs(tables), _faulty_ratings(tables, ())
    ):
        raise BadSheet(problem, remedy, file=file, place=_place(path, content))


def _misnamed(tables: SheetTables) -> Iterator[_Fault]:
    for array, key in (("configurations", "name"), ("packs", "name"), ("motors", "position")):
        names = [getattr(entry, key) for entry in getattr(tables, array)]
        for i, name in enumerate(names):
            if name is None:
                yield (array, i), "it has no name", 'Give it one, such as name = "No. 2".'
            elif name in names[:i]:
                yield (array, i, key), f'"{name}" stands there twice', "Give each its own."


def _unfed(tables: SheetTables) -> Iterator[_Fault]:
    """Once a pack feeds one motor, every motor has exactly one."""
    if not any(p.feeds for p in tables.packs):
        return
    changed = (m for c in tables.configurations for m in c.motors or ())
    motors = list(dict.fromkeys(m.position for m in (*tables.motors, *changed)))
    fed: list[str] = []
    for i, pack in enumerate(tables.packs):
        at = ("packs", i, "feeds")
        if pack.feeds is None or not pack.feeds:
            yield (
                ("packs", i),
                "it does not say which motor it feeds, and another does",
                'Add feeds = ["left"].',
            )
        elif len(pack.feeds) > 1:
            yield at, "a pack feeds one motor here, or all of them without feeds", 'Write feeds = ["left"].'
        elif pack.feeds[0] not in motors:
            yield at, f'there is no motor "{pack.feeds[0]}" in [[motors]]', "Name one that is there."
        elif pack.feeds[0] in fed:
            yield at, f'"{pack.feeds[0]}" has a pack already', "Give each motor one pack."
        fed += pack.feeds or ()
    missing = next((m for m in motors if m not in fed), None)
    if missing:
        remedy = f'Add [[packs]] with feeds = ["{missing}"].'
        yield ("packs",), f'no pack feeds the motor "{missing}"', remedy
    elif len(motors) < 2:
        yield ("packs", 0, "feeds"), "the one motor is fed by [pack]", "Leave feeds out."


def _faulty_legs(tables: SheetTables) -> Iterator[_Fault]:
    one, keys = "Give one of them.", "throttle, climb_mps or airspeed_mps"
    plans: list[tuple[units.Path, Any]] = [(("plan",), tables.plan)]
    plans += [(("configurations", i, "plan"), c.plan) for i, c in enumerate(tables.configurations)]
    for path, plan in plans:
        for i, leg in enumerate(plan.legs or () if plan else ()):
            at = (*path, "legs", i)
            has_throttle, has_climb = leg.throttle is not None, leg.climb_mps is not None
            if has_throttle and has_climb:
                both = "this leg has throttle and climb_mps, and one follows from the other"
                yield at, both, "Keep one of them."
            if not has_throttle and not has_climb and leg.airspeed_mps is None:
                yield at, f"this leg has no {keys}", one


def _faulty_ratings(table: BaseModel, path: units.Path) -> Iterator[_Fault]:
    """In this table and those below it, in the order of the sheet's keys."""
    for name in type(table).model_fields:
        value = getattr(table, name)
        if name in ("ratings", "plug_ratings"):
            for i, load in enumerate(value or ()):
                yield from _faulty_rating(load, (*path, name, i))
        elif isinstance(value, BaseModel):
            yield from _faulty_ratings(value, (*path, name))
        elif isinstance(value, tuple):
            for i, entry in enumerate(value):
                if isinstance(entry, BaseModel):
                    yield from _faulty_ratings(entry, (*path, name, i))


def _faulty_rating(load: LoadTable, path: units.Path) -> Iterator[_Fault]:
    if (load.current_a is None) == (load.c_rate is None):
        remedy = "Write it such as {current_a = 40} or {c_rate = 30}."
        yield path, "a rating needs either current_a or c_rate", remedy
    if load.c_rate is not None and not {"pack", "packs"} & set(path):
        yield path, "c_rate is a multiple of the pack's capacity", "Give current_a for this part."


def _place(path: units.Path, content: Mapping[str, Any]) -> str:
    """A path as the owner knows it: "[pack] cells", "[[configurations]] skis, [propeller] pitch_in"."""
    words: list[str] = []
    here: Any = content
    for i, step in enumerate(path):
        parent = here
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            here = None
        if isinstance(step, int):
            label = here.get("name") or here.get("position") if isinstance(here, Mapping) else None
            words.append(str(label or step + 1) + ("," if i + 1 < len(path) and path[0] in _ARRAYS else ""))
        elif i == 0 and step in _ARRAYS and isinstance(parent.get(step), list):
            words.append(f"[[{step}]]")
        elif (
            units.model_at(path[: i + 1]) is not None
            and isinstance(here, Mapping | None)
            and step not in _LISTS
        ):
            words.append(f"[{step}]")
        else:
            words.append(str(step))
    return " ".join(words).removesuffix(",")


def _bad(error: ErrorDetails, normal: units.Normal, file: str) -> BadSheet:
    """One pydantic complaint as a sentence of ours."""
    path: units.Path = tuple(error["loc"])
    written = normal.rewritten.get(path)
    shown = (*path[:-1], written.key) if written else path
    place = _place(shown, normal.content)
    if error["type"] == "extra_forbidden":
        problem, remedy = _unknown(path)
        return BadSheet(
            problem, remedy, file=file, place=_place(path[:-1], normal.content) if path[:-1] else ""
        )
    if error["type"] == "missing":
        return BadSheet(
            f"{path[-1]} is missing", "Add it.", file=file, place=_place(path[:-1], normal.content)
        )
    value = written.value if written else error["input"]
    noun, remedy = _meant(path, shown, written)
    if error["type"] in ("int_type", "int_from_float"):
        remedy = remedy.replace("Give ", "Give a whole number, ")
    return BadSheet(f"{_shown(value)} is not {noun}", remedy, file=file, place=place)


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value[:40]}"'
    return str(value) if isinstance(value, int | float) else "this"


def _meant(path: units.Path, shown: units.Path, written: units.Written | None) -> tuple[str, str]:
    """What a key's value should have been, and the remedy."""
    model = units.model_at(path[:-1])
    field = model.model_fields.get(str(path[-1])) if model else None
    if field is None:
        if units.model_at(path) is not None:
            return "a table", "Write the table's keys under it."
        return "what stands here", "See the commented sheet that 'sagline predict --new' writes."
    if (limits := _range_of(field)) is not None:
        low, high = sorted(written.back(limit) if written else limit for limit in limits)
        noun = field.title or "a value"
        return re.sub(r" in \S+$", "", noun) if written else noun, f"Give {low:g} to {high:g}."
    if choices := _choices_of(field):
        return f"a {path[-1]}", f"Give {', '.join(choices[:-1])} or {choices[-1]}."
    if units.model_at(path) is not None:
        is_list = "tuple" in str(field.annotation)
        return "what stands here", f"Write {'a list in square brackets' if is_list else 'a table'}."
    return field.title or "a text", "Write it as in the sheet that 'sagline predict --new' writes."


def _range_of(field: FieldInfo) -> tuple[float, float] | None:
    """The lowest and the highest value of a key, in its unit of record."""
    limits = {
        side: getattr(rule, side) for rule in field.metadata for side in ("ge", "le") if hasattr(rule, side)
    }
    return (limits["ge"], limits["le"]) if len(limits) == 2 else None


def _choices_of(field: FieldInfo) -> list[str]:
    """The words that a key may hold, none for one that takes any."""
    parts = getattr(field.annotation, "__args__", ())
    return [c for part in parts for c in (getattr(part, "__args__", None) or (part,)) if isinstance(c, str)]


def _tables_of_record() -> dict[str, type[BaseModel]]:
    """Every table by its name at the top of the sheet."""
    return {
        name: model for name in SheetTables.model_fields if (model := units.model_at((name,))) is not None
    }


def _owner_of(key: str) -> str:
    """The table at the top of the sheet that has a key, "" for none."""
    for name, table in _tables_of_record().items():
        if any(key in units.spellings(r) for r in table.model_fields):
            return name
    return ""


def _records_of(model: type[BaseModel]) -> list[str]:
    """The keys of a table; a motor's place takes those of its motor, propeller and controller too."""
    records = list(model.model_fields)
    if "position" in records:
        for part in ("motor", "propeller", "controller"):
            records += (units.model_at((part,)) or SheetTables).model_fields
    return records


def _without_unit(key: str, records: Iterable[str]) -> str:
    """The key of record that a key is without its unit, or in a unit that is not read; "" for none."""
    stems = (key, units.stem_of(key))
    wire = ("area_mm2",) if key in ("area", "wire") else ()
    return next((r for r in records if r in wire or ("_" in r and units.stem_of(r) in stems)), "")


def _near(key: str, known: Iterable[str]) -> str:
    return next(iter(difflib.get_close_matches(key, list(known), n=1, cutoff=0.5)), "")


def _unknown(path: units.Path) -> tuple[str, str]:
    """What an unknown key may have meant: another unit, a neighbour's key, a slip of the pen."""
    key = str(path[-1])
    model = units.model_at(path[:-1]) or SheetTables
    records = _records_of(model)
    if same := _without_unit(key, records):
        bare = key == units.stem_of(same)
        problem = f"{key} has no unit" if bare else f"the unit of {key} is not one that is read here"
        return problem, f"Write {' or '.join(units.spellings(same))}."
    owner, at_top = _owner_of(key), model is SheetTables
    if owner and at_top:
        return f"{key} stands outside its table", f"Put it under [{owner}]."
    if at_top:
        near = _near(key, records)
        tables = ", ".join(f"[{r}]" for r in records)
        return (
            f"[{key}] is not a table of the sheet",
            f"Did you mean [{near}]?" if near else f"The tables are {tables}.",
        )
    problem = f"{key} is not a key of this table"
    if owner:
        return problem, f"It belongs under [{owner}]."
    near = next((r for r in records if r.startswith(f"{key}_")), "")
    near = near or _near(key, (spelling for r in records for spelling in units.spellings(r)))
    return problem, f"Did you mean {near}?" if near else f"Its keys are {', '.join(records)}."
