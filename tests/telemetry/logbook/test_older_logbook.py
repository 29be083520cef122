"""A logbook kept by an earlier version, three flights of the Saltmarsh Mail's samples thinned out, opens with
all it held. `before_v0003.json` is what that version's own `flights --json` said of it.
"""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from telemetry.estimate import plain
from telemetry.logbook import Logbook

FIXTURES = Path(__file__).parent / "fixtures"


@pytest.fixture
def older(tmp_path):
    """The logbook of the version before the tables' third change."""
    with zipfile.ZipFile(FIXTURES / "before_v0003.zip") as kept:
        kept.extractall(tmp_path / "book")
    return Logbook(tmp_path / "book")


@pytest.fixture
def as_it_was():
    return json.loads((FIXTURES / "before_v0003.json").read_text(encoding="utf-8"))["flights"]


def test_every_fact_of_an_older_logbook_is_as_it_was(older, as_it_was):
    now, _ = plain(older.flights())
    assert [
        {key: flight[key] for key in was} for flight, was in zip(now, as_it_was, strict=True)
    ] == as_it_was


def test_an_older_logbook_is_whole_and_stays_so(older, as_it_was):
    assert older.check() == []
    assert [f.headline for f in older.flights()] == [was["headline"] for was in as_it_was]


def test_the_flights_of_an_older_logbook_can_be_reviewed(older):
    found = older.read(2)
    assert found.setup.pack.name == "B"
    assert [c.header for s in older.read(3).trace.sources for c in s.columns if c.status == "ignored"]
