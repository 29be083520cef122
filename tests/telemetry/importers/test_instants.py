"""How instants are written: each against a calendar or a standard outside this project."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta, timezone
from email.utils import format_datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.errors import BadLog
from telemetry.importers.clock.instants import is_time, midnights, month_names, read_times, zone_name, zone_s
from telemetry.importers.text.numbers import is_number

FLOWN = datetime(2026, 6, 14, 10, 3, 7, tzinfo=UTC)
SECONDS = FLOWN.timestamp()
MIDNIGHT = FLOWN.replace(hour=0, minute=0, second=0).timestamp()
N = 300
AMPS = np.where((np.arange(N) // 25) % 2, 12.0, 36.0)


def log_of(stamps: list[str], header: str = "Time") -> str:
    rows = [f"{s};{20.9 - 0.01 * a:.2f};{a:.1f}" for s, a in zip(stamps, AMPS, strict=True)]
    return "\n".join([f"{header};voltage (V);current (A)", *rows]) + "\n"


@pytest.mark.source("ISO 8601-1 (from memory), CHECKS F3; seconds by Python's datetime")
@pytest.mark.parametrize(
    ("text", "seconds", "zone"),
    [
        ("2026-06-14T10:03:07.25+02:00", SECONDS - 7200 + 0.25, "+02:00"),
        ("20260614T100307Z", SECONDS, "+00:00"),
        ("2026-06-14T10:03:07,25", SECONDS + 0.25, ""),
        ("2026-06-14T10:03:07\u221203:30", SECONDS + 12_600, "-03:30"),
        ("20260614T1003+02", SECONDS - 7 - 7200, "+02:00"),
        ("2026-06-14T00:30+02:00", MIDNIGHT + 1800 - 7200, "+02:00"),
        ("2026-06-14T24:00:00Z", MIDNIGHT + 86_400, "+00:00"),
        ("2026-06-14 10:03:07 UTC+2", SECONDS - 7200, "+02:00"),
        ("2026-06-14 10:03:07 CEST", SECONDS - 7200, "+02:00"),
        ("2026-06-14T10:03:07+02:00[Europe/Berlin]", SECONDS - 7200, "+02:00"),
    ],
)
def test_a_stamp_of_the_international_standard_keeps_its_zone(text, seconds, zone):
    found = read_times([text, text])
    assert is_time(text)
    assert (found.seconds[0], found.sort, found.zone) == (pytest.approx(seconds, abs=1e-6), "moment", zone)


@pytest.mark.source("Python's email.utils (RFC 5322), time.asctime (C) and datetime")
@pytest.mark.parametrize(
    "text",
    [
        format_datetime(FLOWN.astimezone(timezone(timedelta(hours=2)))),
        time.asctime(FLOWN.timetuple()),
        FLOWN.strftime("%d/%b/%Y:%H:%M:%S +0000"),
        FLOWN.strftime("%H:%M:%S %d.%m.%Y"),
        FLOWN.strftime("%d-%b-%y %I:%M:%S %p"),
        FLOWN.strftime("%b %d, %Y %H:%M:%S"),
        FLOWN.strftime("%Y-%b-%d %H:%M:%S"),
    ],
)
def test_a_month_by_its_name(text):
    assert is_time(text)
    assert read_times([text, text]).seconds[0] == SECONDS


@pytest.mark.parametrize(
    "text",
    [
        "14 Jun 2026",
        "Jun 14 2026",
        "14-Jun-26",
        "14. Juni 2026",
        "14 juin 2026",
        "14 июня 2026 г.",
        "14JUN2026",
    ],
)
def test_a_day_by_its_month_s_name(text):
    found = read_times([text, text])
    assert is_time(text)
    assert (found.seconds[0], found.sort) == (MIDNIGHT, "date")


def test_no_word_names_two_months():
    """`month_names` is one table for all languages."""
    from telemetry.importers.units import vocabulary_file

    listing = vocabulary_file()["months"]
    assert all(len(months) == 12 for months in listing.values())
    pairs = {
        (w, n) for months in listing.values() for n, words in enumerate(months, 1) for w in words.split()
    }
    assert len({word for word, _ in pairs}) == len(pairs)
    assert set(month_names().values()) == set(range(1, 13))


def test_the_languages_of_months_are_those_of_the_headings():
    from telemetry.importers.units import vocabulary_file

    listing = vocabulary_file()
    assert set(listing["months"]) == set(listing["kinds"]["time"])


@pytest.mark.parametrize(
    "text", ["Voltage (V)", "14 apples 2026", "Firmware 1.2.26", "cell 3 of 5", "3.75 V", "", "12", "v1.2.3"]
)
def test_other_words_with_digits_are_no_time(text):
    assert not is_time(text)


@given(st.floats(-1e6, 1e6, allow_nan=False))
def test_a_number_is_no_time(number):
    text = f"{number:.6g}"
    assert is_number(text)
    assert not is_time(text)


@given(st.datetimes(datetime(2001, 1, 1), datetime(2099, 12, 31)), st.integers(-14 * 4, 14 * 4))
@settings(max_examples=200, deadline=None)
def test_every_iso_stamp_is_read_as_the_calendar_has_it(moment, quarters):
    stamp = moment.replace(tzinfo=timezone(timedelta(minutes=15 * quarters)))
    found = read_times([stamp.isoformat()] * 2)
    assert found.seconds[0] == pytest.approx(stamp.timestamp(), abs=2e-6)
    assert zone_s(found.zone) == 900 * quarters
    assert zone_name(900 * quarters) == found.zone


def test_a_day_that_the_calendar_has_not_is_none():
    assert read_times(["2026-06-31 10:00:00"] * 2) is None
    year, month, day = np.array([[2024.0, 2, 29], [2026, 2, 29], [np.nan, 1, 1]]).T
    expected = datetime(2024, 2, 29, tzinfo=UTC).timestamp()
    assert midnights(year, month, day) == pytest.approx([expected, np.nan, np.nan], nan_ok=True)


def test_one_column_has_one_order_of_day_and_month():
    later = read_times([f"06/{day:02d}/2026 10:03:07" for day in range(1, 15)])
    assert (later.seconds[-1], later.doubt) == (SECONDS, "")
    either = read_times(["06/05/2026 10:03:07"] * 2)
    assert "cannot be told apart" in either.doubt
    assert read_times(["06.05.2026 10:03:07"] * 2).doubt == ""


@pytest.mark.parametrize(
    ("texts", "seconds", "sort"),
    [
        (["1:02.5", "1:03.0"], 62.5, "minutes"),
        (["-00:00:10", "00:00:01"], -10.0, "clock"),
        (["1h02m03.5s", "1h02m04.0s"], 3723.5, "clock"),
        (["10:03:07:250", "10:03:07:500"], 36_187.25, "clock"),
        (["3:15 PM", "3:16 PM"], 54_900.0, "clock"),
        (["12:00:00 AM", "12:00:01 AM"], 0.0, "clock"),
        (["10:75:00", "10:76:00"], None, ""),
    ],
)
def test_times_of_day_and_durations(texts, seconds, sort):
    found = read_times(texts)
    assert (found is None) if seconds is None else ((found.seconds[0], found.sort) == (seconds, sort))


FORMS = ["%d %b %Y %H:%M:%S.%f", "%b %d %Y %H:%M:%S.%f", "%d-%b-%y %H:%M:%S.%f", "%d. Juni %Y %H:%M:%S.%f"]


@pytest.mark.parametrize(
    "form", [*FORMS, "%d de junio de %Y a las %H:%M:%S.%f", "%d июня %Y г. в %H:%M:%S.%f"]
)
def test_a_log_with_month_names_is_read_whole(read, form):
    stamps = [(FLOWN + timedelta(milliseconds=200 * i)).strftime(form)[:-3] for i in range(N)]
    trace = read(log_of(stamps))
    assert trace.time_s == pytest.approx(0.2 * np.arange(N))
    assert -trace.sources[0].clock.offset_s.value == SECONDS


def test_a_log_that_begins_after_midnight_in_its_zone_says_its_zone(read):
    began = datetime(2026, 6, 14, 0, 30, tzinfo=timezone(timedelta(hours=2)))
    source = read(log_of([(began + timedelta(seconds=i)).isoformat() for i in range(N)])).sources[0]
    assert (-source.clock.offset_s.value, source.clock.zone) == (began.timestamp(), "+02:00")
    assert "UTC+02:00" in source.columns[0].reason


def test_a_log_over_the_end_of_summer_time_goes_on_evenly(read):
    # tz database: clocks in Berlin go back at 2025-10-26 01:00 UTC
    began = datetime(2025, 10, 26, 0, 59, tzinfo=UTC)
    berlin = ZoneInfo("Europe/Berlin")
    trace = read(log_of([(began + timedelta(seconds=i)).astimezone(berlin).isoformat() for i in range(N)]))
    assert trace.time_s == pytest.approx(np.arange(N))
    assert trace.sources[0].clock.zone == "+02:00"


@pytest.mark.parametrize(
    ("header", "stamps", "zone"),
    [
        ("Time", [f"2026-06-14 10:03:{0.1 * i:04.1f}" for i in range(N)], ""),
        ("Time UTC", [f"2026-06-14 10:03:{0.1 * i:04.1f}" for i in range(N)], "+00:00"),
        ("Time", [f"{SECONDS + 0.1 * i:.1f}" for i in range(N)], "+00:00"),
        ("Time", [f"10:03:{0.1 * i:04.1f}" for i in range(N)], ""),
        ("Time (s)", [f"{0.1 * i:.1f}" for i in range(N)], ""),
    ],
)
def test_a_zone_is_what_a_stamp_a_heading_or_unix_time_names(read, header, stamps, zone):
    source = read(log_of(stamps, header)).sources[0]
    assert source.clock.zone == zone
    assert ("local time" in source.columns[0].reason) == ("-" in stamps[0] and not zone)


def test_a_day_and_a_time_of_day_apart_take_the_zone_of_the_time(read):
    rows = [f"14 Jun 2026;{10 + i // 3600:02d}:{i // 60 % 60:02d}:{i % 60:02d}+02:00" for i in range(N)]
    source = read(log_of(rows, "Date;Time")).sources[0]
    assert (-source.clock.offset_s.value, source.clock.zone) == (MIDNIGHT + 8 * 3600, "+02:00")


def test_a_table_of_words_is_still_refused(read):
    with pytest.raises(BadLog):
        read("Pilot;Place\nA. Person;14 marsh\nB. Person;15 marsh\n")
