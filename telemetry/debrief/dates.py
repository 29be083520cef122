"""When a log was written: by its own clock, else by its file's name."""

from __future__ import annotations

import datetime
import re

from telemetry.estimate import value_of
from telemetry.trace import Source, Trace

_FIRST_DATED_S, _LAST_DATED_S = 946_684_800.0, 4_102_444_800.0
"""2000-01-01 and 2100-01-01: an own clock outside counts from a power-on or from midnight, not from 1970."""
_DATE_IN_NAME = re.compile(r"(?<!\d)(20\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])(?!\d)")


def date_of(trace: Trace, time_s: float) -> str:
    """The date and time of an instant: from the log's own clock if it knows the date, else the date in a
    file's name, else "".
    """
    for source in trace.sources:
        began_s = _own_time_s(source, time_s)
        if began_s is not None and _FIRST_DATED_S <= began_s < _LAST_DATED_S:
            return datetime.datetime.fromtimestamp(began_s, tz=datetime.UTC).strftime("%Y-%m-%d %H:%M")
    for source in trace.sources:
        named = _DATE_IN_NAME.search(source.file)
        if named:
            return "-".join(named.groups())
    return ""


def own_span_s(trace: Trace) -> tuple[float, float] | None:
    """First and last instant on the first file's own clock, None unless it knows the date. [s since 1970]"""
    began_s = _own_time_s(trace.sources[0], 0.0) if trace.sources else None
    return (
        None
        if began_s is None or not _FIRST_DATED_S <= began_s < _LAST_DATED_S
        else (began_s, began_s + trace.duration_s)
    )


def _own_time_s(source: Source, time_s: float) -> float | None:
    """An instant on a file's own clock."""
    offset_s, drift_ppm = value_of(source.clock.offset_s), value_of(source.clock.drift_ppm)
    return None if offset_s is None else (time_s - offset_s) / (1.0 + 1e-6 * (drift_ppm or 0.0))
