"""What no set-up sheet is: too many bytes, tables too deep in one another, numbers without end."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import accumulate
from pathlib import Path
from typing import Any

from telemetry.errors import BadSheet
from telemetry.limits import SHEET_BYTES, SHEET_DEPTH
from telemetry.sentences import say

_TEXTS = re.compile(
    r'"""(?:[^\\]|\\.)*?"""|\'\'\'.*?\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*', re.DOTALL
)
_KEY = re.compile(rf"(?<![\w\"'-])(?:[\w\"'-]+[ \t]*\.[ \t]*){{{int(SHEET_DEPTH.value)}}}")
_WHOLE = 2**63
"""TOML 1.0.0 promises whole numbers of 64 bits."""


def _beyond(key: str, file: str, **values: Any) -> BadSheet:
    return BadSheet(say("sheet", "limits", key, **values), say("sheet", "limits", f"{key}_remedy"), file=file)


def too_deep(file: str) -> BadSheet:
    """The sentence of a sheet whose tables lie too deep in one another."""
    return _beyond("depth", file, most=int(SHEET_DEPTH.value))


def too_long(file: str) -> BadSheet:
    """The sentence of a sheet with a number of too many digits."""
    return _beyond("number", file)


def bytes_of(path: Path) -> bytes:
    """What a sheet's file holds.

    Raises
    ------
    BadSheet : more than any sheet.
    OSError : it cannot be read.
    """
    with path.open("rb") as source:
        raw = source.read(int(SHEET_BYTES.value) + 1)
    if len(raw) > SHEET_BYTES.value:
        raise _beyond("bytes", path.name, most=int(SHEET_BYTES.value / 1024))
    return raw


def check_text(text: str, file: str) -> None:
    """Refuse before parsing what would take a parser far more memory than the text has.

    Raises
    ------
    BadSheet : larger than any sheet, or deeper.
    """
    if len(text) > SHEET_BYTES.value:
        raise _beyond("bytes", file, most=int(SHEET_BYTES.value / 1024))
    plain = _TEXTS.sub("_", text)
    depths = accumulate((1 if c in "[{" else -1) for c in re.findall(r"[\[\]{}]", plain))
    if max(depths, default=0) > SHEET_DEPTH.value or _KEY.search(plain):
        raise too_deep(file)


def check_numbers(content: Any, file: str) -> None:
    """Raises BadSheet when a whole number is longer than TOML promises to read."""
    if isinstance(content, Mapping):
        content = list(content.values())
    if isinstance(content, list):
        for value in content:
            check_numbers(value, file)
    elif isinstance(content, int) and not -_WHOLE <= content < _WHOLE:
        raise too_long(file)
