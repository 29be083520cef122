"""The one grammar of instants: times of day, durations, dates and moments as texts → seconds.

A form is a way of writing a date with a way of writing a time, one regular expression with its parts named.
No form asks which digit it is: cells that differ in digits alone are of one shape, whose parts stand in the
same places, so that all cells of a shape are read at once. The calendar is pandas'.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import product

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from telemetry.importers.units import vocabulary_file
from telemetry.importers.wording import plain_letters
from telemetry.sentences import say
from telemetry.trace import Floats

# Cells are in small letters.
_NUMERIC_DATES = (
    r"(?P<year>\d{4})[-/.]\s?(?P<month>\d{1,2})[-/.]\s?(?P<day>\d{1,2})\.?",
    r"(?P<former>\d{1,2})(?P<mark>[-/.])\s?(?P<latter>\d{1,2})[-/.]\s?(?P<year>\d{4}|\d{2})",
    r"(?P<year>\d{4})(?P<month>\d{2})(?P<day>\d{2})",
)
_NAME = r"(?P<name>[^\s\d.,:/+-]{3,})"
_WEEKDAY = r"(?:[^\s\d:]{2,14}\s+)?"
_LINK = r"[\s.,/-]*(?:(?:de|del|of)\s+)?"
_NAMED_DATES = (
    rf"{_WEEKDAY}(?P<day>\d{{1,2}})(?:st|nd|rd|th|er)?{_LINK}{_NAME}{_LINK}(?P<year>\d{{4}}|\d{{2}})"
    r"(?:\s?г\.?)?",
    rf"{_WEEKDAY}{_NAME}{_LINK}(?P<day>\d{{1,2}})(?:st|nd|rd|th)?[\s,/-]+(?P<year>\d{{4}})",
    rf"(?P<year>\d{{4}}){_LINK}{_NAME}{_LINK}(?P<day>\d{{1,2}})\.?",
)
_DATES = (*_NUMERIC_DATES, *_NAMED_DATES)
_COLONS = (
    r"(?P<sign>[+-]?)(?P<hour>\d{1,4}):(?P<minute>\d{1,2})(?::(?P<second>\d{1,2})(?::(?P<thousandths>\d{3}))?)?"
    r"(?:[.,](?P<fraction>\d+))?(?:\s*(?P<half>[ap])\.?\s?m?\.?)?"
)
_LETTERED = (
    r"(?P<hour>\d+)\s?h\s?(?P<minute>\d{1,2})\s?m(?:in)?\s?(?P<second>\d{1,2})(?:[.,](?P<fraction>\d+))?\s?s?"
)
_PACKED = r"(?P<hour>\d{2})(?P<minute>\d{2})(?P<second>\d{2})?(?:[.,](?P<fraction>\d+))?"
_TIMES = (_COLONS, _PACKED, _LETTERED)
_ZONE = (
    r"(?:\s*(?:(?:utc|gmt)?(?P<ahead>[+-])(?P<zone_hour>\d{1,2})(?::?(?P<zone_minute>\d{2}))?|(?P<zone>ZONES)))?"
    r"(?:\s*[(\[][^)\]]*[)\]])?"
)
_JOIN = r"(?:[t_:]\s*|[\s,.]+(?:[^\s\d:]{1,12}[\s,.]+){0,3})"
"""Between date and time: a sign, or blanks with the few words of a long form ("um", "a las", "kl.")."""

SET_CLOCK_S = (978_307_200.0, 4_070_908_800.0)
"""From 2001 to 2099: clocks that were never set begin before it, and lost digits make a later one (common
practice, no source). [s since 1970]
"""
_HAS_DIGITS = re.compile(r"[0-9][^0-9]+[0-9]|[0-9]{8}")
_OTHER_SIGNS = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2212": "-"})


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds read from a column of texts.

    Attributes
    ----------
    seconds : (n,) NaN where a cell could not be read; a stamp without a zone counts as if UTC. [s]
    sort : "clock" (hh:mm:ss), "minutes" (mm:ss), "date" (whole days) or "moment" (date with time, Unix
        seconds).
    doubt : what the format leaves open, "" if nothing.
    zone : of the first stamp that names one, as "+02:00"; "" when none does.
    """

    seconds: Floats
    sort: str
    doubt: str = ""
    zone: str = ""


@cache
def month_names() -> dict[str, int]:
    """Every name of a month, in small letters with and without accents, and its number."""
    found: dict[str, int] = {}
    for months in vocabulary_file()["months"].values():
        for number, words in enumerate(months, start=1):
            for word in words.split():
                found |= {word: number, plain_letters(word): number}
    return found


