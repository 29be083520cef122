"""Times as written → seconds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from telemetry.importers.text.numbers import LETTERED
from telemetry.trace import Floats

_CLOCK = re.compile(r"^([+-]?\d+):(\d{1,2})(?::(\d{1,2}))?(?:([.,:])(\d+))?\s*([aApP])?\.?[mM]?\.?$")
_DAY_FIRST = re.compile(r"^(\d{1,2})([./-])\s?(\d{1,2})\2\s?(\d{4}|\d{2})(?:[T ,]+(.*))?$")
_YEAR_FIRST = re.compile(r"^(\d{4})([./-])\s?(\d{1,2})\2\s?(\d{1,2})\.?(?:[T ,]+(.*))?$")
_ZONE = re.compile(r"\s*(Z|UTC|GMT|[+-]\d{2}:?\d{2})$")


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds read from a column of texts.

    Attributes
    ----------
    seconds : (n,) NaN where a cell could not be read. [s]
    sort : "clock" (hh:mm:ss), "minutes" (mm:ss), "date" (whole days) or "moment" (date with time, Unix
        seconds).
    doubt : what the format leaves open, "" if nothing.
    """

    seconds: Floats
    sort: str
    doubt: str = ""


def _clock(text: str) -> tuple[float, str] | None:
    lettered = LETTERED.match(text.strip())
    if lettered:
        hours, minutes, whole, _, rest = lettered.groups()
        return int(hours) * 3600 + int(minutes) * 60 + float(f"{whole}.{rest or 0}"), "clock"
    found = _CLOCK.match(text.strip())
    if not found:
        return None
    first, second, third, mark, fraction, half = found.groups()
    if mark == ":" and (third is None or len(fraction) != 3):
        return None
    part = float(f"0.{fraction}") if fraction else 0.0
    sign = -1.0 if first.startswith("-") else 1.0
    if third is None:
        return sign * (abs(int(first)) * 60 + int(second) + part), "minutes"
    hours = abs(int(first))
    if half:
        hours = hours % 12 + (12 if half in "pP" else 0)
    return sign * (hours * 3600 + int(second) * 60 + int(third) + part), "clock"


def _moment(text: str, month_first: bool) -> tuple[float, str] | None:
    cell = text.strip()
    year_first, day_first = _YEAR_FIRST.match(cell), _DAY_FIRST.match(cell)
    try:
        if year_first:
            year, _, month, day, rest = year_first.groups()
        elif day_first:
            day, _, month, year, rest = day_first.groups()
            if month_first:
                day, month = month, day
            year = str(2000 + int(year)) if len(year) == 2 else year
        else:
            compact = re.sub(r"^(\d{8})[ _-](?=\d{2})", r"\1T", re.sub(r",(\d+)", r".\1", cell))
            if not re.match(r"^\d{8}(T\d|$)", compact):
                return None
            stamp = datetime.fromisoformat(compact)
            return stamp.replace(
                tzinfo=stamp.tzinfo or UTC
            ).timestamp(), "moment" if "T" in compact else "date"
        midnight = datetime(int(year), int(month), int(day), tzinfo=UTC).timestamp()
    except ValueError:
        return None
    if not rest:
        return midnight, "date"
    zone = _ZONE.search(rest)
    ahead = 0.0
    if zone:
        rest = rest[: zone.start()]
        if zone[1][0] in "+-":
            digits = zone[1][1:].replace(":", "")
            ahead = (int(digits[:2]) * 3600 + int(digits[2:]) * 60) * (-1 if zone[1][0] == "-" else 1)
    day_time = _clock(rest)
    if day_time is None:
        return None
    seconds = day_time[0] if day_time[1] == "clock" else day_time[0] * 60
    return midnight + seconds - ahead, "moment"


def _month_first(cells: Sequence[str]) -> tuple[bool, str]:
    pairs = [(int(m[1]), int(m[3]), m[2]) for m in map(_DAY_FIRST.match, cells) if m]
    if not pairs or any(a > 12 for a, _, _ in pairs):
        return False, ""
    if any(b > 12 for _, b, _ in pairs):
        return True, ""
    return (
        (False, "")
        if pairs[0][2] == "."
        else (False, "day and month cannot be told apart; taken as day first")
    )


def read_times(texts: Sequence[str]) -> Times | None:
    """Seconds from a column of times, or None when most cells are no time."""
    distinct = list(dict.fromkeys(t.strip() for t in texts))
    filled = [d for d in distinct if d]
    month_first, doubt = _month_first(filled[:200])
    read: dict[str, tuple[float, str]] = {}
    for i, cell in enumerate(filled):
        found = _clock(cell) or _moment(cell, month_first)
        if found:
            read[cell] = found
        elif i > 20 and not read:
            return None
    if 2 * len(read) <= len(filled):
        return None
    sorts = [sort for _, sort in read.values()]
    sort = max(set(sorts), key=sorts.count)
    seconds = np.array(
        [read[t.strip()][0] if t.strip() in read and read[t.strip()][1] == sort else np.nan for t in texts]
    )
    return Times(seconds, sort, doubt)
