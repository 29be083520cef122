"""The page on bringing in logs: columns named in place, numbers before and after, an account of cells."""

from __future__ import annotations

import json
import re
import threading
from pathlib import Path

import numpy as np
import pytest

from dashboard import effects
from dashboard.app import make_app
from dashboard.drops import Batch, DroppedFile
from dashboard.pages import bring_in, flight, keeping
from dashboard.workspace import Said, workspace
from telemetry.answers import Answers

SAMPLES = Path(__file__).parents[2] / "sample_logs"
CODE_NAME = re.compile(r"\b[a-z]+(?:_[a-z0-9]+)+@|--[a-z]+|\bsagline [a-z]+")
"""A name of the program's own, an option of a command or a command: no page shows one."""


@pytest.fixture
def at_work(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    with make_app(tmp_path / "book").server.test_request_context():
        yield workspace()
        workspace().close()


@pytest.fixture
def log(tmp_path):
    """Writes two minutes of two numbered motors and two temperatures of something; one cell is unreadable."""

    def write(name="two.csv", head="time [s],I1 [A],I2 [A],pack voltage [V],Temp 1,Temp 2"):
        time_s = np.arange(0.0, 120.0, 0.2)
        current = np.where((time_s > 10) & (time_s < 100), 25 + 6 * np.sin(time_s / 3), 0.3)
        voltage = 20.8 - 0.02 * current - time_s * 0.004
        rows = [
            f"{t:.1f},{i / 2:.2f},{i / 2.05:.2f},{v:.3f},{22 + t * 0.1:.0f},{23 + t * 0.2:.0f}"
            for t, i, v in zip(time_s, current, voltage, strict=True)
        ]
        rows[5] = rows[5].replace(",22,", ",err,")
        path = tmp_path / name
        path.write_text("\n".join([head, *rows]), encoding="utf-8")
        return path

    return write


def wait():
    for thread in threading.enumerate():
        if thread.name.startswith("read-"):
            thread.join(120)


def drop(at_work, *paths, **more):
    jobs = at_work.drop([DroppedFile(path.name, path) for path in paths], **more)
    wait()
    return [at_work.drops.get(job.id) for job in jobs]


def words(component):
    return json.dumps(component.to_plotly_json(), default=lambda c: c.to_plotly_json(), ensure_ascii=False)


def shown(component):
    """What is read on a page: without addresses, colours, names of fields and the values of choices."""
    text = words(component).replace('\\"', '"')
    text = re.sub(r'data-catalogue="[^"]*"|"--[a-z0-9-]+"|var\(--[a-z0-9-]+\)', "", text)
    return re.sub(r'(value|name|id|href|for|data-[a-z-]+)="[^"]*"', "", text)


def headline(at_work):
    return bring_in._headline(at_work.drops.all())


def test_the_title_says_how_many_files_were_read_and_the_rest_goes_on(at_work, log, tmp_path):
    picture, list_ = tmp_path / "field.jpg", tmp_path / "list.xlsx"
    picture.write_bytes(b"\xff\xd8")
    list_.write_bytes(b"PK")
    drop(at_work, log("a.csv"), picture, list_, log("b.csv"), SAMPLES / "bench_runup.csv")
    assert headline(at_work).startswith("3 of 5 files read. 6 questions")
    page = shown(bring_in.layout())
    assert "This is a picture, no log." in page
    assert "This is a spreadsheet. Save it as CSV text and drop that." in page


def test_files_that_come_one_by_one_are_one_drop(at_work, log):
    (one,) = drop(at_work, log("a.csv"), batch=Batch("7", 2))
    assert not at_work.drops.is_all_here()
    (other,) = drop(at_work, log("b.csv"), batch=Batch("7", 2))
    assert at_work.drops.is_all_here()
    assert {job.id for job in at_work.drops.latest()} == {one.id, other.id}


@pytest.mark.parametrize("sample", ["weak_cell.csv", "bench_runup.csv", "three_recorders_left.csv"])
def test_no_page_shows_a_code_name_or_a_command(at_work, sample):
    (job,) = drop(at_work, SAMPLES / sample)
    assert CODE_NAME.findall(shown(bring_in.layout())) == []
    if job.state == "done":
        assert CODE_NAME.findall(shown(flight.layout(job.id))) == []


def test_nor_does_one_with_doubts_and_answers(at_work, log):
    (job,) = drop(at_work, log())
    at_work.drops.answer(job.id, "two.csv", {"Temp 1": "pack_temperature_c in °C"}, remember=True)
    wait()
    page = shown(bring_in.layout())
    assert "What is “Temp 2” in two.csv?" in page
    assert "pack temperature in °C, remembered for its headings" in page
    assert CODE_NAME.findall(page) == []


def test_several_answers_are_used_in_one_reading(at_work, log):
    (job,) = drop(at_work, log())
    fields = {
        "header.4": "Temp 1",
        "choice.4": "pack_temperature_c in °C",
        "header.5": "Temp 2",
        "choice.5": "ignore",
        "sides": "2",
    }
    given = {"job": job.id, "file": "two.csv", "values": fields, "at": 1}
    assert bring_in._answered(given) == {"jobs": [job.id], "at": 1}
    wait()
    columns = {c.header: c for c in at_work.drops.get(job.id).files[0].columns}
    assert columns["Temp 1"].quantity == "pack_temperature_c"
    assert (columns["I1 [A]"].position, columns["I2 [A]"].position) == ("right", "left")
    assert headline(at_work) == "Read whole, nothing left in doubt."
    assert Answers().remembered() == ()


def test_what_is_ticked_is_remembered_but_the_sides_only_with_their_own_tick(at_work, log):
    (job,) = drop(at_work, log())
    fields = {"header.5": "Temp 2", "choice.5": "air_temperature_c in °C", "sides": "1", "remember": "yes"}
    bring_in._answered({"job": job.id, "file": "two.csv", "values": fields, "at": 1})
    wait()
    assert [one.answers for one in Answers().remembered()] == [{"Temp 2": "air_temperature_c in °C"}]
    assert "Used, but not remembered: I1 [A], I2 [A]" in at_work.drops.get(job.id).message
    fields = {"header.1": "I1 [A]", "quantity.1": "current_a", "place.1": "left", "remember_sides": "yes"}
    bring_in._answered({"job": job.id, "file": "two.csv", "values": fields, "at": 2})
    wait()
    assert Answers().remembered()[0].answers["I1 [A]"] == "current_a@left"


def test_the_numbers_before_and_after_an_answer_are_told(at_work, log):
    (job,) = drop(at_work, log())
    fields = {"header.0": "time [s]", "quantity.0": "time_s", "place.0": "", "unit.0": "ms"}
    told = effects.told(at_work, job.id, "two.csv", fields)
    # 599 steps of 0.2 s are 119.8 s, in ms 0.1198 s
    assert told["columns"]["0"] == (
        "Before: time, first 0, lowest 0, mean 59.9, highest 119.8 s. "
        "After: time, first 0, lowest 0, mean 0.0599, highest 0.1198 s."
    )
    assert told["log"][0].startswith("The whole log before: 2:00 min:s, ")
    assert "after: 0.1198 s, " in told["log"][0]
    assert effects.told(at_work, job.id, "two.csv", {"header.0": "time [s]", "quantity.0": ""})["log"] == []


def test_every_column_of_a_refused_log_can_be_named(at_work, log):
    (job,) = drop(at_work, log("strange.csv", "qa,qb,qc,qd,qe,qf"))
    assert job.state == "failed"
    page = shown(bring_in.layout())
    assert "strange.csv could not be read as it is. These are its columns" in page
    fields = {
        "header.0": "qa", "quantity.0": "time_s", "unit.0": "s",
        "header.1": "qb", "quantity.1": "current_a", "place.1": "1", "unit.1": "A",
        "header.3": "qd", "quantity.3": "pack_voltage_v", "unit.3": "V",
    }  # fmt: skip
    told = effects.told(at_work, job.id, "strange.csv", fields)
    assert told["columns"]["3"].endswith("mean 20.19, highest 20.79 V.")
    assert told["log"][0].startswith("The log is then read: 2:00 min:s, ")
    bring_in._answered({"job": job.id, "file": "strange.csv", "values": fields, "at": 1})
    wait()
    assert at_work.drops.get(job.id).state == "done"


def test_an_answer_is_forgotten_for_the_log_and_for_later_ones(at_work, log):
    (job,) = drop(at_work, log())
    at_work.drops.answer(job.id, "two.csv", {"Temp 1": "ignore", "Temp 2": "ignore"}, remember=True)
    wait()
    bring_in._answered({"job": job.id, "file": "two.csv", "forget": "Temp 1", "at": 1})
    wait()
    assert at_work.drops.get(job.id).answers["two.csv"] == {"Temp 2": "ignore"}
    assert [one.answers for one in Answers().remembered()] == [{"Temp 2": "ignore"}]
    bring_in._forget(Answers().remembered()[0].key, "Temp 2")
    assert Answers().remembered() == ()


def test_an_answer_that_spoils_a_log_can_be_forgotten(at_work, log):
    (job,) = drop(at_work, log())
    at_work.drops.answer(job.id, "two.csv", {"pack voltage [V]": "time_s in s"})
    wait()
    assert at_work.drops.get(job.id).state == "failed"
    assert "time in s, for this log" in shown(bring_in.layout())
    at_work.drops.answer(job.id, "two.csv", {}, forget=["pack voltage [V]"])
    wait()
    assert at_work.drops.get(job.id).state == "done"


def test_cells_are_accounted_for_by_column_and_in_all(at_work, log):
    drop(at_work, log())
    page = shown(bring_in.layout())
    assert "1 unreadable, 599 left out" in page
    # six columns of 600 cells: two temperatures in doubt, one of their cells unreadable
    assert "Cells of all columns: 2400 read, 1 unreadable, 1199 left out." in page


def test_a_used_column_that_was_not_read_whole_is_named_on_its_flight_s_page(at_work, log):
    (job,) = drop(at_work, log())
    at_work.drops.answer(job.id, "two.csv", {"Temp 1": "pack_temperature_c in °C", "Temp 2": "ignore"})
    wait()
    page = shown(flight.layout(job.id))
    assert "Cells of all columns: 2999 read, 1 unreadable, 600 left out." in page
    assert ": 599 read, 1 unreadable; you said so; the cell on line 7 holds no number: 'err'" in page


def test_a_log_that_is_kept_already_is_said_at_once(at_work, log):
    (job,) = drop(at_work, log())
    assert at_work.keep(job.id, Said())[0] == 1
    again = log("again.csv")
    again.write_text(again.read_text(encoding="utf-8").replace(",", ";"), encoding="utf-8")
    (same,) = drop(at_work, again)
    assert same.again == (1,)
    page = shown(bring_in.layout())
    assert "Kept already:" in page and "flight 1." in page
    assert "Flight 1 holds this log already." in shown(keeping.form(same))


def test_before_it_is_kept_the_likely_answers_stand_there_with_their_reasons(at_work):
    drop(at_work, SAMPLES / "saltmarsh_mail.toml")
    (before,) = drop(at_work, SAMPLES / "on_skis.csv")
    assert at_work.keep(before.id, Said("skis"))[0] == 1
    (job,) = drop(at_work, SAMPLES / "weak_cell.csv")
    asked = words(keeping.form(job))
    assert 'value=\\"2025-06-08\\"' in asked and "The clock of weak_cell.csv says so, in local time." in asked
    assert '<option value=\\"skis\\" selected>' in asked
    assert "Flight 1, the latest flown, was flown so." in asked
    assert job.review.setup.configuration == "skis"


def test_a_date_is_noted_only_where_the_log_does_not_tell_it():
    told = {"told": "2025-06-08 10:22", "day": "2025-06-08", "time": "10:22"}
    assert keeping.said_in(told).date == ""
    assert keeping.said_in(told | {"day": "2025-06-09"}).date == "2025-06-09 10:22"
    assert keeping.said_in({"told": "", "day": "2025-06-09"}).date == "2025-06-09"
    said = keeping.said_in({"configuration": "skis", "pack": "B", "put_back": "1840", "another": "yes"})
    assert (said.configuration, said.pack, said.put_back_mah, said.another) == ("skis", "B", 1840.0, True)


def test_what_is_said_of_a_log_is_kept_with_it(at_work, log):
    drop(at_work, SAMPLES / "saltmarsh_mail.toml")
    (job,) = drop(at_work, SAMPLES / "maiden.csv")
    number, _ = at_work.keep(job.id, Said("skis", "A", "2026-05-02 09:30", 1500.0))
    kept = at_work.kept(str(number))
    assert (kept.configuration, kept.pack, kept.date) == ("skis", "A", "2026-05-02 09:30")
    assert kept.put_back_mah == 1500.0
