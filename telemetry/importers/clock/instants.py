"""The one grammar of instants: times of day, durations, dates and moments as texts → seconds.

A form is a shape of date and a shape of time, one regular expression with its parts named. A few cells say
which forms a column is written in; these then read the whole column at once. The calendar is pandas'.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import product

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from telemetry.importers.units import vocabulary_file
from telemetry.importers.wording import plain_letters
from telemetry.trace import Floats

# Python and RE2, by which Arrow reads whole columns, understand these alike. Cells are in small letters.
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
_ZONE = r"(?:\s*(?P<zone>(?:utc|gmt)?[+-]\d{1,2}(?::?\d{2})?|ZONES))?(?:\s*[(\[][^)\]]*[)\]])?"
_JOIN = r"(?:[t_:]\s*|[\s,.]+(?:[^\s\d:]{1,12}[\s,.]+){0,3})"
"""Between date and time: a sign, or blanks with the few words of a long form ("um", "a las", "kl.")."""

_DIGITS = re.compile(r"[0-9][^0-9]+[0-9]|[0-9]{8}")
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


@cache
def _forms() -> tuple[str, ...]:
    """A pattern for each way of writing an instant, the commonest first."""
    dated = [date + _JOIN + time + _ZONE for time, date in product((_COLONS, _PACKED, _LETTERED), _DATES)]
    packed = _NUMERIC_DATES[2] + _PACKED + _ZONE
    c_library = rf"{_WEEKDAY}{_NAME}\s+(?P<day>\d{{1,2}})\s+{_COLONS}{_ZONE}\s+(?P<year>\d{{4}})"
    swapped = [rf"{_COLONS}{_ZONE}[\s,]+{date}" for date in _DATES]
    zones = "|".join(sorted(map(str.lower, vocabulary_file()["zones"]), key=len, reverse=True))
    return tuple(
        f"^(?:{form})$".replace("ZONES", zones)
        for form in (*dated, _COLONS + _ZONE, _LETTERED, *_DATES, packed, c_library, *swapped)
    )


@cache
def _any_form() -> re.Pattern[str]:
    """All forms in one, whose only groups are names of months."""
    one = "|".join(_forms()).replace("?P<name>", "")
    return re.compile(re.sub(r"\?P<\w+>", "?:", one), re.ASCII)


@lru_cache(maxsize=20_000)
def is_time(cell: str) -> bool:
    """Whether the cell is a time of day, a duration, a date or a moment."""
    if not _DIGITS.search(cell):
        return False
    found = _any_form().match(cell.strip().translate(_OTHER_SIGNS).lower())
    return found is not None and all(name in month_names() for name in found.groups() if name)


def read_times(texts: Sequence[str], *, looked_at: int = 200) -> Times | None:
    """Seconds from a column of times, or None when most of its distinct cells are no time.

    Parameters
    ----------
    texts : (n,) cells as written.
    looked_at : so many distinct cells, evenly spread, say in which forms the column is written.
    """
    column = pa.array([t.strip() for t in texts], pa.string()).dictionary_encode()
    cells = column.dictionary
    if not pc.all(pc.string_is_ascii(cells)).as_py():
        cells = pa.array([c.translate(_OTHER_SIGNS) for c in cells.to_pylist()], pa.string())
    cells = pc.utf8_lower(cells)
    filled = pc.not_equal(cells, "").to_numpy(zero_copy_only=False)
    sample = cells.filter(filled)
    forms = _forms_in(sample.take(np.arange(0, len(sample), max(1, len(sample) // looked_at))).to_pylist())
    if not forms:
        return None
    parts = _parts_of(cells, forms)
    doubt = _name_days(parts)
    seconds, sorts = _seconds(parts)
    known = np.isfinite(seconds)
    if 2 * np.count_nonzero(known) <= np.count_nonzero(filled):
        return None
    sort = Counter(sorts[known].tolist()).most_common(1)[0][0]
    zones = parts["zone"][np.isfinite(parts["zone"])]
    return Times(
        np.where(sorts == sort, seconds, np.nan)[column.indices.to_numpy()],
        sort,
        doubt,
        zone_name(zones[0]) if zones.size else "",
    )


def midnights(year: Floats, month: Floats, day: Floats) -> Floats:
    """Unix seconds of the midnights that begin these days, as if UTC; NaN where the calendar has no such day.

    Parameters
    ----------
    year, month, day : (n,) whole numbers, year of four digits; NaN where there is none.
    """
    import pandas as pd

    known = np.isfinite(year) & np.isfinite(month) & np.isfinite(day)
    found = np.full(year.size, np.nan)
    written, place = np.unique(np.array([year, month, day])[:, known], axis=1, return_inverse=True)
    days = pd.to_datetime(pd.DataFrame(written.T, columns=["year", "month", "day"]), errors="coerce")
    found[known] = ((days - pd.Timestamp(0)) / pd.Timedelta(seconds=1)).to_numpy()[place.ravel()]
    return found


def zone_s(zone: str) -> float:
    """How far a zone is ahead of UTC: "+02:00", "-0330", "utc+2", or one of the vocabulary's letters. [s]"""
    text = vocabulary_file()["zones"].get(zone.upper(), zone)
    sign, hours, minutes = re.findall(r"([+-])(\d{1,2}):?(\d{2})?$", text)[0]
    return (-1.0 if sign == "-" else 1.0) * (3600.0 * int(hours) + 60.0 * int(minutes or 0))


