"""What is in doubt is asked once, and the same recorder never asks twice."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.cli import run
from telemetry.importers import log as importing

HEADERS = ["time [s]", "current [A]", "pack voltage [V]", "Temp 1"]


@pytest.fixture
def doubtful_log(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))

    def write(name: str):
        time_s = np.arange(0.0, 120.0, 0.2)
        current = np.where((time_s > 10) & (time_s < 100), 25 + 6 * np.sin(time_s / 3), 0.3)
        voltage = 20.8 - 0.02 * current - time_s * 0.004
        temperature = 22 + time_s * 0.2
        rows = [",".join(HEADERS)] + [
            f"{t:.1f},{i:.2f},{v:.3f},{c:.0f}"
            for t, i, v, c in zip(time_s, current, voltage, temperature, strict=True)
        ]
        path = tmp_path / name
        path.write_text("\n".join(rows) + "\n", encoding="utf-8")
        return path

    return write


def test_an_answer_that_is_kept_settles_the_next_log_of_that_recorder(doubtful_log, capsys):
    first, second = doubtful_log("first.csv"), doubtful_log("second.csv")
    assert run(["columns", str(first)]) == 3
    assert run(["columns", str(first), "--answer", "Temp 1=pack_temperature_c", "--save"]) == 0
    capsys.readouterr()
    assert run(["columns", str(second)]) == 0
    assert "pack_temperature_c" in capsys.readouterr().out
    assert run(["review", str(second), "--json"]) == 0


def test_an_answer_that_is_not_kept_holds_for_once(doubtful_log):
    log = doubtful_log("once.csv")
    assert run(["columns", str(log), "--answer", "Temp 1=ignore"]) == 0
    assert run(["columns", str(log)]) == 3


def test_a_kept_log_is_read_as_it_was_settled(doubtful_log, tmp_path, capsys):
    log = doubtful_log("kept.csv")
    run(["columns", str(log), "--answer", "Temp 1=pack_temperature_c", "--save"])
    assert run(["keep", str(log), "--logbook", str(tmp_path / "book")]) == 0
    (tmp_path / "data").rename(tmp_path / "elsewhere")
    assert run(["report", "1", "--logbook", str(tmp_path / "book"), "-o", str(tmp_path / "page.html")]) == 0
    capsys.readouterr()


def test_keeping_reads_each_log_once(doubtful_log, tmp_path, monkeypatch):
    logs = [doubtful_log("a.csv"), doubtful_log("b.csv")]
    logs[1].write_text(logs[1].read_text(encoding="utf-8").replace("20.8", "20.7"), encoding="utf-8")
    run(["columns", str(logs[0]), "--answer", "Temp 1=pack_temperature_c", "--save"])
    read, truly = [], importing._bytes
    monkeypatch.setattr(importing, "_bytes", lambda path: read.append(path.name) or truly(path))
    assert run(["keep", *map(str, logs), "--logbook", str(tmp_path / "book")]) == 0
    assert read == ["a.csv", "b.csv"]


def test_what_is_settled_later_is_noted_of_a_log_that_is_kept(doubtful_log, tmp_path, capsys):
    log, keep = doubtful_log("kept.csv"), ["--logbook", str(tmp_path / "book")]
    assert run(["keep", str(log), *keep]) == 3
    run(["columns", str(log), "--answer", "Temp 1=pack_temperature_c", "--save"])
    capsys.readouterr()
    assert run(["keep", str(log), *keep]) == 0
    assert "what is newly said of it is noted" in capsys.readouterr().err
    assert run(["keep", str(log), *keep]) == 0
    assert capsys.readouterr().err == "kept.csv is kept already, as flight 1.\n"


@pytest.mark.parametrize(
    "answer", ["Temp 1", "Temp 1=warmth", "Temp 9=pack_temperature_c", "Temp 1=cell_voltage_v@99"]
)
def test_an_answer_that_cannot_be_is_refused_in_one_sentence(doubtful_log, capsys, answer):
    assert run(["columns", str(doubtful_log("refused.csv")), "--answer", answer]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1


def test_what_an_answer_does_to_the_numbers_is_said_by_command_too(doubtful_log, capsys):
    log = str(doubtful_log("numbers.csv"))
    assert run(["columns", log, "--answer", "Temp 1=pack_temperature_c in °F", "--save"]) == 0
    out = capsys.readouterr().out
    # 22 °F is −5.556 °C and 46 °F is 7.778 °C, by definition of the scales
    assert "After: pack temperature, first −5.556, lowest −5.556" in out
    assert "highest 7.778 °C." in out
    assert "The whole log stays at 2:00 min:s, " in out


def test_kept_answers_are_listed_and_forgotten_by_command(doubtful_log, capsys):
    log = str(doubtful_log("listed.csv"))
    answers = ["--answer", "Temp 1=pack_temperature_c", "--answer", "current [A]=current_a@left"]
    assert run(["columns", log, *answers, "--save"]) == 0
    assert "not remembered: current [A]." in capsys.readouterr().err
    assert run(["columns", "--remembered"]) == 0
    assert capsys.readouterr().out == (
        "Remembered for logs with the headings of listed.csv:\n  Temp 1 → pack temperature\n"
    )
    assert run(["columns", log, "--forget", "Temp 1"]) == 3
    assert "Forgotten: Temp 1." in capsys.readouterr().err
    assert run(["columns", "--remembered"]) == 0
    assert capsys.readouterr().out == "No answer is remembered.\n"
    assert run(["columns", log, "--forget", "Temp 1"]) == 2
    assert "no answer is kept for 'Temp 1'" in capsys.readouterr().err
