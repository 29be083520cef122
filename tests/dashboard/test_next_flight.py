"""The pages before a flight: no card without a timer, and why there is none."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from werkzeug.exceptions import Conflict

from dashboard import routes
from dashboard.app import make_app
from dashboard.pages import card, prediction
from dashboard.workspace import workspace
from telemetry.sheet import Sheet, new_sheet_text, read_sheet

SAMPLES = Path(__file__).parents[2] / "sample_logs"


@pytest.fixture
def at_work(tmp_path):
    with make_app(tmp_path / "book").server.app_context():
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