def _patterns(dates: Sequence[str], times: Sequence[str]) -> list[str]:
    """The forms that these dates and times make, the commonest first."""
    zones = "|".join(sorted(map(str.lower, vocabulary_file()["zones"]), key=len, reverse=True))
    dated = [date + _JOIN + time + _ZONE for time, date in product(times, dates)]
    packed = _NUMERIC_DATES[2] + _PACKED + _ZONE
    c_library = rf"{_WEEKDAY}{_NAME}\s+(?P<day>\d{{1,2}})\s+{_COLONS}{_ZONE}\s+(?P<year>\d{{4}})"
    swapped = [rf"{_COLONS}{_ZONE}[\s,]+{date}" for date in dates]
    forms = (*dated, _COLONS + _ZONE, _LETTERED, *dates, packed, c_library, *swapped)
    return [f"^(?:{form})$".replace("ZONES", zones) for form in forms]


@cache
def _forms() -> tuple[re.Pattern[str], ...]:
    return tuple(re.compile(pattern, re.ASCII) for pattern in _patterns(_DATES, _TIMES))


@cache
def _any_form() -> re.Pattern[str]:
    """All forms in one, whose only groups are names of months."""
    one = "|".join(_patterns(*([f"(?:{'|'.join(parts)})"] for parts in (_DATES, _TIMES))))
    return re.compile(re.sub(r"\?P<\w+>", "?:", one.replace("?P<name>", "")), re.ASCII)


@lru_cache(maxsize=20_000)
def is_time(cell: str) -> bool:
    """Whether the cell is a time of day, a duration, a date or a moment."""
    if not _HAS_DIGITS.search(cell):
        return False
    found = _any_form().match(cell.strip().translate(_OTHER_SIGNS).lower())
    return found is not None and all(name in month_names() for name in found.groups() if name)


