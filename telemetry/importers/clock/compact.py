"""Times and dates written as one number without marks: 92341.2 for 09:23:41.2, 20250614 for a day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.importers.clock.instants import midnights
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Compact:
    """Seconds from such numbers; `unit` says how they are written, `dated` whether a day is in them."""

    seconds: Floats
    unit: str
    dated: bool


def _parts(numbers: Floats) -> tuple[Floats, Floats, Floats]:
    return np.floor(numbers / 10_000), np.floor(numbers / 100) % 100, numbers % 100


def _of_day(numbers: Floats, *, most_hours: float) -> Floats | None:
    """Seconds of hhmmss, None where a number's minutes or seconds go beyond 59."""
    good = numbers[np.isfinite(numbers)]
    if good.size < 2 or good.min() < 0:
        return None
    hours, minutes, seconds = _parts(good)
    if hours.max() > most_hours or minutes.max() > 59 or seconds.max() >= 61:
        return None
    hours, minutes, seconds = _parts(numbers)
    return np.asarray(np.round(hours * 3600 + minutes * 60 + seconds, 4))


def _turns_over(numbers: Floats, seconds: Floats) -> bool:
    """Whether a full minute is ever gone through in a usual step: the numbers leap by 41 there, the seconds
    go on by one.

    A plain count of seconds or milliseconds shows 60 to 99 in its last places sooner or
    later, or has a gap that long just there.
    """
    good = np.isfinite(numbers)
    steps, leaps = np.diff(seconds[good]), np.diff(numbers[good])
    forward = steps[steps > 0]
    if forward.size < 2:
        return False
    usual = max(2.0, 5.0 * float(np.median(forward)))
    midnight = (steps < 0) & (steps + 86_400.0 <= usual)
    return bool(np.any((steps > 0) & (steps <= usual) & (leaps >= 40)) or np.any(midnight))


def days_of(numbers: Floats) -> Floats | None:
    """Unix seconds of the midnights that whole numbers such as 20250614 or 14062025 name, None where one
    names none.
    """
    good = numbers[np.isfinite(numbers)]
    if good.size == 0 or np.any(good != np.floor(good)) or good.min() < 1_011_970 or good.max() > 99_999_999:
        return None
    for year, month, day in (
        (numbers // 10_000, numbers // 100 % 100, numbers % 100),
        (numbers % 10_000, numbers // 10_000 % 100, numbers // 1_000_000),
    ):
        known = np.isfinite(numbers)
        fits = (year >= 1970) & (year < 2100) & (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31)
        if fits[known].all():
            found = midnights(year, month, day)
            if np.isfinite(found[known]).all():
                return found
    return None


def compact_times(numbers: Floats) -> Compact | None:
    """The seconds in hhmmss, hhmmssfff or yyyymmddhhmmss numbers, or None when they are no such.

    Parameters
    ----------
    numbers : (n,) as the file writes them, NaN where it is silent.
    """
    finite = numbers[np.isfinite(numbers)]
    if finite.size < 3:
        return None
    level = float(np.median(finite[:: max(1, finite.size // 5000)]))
    for scale, name in ((1.0, "hhmmss"), (1000.0, "hhmmssfff")):
        if 1.9e13 < level / scale < 2.1e13:
            written = np.round(numbers / scale, 4)
            day, clock = days_of(np.floor(written / 1e6)), _of_day(written % 1e6, most_hours=23)
            if day is not None and clock is not None:
                return Compact(day + clock, "yyyymmdd" + name, True)
        elif level / scale < 1e6:
            # A few of many show most that are no such; under one minute there is nothing to tell.
            few = numbers[:: max(1, numbers.size // 5000)]
            if (
                not float(np.nanmax(few)) >= 100.0 * scale
                or _of_day(np.round(few / scale, 4), most_hours=47) is None
            ):
                continue
            written = np.round(numbers / scale, 4)
            seconds = _of_day(written, most_hours=47)
            if seconds is not None and _turns_over(written, seconds):
                return Compact(seconds, name, False)
    return None
