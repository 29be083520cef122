"""The pages before a flight: no card without a timer, and why there is none."""

from __future__ import annotations

import json
import threading
from pathlib import Path

import pytest
from werkzeug.exceptions import Conflict

from dashboard import routes
from dashboard.app import make_app
from dashboard.drops import DroppedFile
from dashboard.pages import card, prediction
from dashboard.workspace import workspace
from telemetry import whole_files
from telemetry.errors import BadLogbook
from telemetry.sheet import Sheet, new_sheet_text, read_sheet

SAMPLES = Path(__file__).parents[2] / "sample_logs"


@pytest.fixture
def at_work(tmp_path):
    with make_app(tmp_path / "book").server.test_request_context():
        yield workspace()


def words(component):
    return json.dumps(component.to_plotly_json(), default=lambda c: c.to_plotly_json(), ensure_ascii=False)


def test_a_new_sheet_has_a_prediction_but_no_card(at_work):
    at_work.use_sheet(Sheet.from_text(new_sheet_text()))
    assert "fill in [aircraft] mass_kg" in words(prediction.layout())
    assert "No card without a timer" in words(card.layout())
    assert "fill in [aircraft] mass_kg" in words(card.layout())
    with pytest.raises(Conflict, match="fill in"):
        routes._card()


def test_a_sheet_that_says_enough_has_a_card_from_a_full_pack(at_work):
    at_work.use_sheet(read_sheet(SAMPLES / "saltmarsh_mail.toml"))
    assert "from a full pack" in words(card.layout())
    assert "from a full pack" in words(prediction.layout())
    assert b"from a full pack" in routes._card().data


def test_a_sheet_is_saved_whole_beside_the_logs(at_work):
    sheet = read_sheet(SAMPLES / "saltmarsh_mail.toml")
    at_work.use_sheet(sheet, save=True)
    saved = at_work.folder / "set-up.toml"
    assert saved.read_bytes().decode() == sheet.text
    assert not list(at_work.folder.glob("part-*"))


def test_a_sheet_that_cannot_be_saved_is_a_sentence_and_is_worked_on(tmp_path):
    (tmp_path / "file").write_text("mine")
    with make_app(tmp_path / "file" / "book").server.test_request_context():
        at_work, sheet = workspace(), read_sheet(SAMPLES / "saltmarsh_mail.toml")
        with pytest.raises(BadLogbook, match="the logbook cannot be written"):
            at_work.use_sheet(sheet, save=True)
        assert at_work.sheet() == sheet
        (job,) = at_work.drop([DroppedFile("mail.toml", SAMPLES / "saltmarsh_mail.toml")])
        assert "the logbook cannot be written" in job.files[0].message


def test_while_another_writes_a_sheet_waits_and_then_says_so(at_work, monkeypatch):
    monkeypatch.setattr(whole_files, "WAIT_S", 0.1)
    sheet, said = read_sheet(SAMPLES / "saltmarsh_mail.toml"), []

    def save():
        try:
            at_work.use_sheet(sheet, save=True)
        except BadLogbook as error:
            said.append(str(error))

    with at_work.book.folder.writing():
        other = threading.Thread(target=save)
        other.start()
        other.join()
    assert said == [
        "the logbook cannot be written (another command has been writing there for 0.1 s). "
        "Try again when it has finished."
    ]
    save()
    assert len(said) == 1
