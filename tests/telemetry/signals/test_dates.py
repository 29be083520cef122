"""When a flight was flown, in the zone its log was written in."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from telemetry.estimate import Estimate, Undecided
from telemetry.signals.dates import clock_text, date_of, is_dated, own_span_s, shown_date
from telemetry.trace import Clock, Source, Trace


def written(own_s: float | None, zone: str = "", file: str = "log.csv", drift_ppm: float = 0.0) -> Source:
    offset = Undecided("no clock") if own_s is None else Estimate.around(-own_s * (1 + drift_ppm * 1e-6), 0.0)
    clock = Clock(offset, Estimate.around(drift_ppm, 0.0), zone)
    return Source(file, file, 0, 0, "utf-8", ",", ".", clock, ())


def log(*sources: Source, seconds: float = 600.0) -> Trace:
    return Trace(np.array([0.0, seconds]), {}, sources)


@pytest.mark.source("Python's datetime")
@pytest.mark.parametrize(
    ("zone", "hours", "text"),
    [
        ("+02:00", 2.0, "2026-06-14 00:30 UTC+02:00"),
        ("-03:30", -3.5, "2026-06-14 00:30 UTC-03:30"),
        ("+00:00", 0.0, "2026-06-14 00:30 UTC"),
        ("", 0.0, "2026-06-14 00:30"),
    ],
)
def test_half_past_midnight_stays_on_its_day(zone, hours, text):
    own_s = datetime(2026, 6, 14, 0, 30, tzinfo=timezone(timedelta(hours=hours))).timestamp()
    found = date_of(log(written(own_s, zone)))
    assert found.text == text
    assert ("local time" in found.reason) == (not zone)


def test_a_later_instant_of_a_log_may_be_of_the_next_day():
    trace = log(written(datetime(2026, 6, 14, 23, 55, tzinfo=UTC).timestamp()))
    assert [date_of(trace, t).text for t in (0.0, 300.0)] == ["2026-06-14 23:55", "2026-06-15 00:00"]


def test_a_clock_that_drifts_is_read_as_it_ran():
    # 1.78e9 s at 300 ppm are six days: the own clock must not be taken for the trace's
    own_s = datetime(2026, 6, 14, 12, 0, tzinfo=UTC).timestamp()
    assert date_of(log(written(own_s, drift_ppm=300.0))).text == "2026-06-14 12:00"


@pytest.mark.parametrize(
    "own_s",
    [
        None,
        0.0,
        48_005.0,
        datetime(1970, 1, 1, 3, tzinfo=UTC).timestamp(),
        datetime(1980, 1, 6, tzinfo=UTC).timestamp(),
        datetime(2000, 1, 1, 0, 12, tzinfo=UTC).timestamp(),
        datetime(2100, 1, 1, tzinfo=UTC).timestamp(),
        -5.0,
        5e9,
        1e300,
    ],
)
def test_a_clock_that_was_never_set_tells_no_date(own_s):
    found = date_of(log(written(own_s)))
    assert (found.text, found.day, found.zone) == ("", "", "")
    assert "no clock shows a date" in found.reason
    assert own_s is None or not is_dated(own_s)


@pytest.mark.parametrize(
    ("file", "day"),
    [
        ("20260614_flight.csv", "2026-06-14"),
        ("mail-2026-06-14-2.csv", "2026-06-14"),
        ("2026.06.14.csv", "2026-06-14"),
        ("20261399.csv", ""),
        ("2026-02-29.csv", ""),
        ("19991231-20260614.csv", "2026-06-14"),
        ("120260614.csv", ""),
    ],
)
def test_a_file_s_name_tells_the_day_where_no_clock_does(file, day):
    found = date_of(log(written(12.0, file=file)))
    assert (found.text, found.time) == (day, "")
    assert (file in found.reason) == bool(day)


def test_the_first_clock_that_knows_the_date_tells_it():
    dated = datetime(2026, 6, 14, 10, 3, tzinfo=UTC).timestamp()
    trace = log(written(186.0, file="2020-01-01.csv"), written(dated, "+00:00", "receiver.csv"))
    assert date_of(trace).text == "2026-06-14 10:03 UTC"
    assert own_span_s(trace) is None
    assert own_span_s(log(written(dated))) == (dated, dated + 600.0)
    assert own_span_s(replace(trace, sources=())) is None


@pytest.mark.parametrize(
    ("own_s", "zone", "text"),
    [
        (48_005.04, "", "13:20:05"),
        (48_005.04, "+02:00", "13:20:05"),
        (1_778_419_205.0, "", "2026-05-10 13:20:05"),
        (1_778_419_205.0, "+02:00", "2026-05-10 15:20:05 UTC+02:00"),
    ],
)
def test_what_a_clock_shows(own_s, zone, text):
    # 2026-05-10 13:20:05 UTC is 1778419205 s after 1970
    assert clock_text(own_s, zone) == text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("2026-06-14 10:03", "2026-06-14 10:03 local time"),
        ("2026-06-14 10:03 UTC+02:00", "2026-06-14 10:03 UTC+02:00"),
        ("2026-06-14", "2026-06-14"),
        ("", ""),
    ],
)
def test_a_time_without_a_zone_is_said_to_be_local(text, shown):
    assert shown_date(text) == shown
