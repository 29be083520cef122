"""One flight counts once, whatever its bytes; whose flights they are; and what stands open is carried on."""

from __future__ import annotations

import json

import numpy as np
import pytest

from telemetry.cli import run
from telemetry.debrief import next_timer
from telemetry.estimate import Undecided
from telemetry.importers.log import read_log
from telemetry.logbook import Edits
from telemetry.logbook.fingerprint import fingerprint, same_flight
from telemetry.prediction import predict
from telemetry.sheet import Sheet, new_sheet_text


@pytest.fixture
def twin(tmp_path, small_twin):
    path = tmp_path / "full.toml"
    path.write_text(small_twin(), encoding="utf-8")
    return path


def saved_again(log, how):
    """The same rows in other bytes, or most of them."""
    text = log.read_text(encoding="utf-8")
    head, *rows = text.splitlines()
    third = len(rows) // 3
    return {
        "line ends of another system": text.replace("\n", "\r\n").encode(),
        "semicolons": text.replace(",", ";").encode(),
        "semicolons and decimal commas": text.replace(",", ";").replace(".", ",").encode(),
        "another encoding": text.encode("utf-16"),
        "ten rows off the top": "\n".join([head, *rows[10:], ""]).encode(),
        "ten rows off the end": "\n".join([head, *rows[:-10], ""]).encode(),
        "ten rows out of the middle": "\n".join([head, *rows[:third], *rows[third + 10 :], ""]).encode(),
        "a stretch of its rows": "\n".join([head, *rows[third : 2 * third], ""]).encode(),
        "rounded to one decimal": "\n".join(
            [head, *(",".join(f"{float(v):.1f}" for v in row.split(",")) for row in rows), ""]
        ).encode(),
    }[how]


HOW = (
    "line ends of another system",
    "semicolons",
    "semicolons and decimal commas",
    "another encoding",
    "ten rows off the top",
    "ten rows off the end",
    "ten rows out of the middle",
    "a stretch of its rows",
    "rounded to one decimal",
)


@pytest.mark.parametrize("how", HOW)
def test_a_flight_saved_again_is_joined_to_itself_and_said(book, write_log, twin, tmp_path, how):
    log = write_log("2026-06-14.csv")
    book.keep([log], sheet=twin)
    other = tmp_path / "again.csv"
    other.write_bytes(saved_again(log, how))
    outcome = book.keep([other], sheet=twin)
    assert [f.id for f in outcome.kept] == [1]
    assert outcome.remarks[0].startswith("again.csv is flight 1 again, in other bytes or a part of it")
    assert len(book.flights()) == 1
    assert book.history_for(read_log(other)) == (), "a log under review never stands in its own history"


def test_three_copies_of_one_flight_move_no_timer(book, write_log, twin, tmp_path):
    """Each of them shrank the spread between flights, so that the alarm came ever later."""
    logs = [write_log(f"2026-06-0{n}.csv", cruise_a=22.0 + n) for n in (1, 2, 3)]
    book.keep(logs, sheet=twin)
    setup = Sheet.read(twin).setup()
    before = next_timer(setup, predict(setup), book.earlier(setup).flights)
    for number, how in enumerate(HOW[:3]):
        (tmp_path / f"copy {number}.csv").write_bytes(saved_again(logs[1], how))
    book.keep([tmp_path / f"copy {n}.csv" for n in range(3)], sheet=twin)
    assert next_timer(setup, predict(setup), book.earlier(setup).flights) == before


def test_the_owner_may_say_that_it_is_another_flight(book, write_log, twin, tmp_path):
    log, other = write_log("2026-06-14.csv"), tmp_path / "2026-06-15.csv"
    other.write_bytes(saved_again(log, "semicolons"))
    book.keep([log], sheet=twin)
    assert [f.id for f in book.keep([other], sheet=twin, another=True).kept] == [2]
    assert len(book.history(aircraft="Test Twin")) == 2
    book.check(anew=True)
    assert len(book.history(aircraft="Test Twin")) == 2, "it stays said"


def test_what_is_newly_said_with_a_copy_is_noted_of_the_flight(book, write_log, twin, tmp_path):
    log, other = write_log("2026-06-14.csv"), tmp_path / "copy.csv"
    other.write_bytes(saved_again(log, "semicolons"))
    book.keep([log], sheet=twin)
    (flight,) = book.keep([other], put_back_mah=1720.0).kept
    assert (flight.id, flight.put_back_mah) == (1, 1720.0)


