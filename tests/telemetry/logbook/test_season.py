"""What a kept season gives: history of the right flights, and a table that spreadsheets open safely."""

from __future__ import annotations

import csv
from dataclasses import replace

import pytest

from telemetry.cli.listing import flight_table
from telemetry.errors import BadUse
from telemetry.estimate import Undecided
from telemetry.history import read_history
from telemetry.importers.log import read_log
from telemetry.logbook import KeptFlight
from telemetry.logbook.exporting import csv_text
from telemetry.put_back import put_backs


def test_history_holds_what_was_flown_earlier_and_nothing_later(book, write_log, sheet):
    book.keep([write_log("2026-06-14.csv", cruise_a=24.0)], sheet=sheet)
    book.keep([write_log("2026-06-21.csv", cruise_a=22.0)], sheet=sheet)
    book.keep([write_log("2026-06-07.csv", cruise_a=20.0)], sheet=sheet)
    assert [p.date for p in book.history()] == ["2026-06-07", "2026-06-14", "2026-06-21"]
    assert [p.date for p in book.history(before=1)] == ["2026-06-07"]
    assert [p.date for p in book.history(before="2")] == ["2026-06-07", "2026-06-14"]
    assert book.history(before=3) == ()


def test_without_dates_the_order_of_keeping_counts(book, write_log, sheet):
    for n in range(3):
        book.keep([write_log(f"{n}.csv", cruise_a=20.0 + n)], sheet=sheet)
    assert [len(book.history(before=n)) for n in (1, 2, 3)] == [0, 1, 2]


