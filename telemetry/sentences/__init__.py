"""The words of every finding and answer, kept apart from what they are said of.

One TOML file a language; `say` fills a template with values. Besides Python's own
format codes a template may use `clock` (4:15), `time` (4 min 15 s), `pct` (6.8 %),
`spct` (+6.8 %) and `count` (one, two, … twelve, 13).
"""

from __future__ import annotations

import string
import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


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


class _Formatter(string.Formatter):
    def format_field(self, value: Any, format_spec: str) -> str:
        match format_spec:
            case "clock":
                return clock(value)
            case "time":
                return spoken_time(value)
            case "pct":
                return f"{100 * value:.1f} %" if abs(value) < 0.1 else f"{100 * value:.0f} %"
            case "spct":
                return f"{100 * value:+.1f} %".replace("-", "−")
            case "count":
                return COUNTS[value] if 0 <= value < len(COUNTS) else str(value)
            case "part":
                return str(value).replace("_", " ")
        return str(super().format_field(value, format_spec))


_FORMATTER = _Formatter()


def say(*path: str, language: str = "en", **values: Any) -> str:
    """The sentence at a path such as ("findings", "weak_cell_resistance", "message"), filled.

    Raises KeyError when the template or one of its values is missing: a test walks all of them.
    """
    found: Any = words(language)
    for step in path:
        found = found[step]
    return _FORMATTER.vformat(str(found), (), values)
