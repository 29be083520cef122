"""Logs as they are written: dialects, clocks, silences."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from telemetry.simulate import CsvDialect, Heading, Recorder, Scenario, Sensor, simulate, taxi_only
from telemetry.simulate.recorder import quantised, row_times

SENSORS = (
    Sensor("pack_voltage_v", step=0.01),
    Sensor("current_a", interval_s=0.5, step=0.1, silent=True),
    Sensor("rpm", "left", step=10.0),
)
KEYS = {
    ("pack_voltage_v", ""): Heading("Spannung; Akku", "V", 1.0, 2),
    ("current_a", ""): Heading("Strom", "mA", 1000.0, 0),
}


@pytest.fixture(scope="module")
def taxied():
    recorder = Recorder(sensors=SENSORS, interval_s=0.1)
    return simulate(Scenario(legs=taxi_only(20.0), recorders=(recorder,)), seed=4)


def lines(taxied, tmp_path, **choices):
    dialect = CsvDialect(**choices)
    text = taxied.write_csv(tmp_path / "log.csv", dialect).read_bytes().decode(dialect.encoding)
    return text.split(dialect.newline)


def test_a_german_log_has_semicolons_decimal_commas_and_a_row_of_units(taxied, tmp_path):
    written = lines(
        taxied,
        tmp_path,
        delimiter=";",
        decimal=",",
        newline="\r\n",
        unit_row=True,
        time_text="Zeit",
        headings=KEYS,
    )
    assert written[0] == 'Zeit;"Spannung; Akku";Strom'
    assert written[1] == "s;V;mA"
    assert written[2].startswith("0,000;2") and written[2].count(",") == 2
    assert written[-1] == ""


@pytest.mark.source("RFC 4180 §2: every record has as many fields as the header")
def test_every_row_has_as_many_fields_as_the_header(taxied, tmp_path):
    written = lines(taxied, tmp_path)
    assert {line.count(",") for line in written[:-1]} == {3}


def test_a_silent_sensor_leaves_its_field_empty_between_refreshes(taxied, tmp_path):
    written = lines(taxied, tmp_path, missing="--", headings=KEYS)
    fields = [line.rsplit(",", 1)[1] for line in written[1:-1]]
    assert fields[0] != "--"
    assert fields[1:5] == ["--"] * 4
    assert fields[5] != "--"


@pytest.mark.parametrize(
    ("style", "first", "eleventh"),
    [
        ("seconds", "0.000", "1.000"),
        ("milliseconds", "0", "1000"),
        ("minutes", "00:00.00", "00:01.00"),
        ("clock", "23:59:59.500", "00:00:00.500"),
    ],
)
def test_each_way_to_write_the_time(taxied, tmp_path, style, first, eleventh):
    written = lines(taxied, tmp_path, time=style, clock_start_s=86_399.5)
    assert written[1].split(",")[0] == first
    assert written[11].split(",")[0] == eleventh


@pytest.mark.source("ISO 8601-1:2019 §5.4.2: date and time of day, T between them, Z for UTC (from memory)")
def test_a_moment_goes_on_past_midnight_into_the_next_day(taxied, tmp_path):
    written = lines(
        taxied,
        tmp_path,
        time="clock",
        clock_start_s=86_399.5,
        day=date(2024, 2, 29),
        day_form="%Y-%m-%dT",
        zone="Z",
    )
    assert written[1].split(",")[0] == "2024-02-29T23:59:59.500Z"
    assert written[11].split(",")[0] == "2024-03-01T00:00:00.500Z"


def test_day_and_time_of_day_may_stand_apart(taxied, tmp_path):
    apart = {"day": date(2025, 5, 4), "day_form": "%d.%m.%Y", "day_text": "Tag"}
    written = lines(
        taxied,
        tmp_path,
        delimiter=";",
        decimal=",",
        unit_row=True,
        time="clock",
        time_text="Uhr",
        time_unit="",
        headings=KEYS,
        **apart,
    )
    assert [line.split(";")[:2] for line in written[:4]] == [
        ["Tag", "Uhr"],
        ["", ""],
        ["04.05.2025", "00:00:00,000"],
        ["04.05.2025", "00:00:00,100"],
    ]


@pytest.mark.source("arithmetic: 300 ppm over 600 s are 0.180 s")
def test_a_recorders_own_clock_runs_away(taxied):
    recording = taxied.recordings[0]
    away = replace(
        recording,
        recorder=replace(recording.recorder, clock_offset_s=-5.0, clock_drift_ppm=300.0),
        time_s=np.array([0.0, 600.0]),
    )
    assert away.own_time_s[0] == pytest.approx(5.0, abs=0.01)
    # its seconds are 300 ppm longer than true ones, so it counts fewer
    assert 600.0 - np.diff(away.own_time_s)[0] == pytest.approx(0.180, abs=1e-4)


def test_gaps_and_ends_of_a_record():
    recorder = Recorder(interval_s=0.5, from_s=10.0, until_s=30.0, gaps_s=((15.0, 5.0),))
    times = row_times(recorder, 60.0, np.random.default_rng(0))
    assert times[0] == 10.0
    assert times[-1] == 29.5
    assert not np.any((times >= 15.0) & (times < 20.0))


def test_rounding_leaves_no_dust():
    assert quantised(np.array([0.30000004, 3.7049]), 0.005).tolist() == [0.3, 3.705]
