"""What was kept stays kept: set aside instead of deleted, restored, and whole after a kill at any step."""

from __future__ import annotations

import hashlib
import json
import os
import random
import subprocess
import sys
import threading
import zipfile
from pathlib import Path

import pytest

from telemetry import whole_files
from telemetry.cli import run
from telemetry.errors import BadLogbook
from telemetry.logbook import Logbook

HERE = Path(__file__).parent
on_posix = pytest.mark.skipif(os.name == "nt", reason="forks, signals and mounts")


def originals_hold(folder):
    return all(
        hashlib.sha256(path.read_bytes()).hexdigest() == path.name
        for path in (folder / "originals").iterdir()
    )


def test_what_a_check_does_not_know_is_set_aside_and_never_deleted(one_kept):
    book, _ = one_kept
    folder = book.folder.path
    strange = {
        f"originals/{'0' * 64}": b"t,a\n0,1\n",
        f"traces/{'0' * 64}.parquet": b"PAR1",
        "entries/part-12": b"{",
        "part-34": b"[pack]",
    }
    for name, content in strange.items():
        (folder / name).write_bytes(content)
    (said,) = book.check()
    assert said.startswith(
        "4 files that belong to no kept log, or were replaced, are set aside in set_aside/"
    )
    place = folder / said.split(" in ")[1].removesuffix("; nothing is deleted.")
    assert {name: (place / name).read_bytes() for name in strange} == strange
    assert book.check() == []
    (folder / "traces" / ("1" * 64 + ".parquet")).write_bytes(b"PAR1")
    (again,) = book.check()
    assert place.name not in again  # each in a folder of its own
    assert len(book.flights()) == 1


@pytest.mark.parametrize("lose", [True, False])
def test_a_lost_or_altered_original_is_restored_by_keeping_the_log_again(one_kept, lose, capsys):
    book, log = one_kept
    original = book.folder.original(hashlib.sha256(log.read_bytes()).hexdigest())
    original.chmod(0o600)
    altered = original.read_bytes() + b"1,2,3\n"
    if lose:
        original.unlink()
    else:
        original.write_bytes(altered)
    folder = str(book.folder.path)
    assert run(["check", "--logbook", folder]) == 2
    how = "missing" if lose else "no longer what was kept"
    assert capsys.readouterr() == (
        "",
        f"the original of a.csv is {how}. Keep the same log again, or bring the file back from a copy of the "
        "logbook; everything else is in order.\n",
    )
    assert run(["keep", str(log), "--logbook", folder]) == 0
    said = capsys.readouterr().err.splitlines()
    assert said[0] == "a.csv is kept already, as flight 1."
    if lose:
        assert said[1] == "The original of a.csv was missing and is restored."
    else:
        assert said[1].startswith(
            "The original of a.csv was altered and is restored; the altered file is set"
        )
        (aside,) = (book.folder.path / "set_aside").glob("*/originals/*")
        assert aside.read_bytes() == altered
    assert original.read_bytes() == log.read_bytes()
    assert original.stat().st_mode & 0o222 == 0
    assert run(["check", "--logbook", folder]) == 0
    assert run(["keep", str(log), "--logbook", folder]) == 0
    assert "restored" not in capsys.readouterr().err


def test_one_recorder_of_a_joined_flight_is_restored_alone(book, write_log):
    power = write_log("power.csv", columns=("Time s", "Current A"), seconds=90)
    height = write_log("height.csv", columns=("Time s", "Current A", "Altitude m"), seconds=90)
    book.keep([power, height], together=True)
    lost = book.folder.original(hashlib.sha256(height.read_bytes()).hexdigest())
    lost.unlink()
    outcome = book.keep([height])
    assert outcome.remarks == ("The original of height.csv was missing and is restored.",)
    assert [f.id for f in outcome.kept] == [1]
    assert lost.read_bytes() == height.read_bytes()
    assert book.check() == []


def test_originals_of_an_entry_that_cannot_be_read_are_not_taken_for_left_over(one_kept):
    book, _ = one_kept
    (entry,) = book.folder.entries()
    (book.folder.path / "logbook.sqlite").unlink()
    whole = entry.read_text(encoding="utf-8")
    entry.write_text(whole[:40], encoding="utf-8")
    with pytest.raises(BadLogbook, match=r"what was said of log .* is damaged"):
        book.check()
    assert len(list((book.folder.path / "originals").iterdir())) == 1
    entry.write_text(whole, encoding="utf-8")
    assert book.check() == ["The facts of a.csv were missing and are made anew."]
    assert len(book.flights()) == 1


