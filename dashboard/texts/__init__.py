"""The words of the pages, one file a language. The words of findings and answers come with the review."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from string import Formatter
from typing import Any

from telemetry.sentences import words


@cache
def _book(language: str) -> dict[str, Any]:
    book = tomllib.loads(files(__package__).joinpath(f"{language}.toml").read_text(encoding="utf-8"))
    return {**book, "quantity": words(language)["quantities"]}


def say(key: str, /, *, language: str = "en", **values: object) -> str:
    """The words under a dotted key, with the values put in.

    Raises
    ------
    KeyError : no such words.
    """
    entry: Any = _book(language)
    for part in key.split("."):
        entry = entry[part]
    if not isinstance(entry, str):
        raise KeyError(key)
    return entry.format(**values) if values else entry


def pieces(key: str, /, *, language: str = "en", **values: Any) -> list[Any]:
    """The words under a key as a list, with things that are not text put in their places: a link, an
    interval.
    """
    template = say(key, language=language)
    found: list[Any] = []
    for text, name, _, _ in Formatter().parse(template):
        found += [text] if text else []
        value = values[name] if name else []
        found += value if isinstance(value, list) else [value]
    return found


def said(key: str, otherwise: str, /, *, language: str = "en") -> str:
    """The words under a key, or what is given when there are none: for names that come from elsewhere."""
    try:
        return say(key, language=language)
    except KeyError:
        return otherwise
