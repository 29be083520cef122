"""Keeping logs: copied untouched, never doubled, never half done."""

from __future__ import annotations

import hashlib
import threading

import pytest

from telemetry.errors import BadSheet, BadUse
from telemetry.logbook import Logbook
from telemetry.logbook.database import Database
from telemetry.logbook.kept_logs import KeptLogs


def everything_in(folder):
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def test_a_logbook_nobody_wrote_to_is_empty_and_makes_no_folder(book):
    assert book.flights() == ()
    assert book.read(1) is None
    assert book.history() == ()
    assert book.check() == []
    assert not book.folder.path.exists()


def test_the_original_is_copied_byte_for_byte_read_only_and_left_alone(book, write_log):
    log = write_log()
    before, stamp = log.read_bytes(), log.stat().st_mtime_ns
    (flight,) = book.keep([log]).kept
    copy = book.folder.original(hashlib.sha256(before).hexdigest())
    assert copy.read_bytes() == before == log.read_bytes()
    assert log.stat().st_mtime_ns == stamp
    assert copy.stat().st_mode & 0o222 == 0
    assert flight.files == ("maiden.csv",)


def test_a_kept_flight_carries_its_facts(book, write_log, sheet):
    (flight,) = book.keep(
        [write_log("maiden 2026-06-14.csv")], sheet=sheet, configuration="skis", pack="B", put_back_mah=1700.0
    ).kept
    assert (flight.id, flight.kind, flight.date, flight.aircraft) == (1, "flight", "2026-06-14", "Test Twin")
    assert (flight.configuration, flight.pack, flight.put_back_mah) == ("skis", "B", 1700.0)
    assert flight.airborne_s == pytest.approx(240.0, abs=2.0)
    # ten seconds of 48 A and 230 s of 24 A are 1667 mAh, a minute on the ground at 0.3 A 5 mAh
    assert flight.consumed_mah == pytest.approx((10 * 48 + 230 * 24 + 60 * 0.3) / 3.6, rel=0.01)
    assert set(flight.verdicts) == {"cells", "load", "pair", "prediction", "timer"}
    assert len(flight.spark_a) == 60
    assert sum(flight.spark_a) / 60 * 300 / 3.6 == pytest.approx(flight.consumed_mah, rel=0.01)


def test_reading_a_flight_makes_its_review_anew(book, write_log, sheet):
    (flight,) = book.keep([write_log()], sheet=sheet).kept
    review = Logbook(book.folder.path).read(str(flight.id))
    assert review.flights[0].headline == flight.headline
    assert review.trace.sources[0].file == "maiden.csv"
    assert review.setup.name == "Test Twin"


@pytest.mark.parametrize("name", ["0", "2", "-1", "../1", "1; DROP TABLE flights", "", "１２３"])
def test_a_flight_that_is_not_there_is_none(book, write_log, name):
    book.keep([write_log()])
    assert book.read(name) is None


@pytest.mark.parametrize(
    "name",
    [
        "a flight & more.csv",
        "CON.csv",
        "Räder.csv",
        "--help.csv",
        "'; DROP TABLE logs.csv",
        "x" * 200 + ".csv",
    ],
)
def test_no_file_name_becomes_a_path(book, write_log, name):
    book.keep([write_log(name)])
    assert book.flights()[0].files == (name,)
    assert not any(name[:20] in path for path in everything_in(book.folder.path))


def test_the_same_log_kept_twice_is_said_and_not_doubled(book, write_log):
    log = write_log()
    book.keep([log])
    files = everything_in(book.folder.path)
    again = book.keep([log])
    assert again.remarks == ("maiden.csv is kept already, as flight 1.",)
    assert [f.id for f in again.kept] == [1]
    assert len(book.flights()) == 1
    assert everything_in(book.folder.path) == files


def test_what_the_charger_put_back_can_be_told_later(book, write_log, sheet):
    log = write_log()
    book.keep([log], sheet=sheet)
    again = book.keep([log], put_back_mah=1720.0)
    assert "newly said" in again.remarks[0]
    (flight,) = book.flights()
    assert (flight.id, flight.put_back_mah, flight.aircraft) == (1, 1720.0, "Test Twin")


def test_of_several_logs_the_good_are_kept_and_each_bad_one_is_a_sentence(book, write_log, tmp_path):
    prose = tmp_path / "letter.csv"
    prose.write_text("Dear club,\nthe field is wet.\n")
    outcome = book.keep([write_log(), prose, tmp_path / "none.csv"])
    assert [f.id for f in outcome.kept] == [1]
    assert len(outcome.refused) == 2
    assert outcome.refused[0].startswith("letter.csv")
    assert outcome.refused[1] == "none.csv: no such file. Check the path."


def test_when_every_log_is_refused_nothing_is_written(book, tmp_path):
    (tmp_path / "letter.csv").write_text("Dear club,\nthe field is wet.\n")
    assert book.keep([tmp_path / "letter.csv"]).kept == ()
    assert not book.folder.path.exists()


