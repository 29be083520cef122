"""Every result says what made it: enough to make it again, and nothing of where or how fast."""

from __future__ import annotations

import hashlib
import json
import shutil
import tomllib
from pathlib import Path

import pytest

from telemetry.cli import run
from telemetry.made import version

ROOT = Path(__file__).parents[2]
SHEET = "saltmarsh_mail.toml"


def sha256(path: Path) -> str:
    """What sha256sum says of a file (FIPS 180-4, by hashlib)."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.fixture
def asked(capsys):
    """What a command with --json prints, its exit code aside."""

    def ask(*arguments: object) -> dict:
        assert run([str(a) for a in arguments] + ["--json"]) in (0, 3)
        return json.loads(capsys.readouterr().out)

    return ask


def test_the_version_is_that_of_the_project_file(capsys):
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert version() == project["version"]
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"sagline {project['version']}\n"


def test_a_review_says_its_version_sheet_logs_and_options(sample_logs, asked):
    log, sheet = sample_logs / "bench_runup.csv", sample_logs / SHEET
    made = asked("review", log, "--sheet", sheet, "--pack", "B", "--bench")["made_by"]
    assert made == {
        "version": version(),
        "sheet": SHEET,
        "sheet_sha256": sha256(sheet),
        "logs": [{"file": log.name, "sha256": sha256(log)}],
        "answers": {},
        "options": {"bench": True, "pack": "B"},
    }
    alone = asked("review", log)["made_by"]
    assert (alone["sheet"], alone["sheet_sha256"], alone["options"]) == ("", "", {})


def test_the_earlier_flights_are_told_by_their_rows_wherever_they_stand(sample_logs, asked, tmp_path):
    sheet, history = sample_logs / SHEET, sample_logs / "history.csv"
    moved = tmp_path / "elsewhere.csv"
    moved.write_bytes(history.read_bytes().replace(b",", b";"))
    made, again = (asked("timer", "--sheet", sheet, "--history", h)["made_by"] for h in (history, moved))
    assert made == again
    assert made["options"]["history"]["flights"] == len(history.read_text().splitlines()) - 1
    moved.write_text(history.read_text().replace("2351", "2352"))
    other = asked("timer", "--sheet", sheet, "--history", moved)["made_by"]
    assert other["options"]["history"]["sha256"] != made["options"]["history"]["sha256"]


def test_what_was_answered_of_a_column_is_told(sample_logs, tmp_path, capsys, asked, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    log = sample_logs / "bench_runup.csv"
    header = asked("review", log)["sources"][0]["columns"][-1]["header"]
    run(["columns", str(log), "--answer", f"{header}=ignore", "--save"])
    capsys.readouterr()
    assert asked("review", log)["made_by"]["answers"] == {log.name: {header: "ignore"}}


def test_the_same_input_gives_the_same_bytes_in_whatever_folder(sample_logs, tmp_path, capsys):
    printed = []
    for name in ("one", "another"):
        folder = tmp_path / name
        folder.mkdir()
        for file in ("bench_runup.csv", SHEET):
            shutil.copy(sample_logs / file, folder / file)
        run(["review", str(folder / "bench_runup.csv"), "--sheet", str(folder / SHEET), "--json"])
        printed.append(capsys.readouterr().out)
    assert printed[0] == printed[1]
    assert str(tmp_path) not in printed[0]


def test_prediction_and_calibration_say_it_too(sample_logs, tmp_path, asked):
    sheet, log = sample_logs / SHEET, sample_logs / "on_skis.csv"
    made = asked("predict", sheet, "--configuration", "skis")["made_by"]
    assert (made["sheet_sha256"], made["options"]) == (sha256(sheet), {"configuration": "skis", "pack": "A"})
    new = tmp_path / "new.toml"
    learnt = asked("recalibrate", sheet, log, "--configuration", "skis", "-o", new)["made_by"]
    assert learnt["logs"] == [{"file": log.name, "sha256": sha256(log)}]
    assert learnt["options"] == made["options"]