def killed(what, folder, steps, logs=()):
    """What `killed.py` says of each step: how many there are, or the folder a kill at that step left."""
    done = subprocess.run(
        [sys.executable, str(HERE / "killed.py"), what, *map(str, (folder, *steps)), "--", *map(str, logs)],
        capture_output=True,
        check=True,
        text=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def _keep_killed(folder, log, steps, first):
    """After a kill at each step: what was kept before is there, the new log wholly or not at all."""
    for left in killed("keep", folder, steps, [log]):
        assert left["killed"]
        book = Logbook(left["folder"], wait_s=5.0)
        if not book.folder.path.exists():
            continue
        kept = [f.files for f in book.flights()]
        assert kept in ([*first], [*first, (log.name,)])
        if (book.folder.path / whole_files.LOCK).exists():
            book.check()
            assert book.check() == []
        assert [f.files for f in book.flights()][: len(kept)] == kept
        assert [f.files for f in book.keep([log]).kept] == [(log.name,)]
        assert [f.files for f in book.flights()] == [*first, (log.name,)]
        assert book.check() == []
        assert originals_hold(book.folder.path)
        assert len(list((book.folder.path / "originals").iterdir())) == len(first) + 1


@on_posix
@pytest.mark.parametrize("empty", [True, False], ids=["first", "second"])
def test_a_keep_killed_at_any_step_loses_nothing_and_leaves_nothing_half(book, write_log, empty):
    first = [] if empty else [("a.csv",)]
    if not empty:
        book.keep([write_log("a.csv", seconds=90)])
    log = write_log("b.csv", cruise_a=20.0, seconds=90)
    (counted,) = killed("keep", book.folder.path, [0], [log])
    assert counted["steps"] > 50
    steps = random.Random(14).sample(range(1, counted["steps"] + 1), 5)
    _keep_killed(book.folder.path, log, steps, first)


@on_posix
@pytest.mark.slow
@pytest.mark.parametrize("empty", [True, False], ids=["first", "second"])
def test_a_keep_killed_at_every_step_loses_nothing(book, write_log, empty):
    first = [] if empty else [("a.csv",)]
    if not empty:
        book.keep([write_log("a.csv", seconds=90)])
    log = write_log("b.csv", cruise_a=20.0, seconds=90)
    (counted,) = killed("keep", book.folder.path, [0], [log])
    _keep_killed(book.folder.path, log, range(1, counted["steps"] + 1), first)


@pytest.fixture
def older(tmp_path):
    """The folder of a logbook of an earlier version, with three flights."""
    with zipfile.ZipFile(HERE / "fixtures" / "before_v0003.zip") as kept:
        kept.extractall(tmp_path / "older")
    return tmp_path / "older"


@on_posix
def test_an_older_logbook_killed_while_it_is_brought_up_to_date_is_intact(older):
    (counted,) = killed("open", older, [0])
    expected = Logbook(counted["folder"]).flights()
    assert len(expected) == 3
    assert counted["steps"] > 30
    for left in killed("open", older, range(1, counted["steps"] + 1, 5)):
        assert left["killed"]
        assert Logbook(left["folder"]).flights() == expected
        assert Logbook(left["folder"]).check() == []


def test_several_that_open_an_older_logbook_at_once_all_read_it(at_a_word, older):
    readers = [at_a_word("flights", "--json", "--logbook", older) for _ in range(3)]
    for reader in readers:
        reader.stdin.write("go\n")
        reader.stdin.flush()
    said = [reader.communicate() for reader in readers]
    assert [reader.returncode for reader in readers] == [0, 0, 0], said
    assert [[f["id"] for f in json.loads(out)["flights"]] for out, _ in said] == [[1, 2, 3]] * 3


def test_threads_that_open_an_older_logbook_at_once_all_read_it(older):
    found, errors = [], []

    def read():
        try:
            found.append([f.id for f in Logbook(older).flights()])
        except Exception as error:
            errors.append(error)

    readers = [threading.Thread(target=read) for _ in range(4)]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    assert not errors
    assert found == [[1, 2, 3]] * 4