def test_a_bad_sheet_or_name_keeps_nothing(book, write_log, sheet, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text("[pack]\ncells = 0\ncapacity_mah = 5200\n")
    for choices, error in (
        ({"sheet": bad}, BadSheet),
        ({"sheet": sheet, "configuration": "floats"}, BadUse),
        ({"sheet": sheet, "pack": "C"}, BadUse),
        ({"configuration": "skis"}, BadUse),
        ({"put_back_mah": -5.0}, BadUse),
    ):
        with pytest.raises(error):
            book.keep([write_log()], **choices)
    assert not book.folder.path.exists()


def test_what_the_owner_settled_about_a_column_is_kept_with_the_log(book, write_log):
    log = write_log()
    book.keep([log], answers={"maiden.csv": {"Altitude m": "ignore"}})
    assert ("altitude_m", "") not in book.read(1).trace.channels
    book.folder.trace(book.folder.entries()[0].stem).unlink()
    book.check()
    assert ("altitude_m", "") not in book.read(1).trace.channels
    again = book.keep([log], answers={"maiden.csv": {"Altitude m": "altitude_m"}})
    assert [f.id for f in again.kept] == [1]
    assert ("altitude_m", "") in book.read(1).trace.channels
    assert book.check() == []


def test_two_recorders_kept_together_are_one_flight(book, write_log):
    power = write_log("power.csv", columns=("Time s", "Current A"))
    height = write_log("height.csv", columns=("Time s", "Current A", "Altitude m"))
    (flight,) = book.keep([power, height], together=True).kept
    assert flight.files == ("power.csv", "height.csv")
    assert len(book.read(flight.id).trace.sources) == 2
    assert "is kept already in flight 1" in book.keep([power]).refused[0]


def test_two_recorders_kept_apart_are_remarked_upon(book, write_log):
    current = write_log("current.csv", columns=("Time s", "Current A"))
    volts = write_log("volts.csv", columns=("Time s", "Pack voltage V", "Altitude m"))
    outcome = book.keep([current, volts])
    assert len(outcome.kept) == 2
    assert outcome.remarks[0] == (
        "current.csv and volts.csv look like several recorders' logs of one flight; such logs are to "
        "be kept together."
    )


def test_two_flights_of_one_recorder_are_not_taken_for_one(book, write_log):
    logs = [write_log("2026-06-14 a.csv"), write_log("2026-06-14 b.csv", cruise_a=22.0)]
    assert book.keep(logs).remarks == ()


def test_a_keep_interrupted_by_its_owner_leaves_nothing_half_done(book, write_log, monkeypatch):
    log = write_log()

    def pull_the_plug(*_args, **_kwargs):
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(Database, "write", pull_the_plug)
        with pytest.raises(KeyboardInterrupt):
            book.keep([log])
    assert book.flights() == ()
    (aside,) = book.check()
    assert aside.startswith("2 files that belong to no kept log")
    assert book.check() == []
    assert [f.id for f in book.keep([log]).kept] == [1]
    assert book.check() == []


def test_a_transaction_that_fails_takes_its_log_with_it(book, write_log):
    book.keep([write_log("a.csv")])
    database = KeptLogs(book.folder).made_database()
    log = database.logs()[0]
    other = type(log.entry)(
        (type(log.entry.files[0])("f" * 64, "b.csv"),), "", "", "", "", None, "2026-06-14", ()
    )
    with pytest.raises(Exception, match="NOT NULL"):
        database.write(other, "0" * 64, [{"place": 0, "date": None, "kind": "flight"}])
    assert len(database.logs()) == 1


def test_a_reader_is_not_disturbed_by_a_keep_and_two_keepers_not_by_each_other(book, write_log):
    logs = [write_log(f"{n}.csv", cruise_a=20.0 + n, seconds=90) for n in range(6)]
    book.keep(logs[:1])
    seen, errors = [], []

    def keeping(some):
        try:
            Logbook(book.folder.path).keep(some)
        except Exception as error:
            errors.append(error)

    keepers = [threading.Thread(target=keeping, args=(part,)) for part in (logs[1:4], logs[3:])]
    for keeper in keepers:
        keeper.start()
    while any(keeper.is_alive() for keeper in keepers):
        seen.append([f.id for f in Logbook(book.folder.path).flights()])
    assert not errors
    assert all(ids == list(range(1, len(ids) + 1)) for ids in seen)
    assert [f.id for f in book.flights()] == [1, 2, 3, 4, 5, 6]
    assert book.check() == []


def test_the_day_and_the_temperature_can_be_told_with_the_log(book, write_log):
    """A recorder without a calendar, and no sensor of temperature: its owner knows both."""
    (first,) = book.keep([write_log()], date="2026-06-14 10:03", temperature_c=7.5).kept
    assert (first.date, first.temperature_c) == ("2026-06-14 10:03", 7.5)
    (renewed,) = book.keep([write_log()], temperature_c=8.0).kept
    assert (renewed.id, renewed.date, renewed.temperature_c) == (1, "2026-06-14 10:03", 8.0)