@pytest.mark.parametrize("seed", range(4))
def test_two_flights_alike_but_for_the_air_are_two(write_log, tmp_path, seed):
    prints = []
    for number in range(2):
        rng, log = np.random.default_rng([seed, number]), write_log(f"{number}.csv")
        head, *rows = log.read_text().splitlines()
        gusts = 0.3 * np.cumsum(rng.standard_normal(len(rows))) / np.arange(1, len(rows) + 1) ** 0.5
        time_s, current_a, height_m = np.array([[float(v) for v in row.split(",")] for row in rows]).T
        shaken = np.column_stack([time_s, np.where(current_a > 5.0, current_a + gusts, current_a), height_m])
        body = "\n".join(",".join(f"{v:.2f}" for v in row) for row in shaken)
        (tmp_path / f"{number}.csv").write_text(f"{head}\n{body}\n")
        prints.append(fingerprint(read_log(tmp_path / f"{number}.csv")))
    assert not same_flight(*prints)
    assert min(p.size for p in prints) > 10


def test_two_aircraft_of_a_new_sheets_name_share_no_history(book, write_log, tmp_path):
    one, other = tmp_path / "one.toml", tmp_path / "other.toml"
    one.write_text(new_sheet_text())
    other.write_text(new_sheet_text().replace("capacity_mah = 5200", "capacity_mah = 4000"))
    outcome = book.keep([write_log("2026-06-01.csv"), write_log("2026-06-02.csv", cruise_a=22.0)], sheet=one)
    assert "“my model”, as every new sheet does" in outcome.remarks[-1]
    setups = [Sheet.read(path).setup() for path in (one, other)]
    timers = [next_timer(setup, predict(setup), book.earlier(setup).flights) for setup in setups]
    assert timers[0].flights_used == 2
    assert isinstance(timers[1], Undecided)
    assert "two of another drive left out" in timers[1].reason


def test_undated_logs_are_said_to_be_in_no_known_order(book, write_log, twin):
    book.keep([write_log("2026-06-14.csv")], sheet=twin)
    outcome = book.keep([write_log("second.csv", cruise_a=22.0)], sheet=twin)
    assert "the order of the flights is unknown" in outcome.remarks[0]
    assert "order in which they were flown is unknown" in book.trends().cells.reason
    (flight,) = book.edit([2], change=Edits(date="2026-06-07"))
    assert flight.date == "2026-06-07"
    assert "order" not in book.trends().cells.reason
    assert [p.date for p in book.history(aircraft="Test Twin")] == ["2026-06-07", "2026-06-14"]


@pytest.fixture
def overloaded(book, write_log, twin):
    """A logbook whose second flight put the pack over its rating: a stop."""
    rated = twin.read_text().replace(
        "capacity_mah = 5200", "capacity_mah = 5200\nratings = [{current_a = 26}]"
    )
    twin.write_text(rated)
    book.keep([write_log("2026-06-01.csv", cruise_a=20.0)], sheet=twin)
    (flight,) = book.keep([write_log("2026-06-02.csv", cruise_a=30.0)], sheet=twin).kept
    assert ("stop", "over_rating") in {(r.severity, r.key) for r in flight.raised}
    return book


