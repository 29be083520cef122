"""What a column may be said to be: quantity, place and unit in words, and what a form's fields say."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dashboard.texts import say
from telemetry.answers import answer_words, parsed
from telemetry.importers.columns.answered import units_of
from telemetry.importers.outcome import Numbers, numbers_as, numbers_of, numbers_words
from telemetry.importers.table import RawColumn
from telemetry.importers.units import units_named
from telemetry.quantities import MOTOR_POSITIONS, PACK_POSITIONS, QUANTITIES, pack_part
from telemetry.sentences import column_words
from telemetry.trace import Column

NAMEABLE = tuple(name for name in QUANTITIES if name != "event")
"""What a column of numbers can be; marks are texts."""
MOST_CELLS = 14
CURVE_POINTS = 80
_SIDES = PACK_POSITIONS[:2]


@dataclass(frozen=True, slots=True)
class Offer:
    """A likely answer, in words, and what it makes of the column's numbers."""

    answer: str
    words: str
    numbers: str


@dataclass(frozen=True, slots=True)
class Unread:
    """A column of numbers that is not used: some of its numbers for a small drawing, all in four figures, and
    its likely answers.
    """

    curve: tuple[float, ...]
    numbers: Numbers
    offers: tuple[Offer, ...]


def unread(column: Column, raw: RawColumn) -> Unread | None:
    """A column that is not used, as it can be asked about; None where it holds no numbers."""
    numbers = numbers_of(raw.numbers)
    if numbers is None:
        return None
    own = raw.numbers[np.isfinite(raw.numbers)]
    curve = tuple(own[:: max(1, own.size // CURVE_POINTS)].tolist())
    found = [_offer(answer, raw) for answer in likely(column, numbers)] if column.status == "doubtful" else []
    return Unread(curve, numbers, tuple(found))


def _offer(answer: str, raw: RawColumn) -> Offer:
    numbers = numbers_as(raw, answer)
    told = numbers_words(parsed(answer).quantity, numbers) if numbers is not None else say("bring.no_reading")
    return Offer(answer, answer_words(answer), told)


def likely(column: Column, numbers: Numbers) -> list[str]:
    """What a column in doubt most likely is: what was proposed, and every quantity whose noun the doubt
    speaks of, in a unit that its numbers can be in.

    A temperature that the column's own numbers forbid is not offered.
    """
    if column.quantity == "time_s":
        return [f"time_s in {unit}" for unit in units_of("time_s")]
    found = [_in_unit(answer, column, numbers) for answer in _proposed(column)]
    reason = set(column.reason.casefold().replace(",", " ").split())
    for name in NAMEABLE:
        spoken = name != "time_s" and column_words(name).split()[-1] in reason
        if name == column.quantity or (spoken and _may_be(name, numbers)):
            found += [_in_unit(one, column, numbers) for one in _common_places(name)]
    return list(dict.fromkeys(found))


def _proposed(column: Column) -> list[str]:
    """What was proposed; of a pack that feeds one motor, nobody having said which, either side."""
    pack, part = pack_part(column.position)
    if pack in _SIDES:
        return [f"{column.quantity}@{side}{f'.{part}' if part else ''}" for side in _SIDES]
    return [f"{column.quantity}@{column.position}".rstrip("@")] if column.quantity else []


def _may_be(name: str, numbers: Numbers) -> bool:
    """Whether a temperature can have these numbers, be they °C or °F; other quantities come in too many units
    to tell.
    """
    known = QUANTITIES[name]
    return known.unit != "Cel" or (numbers.lowest >= known.low and numbers.highest <= 1.8 * known.high + 32)


def _in_unit(answer: str, column: Column, numbers: Numbers) -> str:
    """An answer with its unit: the column's, else the first that makes its numbers plausible."""
    quantity = parsed(answer).quantity
    offered = units_of(quantity)
    if column.unit in offered:
        return f"{answer} in {column.unit}"
    known = QUANTITIES[quantity]
    for name in offered:
        unit = units_named(name)[0]
        low, high = (numbers.lowest * unit.factor + unit.offset, numbers.highest * unit.factor + unit.offset)
        if known.low <= low and high <= known.high:
            return f"{answer} in {name}"
    return f"{answer} in {offered[0]}"


def _common_places(name: str) -> list[str]:
    """A quantity at each place it commonly has."""
    places = {
        "motor": ("left", "right"),
        "pack or motor": ("", "left", "right"),
        "cell": tuple("123456"),
    }.get(QUANTITIES[name].positions, ("",))
    return [f"{name}@{p}".rstrip("@") for p in places]


def places_of(name: str) -> list[tuple[str, str]]:
    """Every place a quantity may have and its name; a single "" where it has none."""
    sort = QUANTITIES[name].positions
    whole = {"pack": "where.whole_pack", "pack or motor": "where.whole_pack", "whole or motor": "where.whole"}
    found = [("", say(whole[sort]))] if sort in whole else []
    if sort in ("motor", "pack or motor", "whole or motor"):
        found += [(p, _motor(p)) for p in MOTOR_POSITIONS]
    if sort in ("pack", "pack or motor"):
        found += [(p, p.replace("_", " ")) for p in PACK_POSITIONS]
    if sort == "cell":
        cells = [str(n) for n in range(1, MOST_CELLS + 1)]
        found += [(n, say("where.cell", n=n)) for n in cells]
        found += [
            (f"{p}.{n}", say("where.cell_of", pack=p.replace("_", " "), n=n)) for p in _SIDES for n in cells
        ]
    if sort == "axis":
        found = [("", say("where.whole")), *((axis, axis) for axis in "xyz")]
    return found or [("", "")]


def _motor(position: str) -> str:
    if position.isdigit():
        return say("where.motor_numbered", n=position)
    return (
        say("where.centre") if position == "centre" else say("where.motor", side=position.replace("_", " "))
    )


def catalogue() -> str:
    """For each quantity its places and units, as JSON for the page's script."""
    anyhow = ["", say("bring.unit_by_itself")]
    return json.dumps(
        {
            name: {
                "places": places_of(name),
                "units": [*([anyhow] if name != "time_s" else []), *([u, u] for u in units_of(name))],
            }
            for name in NAMEABLE
        },
        ensure_ascii=False,
    )


def answers_in(fields: Mapping[str, str]) -> tuple[dict[str, str], list[str]]:
    """What the fields of a form say: answers by heading, and the headings whose answer is to be forgotten.

    Parameters
    ----------
    fields : `header.N` is the heading of column N; `choice.N` one of its likely answers, "other" for what the
        three fields `quantity.N`, `place.N` and `unit.N` say, or "" for no answer yet.
    """
    answers: dict[str, str] = {}
    forgotten: list[str] = []
    for name, header in fields.items():
        sort, _, n = name.partition(".")
        if sort != "header":
            continue
        choice = fields.get(f"choice.{n}", "other")
        said = _composed(fields, n) if choice == "other" else choice
        if said == "forget":
            forgotten.append(header)
        elif said:
            answers[header] = said
    return answers, forgotten


def _composed(fields: Mapping[str, str], n: str) -> str:
    quantity = fields.get(f"quantity.{n}", "")
    if quantity in ("", "ignore", "forget"):
        return quantity
    place, unit = fields.get(f"place.{n}", ""), fields.get(f"unit.{n}", "")
    return f"{quantity}{f'@{place}' if place else ''}{f' in {unit}' if unit else ''}"
