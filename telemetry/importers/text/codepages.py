"""Which code page gives back the headings of a file whose bytes are no UTF-8."""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from itertools import pairwise

from telemetry.importers.units import units_named, vocabulary_file

_WESTERN, _WINDOWS = "latin-1", "cp1252"
_OTHERS = ("iso8859-2", "cp1250", "cp1251", "koi8-r", "mac-roman", "cp850", "cp437", "shift-jis")
_WORD = re.compile(r"[^\W\d_]+")
_BRACKETED = re.compile(r"[(\[]([^()\[\]]+)[)\]]")
_BETWEEN = re.compile(r"[\s,;|()\[\]\"]+")
_HEADINGS = re.compile(rb"[^\r\n]*[\x80-\xff][^\r\n]*")


@cache
def _native_words() -> frozenset[str]:
    """Words of the vocabulary that are written with letters beyond ASCII."""
    listing = vocabulary_file()
    spoken = (
        word
        for sort in ("kinds", "subjects", "positions")
        for languages in listing[sort].values()
        for words in languages.values()
        for word in words
    )
    return frozenset(
        part
        for word in spoken
        for part in unicodedata.normalize("NFC", word.lower()).split()
        if not part.isascii()
    )


@cache
def _stems() -> frozenset[str]:
    """Their beginnings, because headings decline."""
    return frozenset(word[: max(4, len(word) - 2)] for word in _native_words() if len(word) >= 4)


def _known(text: str) -> float:
    """How much of a text's words and units beyond ASCII the vocabulary knows, less what no heading is written
    like.
    """
    pieces = _BETWEEN.split(text)
    score = float(sum(bool(units_named(piece)) for piece in pieces if not piece.isascii()))
    for word in _WORD.findall(text):
        if word.isascii():
            continue
        lower = word.lower()
        if lower in _native_words():
            score += 2.0
        elif any(lower.startswith(stem) for stem in _stems()):
            score += 1.0
        # A capital after a small letter, or two alphabets in one word.
        if (
            any(a.islower() and b.isupper() and not b.isascii() for a, b in pairwise(word))
            or len({"CYRILLIC" in unicodedata.name(c, "") for c in word}) > 1
        ):
            score -= 1.0
    score += sum(not unit.isascii() and bool(units_named(unit)) for unit in _BRACKETED.findall(text))
    # Signs inside of words, but for the point between two units: a letter read by the wrong page.
    return score - len(re.findall(r"(?<=[^\W\d_])[^\w\s\x00-\x7f·](?=[^\W\d_])", text))


def code_page(raw: bytes) -> str:
    """Latin-1 or Windows' own page of the west, unless another page's words are known better.

    Parameters
    ----------
    raw : the file's beginning.
    """
    windows = re.search(rb"[\x80-\x9f]", raw)
    western = _WINDOWS if windows else _WESTERN
    headings = b"\n".join(_HEADINGS.findall(raw)[:8])
    best, highest = western, _known(headings.decode(western, errors="replace"))
    for page in _OTHERS:
        if page.startswith("iso") and windows:
            continue
        score = _known(headings.decode(page, errors="replace"))
        if score > highest + 0.5:
            best, highest = page, score
    return best
