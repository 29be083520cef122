"""A logbook kept by an earlier version, three flights of the Saltmarsh Mail's samples thinned out, opens with
all it held. `before_v0003.json` is what that version's own `flights --json` said of it.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from telemetry.errors import BadLogbook
from telemetry.estimate import plain
from telemetry.logbook import Logbook
from telemetry.logbook.schema import DATABASE
from telemetry.made import version

FIXTURES = Path(__file__).parent / "fixtures"


def unpacked(folder):
    with zipfile.ZipFile(FIXTURES / "before_v0003.zip") as kept:
        kept.extractall(folder)
    return Logbook(folder)


@pytest.fixture
def older(tmp_path):
    """The logbook of the version before the tables' third change."""
    return unpacked(tmp_path / "book")


@pytest.fixture(scope="module")
def reviewed_anew(tmp_path_factory):
    """The same once every flight was reviewed again, only to be read or copied, and what was said of it."""
    book = unpacked(tmp_path_factory.mktemp("anew") / "book")
    assert [(f.made_by, book.setup(f.id)) for f in book.flights()] == [(None, None)] * 3
    return book, book.check(anew=True)


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


def test_reviewed_anew_an_older_logbook_says_what_made_its_facts(reviewed_anew, as_it_was):
    book, (*moved, sum_up) = reviewed_anew
    assert all(re.match(r"Flight [123] \(\w+\.csv\), facts of an earlier version: ", line) for line in moved)
    assert sum_up == (
        f"3 of 3 flights were reviewed again by version {version()}; figures of {len(moved) or 'none'} moved."
    )
    sheet = hashlib.sha256(book.sheet(3).text.encode()).hexdigest()
    for flight, was in zip(book.flights(), as_it_was, strict=True):
        assert (flight.made_by.version, flight.made_by.sheet_sha256) == (version(), sheet)
        assert [log.file for log in flight.made_by.logs] == was["files"]
    assert book.flights()[2].made_by.answers == {"on_skis.csv": {"rudder (%)": "ignore"}}
    assert [f.made_by.options.get("history", {}).get("flights", 0) for f in book.flights()] == [0, 1, 2]
    assert book.check() == []


def test_reviewed_anew_it_tells_which_motors_propellers_and_pack_flew(reviewed_anew):
    book, _ = reviewed_anew
    assert book.setup(3) == book.sheet(3).setup("skis")
    assert book.setup("2") == book.sheet(2).setup(pack="B")
    # the sheet's own words: 640 rpm/V, 11 inches of 25.4 mm (the international inch of 1959)
    left = book.setup(2).drive("left")
    assert (left.motor.kv_rpm_per_v, left.propeller.diameter_m) == (640, pytest.approx(11 * 0.0254))
    assert book.setup(9) is None


def test_a_figure_that_moved_is_told_with_the_version_that_made_the_old_one(reviewed_anew, tmp_path):
    shutil.copytree(reviewed_anew[0].folder.path, tmp_path / "copy")
    book = Logbook(tmp_path / "copy")
    right = book.flights()
    with closing(sqlite3.connect(book.folder.path / DATABASE)) as database:
        database.execute(
            "UPDATE flights SET consumed_mah = 1600.25, made_by = json_set(made_by, '$.version', '0.0.9'), "
            "facts = json_set(facts, '$.alarm_s', null, '$.verdicts.cells', 'weak') WHERE id = 1"
        )
        database.execute("""UPDATE files SET answers = '{"no such column": "ignore"}' WHERE log_id IN
            (SELECT log_id FROM flights WHERE id = 3)""")
        database.commit()
    with pytest.raises(BadLogbook) as refused:
        book.check(anew=True)
    problem, remedy = refused.value.problem, refused.value.remedy
    assert problem == (
        f"Flight 3 (on_skis.csv), facts of version {version()}, cannot be reviewed again "
        "(the log has no column 'no such column')"
    )
    assert remedy.startswith(
        "What is kept of it stays as it was. "
        "The entry of on_skis.csv was behind the database and is written anew. "
    )
    assert remedy.endswith(f"2 of 3 flights were reviewed again by version {version()}; figures of 1 moved.")
    first = remedy[remedy.index("Flight 1 ") : remedy.index(". 2 of 3")]
    told = first.removeprefix("Flight 1 (maiden.csv), facts of version 0.0.9: ").split("; ")
    assert sorted(told) == sorted(
        [
            f"consumed_mah 1600.25 → {right[0].consumed_mah:.6g}",
            f"alarm_s nothing → {right[0].alarm_s:.6g}",
            f"verdicts.cells weak → {right[0].verdicts['cells']}",
        ]
    )
    assert book.flights() == right


def test_the_flights_of_an_older_logbook_can_be_reviewed(older):
    found = older.read(2)
    assert found.setup.pack.name == "B"
    assert [c.header for s in older.read(3).trace.sources for c in s.columns if c.status == "ignored"]
