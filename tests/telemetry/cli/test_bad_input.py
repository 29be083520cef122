"""Bad input is one sentence on stderr, exit code 2, nothing on stdout and nothing written."""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

from telemetry.cli import run

PICTURE = bytes.fromhex("89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c489")
PROSE = (
    "Dear diary, today the wind was kind and the model flew well.\nTomorrow we fly again, if the weather "
    "holds, and then we shall see.\n"
) * 5

LOGS = {
    "empty.csv": (b"", "empty"),
    "header_only.csv": (b"time [s],current [A],pack voltage [V]\n", "header|row"),
    "picture.csv": (PICTURE * 20, "text|binary|picture"),
    "prose.csv": (PROSE.encode(), "table|column|number"),
    "no_numbers.csv": (b"time [s],current [A]\n" + b"soon,much\nlater,little\n" * 20, "number"),
    "no_electrical.csv": (
        b"time [s],altitude [m]\n" + b"".join(b"%d,%d\n" % (i, i % 30) for i in range(50)),
        "current|voltage|electric",
    ),
    "no_time.csv": (b"current [A]\n" + b"".join(b"%d\n" % (10 + i % 7) for i in range(50)), "time|counter"),
}


def sheet(text: str) -> bytes:
    return text.encode()


SHEETS = {
    "wrong_unit.toml": (sheet("[pack]\ncells = 5\ncapacity_ah = 5.2\n"), "capacity_ah.*capacity_mah"),
    "unknown_key.toml": (
        sheet("[pack]\ncells = 5\ncapacity_mah = 5200\nresistence_mohm = 4\n"),
        "resistence_mohm.*resistance_mohm",
    ),
    "impossible.toml": (sheet("[pack]\ncells = 0\ncapacity_mah = 5200\n"), r"\[pack\] cells.*0"),
    "broken.toml": (sheet("[pack\ncells = 5\n"), "line 1"),
    "empty.toml": (sheet(""), "pack"),
}


def refused(arguments: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    before = {p: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.rglob("*") if p.is_file()}
    assert run(arguments) == 2
    said = capsys.readouterr()
    after = {p: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.rglob("*") if p.is_file()}
    # what a log holds is shown even where it is refused: an answer needs the headings
    assert said.out == "" or arguments[0] == "columns"
    assert said.err.count("\n") == 1, said.err
    assert "Traceback" not in said.err
    assert str(folder) not in said.err
    assert after == before
    return said.err


@pytest.mark.parametrize("name", LOGS)
@pytest.mark.parametrize("command", [["review"], ["review", "--json"], ["columns"]])
def test_a_log_that_cannot_be_reviewed_is_refused_by_name(name, command, tmp_path, capsys):
    content, words = LOGS[name]
    (tmp_path / name).write_bytes(content)
    said = refused([*command, str(tmp_path / name)], tmp_path, capsys)
    assert said.startswith(name)
    assert re.search(words, said, re.IGNORECASE), said


def test_a_log_that_is_not_there_is_said_so(tmp_path, capsys):
    assert refused(["review", str(tmp_path / "maiden.csv")], tmp_path, capsys).startswith("maiden.csv")


def test_a_folder_is_no_log(tmp_path, capsys):
    (tmp_path / "logs").mkdir()
    assert refused(["review", str(tmp_path / "logs")], tmp_path, capsys).startswith("logs")


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("command", ["predict", "review"])
def test_a_sheet_that_cannot_be_is_refused_by_key(name, command, tmp_path, sample_logs, capsys):
    content, words = SHEETS[name]
    (tmp_path / name).write_bytes(content)
    sheet_file = str(tmp_path / name)
    arguments = (
        ["predict", sheet_file]
        if command == "predict"
        else ["review", str(sample_logs / "maiden.csv"), "--sheet", sheet_file]
    )
    said = refused(arguments, tmp_path, capsys)
    assert said.startswith(name)
    assert re.search(words, said), said


def test_an_unknown_configuration_names_the_known_ones(sample_logs, tmp_path, capsys):
    said = refused(
        ["predict", str(sample_logs / "saltmarsh_mail.toml"), "--configuration", "floats"], tmp_path, capsys
    )
    assert "floats" in said
    assert "skis" in said


def test_a_history_with_a_broken_row_names_its_line(sample_logs, tmp_path, capsys):
    history = tmp_path / "flights.csv"
    history.write_text("duration_s,consumed_mah,configuration\n300,2500,\nlong,2400,\n", encoding="utf-8")
    said = refused(
        ["timer", "--sheet", str(sample_logs / "saltmarsh_mail.toml"), "--history", str(history)],
        tmp_path,
        capsys,
    )
    assert "flights.csv, line 3" in said


def test_a_command_that_is_not_one_is_one_sentence(tmp_path, capsys):
    assert "fly" in refused(["fly"], tmp_path, capsys)
    assert "--no-such" in refused(["review", "--no-such", "a.csv"], tmp_path, capsys)
    refused(["review"], tmp_path, capsys)


def test_keep_refuses_a_bad_log_and_keeps_nothing(tmp_path, capsys):
    (tmp_path / "prose.csv").write_text(PROSE, encoding="utf-8")
    assert run(["keep", str(tmp_path / "prose.csv"), "--logbook", str(tmp_path / "book")]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("prose.csv")


def test_predict_new_does_not_write_over_a_sheet(tmp_path, capsys):
    (tmp_path / "mail.toml").write_text("# mine\n", encoding="utf-8")
    assert "mail.toml" in refused(["predict", "--new", str(tmp_path / "mail.toml")], tmp_path, capsys)


def test_recalibrate_does_not_write_over_its_sheet(tmp_path, sample_logs, capsys):
    sheet_file = tmp_path / "mail.toml"
    sheet_file.write_bytes((sample_logs / "saltmarsh_mail.toml").read_bytes())
    refused(
        ["recalibrate", str(sheet_file), str(sample_logs / "maiden.csv"), "-o", str(sheet_file)],
        tmp_path,
        capsys,
    )


def test_a_warning_of_python_never_reaches_stderr(tmp_path):
    log = tmp_path / "mail.csv"
    log.write_text("time (s),pack voltage (V),pack current (A)\n0.0,20.1,3\n0.1,20.1,4\n", encoding="utf-8")
    warns = (
        "import warnings; from telemetry import cli; cli.app.command('warn')(lambda: warnings.warn('x')); "
    )
    for arguments in (["warn"], ["review", str(log), "--json"]):
        command = [sys.executable, "-W", "always", "-c", warns + "cli.main()", *arguments]
        assert subprocess.run(command, capture_output=True, text=True).stderr == ""


@pytest.mark.parametrize("name", ["brackets.toml", "brackets.csv"])
def test_brackets_without_end_are_one_sentence_as_a_log_and_as_a_sheet(tmp_path, capsys, name):
    path = tmp_path / name
    path.write_text("[" * 100_000, encoding="utf-8")
    assert path.name in refused(["review", str(path)], tmp_path, capsys)
    assert path.name in refused(["predict", str(path)], tmp_path, capsys)
