"""A logbook that was hurt is mended where that can be, and says so."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace

import numpy as np
import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

import telemetry.logbook.migrations
from telemetry.cli import run
from telemetry.errors import BadLogbook
from telemetry.history import FlownDrive
from telemetry.logbook import Logbook
from telemetry.logbook.schema import DATABASE, HEAD, METADATA, open_database
from telemetry.logbook.traces import read_trace, write_trace
from telemetry.made import version
from telemetry.simulate import random_scenario, simulate


@pytest.fixture
def kept(book, two_flights):
    """A logbook of two flights, to be hurt."""
    shutil.copytree(two_flights, book.folder.path)
    return book


def anew(book):
    return Logbook(book.folder.path)


def test_a_whole_logbook_has_nothing_to_mend(kept):
    assert kept.check() == []


def test_every_kept_flight_says_what_made_it_and_is_reviewed_anew_on_request(kept, capsys):
    folder = str(kept.folder.path)
    assert run(["flights", "--json", "--logbook", folder]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert listed["made_by"]["version"] == version()
    for flight in listed["flights"]:
        made = flight["made_by"]
        (log,) = made["logs"]
        original = kept.folder.original(log["sha256"])
        assert hashlib.sha256(original.read_bytes()).hexdigest() == log["sha256"]
        assert [log["file"]] == flight["files"]
        assert made["options"].get("configuration", "") == flight["configuration"]
    assert run(["check", "--anew", "--logbook", folder]) == 0
    assert capsys.readouterr().out == (
        f"2 of 2 flights were reviewed again by version {version()}; figures of none moved.\n"
    )
    assert run(["check", "--logbook", folder]) == 0
    assert capsys.readouterr().out == "The logbook is whole.\n"


def test_a_flight_that_cannot_be_reviewed_again_is_named_and_left_as_it_was(
    kept, write_log, sheet, tmp_path, capsys
):
    other = tmp_path / "other.toml"
    other.write_text(sheet.read_text().replace("Test Twin", "Other Twin"), encoding="utf-8")
    kept.keep([write_log("c.csv", cruise_a=20.0)], sheet=other)
    before = kept.flights()
    with closing(sqlite3.connect(kept.folder.path / DATABASE)) as database, database:
        database.execute(
            "UPDATE sheets SET text = replace(text, 'cells = 5', 'cells = 0') WHERE name = 'other.toml'"
        )
    assert run(["check", "--anew", "--logbook", str(kept.folder.path)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert said.err.startswith(f"Flight 3 (c.csv), facts of version {version()}, cannot be reviewed again (")
    assert f"2 of 3 flights were reviewed again by version {version()}; figures of none moved." in said.err
    assert kept.flights()[2].consumed_mah == before[2].consumed_mah


def test_a_lost_database_is_made_anew_with_the_same_numbers_and_facts(kept):
    before = kept.flights()
    (kept.folder.path / DATABASE).unlink()
    assert anew(kept).check() == [
        "The database was missing and was made anew.",
        "The facts of a.csv were missing and are made anew.",
        "The facts of b.csv were missing and are made anew.",
    ]
    assert anew(kept).flights() == before
    assert anew(kept).check() == []


def test_a_damaged_database_is_set_aside_and_made_anew(kept):
    before = kept.flights()
    database = kept.folder.path / DATABASE
    database.write_bytes(b"not a database at all " * 500)
    with pytest.raises(BadLogbook, match="Run sagline check"):
        anew(kept).flights()
    assert anew(kept).check()[0].startswith("The database was damaged")
    assert anew(kept).flights() == before
    assert (kept.folder.path / "logbook.damaged").exists()


@pytest.mark.parametrize("facts", ["'{}'", "'not json'", "'[1]'", "'null'"])
def test_damaged_facts_are_one_sentence_and_made_anew(kept, facts):
    before = kept.flights()
    with closing(sqlite3.connect(kept.folder.path / DATABASE)) as database:
        database.execute(f"UPDATE flights SET facts = {facts} WHERE id = 2")
        database.commit()
    with pytest.raises(BadLogbook, match="Run sagline check"):
        anew(kept).flights()
    assert anew(kept).check()[0].startswith("The database was damaged")
    assert anew(kept).flights() == before


@pytest.mark.parametrize("lose", [lambda p: p.unlink(), lambda p: p.write_bytes(b"")])
def test_a_lost_database_is_no_empty_logbook(kept, lose, write_log):
    lose(kept.folder.path / DATABASE)
    log = write_log("c.csv", cruise_a=30.0)
    for ask in (lambda b: b.flights(), lambda b: b.history(), lambda b: b.keep([log])):
        with pytest.raises(BadLogbook, match=r"is lost, though logs are kept\. Run sagline check"):
            ask(anew(kept))
    anew(kept).check()
    assert len(anew(kept).flights()) == 2


def test_a_folder_that_holds_no_logbook_is_left_alone(book, tmp_path):
    theirs = tmp_path / "pictures" / "originals" / "club.jpg"
    theirs.parent.mkdir(parents=True)
    theirs.write_bytes(b"mine")
    with pytest.raises(BadLogbook, match="holds no logbook"):
        Logbook(tmp_path / "pictures").check()
    assert [p for p in (tmp_path / "pictures").rglob("*") if p.is_file()] == [theirs]


def test_what_somebody_else_laid_beside_the_originals_is_left_alone(kept):
    theirs = kept.folder.path / "originals" / "notes.txt"
    theirs.write_text("mine")
    assert kept.check() == []
    assert theirs.exists()


@pytest.mark.parametrize(
    "damage",
    [lambda p: p.unlink(), lambda p: p.write_bytes(b"PAR1"), lambda p: p.write_bytes(p.read_bytes()[:-200])],
)
def test_a_lost_or_damaged_trace_is_made_anew_from_the_original(kept, damage):
    path = kept.folder.trace(kept.folder.entries()[0].stem)
    damage(path)
    headline = kept.flights()[0].headline
    assert {anew(kept).read(1).flights[0].headline, anew(kept).read(2).flights[0].headline} >= {headline}
    assert len(mended := anew(kept).check()) == 1
    assert "The trace of" in mended[0]
    assert anew(kept).check() == []


def test_a_lost_entry_is_written_anew_from_the_database(kept):
    kept.folder.entries()[0].unlink()
    kept.folder.entries()[0].write_text("{}")
    assert len(kept.check()) == 2
    assert kept.check() == []


@pytest.mark.parametrize("lose", [True, False])
def test_an_original_lost_or_altered_cannot_be_mended_and_is_named(kept, lose):
    original = next((kept.folder.path / "originals").iterdir())
    if lose:
        original.unlink()
    else:
        original.chmod(0o600)
        original.write_bytes(original.read_bytes() + b"1,2,3\n")
    with pytest.raises(BadLogbook, match=r"the original of [ab]\.csv is (missing|no longer what was kept)"):
        kept.check()
    assert kept.read(1) is not None


def test_a_logbook_of_a_newer_version_is_left_alone(kept):
    engine = open_database(kept.folder.path, create=False)
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    before = (kept.folder.path / DATABASE).read_bytes()
    for use in (anew(kept).flights, anew(kept).check):
        with pytest.raises(BadLogbook, match="newer version"):
            use()
    assert (kept.folder.path / DATABASE).read_bytes() == before


def test_the_migrations_end_at_the_tables_of_the_code(kept):
    config = Config()
    config.set_main_option("script_location", str(next(iter(telemetry.logbook.migrations.__path__))))
    assert ScriptDirectory.from_config(config).get_current_head() == HEAD
    with open_database(kept.folder.path, create=False).connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), METADATA) == []


def test_a_trace_comes_back_from_its_file_as_it_went(tmp_path):
    trace = simulate(random_scenario(3), seed=3).trace()
    write_trace(trace, tmp_path / "t.parquet")
    back = read_trace(tmp_path / "t.parquet")
    assert back.sources == trace.sources
    assert back.gaps == trace.gaps
    assert back.channels.keys() == trace.channels.keys()
    np.testing.assert_array_equal(back.time_s, trace.time_s)
    for key, channel in trace.channels.items():
        np.testing.assert_array_equal(back.channels[key].values, channel.values)
        np.testing.assert_array_equal(back.channels[key].fresh, channel.fresh)
        assert (back.channels[key].header, back.channels[key].step, back.channels[key].texts) == (
            channel.header,
            channel.step,
            channel.texts,
        )


def test_a_logbook_of_the_first_version_is_brought_up_to_date_with_all_it_holds(kept):
    unknown = {"made_by": None, "drive": FlownDrive()}
    before = tuple(replace(flight, **unknown) for flight in kept.flights())
    config = Config()
    config.set_main_option("script_location", str(next(iter(telemetry.logbook.migrations.__path__))))
    with open_database(kept.folder.path, create=False).begin() as connection:
        config.attributes["connection"] = connection
        command.downgrade(config, "0001")
    assert anew(kept).flights() == before
    assert anew(kept).check() == []