def read_times(texts: Sequence[str], *, looked_at: int = 200) -> Times | None:
    """Seconds from a column of times, or None when most of its distinct cells are no time.

    Parameters
    ----------
    texts : (n,) cells as written.
    looked_at : so many distinct cells, evenly spread, must be times for the most part to read on.
    """
    column = pa.array([t.strip() for t in texts], pa.string()).dictionary_encode()
    cells = column.dictionary
    if not pc.all(pc.string_is_ascii(cells)).as_py():
        cells = pa.array([c.translate(_OTHER_SIGNS) for c in cells.to_pylist()], pa.string())
    cells = pc.utf8_lower(cells)
    filled = pc.not_equal(cells, "").to_numpy(zero_copy_only=False)
    few = np.flatnonzero(filled)[:: max(1, np.count_nonzero(filled) // looked_at)]
    if 2 * sum(map(is_time, cells.take(few).to_pylist())) <= few.size:
        return None
    parts = _parts_of(cells)
    doubt = _name_days(parts)
    zones_s = _zones_s(parts)
    seconds, sorts = _seconds(parts, np.nan_to_num(zones_s))
    known = np.isfinite(seconds)
    if 2 * np.count_nonzero(known) <= np.count_nonzero(filled):
        return None
    sort = Counter(sorts[known].tolist()).most_common(1)[0][0]
    named_s = zones_s[np.isfinite(zones_s)]
    return Times(
        np.where(sorts == sort, seconds, np.nan)[column.indices.to_numpy()],
        sort,
        doubt,
        zone_name(named_s[0]) if named_s.size else "",
    )


def midnights(year: Floats, month: Floats, day: Floats) -> Floats:
    """Unix seconds of the midnights that begin these days, as if UTC; NaN where the calendar has no such day.

    Parameters
    ----------
    year, month, day : (n,) whole numbers, year of four digits; NaN where there is none. No recorder stamps a
        year outside 1678 … 2261, which nanoseconds of 64 bits can count.
    """
    import pandas as pd

    found = np.full(year.size, np.nan)
    place, written = pd.factorize(year * 10_000 + month * 100 + day)
    digits = np.array([written // 10_000, written // 100 % 100, written % 100]).T
    digits[(written < 16_780_101) | (written > 22_611_231)] = np.nan
    days = pd.to_datetime(pd.DataFrame(digits, columns=["year", "month", "day"]), errors="coerce")
    seconds = ((days - pd.Timestamp(0)) / pd.Timedelta(seconds=1)).to_numpy()
    found[place >= 0] = seconds[place[place >= 0]]
    return found


def zone_s(zone: str) -> float:
    """How far "+02:00", or one of the vocabulary's letters, is ahead of UTC. [s]"""
    text = vocabulary_file()["zones"].get(zone.upper(), zone)
    return (-1.0 if text[0] == "-" else 1.0) * (3600.0 * int(text[1:3]) + 60.0 * int(text[4:]))


def zone_name(ahead_s: float) -> str:
    """A zone so far ahead of UTC, as "+02:00"."""
    minutes = round(abs(ahead_s) / 60.0)
    return f"{'-' if ahead_s < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


_LETTERS: dict[str, Callable[[str], float]] = {
    "name": lambda text: month_names().get(text, np.nan),
    "mark": ord,
    "sign": lambda text: -1.0 if text == "-" else 1.0,
    "ahead": lambda text: -1.0 if text == "-" else 1.0,
    "half": lambda text: 12.0 if text == "p" else 0.0,
    "zone": zone_s,
}
"""Parts without digits, and how they are read."""
_DIGITS = ("year", "month", "day", "former", "latter", "hour", "minute", "second", "zone_hour", "zone_minute")
_DECIMALS = ("fraction", "thousandths")


def _parts_of(cells: pa.Array) -> dict[str, Floats]:
    """Every named part of the cells as a number, (n,), NaN where a cell has none or is in no form."""
    found = {part: np.full(len(cells), np.nan) for part in (*_LETTERS, *_DIGITS, *_DECIMALS)}
    _, offsets, letters = cells.buffers()
    starts, written = np.frombuffer(offsets, np.int32)[: len(cells)], np.frombuffer(letters, np.uint8)
    for read, rows in _shapes(cells):
        for part in (name for name, text in read.groupdict().items() if text):
            if part in _LETTERS:
                found[part][rows] = _LETTERS[part](read[part])
                continue
            width = np.arange(len(read[part]))
            places = len(read.string[: read.start(part)].encode()) + width
            powers = 10.0 ** (-width - 1 if part in _DECIMALS else width[::-1])
            century = 2000.0 if part == "year" and width.size == 2 else 0.0
            found[part][rows] = (written[starts[rows, None] + places] - ord("0")) @ powers + century
    return found


def _shapes(cells: pa.Array) -> Iterator[tuple[re.Match[str], npt.NDArray[np.intp]]]:
    """Each shape that is in some form, its digits all 0, and which cells have it."""
    _, offsets, letters = cells.buffers()
    written = np.frombuffer(letters, np.uint8)
    is_digit = (written >= ord("0")) & (written <= ord("9"))
    blank = pa.py_buffer(np.where(is_digit, np.uint8(ord("0")), written))
    shapes = pa.StringArray.from_buffers(len(cells), offsets, blank).dictionary_encode()
    shape_of = shapes.indices.to_numpy()
    rows_of = np.split(np.argsort(shape_of, kind="stable"), np.cumsum(np.bincount(shape_of))[:-1])
    for shape, rows in zip(shapes.dictionary.to_pylist(), rows_of, strict=True):
        read = next(filter(None, (form.match(shape) for form in _forms())), None)
        if read is not None:
            yield read, rows


def _zones_s(parts: dict[str, Floats]) -> Floats:
    """How far each stamp's zone is ahead of UTC, NaN where it names none. [s]"""
    hours = parts["zone_hour"] + np.nan_to_num(parts["zone_minute"]) / 60.0
    return np.where(np.isfinite(hours), parts["ahead"] * hours * 3600.0, parts["zone"])


def _name_days(parts: dict[str, Floats]) -> str:
    """Settle months by their names, and for the whole column which of two numbers is the day. Gives the
    doubt.
    """
    former, latter, month, day = (parts[part] for part in ("former", "latter", "month", "day"))
    two = np.isfinite(former)
    day_first, month_first = (former[two] > 12).any(), (latter[two] > 12).any()
    swapped = bool(month_first and not day_first)
    month[two], day[two] = (former if swapped else latter)[two], (latter if swapped else former)[two]
    named = np.isfinite(parts["name"])
    month[named] = parts["name"][named]
    if day_first or month_first or not (parts["mark"][two] != ord(".")).any():
        return ""
    return say("importers", "clock", "day_first")


def _seconds(parts: dict[str, Floats], ahead_s: Floats) -> tuple[Floats, npt.NDArray[np.str_]]:
    """Seconds (n,), NaN where no day or time is so, and each cell's sort."""
    hour, minute, second, half = (parts[part] for part in ("hour", "minute", "second", "half"))
    dated, timed = np.isfinite(parts["year"]), np.isfinite(hour)
    short = timed & np.isnan(second) & np.isnan(half) & ~dated
    hour = np.where(np.isfinite(half), hour % 12 + half, hour)
    below = np.nan_to_num(second) + np.nan_to_num(parts["fraction"]) + np.nan_to_num(parts["thousandths"])
    whole = np.where(short, hour * 60 + minute, hour * 3600 + minute * 60) + below
    wrong = (minute >= 60) | (second >= 61) | (dated & (hour > 24))
    midnight = midnights(parts["year"], parts["month"], parts["day"]) if dated.any() else parts["year"]
    of_day = np.where(parts["sign"] < 0, -whole, whole)
    seconds = np.where(dated, midnight + np.where(timed, whole - ahead_s, 0.0), of_day)
    sorts = np.select([dated & timed, dated, short], ["moment", "date", "minutes"], "clock")
    return np.where(wrong, np.nan, seconds), sorts