def test_another_aircraft_lends_no_history(book, write_log, sheet, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text(sheet.read_text().replace("Test Twin", "Other Twin"))
    book.keep([write_log("a.csv")], sheet=sheet)
    book.keep([write_log("b.csv", cruise_a=22.0)], sheet=other)
    assert book.history(before=2) == ()
    assert len(book.history(aircraft="Test Twin")) == 1
    assert len(book.history()) == 2


@pytest.fixture
def misfiled(book, write_log, sheet, tmp_path):
    """A logbook of three flights of one name, the second kept with a sheet that its log contradicts."""
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(sheet.read_text().replace("cells = 5", "cells = 3"))
    book.keep([write_log("2026-06-07.csv", cruise_a=20.0)], sheet=sheet)
    book.keep(
        [
            write_log(
                "2026-06-14.csv",
                cruise_a=40.0,
                columns=("Time s", "Current A", "Pack voltage V", "Altitude m"),
            )
        ],
        sheet=wrong,
    )
    book.keep([write_log("2026-06-21.csv", cruise_a=22.0)], sheet=sheet)
    return book


def test_a_flight_that_contradicts_its_sheet_counts_in_no_timer(misfiled):
    assert [f.contradicts_sheet for f in misfiled.flights()] == [False, True, False]
    assert [p.date for p in misfiled.history(aircraft="Test Twin")] == ["2026-06-07", "2026-06-21"]
    assert [p.date for p in misfiled.history(before=3)] == ["2026-06-07"]
    assert misfiled.read(3).flights[0].timer.flights_used == 2


def test_the_list_says_why_it_does_not_count_and_history_leaves_it_out_too(misfiled, tmp_path):
    line = flight_table(misfiled.flights()).splitlines()[2]
    assert line.endswith("stop: The log and the set-up sheet do not belong together. Counts in no timer.")
    misfiled.export(tmp_path / "flights.csv")
    assert [p.date for p in read_history(tmp_path / "flights.csv")] == ["2026-06-07", "2026-06-21"]


def test_a_log_under_review_never_stands_in_its_own_history(book, write_log, sheet):
    first, second = write_log("2026-06-14.csv", cruise_a=24.0), write_log("2026-06-21.csv", cruise_a=22.0)
    book.keep([first, second], sheet=sheet)
    assert [p.date for p in book.history_for(read_log(second), aircraft="Test Twin")] == ["2026-06-14"]
    assert book.history_for([read_log(first)]) == ()
    between = read_log(write_log("2026-06-17.csv", cruise_a=23.0))
    assert [p.date for p in book.history_for(between)] == ["2026-06-14"]
    assert book.history_for(between, aircraft="Other Twin") == ()


def test_a_review_counts_the_flights_before_it_and_itself(book, write_log, sheet):
    for n in range(3):
        book.keep([write_log(f"{n}.csv", cruise_a=20.0 + n)], sheet=sheet)
    first, *later = (book.read(n).flights[0].timer for n in (1, 2, 3))
    assert isinstance(first, Undecided), "one flight and a sheet that names no motor"
    assert [timer.flights_used for timer in later] == [2, 3]


def test_a_configuration_that_costs_more_shows_in_the_trends(book, write_log, sheet):
    for n, (cruise_a, configuration) in enumerate([(20.0, ""), (20.4, ""), (24.0, "skis"), (24.4, "skis")]):
        book.keep(
            [write_log(f"2026-06-{n + 1:02d}.csv", cruise_a=cruise_a)],
            sheet=sheet,
            configuration=configuration,
        )
    trends = book.trends()
    (cost,) = trends.configurations
    # 24.2 A against 20.2 A of cruise, the climb at twice that: a fifth more
    assert cost.difference_fraction.value == pytest.approx(24.2 / 20.2 - 1, abs=0.01)
    assert isinstance(trends.cells, Undecided)
    assert book.trends("no such").configurations == ()


def test_one_motor_of_a_pair_is_no_history_of_the_pack(book, write_log, sheet):
    (flight,) = book.keep(
        [write_log("left.csv", columns=("Time s", "Current left A", "Altitude m"))], sheet=sheet
    ).kept
    assert flight.consumed_mah is None
    assert book.history() == ()


def test_history_of_no_such_flight_is_refused(book, write_log):
    book.keep([write_log()])
    with pytest.raises(BadUse, match="no flight 7"):
        book.history(before=7)


def test_the_exported_list_is_read_back_as_history(book, write_log, sheet, tmp_path):
    book.keep([write_log("2026-06-14.csv")], sheet=sheet, configuration="skis", pack="B", put_back_mah=1700.0)
    book.keep([write_log("taxi.csv", cruise_a=18.0, height_m=0.0)], sheet=sheet)
    assert [f.kind for f in book.flights()] == ["flight", "taxi"]
    book.export(tmp_path / "list.csv")
    (back,) = read_history(tmp_path / "list.csv")
    (kept,) = book.history()
    assert (back.configuration, back.pack, back.date, back.put_back_mah) == (
        "skis",
        "B",
        "2026-06-14",
        1700.0,
    )
    assert back.duration_s == pytest.approx(kept.duration_s, rel=1e-9)
    assert back.consumed_mah == pytest.approx(kept.consumed_mah, rel=1e-9)


def test_a_put_back_after_a_part_charge_teaches_no_gain(book, write_log, sheet, tmp_path):
    with_v = ("Time s", "Current A", "Pack voltage V", "Altitude m")
    logs = [
        write_log("2026-06-07.csv", columns=with_v),
        write_log("2026-06-14.csv", columns=with_v, began_v=19.2, cruise_a=22.0),  # 3.84 V a cell: about half
        write_log("2026-06-21.csv", cruise_a=20.0),
    ]
    for log in logs:
        book.keep([log], sheet=sheet, put_back_mah=2000.0)
    full, part, untold = book.flights()
    assert full.start_charge_fraction > 0.95
    assert 0.35 < part.start_charge_fraction < 0.65
    assert untold.start_charge_fraction is None, "no voltage tells it"
    assert put_backs(book.history()) == ((full.consumed_mah, 2000.0),)
    book.export(tmp_path / "list.csv")
    (told,) = put_backs(read_history(tmp_path / "list.csv"))
    assert told == pytest.approx((full.consumed_mah, 2000.0), rel=1e-9)


def test_neither_a_flight_kept_twice_nor_one_cut_off_is_history_of_an_exported_list(
    book, write_log, sheet, tmp_path
):
    book.keep([write_log("2026-06-14.csv")], sheet=sheet)
    (whole,) = book.flights()
    others = [replace(whole, id=2, again=1), replace(whole, id=3, cut_off="end")]
    (tmp_path / "list.csv").write_text(csv_text([whole, *others]), encoding="utf-8")
    assert len(read_history(tmp_path / "list.csv")) == 1
    assert all(one.past is None for one in others)


@pytest.mark.source(
    "OWASP, CSV injection: a cell that starts with = + - @, tab or carriage return runs as a formula (from "
    "memory)"
)
@pytest.mark.parametrize("name", ["=1+1", "+1", "-skis", "@SUM(A1)", "\tskis", "\rskis"])
def test_no_text_of_the_list_runs_in_a_spreadsheet(name):
    flight = KeptFlight(
        1,
        "",
        "flight",
        name,
        name,
        name,
        300.0,
        280.0,
        3000.0,
        name,
        {"cells": name},
        {},
        "",
        "",
        "",
        3.4,
        1,
        None,
        "",
        None,
        300.0,
        (),
        (),
        (name,),
        None,
        -4.5,
    )
    rows = list(csv.DictReader(csv_text([flight]).splitlines(keepends=True)))
    for column in ("configuration", "pack", "aircraft", "headline", "cells", "files"):
        assert rows[0][column].startswith("'")
    assert rows[0]["temperature_c"] == "-4.5"


def test_a_list_that_cannot_be_written_is_one_sentence(book, tmp_path):
    with pytest.raises(BadUse, match="cannot be written"):
        book.export(tmp_path / "none" / "list.csv")
