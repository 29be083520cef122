"""The logbook's sheet in the place of a file: the latest of an aircraft, or the one in force on the day."""

from __future__ import annotations

import json

import pandas as pd
import pytest

from telemetry.cli import run
from telemetry.logbook import Logbook


@pytest.fixture(scope="module")
def place(tmp_path_factory, small_twin, write_flight):
    """A logbook of two aircraft; the capacity in the sheet of the first was corrected in between."""
    folder = tmp_path_factory.mktemp("place")
    book = Logbook(folder / "book")
    kept = (
        ("2026-06-01", "Mail", 5200, 20.0),
        ("2026-06-10", "Mail", 5000, 21.0),
        ("2026-06-12", "Ferry", 4000, 22.0),
    )
    for day, name, capacity_mah, cruise_a in kept:
        sheet = folder / f"{day}.toml"
        sheet.write_text(small_twin("Test Twin", name, "5200", str(capacity_mah)), encoding="utf-8")
        book.keep([write_flight(folder / f"{day}.csv", cruise_a)], sheet=sheet)
    return folder


def told(capsys, *arguments):
    assert run([*map(str, arguments), "--json"]) in (0, 3)
    return json.loads(capsys.readouterr().out)


def test_a_timer_takes_the_latest_sheet_and_the_flights_of_the_aircraft(place, capsys):
    by_name = told(capsys, "timer", "--aircraft", "Mail", "--logbook", place / "book")["timer"]
    assert by_name["usable_mah"] == pytest.approx(0.8 * 5000.0)
    assert by_name["flights_used"] == 2
    by_file = told(capsys, "timer", "--sheet", place / "2026-06-10.toml", "--logbook", place / "book")[
        "timer"
    ]
    assert by_name == by_file
    ferry = told(capsys, "timer", "--aircraft", "Ferry", "--logbook", place / "book")["timer"]
    assert (ferry["usable_mah"], ferry["flights_used"]) == (pytest.approx(0.8 * 4000.0), 1)


def test_a_logbook_named_by_the_environment_will_do(place, capsys, monkeypatch):
    monkeypatch.setenv("SAGLINE_LOGBOOK", str(place / "book"))
    assert told(capsys, "timer", "--aircraft", "Mail")["timer"]["flights_used"] == 2


def test_a_prediction_and_its_card_take_it_too(place, tmp_path, capsys):
    card = tmp_path / "card.html"
    asked = ("predict", "--aircraft", "Ferry", "--logbook", place / "book", "--card", card)
    flight = told(capsys, *asked)["flight"]
    # four fifths of 4000 mAh at the mean current
    assert flight["time_to_reserve_s"]["value"] == pytest.approx(
        0.8 * 4000.0 * 3.6 / flight["mean_current_a"]["value"], rel=0.01
    )
    assert "Ferry" in card.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("day", "capacity_mah"), [("2026-05-20", 5200.0), ("2026-06-05", 5200.0), ("2026-06-11", 5000.0)]
)
def test_a_review_takes_the_sheet_in_force_on_the_flights_day(
    place, write_flight, tmp_path, capsys, day, capacity_mah
):
    log = write_flight(tmp_path / f"{day}.csv", 19.0)
    (flight,) = told(capsys, "review", log, "--aircraft", "Mail", "--logbook", place / "book")["flights"]
    drawn_mah, drawn = flight["capacity"]["consumed_mah"]["value"], flight["capacity"]["consumed_fraction"]
    assert drawn_mah / drawn == pytest.approx(capacity_mah)


def test_logs_are_kept_each_with_the_sheet_in_force_on_its_day(write_flight, place, tmp_path, capsys):
    book = Logbook(tmp_path / "book")
    book.keep([place / "2026-06-01.csv"], sheet=place / "2026-06-01.toml")
    book.keep([place / "2026-06-10.csv"], sheet=place / "2026-06-10.toml")
    logs = [write_flight(tmp_path / f"2026-06-{n:02d}.csv", 16.3 + n) for n in (2, 5, 14)]
    assert run(["keep", *map(str, logs), "--aircraft", "Mail", "--logbook", str(tmp_path / "book")]) == 0
    assert [book.sheet(n).setup().pack.capacity_mah for n in (3, 4, 5)] == [5200.0, 5200.0, 5000.0]


def test_a_sheet_is_recalibrated_by_the_name_of_its_aircraft(sample_logs, tmp_path, capsys):
    book = Logbook(tmp_path / "book")
    book.keep([sample_logs / "maiden.csv"], sheet=sample_logs / "saltmarsh_mail.toml")
    name, new = book.flights()[0].aircraft, tmp_path / "new.toml"
    asked = ("recalibrate", sample_logs / "maiden.csv", "--logbook", book.folder.path, "-o", new)
    learnt = told(capsys, *asked, "--aircraft", name)
    assert learnt["parameters"] and "[calibration]" in new.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "asked",
    [
        ["timer"],
        ["predict"],
        ["recalibrate", "2026-06-01.csv", "-o", "new.toml"],
        ["review", "2026-06-01.csv"],
        ["keep", "2026-06-01.csv"],
    ],
)
def test_an_unknown_name_gets_the_known_ones(place, capsys, asked, monkeypatch):
    monkeypatch.chdir(place)
    before = Logbook(place / "book").flights()
    assert run([*asked, "--aircraft", "Mial", "--logbook", "book"]) == 2
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", 'the logbook has no aircraft "Mial". It has Mail, Ferry.\n')
    assert Logbook(place / "book").flights() == before
    assert not (place / "new.toml").exists()


@pytest.mark.parametrize(
    ("asked", "problem"),
    [
        (["timer"], "no set-up sheet was named. Give it with --sheet, or the logbook's with --aircraft."),
        (["timer", "--sheet", "2026-06-01.toml", "--aircraft", "Mail"], "both a set-up sheet and --aircraft"),
        (["timer", "--aircraft", "Mail", "--logbook", "nowhere"], "there is no logbook at nowhere"),
        (["recalibrate", "2026-06-01.toml", "-o", "new.toml"], "LOG... is missing"),
    ],
)
def test_what_cannot_be_asked_is_one_sentence(place, capsys, asked, problem, monkeypatch):
    monkeypatch.chdir(place)
    assert run(asked) == 2
    said = capsys.readouterr()
    assert said.out == "" and problem in said.err and said.err.count("\n") == 1


def test_the_list_is_that_of_one_aircraft_when_asked_and_parquet_has_every_fact(place, capsys, tmp_path):
    table = tmp_path / "ferry.parquet"
    listed = told(
        capsys, "flights", "--aircraft", "Ferry", "--export", table, "--logbook", str(place / "book")
    )
    assert [(f["aircraft"], f["date"]) for f in listed["flights"]] == [("Ferry", "2026-06-12")]
    kept = pd.read_parquet(table)
    assert kept.index.tolist() == [3]
    assert kept["consumed_low"].iloc[0] < kept["consumed_mah"].iloc[0] < kept["consumed_high"].iloc[0]


def test_a_list_of_an_unknown_aircraft_names_the_known_ones(place, capsys):
    assert run(["flights", "--aircraft", "Gull", "--logbook", str(place / "book")]) == 2
    assert "It has Mail, Ferry." in capsys.readouterr().err
