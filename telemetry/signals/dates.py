"""When a flight was flown: by its log's own clock in that clock's zone, else by a file's name."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass

from telemetry.estimate import value_of
from telemetry.sentences import say
from telemetry.trace import Source, Trace

PLAUSIBLE_YEARS = range(2001, 2100)
"""A clock that was never set begins at 1970, 1980 or 2000 (common practice, no source)."""
SECONDS_OF_A_DAY = 86_400.0
_NUMBER_IN_NAME = re.compile(r"(?<!\d)(\d{4})[-_.]?(\d{2})[-_.]?(\d{2})(?!\d)")


def shown_date(text: str) -> str:
    """A date as a page shows it: a time that names no zone is local, and said to be.

    Parameters
    ----------
    text : a `FlightDate.text`.

    Returns
    -------
    The same, with "local time" where it has a time and no zone.
    """
    return say("dates", "local", text=text) if re.fullmatch(r"\S+ \S+", text) else text


@dataclass(frozen=True, slots=True)
class FlightDate:
    """The date and time of an instant of a log.

    Attributes
    ----------
    day : ISO, as "2026-06-14"; "" when nothing tells.
    time : as "10:03"; "" when nothing tells.
    zone : in which both are, as "UTC+02:00" or "UTC"; "" is local time.
    reason : what tells them, or why nothing does.
    """

    day: str
    time: str
    zone: str
    reason: str

    @property
    def text(self) -> str:
        """As much of it as is known: "2026-06-14 00:30 UTC+02:00"; local time without a zone."""
        return " ".join(filter(None, (self.day, self.time, self.zone)))


def date_of(trace: Trace, time_s: float = 0.0) -> FlightDate:
    """When an instant of a log was: by the first clock that knows the date, else the day in a file's name.

    Parameters
    ----------
    trace : one log, or several on one clock.
    time_s : on the trace's clock. [s]

    Returns
    -------
    In the zone that the stamps were written in; local time where they name none; all "" but the reason where
    neither tells.
    """
    for source in trace.sources:
        own_s = _own_time_s(source, time_s)
        if own_s is not None and is_dated(own_s):
            shown = _shown(own_s, source.clock.zone)
            reason = say("dates", "clock" if source.clock.zone else "clock_local", file=source.file)
            return FlightDate(f"{shown:%Y-%m-%d}", f"{shown:%H:%M}", f"{shown:%Z}", reason)
    for source in trace.sources:
        day = _day_in(source.file)
        if day:
            return FlightDate(day, "", "", say("dates", "name", file=source.file))
    first, last = PLAUSIBLE_YEARS[0], PLAUSIBLE_YEARS[-1]
    return FlightDate("", "", "", say("dates", "unknown", first=first, last=last))


def own_span_s(trace: Trace) -> tuple[float, float] | None:
    """First and last instant on the first file's own clock.

    Parameters
    ----------
    trace : one log, or several on one clock.

    Returns
    -------
    None unless that clock knows the date. [s since 1970]
    """
    began_s = _own_time_s(trace.sources[0], 0.0) if trace.sources else None
    return None if began_s is None or not is_dated(began_s) else (began_s, began_s + trace.duration_s)


def is_dated(own_s: float) -> bool:
    """Whether a reading of a file's own clock is a date.

    Not a count from a power-on, from midnight or from what a clock begins at that was never set.

    Parameters
    ----------
    own_s : as the file writes it. [s]

    Returns
    -------
    Whether it lies in a plausible year.
    """
    return 0.0 <= own_s < 1e11 and _shown(own_s).year in PLAUSIBLE_YEARS


def clock_text(own_s: float, zone: str = "") -> str:
    """What a clock shows: the time of day, with day and zone where it counts on from there.

    Parameters
    ----------
    own_s : as the file writes it. [s]
    zone : in which it was written, as "+02:00"; "" is local.

    Returns
    -------
    As "14:03:21", or "2026-06-14 14:03:21 UTC+02:00".
    """
    shown = _shown(round(own_s, 1), zone if own_s >= SECONDS_OF_A_DAY else "")
    return f"{shown:%H:%M:%S}" if own_s < SECONDS_OF_A_DAY else f"{shown:%Y-%m-%d %H:%M:%S %Z}".rstrip()


def _shown(own_s: float, zone: str = "") -> datetime.datetime:
    shown = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC) + datetime.timedelta(seconds=own_s)
    named = datetime.time.fromisoformat(f"00:00{zone}").tzinfo
    return shown.astimezone(named) if named else shown.replace(tzinfo=None)


def _day_in(file: str) -> str:
    """The first day that the numbers of a file's name make, ISO; "" without one."""
    for found in _NUMBER_IN_NAME.finditer(file):
        try:
            day = datetime.date(*map(int, found.groups()))
        except ValueError:
            continue
        if day.year in PLAUSIBLE_YEARS:
            return day.isoformat()
    return ""


def _own_time_s(source: Source, time_s: float) -> float | None:
    """An instant on a file's own clock."""
    offset_s, drift_ppm = value_of(source.clock.offset_s), value_of(source.clock.drift_ppm)
    return None if offset_s is None else (time_s - offset_s) / (1.0 + 1e-6 * (drift_ppm or 0.0))