def test_an_open_stop_withholds_alarm_and_card_until_it_is_settled(overloaded, twin, tmp_path, capsys):
    where = ["--logbook", str(overloaded.folder.path)]
    assert overloaded.flights()[1].alarm_s is None
    assert run(["timer", "--sheet", str(twin), *where, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["timer"] is None
    assert told["undecided"][0]["reason"].startswith("a stop stands since flight 2: ")
    assert [(c["flight"], c["key"]) for c in told["open_checks"]] == [(2, "over_rating")]
    card = tmp_path / "card.html"
    assert run(["predict", str(twin), *where, "--card", str(card)]) == 2
    said = capsys.readouterr()
    assert said.out == "" and "a stop stands since flight 2" in said.err
    assert not card.exists()
    assert run(["edit", "2", "--clear", "over_rating", *where]) == 0
    assert run(["predict", str(twin), *where, "--card", str(card)]) == 0
    assert card.exists()
    capsys.readouterr()
    assert run(["timer", "--sheet", str(twin), *where, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["timer"]["flights_used"] == 2


def test_a_stop_of_an_earlier_flight_stands_in_the_review_of_one_that_could_not_judge_it(
    overloaded, write_log, twin, capsys
):
    quick = write_log("2026-06-03.csv", cruise_a=19.0, columns=("Time s", "Current left A", "Altitude m"))
    where = ["--logbook", str(overloaded.folder.path)]
    assert run(["review", str(quick), "--sheet", str(twin), *where, "--json"]) in (0, 3)
    flight = json.loads(capsys.readouterr().out)["flights"][0]
    assert flight["timer"] is None
    assert "a stop stands since flight 2" in flight["headline"]
    judged = write_log("2026-06-04.csv", cruise_a=19.0)
    rated = twin.read_text().replace("current_a = 26", "current_a = 60")
    twin.write_text(rated)
    assert run(["review", str(judged), "--sheet", str(twin), *where, "--json"]) in (0, 3)
    assert json.loads(capsys.readouterr().out)["flights"][0]["timer"] is not None


def test_timer_and_review_of_the_flight_flown_last_agree(book, write_log, twin):
    for number in (1, 2, 3):
        book.keep([write_log(f"2026-06-0{number}.csv", cruise_a=20.0 + number)], sheet=twin)
    setup = Sheet.read(twin).setup()
    known = book.earlier(setup)
    asked = next_timer(setup, predict(setup), known.flights, facts=known.facts, standing=known.standing)
    reviewed = book.read(3).flights[0].timer
    assert (asked.alarm_s, asked.flights_used) == (reviewed.alarm_s, 3)
    assert asked.alarm_s == book.flights()[2].alarm_s


def test_the_owner_edits_a_flight_and_everything_else_stays(book, write_log, twin):
    book.keep([write_log("2026-06-14.csv")], sheet=twin)
    before = book.flights()[0]
    (after,) = book.edit(
        [1], change=Edits(note="gusty", tags=("wind",), put_back_mah=1720.0, temperature_c=9.0)
    )
    assert (after.note, after.tags, after.put_back_mah, after.temperature_c) == (
        "gusty",
        ("wind",),
        1720.0,
        9.0,
    )
    assert (after.id, after.date, after.consumed_mah) == (before.id, before.date, before.consumed_mah)
    (again,) = book.edit([1], change=Edits(note="calm"))
    assert (again.note, again.put_back_mah) == ("calm", 1720.0)
    (book.folder.path / "logbook.sqlite").unlink()
    assert book.check()
    assert book.flights()[0].note == "calm", "what was said stands in the entry too"


@pytest.mark.parametrize(
    ("asked", "problem"),
    [
        (["9", "--note", "x"], "the logbook has no flight 9"),
        (["1", "--clear", "weak_cell"], 'flight 1 has no stop or check "weak_cell"'),
        (["1", "--date", "June"], "'June' is no date"),
        (["1", "--configuration", "floats"], "floats"),
    ],
)
def test_an_edit_that_cannot_be_is_one_sentence_and_changes_nothing(
    book, write_log, twin, capsys, asked, problem
):
    book.keep([write_log("2026-06-14.csv")], sheet=twin)
    before = book.flights()
    assert run(["edit", *asked, "--logbook", str(book.folder.path)]) == 2
    said = capsys.readouterr()
    assert said.out == "" and problem in said.err
    assert book.flights() == before


def test_the_list_has_what_the_contract_promises(book, write_log, twin, capsys):
    book.keep([write_log("2026-06-14.csv")], sheet=twin)
    assert run(["flights", "--json", "--logbook", str(book.folder.path)]) == 0
    (flight,) = json.loads(capsys.readouterr().out)["flights"]
    promised = {
        "id", "date", "kept_at", "kind", "aircraft", "configuration", "pack", "duration_s", "consumed_mah",
        "put_back_mah", "temperature_c", "decision", "note", "tags", "removed", "files",
    }  # fmt: skip
    assert promised <= set(flight)
    assert flight["kept_at"].startswith("20")
    assert (flight["tags"], flight["removed"], flight["note"]) == ([], False, "")