def zone_name(ahead_s: float) -> str:
    """A zone so far ahead of UTC, as "+02:00"."""
    minutes = round(abs(ahead_s) / 60.0)
    return f"{'-' if ahead_s < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def _forms_in(cells: Sequence[str]) -> tuple[str, ...]:
    """All forms, those that cells are written in first; none when most cells are in no form."""
    patterns = [re.compile(form, re.ASCII) for form in _forms()]
    times = [cell for cell in cells if is_time(cell)]
    hits = Counter(next(i for i, pattern in enumerate(patterns) if pattern.match(cell)) for cell in times)
    if 2 * hits.total() <= len(cells):
        return ()
    return tuple(_forms()[i] for i in sorted(range(len(patterns)), key=lambda i: (-hits[i], i)))


_READ: dict[str, Callable[[str], float]] = {
    "mark": ord,
    "name": lambda text: month_names().get(text, np.nan),
    "sign": lambda text: -1.0 if text == "-" else 1.0,
    "half": lambda text: 12.0 if text == "p" else 0.0,
    "zone": zone_s,
    "year": lambda text: float(text) + (2000.0 if len(text) == 2 else 0.0),
    "thousandths": lambda text: float(text) / 1000.0,
    "fraction": lambda text: float(f"0.{text}"),
} | dict.fromkeys(("month", "day", "former", "latter", "hour", "minute", "second"), float)
"""Each part that a pattern names, and how it is read."""


def _parts_of(cells: pa.Array, forms: Sequence[str]) -> dict[str, Floats]:
    """Every named part of the cells as a number, (n,), NaN where a cell has none. A cell is read by the first
    form that it is written in.
    """
    found = {part: np.full(len(cells), np.nan) for part in _READ}
    left = np.arange(len(cells))
    for form in forms:
        if not left.size:
            break
        read = pc.extract_regex(cells if left.size == len(cells) else cells.take(left), form)
        matched = read.is_valid().to_numpy(zero_copy_only=False)
        read = read.filter(matched)
        for field in read.type:
            texts = pc.struct_field(read, field.name).dictionary_encode()
            numbers = [_READ[field.name](t) if t else np.nan for t in texts.dictionary.to_pylist()]
            if numbers:
                found[field.name][left[matched]] = np.array(numbers)[texts.indices.to_numpy()]
        left = left[~matched]
    return found


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
    return "day and month cannot be told apart, taken as day first"


def _seconds(parts: dict[str, Floats]) -> tuple[Floats, npt.NDArray[np.str_]]:
    """Seconds (n,), NaN where no day or time is so, and each cell's sort."""
    hour, minute, second, half = (parts[part] for part in ("hour", "minute", "second", "half"))
    dated, timed = np.isfinite(parts["year"]), np.isfinite(hour)
    short = timed & np.isnan(second) & np.isnan(half) & ~dated
    hour = np.where(np.isfinite(half), hour % 12 + half, hour)
    below = np.nan_to_num(second) + np.nan_to_num(parts["fraction"]) + np.nan_to_num(parts["thousandths"])
    whole = np.where(short, hour * 60 + minute, hour * 3600 + minute * 60) + below
    wrong = (minute >= 60) | (second >= 61) | (dated & (hour > 24))
    ahead_s = np.nan_to_num(parts["zone"])
    midnight = midnights(parts["year"], parts["month"], parts["day"]) if dated.any() else parts["year"]
    of_day = np.where(parts["sign"] < 0, -whole, whole)
    seconds = np.where(dated, midnight + np.where(timed, whole - ahead_s, 0.0), of_day)
    sorts = np.select([dated & timed, dated, short], ["moment", "date", "minutes"], "clock")
    return np.where(wrong, np.nan, seconds), sorts
