"""Sentences about an aircraft that flies on ducted fans: they say fan where others say propeller."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from telemetry.sentences import words

_SPOKEN = (
    "headline",
    "sentence",
    "short",
    "title",
    "message",
    "evidence",
    "why",
    "reason",
    "explained_by",
    "method",
    "limit_reason",
    "weakest_assumption",
)
"""Fields of results that hold sentences or clauses; all others are keys, names and figures."""

_Part = TypeVar("_Part")


def fan_words(text: str) -> str:
    """A sentence or clause about propellers as it is said of fans."""
    for usual, fan in words()["of_fans"]["instead"]:
        text = text.replace(usual, fan)
    return text


def of_fans(part: _Part) -> _Part:
    """Results with their sentences said of fans.

    Parameters
    ----------
    part : a dataclass, or a tuple of such, however deep; anything else stays as it is.
    """
    found: Any = part
    if type(found) is tuple:
        each = tuple(of_fans(one) for one in found)
        found = found if all(a is b for a, b in zip(each, found, strict=True)) else each
    elif is_dataclass(found) and not isinstance(found, type):
        held = {f.name: getattr(found, f.name) for f in fields(found)}
        said = {
            n: fan_words(v) if n in _SPOKEN and isinstance(v, str) else of_fans(v) for n, v in held.items()
        }
        changed = {name: value for name, value in said.items() if value is not held[name]}
        found = replace(found, **changed) if changed else found
    return found  # type: ignore[no-any-return]
