"""What stands in the wrong place is named, with the place where it belongs."""

from __future__ import annotations

import pytest

from telemetry.cli import run


def refused(arguments, capsys):
    assert run([str(a) for a in arguments]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1, said.err
    return said.err


@pytest.mark.parametrize(
    "command",
    [["review", "."], ["columns", "."], ["keep", "."], ["report", ".", "-o", "p.html"], ["predict", "."]],
)
def test_a_folder_is_named_even_as_a_dot(command, tmp_path, monkeypatch, capsys):
    (tmp_path / "my logs").mkdir()
    monkeypatch.chdir(tmp_path / "my logs")
    assert refused(command, capsys).startswith("my logs: this is a folder. Name the ")


@pytest.mark.parametrize("command", [["review"], ["keep"], ["report", "-o", "page.html"]])
def test_a_set_up_sheet_given_as_a_log_is_told_from_one(command, sample_logs, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    said = refused([*command, sample_logs / "saltmarsh_mail.toml"], capsys)
    assert said == "saltmarsh_mail.toml: this is a set-up sheet, not a log. Give it with --sheet.\n"


def test_a_list_of_flights_given_as_a_log_is_told_from_one(sample_logs, capsys):
    assert (
        refused(["review", sample_logs / "history.csv"], capsys)
        == "history.csv: this is a list of earlier flights, not a log. Give it with --history.\n"
    )


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (["report", "14"], "sagline: -o PAGE.html is missing: where the page goes."),
        (["recalibrate", "mail.toml", "a.csv"], "sagline: -o NEW.toml is missing: where the new sheet goes."),
        (["simulate"], "sagline: -o DIR is missing: folder for the logs."),
        (["review"], "sagline: LOG... is missing: CSV logs; they are only read."),
        (["columns"], "sagline: LOG is missing: a CSV log; it is only read."),
    ],
)
def test_what_is_missing_says_how_to_give_it(command, words, capsys):
    said = refused(command, capsys)
    assert said.startswith(words)
    assert said.endswith(f"See sagline {command[0]} --help.\n")


@pytest.mark.parametrize("command", [["timer", "--sheet", "SHEET"], ["review", "maiden.csv"]])
def test_a_logbook_that_is_not_there_is_no_empty_one(command, sample_logs, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(sample_logs)
    arguments = [str(sample_logs / "saltmarsh_mail.toml") if a == "SHEET" else a for a in command]
    assert refused([*arguments, "--logbook", tmp_path / "bok"], capsys).startswith(
        "there is no logbook at bok."
    )


@pytest.mark.parametrize(
    "command",
    [
        ["flights"],
        ["check"],
        ["keep", "maiden.csv"],
        ["serve", "--port", "0"],
        ["report", "1", "-o", "p.html"],
    ],
)
def test_a_file_is_no_logbook(command, sample_logs, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(sample_logs)
    (tmp_path / "book.txt").write_text("mine", encoding="utf-8")
    assert refused([*command, "--logbook", tmp_path / "book.txt"], capsys).startswith(
        "book.txt: this is a file, not a logbook."
    )


def test_a_page_is_not_written_over_a_folder(sample_logs, tmp_path, capsys):
    (tmp_path / "pages").mkdir()
    said = refused(["predict", sample_logs / "saltmarsh_mail.toml", "--card", tmp_path / "pages"], capsys)
    assert said.startswith("pages: this is a folder. Name a file in it.")


def test_a_log_is_kept_though_a_sheet_stands_beside_it(sample_logs, tmp_path, capsys):
    assert (
        run(
            [
                "keep",
                str(sample_logs / "saltmarsh_mail.toml"),
                str(sample_logs / "three_recorders_left.csv"),
                "--logbook",
                str(tmp_path / "book"),
            ]
        )
        == 3
    )
    said = capsys.readouterr()
    assert said.out.startswith("Flight 1")
    assert "saltmarsh_mail.toml: this is a set-up sheet" in said.err


def test_a_kept_flight_takes_no_sheet_beside_its_number(sample_logs, tmp_path, capsys):
    said = refused(
        [
            "report",
            "1",
            "--sheet",
            sample_logs / "saltmarsh_mail.toml",
            "-o",
            tmp_path / "p.html",
            "--logbook",
            tmp_path,
        ],
        capsys,
    )
    assert said.startswith("a kept flight has its sheet")
    assert not (tmp_path / "p.html").exists()


def test_a_sheet_learns_nothing_from_another_aircraft(sample_logs, tmp_path, capsys):
    text = (sample_logs / "saltmarsh_mail.toml").read_text(encoding="utf-8")
    (tmp_path / "other.toml").write_text(text.replace("cells = 5", "cells = 3"), encoding="utf-8")
    said = refused(
        ["recalibrate", tmp_path / "other.toml", sample_logs / "maiden.csv", "-o", tmp_path / "new.toml"],
        capsys,
    )
    assert said.startswith(
        "other.toml: there is no flight left to learn from; maiden.csv: the log does not fit "
    )
    assert not (tmp_path / "new.toml").exists()
