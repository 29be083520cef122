"""The words of every finding and answer, kept apart from what they are said of.

One TOML file a language; `say` fills a template with values. Besides Python's own
format codes a template may use `clock` (4:15), `time` (4 min 15 s), `pct` (6.8 %), `pct0` (7 %),
`spct` (+6.8 %), `count` (one, two, … twelve, 13), `Count` (One …) and `part` (left outer).
"""

from __future__ import annotations

import math
import string
import tomllib
from collections.abc import Iterable
from functools import lru_cache
from importlib.resources import files
from typing import Any

from telemetry.estimate import Undecided

COUNTS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
MINUS = "\u2212"


@lru_cache(maxsize=8)
def words(language: str = "en") -> dict[str, Any]:
    """All templates of a language."""
    text = files("telemetry.sentences").joinpath(f"{language}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def clock(seconds: float) -> str:
    """4:15"""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def spoken_time(seconds: float) -> str:
    """4 min 15 s, or 45 s."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    return f"{whole // 60} min" if whole % 60 == 0 else f"{whole // 60} min {whole % 60} s"


def capital(text: str) -> str:
    """The text with its first letter raised."""
    return text[:1].upper() + text[1:]


def sentence(clause: str) -> str:
    """A clause as a sentence: first letter raised, one full stop."""
    return capital(clause.strip().rstrip(".")) + "."


def rating_words(part: str) -> str:
    """A rating as the trade names it: "left motor, continuous" or "pack, burst (10 s)".

    Parameters
    ----------
    part : as the set-up sheet's ratings carry it, "left motor, steadily" or "pack, 10 s".
    """
    name, comma, how_long = part.rpartition(", ")
    if not comma:
        return part
    return say("ratings", "continuous" if how_long == "steadily" else "burst", part=name, seconds=how_long)


def column_words(quantity: str, position: str = "") -> str:
    """What a column holds, in words: "right controller temperature", "cell voltage 3", "motor 1 current".

    Parameters
    ----------
    quantity : a name in the list of quantities.
    position : one that it can have.
    """
    name = say("quantities", quantity)
    pack, _, cell = position.rpartition(".")
    if pack:
        return say("places", "of_cell", quantity=say("places", "at", place=pack, quantity=name), place=cell)
    if position.isdigit():
        sort = "of_cell" if quantity == "cell_voltage_v" else "of_motor"
        return say("places", sort, quantity=name, place=position)
    return say("places", "at", place=position, quantity=name) if position else name


def with_limits(value: float, low: float, high: float, *, decimals: int, unit: str = "") -> str:
    """22.9 A (16.3–25.9), or "to" between limits when one is negative; with the digits that `places_for`
    finds.
    """
    places = places_for([(value, low, high)], decimals)
    between = " to " if low < 0 else "–"
    return (
        f"{value:.{places}f}{f' {unit}' if unit else ''} ({low:.{places}f}{between}{high:.{places}f})"
    ).replace("-", MINUS)


def places_for(figures: Iterable[tuple[float, float, float]], decimals: int) -> int:
    """Decimals for values with their limits, a column's or one.

    They are `decimals`, and up to two more where rounding would hide that the limits stand apart from the
    value; digits beyond four significant figures tell nobody anything.
    """
    return max((_places(value, low, high, decimals) for value, low, high in figures), default=decimals)


def _places(value: float, low: float, high: float, decimals: int) -> int:
    places = decimals
    while places < decimals + 2 and _significant(value, places) < 4 and not _tells(value, low, high, places):
        places += 1
    return places


def _significant(value: float, places: int) -> int:
    """How many figures of a number are shown."""
    return places + math.floor(math.log10(abs(value))) + 1 if value else places


def _tells(value: float, low: float, high: float, places: int) -> bool:
    """Whether rounded limits stand apart from the rounded value wherever they do."""
    shown = [round(x, places) for x in (low, value, high)]
    return (low == value or shown[0] < shown[1]) and (high == value or shown[1] < shown[2])


class _Formatter(string.Formatter):
    def format_field(self, value: Any, format_spec: str) -> str:
        match format_spec:
            case "clock":
                return clock(value)
            case "time":
                return spoken_time(value)
            case "pct":
                return (f"{100 * value:.1f} %" if abs(value) < 0.1 else f"{100 * value:.0f} %").replace(
                    "-", MINUS
                )
            case "pct0":
                return f"{100 * value:.0f} %".replace("-", MINUS)
            case "spct":
                text = f"{100 * value:+.1f} %"
                return text[1:] if text[1:] == "0.0 %" else text.replace("-", MINUS)
            case "count" | "Count":
                count = COUNTS[value] if 0 <= value < len(COUNTS) else str(value)
                return count if format_spec == "count" else capital(count)
            case "part":
                return str(value).replace("_", " ")
        return str(super().format_field(value, format_spec))


_FORMATTER = _Formatter()


def say(*path: str, language: str = "en", **values: Any) -> str:
    """The sentence at a path such as ("findings", "weak_cell_resistance", "message"), filled.

    Raises KeyError when the template or one of its values is missing: a test walks all of them.
    """
    return _FORMATTER.vformat(str(_at(path, language)), (), values)


def counted(*path: str, count: int, language: str = "en", **values: Any) -> str:
    """The sentence at a path that suits a number: its "none", "one" or "two" where it has one, else "many".

    Raises KeyError as `say` does.
    """
    forms = _at(path, language)
    name = {0: "none", 1: "one", 2: "two"}.get(count, "many")
    return say(*path, name if name in forms else "many", language=language, count=count, **values)


def undecided(*path: str, language: str = "en", **values: Any) -> Undecided:
    """Why there is no number: the reason at a path under "undecided", such as ("season", "no_throttle")."""
    return Undecided(say("undecided", *path, language=language, **values))


def _at(path: tuple[str, ...], language: str) -> Any:
    found: Any = words(language)
    for step in path:
        found = found[step]
    return found
