"""A header's words and units → what it may speak of."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache

from telemetry.importers.units import Unit, units_named, vocabulary_file

_LATIN = {
    letter: spelt
    for small, spelt in vocabulary_file()["letters"].items()
    for letter, spelt in ((small, spelt), (small.upper(), spelt.capitalize()))
}
_LOST = str.maketrans(
    _LATIN | {"ł": "l", "Ł": "L", "ø": "o", "Ø": "O", "ß": "ss", "æ": "ae", "đ": "d", "\ufffd": "?", "’": "'"}
)
_TWO_LETTERS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa"})
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])|(?<=[A-Za-z?])(?=\d)|(?<=\d)(?=[A-Za-z])")
_BRACKETED = re.compile(r"[\[({<]\s*([^\[\](){}<>]*)\s*[\])}>]")
_WORD = re.compile(r"[A-Za-z?]+|\d+")
_ENDINGS = frozenset(
    {"", "e", "n", "en", "s", "er", "es", "et", "a", "ow", "y", "ens", "de", "ung", "te", "ts"}
)

Feature = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Wording:
    """What a header says.

    Attributes
    ----------
    kinds, subjects, positions : the words found, by their key in the vocabulary.
    aside : why the column is none of ours, a key of the vocabulary; "" if no word says so.
    number : the first number in it, None without one.
    units : what its unit may be, the likelier first.
    unit_text : the unit as written.
    bare : True when the kind comes from a symbol or from the unit alone.
    unknown : tokens that no vocabulary knows.
    pole_pairs : of the motor, where the header or a line above it tells.
    """

    kinds: frozenset[str]
    subjects: frozenset[str]
    positions: frozenset[str]
    aside: str
    number: int | None
    units: tuple[Unit, ...] = ()
    unit_text: str = ""
    bare: bool = False
    unknown: tuple[str, ...] = field(default=())
    pole_pairs: int | None = None


def plain_letters(text: str) -> str:
    """Lower case without accents."""
    stripped = unicodedata.normalize("NFKD", text.translate(_LOST))
    return "".join(c for c in stripped if not unicodedata.combining(c)).lower()


def _spellings(word: str) -> Iterator[str]:
    lower = unicodedata.normalize("NFC", word.lower())
    yield " ".join(_WORD.findall(plain_letters(lower)))
    yield " ".join(_WORD.findall(plain_letters(lower.translate(_TWO_LETTERS))))
    if not lower.isascii() and any(c.isascii() and c.isalpha() for c in lower):
        yield " ".join(_WORD.findall("".join(c if c.isascii() else "?" for c in lower)))


@cache
def _lexicon() -> dict[str, frozenset[Feature]]:
    found: dict[str, set[Feature]] = {}
    listing = vocabulary_file()
    for sort, table in (
        ("kind", listing["kinds"]),
        ("subject", listing["subjects"]),
        ("position", listing["positions"]),
        ("aside", listing["aside"]),
        ("plain", listing["plain"]),
    ):
        for key, languages in table.items():
            for words in languages.values():
                for word in words:
                    for spelling in _spellings(word):
                        found.setdefault(spelling, set()).add((sort, key))
    return {word: frozenset(features) for word, features in found.items()}


@cache
def _inner_words() -> dict[int, frozenset[str]]:
    """Words that may stand inside a longer one, by their length."""
    found: dict[int, set[str]] = {}
    for word in _lexicon():
        if len(word) >= 4 and " " not in word:
            found.setdefault(len(word), set()).add(word)
    return {size: frozenset(words) for size, words in found.items()}


def _inside(token: str, *, least_covered: float = 0.5) -> tuple[list[Feature], list[str]] | None:
    """The known words that a longer one is made of, and what is left between them.

    Of all ways to cut it, the one that leaves the fewest letters over, then the fewest
    words; at least half of the letters must be known.
    """
    best: list[tuple[float, tuple[str, ...], tuple[str, ...]]] = [(0.0, (), ())]
    for end in range(1, len(token) + 1):
        cost, words, rest = best[end - 1]
        left_over = (
            (*rest[:-1], rest[-1] + token[end - 1])
            if rest and rest[-1] != ""
            else (*rest[:-1], token[end - 1])
        )
        options = [(cost + 1.0, words, left_over)]
        for size, known in _inner_words().items():
            if size <= end and token[end - size : end] in known:
                cost, words, rest = best[end - size]
                options.append((cost + 0.1, (*words, token[end - size : end]), (*rest, "")))
        best.append(min(options, key=lambda o: o[0]))
    cost, words, rest = best[-1]
    if not words or int(cost) > (1 - least_covered) * len(token):
        return None
    features = [feature for word in words for feature in _lexicon()[word]]
    return features, [r for r in rest if r and r not in _ENDINGS]


def _symbol(letter: str) -> set[Feature]:
    kind = vocabulary_file()["symbols"].get(letter.upper()) if len(letter) == 1 else None
    return {("kind", kind)} if kind else set()


def _short(token: str) -> list[Feature] | None:
    """Two short marks written as one, such as "vbat", "rpml", "tesc", "rxv"."""
    for cut in range(1, len(token)):
        head, tail = ({*(_lexicon().get(part) or ())} for part in (token[:cut], token[cut:]))
        if tail and (head or _symbol(token[:cut])):
            return [*(head or _symbol(token[:cut])), *tail]
        if len(head) and _symbol(token[cut:]) and any(sort == "subject" for sort, _ in head):
            return [*head, *_symbol(token[cut:])]
    return None


def _match(tokens: list[str]) -> tuple[list[Feature], list[str]]:
    features: list[Feature] = []
    unknown: list[str] = []
    i = 0
    while i < len(tokens):
        for span in range(min(5, len(tokens) - i), 0, -1):
            phrase = " ".join(tokens[i : i + span])
            if phrase in _lexicon():
                features += _lexicon()[phrase]
                i += span
                break
        else:
            token = tokens[i]
            i += 1
            inside = _inside(token)
            if inside:
                features += inside[0]
                tokens[i:i] = inside[1]
            elif short := _short(token):
                features += short
            elif not token.isdigit():
                unknown.append(token)
    return features, unknown


_POWERS = str.maketrans("", "", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
"""Of units; they number nothing."""


def _tokens(text: str) -> list[str]:
    raw = text.translate(_LOST).translate(_POWERS)
    words: list[str] = []
    for chunk in re.split(r"[^\w?]+|_", unicodedata.normalize("NFKC", raw)):
        if plain_letters(chunk) in _lexicon() and chunk not in ("nR", "nL"):
            words.append(plain_letters(chunk))
        else:
            words += _WORD.findall(plain_letters(_CAMEL.sub(" ", chunk)))
    return [w for w in (word.strip("?") for word in words) if w]


def _read(text: str) -> Wording:
    tokens = _tokens(text)
    numbers = [int(t) for t in tokens if t.isdecimal() and len(t) < 9]
    features, unknown = _match([t for t in tokens if not t.isdigit()])
    bare = False
    if not any(sort == "kind" for sort, _ in features):
        # Capitals matter for a symbol, so it is looked up in the header as written.
        for symbol in re.findall(r"(?<![^\W\d_])([A-Za-z]{1,4})(?![^\W\d_])", _CAMEL.sub(" ", text)):
            kind = vocabulary_file()["symbols"].get(symbol)
            if kind:
                features.append(("kind", kind))
                unknown = [u for u in unknown if u != symbol.lower()]
                bare = True
                break

    def of(sort: str) -> frozenset[str]:
        return frozenset(key for s, key in features if s == sort)

    said = of("aside")
    asides = [key for key in vocabulary_file()["aside"] if key in said]
    return Wording(
        of("kind"),
        of("subject"),
        of("position"),
        asides[0] if asides else "",
        numbers[0] if numbers else None,
        bare=bare,
        unknown=tuple(unknown),
    )


def _tail_unit(header: str) -> tuple[str, str]:
    """The header without a unit at its end, and the unit; "" when there is none."""
    for at in re.finditer(r"[\s/_,:;.\-]+(?:(?:in|en|w|i|em)\s+)?", header):
        tail = header[at.end() :]
        if at.start() > 0 and tail and units_named(tail):
            return header[: at.start()], tail
    return header, ""


_PAIRS = "|".join(
    (
        "pole ?pairs?",
        "polpaare?",
        "paires? de p[oô]les",
        "pares de polos",
        "coppie polari",
        "poolparen",
        "polpar",
        "pary? biegun[oó]w",
        "poles",
        "pole",
        "polig",
    )
)
_POLE_PAIRS = re.compile(
    rf"[,;(\[]?\s*(\d{{1,2}})\s*({_PAIRS})\b[)\]]?|(?:pole ?pairs|polpaare)\s*[:=]?\s*(\d{{1,2}})",
    re.IGNORECASE,
)


def pole_pairs_in(text: str) -> int | None:
    """The number of pole pairs that a text tells; poles are counted two to a pair."""
    found = _POLE_PAIRS.search(text)
    if not found:
        return None
    if found[3]:
        return int(found[3])
    return int(found[1]) // 2 if found[2].lower() in ("poles", "pole", "polig") else int(found[1])


@cache
def read_header(header: str, unit_row: str = "") -> tuple[Wording, Wording | None]:
    """What a header says: as a whole, and read with the unit at its end taken off (None when it has none).

    The unit in a row of units or in brackets comes first; it belongs to both readings.
    """
    body, text = _POLE_PAIRS.sub(" ", header).strip(), unit_row.strip()
    header = body
    for found in reversed(list(_BRACKETED.finditer(header))):
        if units_named(found[1]):
            text = text or found[1]
            body = (header[: found.start()] + " " + header[found.end() :]).strip()
            break
    units = units_named(text) if text else ()
    whole = _read(body)
    whole = Wording(
        whole.kinds,
        whole.subjects,
        whole.positions,
        whole.aside,
        whole.number,
        units,
        text,
        whole.bare,
        whole.unknown,
    )
    if units:
        return whole, None
    if units_named(header):
        empty = Wording(frozenset(), frozenset(), frozenset(), "", None, units_named(header), header, True)
        return whole, empty
    head, tail = _tail_unit(body)
    if not tail:
        return whole, None
    short = _read(head)
    return whole, Wording(
        short.kinds,
        short.subjects,
        short.positions,
        short.aside,
        short.number,
        units_named(tail),
        tail,
        short.bare,
        short.unknown,
    )
