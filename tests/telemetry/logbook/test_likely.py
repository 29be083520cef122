"""What is offered for a log about to be kept: its likely date, configuration and pack, and why."""

from __future__ import annotations

from telemetry.cli import run
from telemetry.importers.log import read_log
from telemetry.logbook import Logbook, likely_answers, pack_choices
from telemetry.sheet import Sheet, read_sheet


def test_before_any_flight_the_sheet_as_it_stands_is_offered(write_log, sheet):
    offered = likely_answers((), read_log(write_log("a.csv")), read_sheet(sheet))
    assert offered.configuration == ("", "the sheet as it stands; no flight says otherwise")
    assert offered.pack == ("", "it is the sheet's first pack; no flight says otherwise")
    assert pack_choices(read_sheet(sheet)) == ("", "B")


def test_the_latest_flight_of_the_aircraft_tells_what_it_is_fitted_with(book, write_log, sheet):
    book.keep([write_log("2026-06-14 a.csv")], sheet=sheet, configuration="skis", pack="B")
    offered = likely_answers(book.flights(), read_log(write_log("b.csv")), read_sheet(sheet))
    assert offered.configuration == ("skis", "flight 1, the latest flown, was flown so")
    assert offered.pack == ("B", "flight 1, the latest flown, was flown so")


def test_a_sheet_with_one_pack_leaves_no_choice(write_log):
    one = Sheet.from_text('[pack]\nname = "A"\ncells = 5\ncapacity_mah = 5200\n')
    offered = likely_answers((), read_log(write_log("a.csv")), one)
    assert offered.pack == ("A", "it is the sheet's only pack")


def test_the_date_is_the_log_s_then_its_name_s_then_its_file_s(write_log):
    unnamed, named = read_log(write_log("a.csv")), read_log(write_log("flight 2026-06-14.csv"))
    written = "2026-07-02 18:20"
    assert likely_answers((), named, None, written=written).date == (
        "2026-06-14",
        "the name of flight 2026-06-14.csv holds it",
    )
    assert likely_answers((), unnamed, None, written=written).date == (
        written,
        "the file was last written then",
    )
    assert likely_answers((), unnamed, None).date.answer == ""


def test_a_log_that_is_kept_already_is_known_by_its_content(book, write_log):
    log = write_log("a.csv")
    book.keep([log, write_log("b.csv", cruise_a=20.0)])
    again = log.with_name("again.csv")
    again.write_text(log.read_text(encoding="utf-8").replace(",", ";"), encoding="utf-8")
    assert book.kept_already([read_log(again)]) == (1,)
    assert book.kept_already([read_log(write_log("c.csv", cruise_a=22.0))]) == ()
    assert Logbook(book.folder.path / "none").kept_already([read_log(log)]) == ()


def test_a_log_s_date_can_be_said_as_it_is_kept(write_log, tmp_path, capsys):
    log, folder = str(write_log("a.csv", seconds=90)), tmp_path / "dated"
    assert run(["keep", log, "--date", "2026-06-14T10:03", "--logbook", str(folder)]) == 0
    assert [f.date for f in Logbook(folder).flights()] == ["2026-06-14 10:03"]
    assert run(["keep", log, "--date", "yesterday", "--logbook", str(tmp_path / "none")]) == 2
    assert not (tmp_path / "none").exists()
