"""An account of every cell and row: read, blank, left out or unreadable, with line, column, kind and text."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from telemetry import read_log, review
from telemetry.answers import Answers
from telemetry.cli import run


@pytest.fixture
def maiden(sample_logs):
    with (sample_logs / "maiden.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.fixture
def saved(tmp_path):
    def write(rows, name="torn.csv"):
        path = tmp_path / name
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
        return path

    return write


CURRENT = 4


def torn(rows):
    """40 cells of the pack's current say ERR from line 301 on, ten are blank, two hold what 16 bits end at;
    line 1001 is cut, line 2001 has no time.
    """
    torn = [list(row) for row in rows]
    for row in torn[300:340]:
        row[CURRENT] = "ERR"
    for row in torn[400:410]:
        row[CURRENT] = ""
    for row in torn[500:502]:
        row[CURRENT] = "6553.5"
    torn.insert(1000, torn[1000][:5])
    torn.insert(2000, ["#VALUE!", *torn[2000][1:]])
    return torn


def test_every_cell_of_a_column_counts_once(maiden, saved):
    source = read_log(saved(torn(maiden))).sources[0]
    current = source.columns[CURRENT]
    counts = (current.cells_read, current.cells_blank, current.cells_left_out, current.cells_unreadable)
    assert counts == (3407 - 40 - 10 - 2, 10, 2, 40)
    assert [(c.line, c.text) for c in current.unreadable] == [(301, "ERR"), (302, "ERR"), (303, "ERR")]
    assert source.cells_unreadable == 40
    whole = source.cells_read + source.cells_blank + source.cells_left_out + source.cells_unreadable
    assert whole == 3407 * 19
    assert (source.rows_read, source.rows_rejected) == (3409, 2)


def test_a_row_left_out_keeps_its_line_column_kind_and_text_and_costs_no_column(maiden, saved):
    trace = read_log(saved(torn(maiden)))
    cut, timeless = trace.sources[0].rejected
    assert (cut.line, cut.column, cut.kind) == (1001, "charge used (mAh)", "fields")
    assert cut.text == ",".join(maiden[1000][:5])
    assert (timeless.line, timeless.column, timeless.kind) == (2001, "moment", "time")
    assert timeless.text.startswith("#VALUE!,")
    assert trace.time_s.size == 3407
    assert {c.status for c in trace.sources[0].columns} == {"used"}


def test_the_review_carries_the_account_and_a_finding_with_line_and_text(maiden, saved):
    found = review([read_log(saved(torn(maiden)))]).to_dict()
    source = found["sources"][0]
    assert [(r["line"], r["kind"], r["column"]) for r in source["rejected"]] == [
        (1001, "fields", "charge used (mAh)"),
        (2001, "time", "moment"),
    ]
    assert source["columns"][CURRENT]["unreadable"][0] == {"line": 301, "text": "ERR"}
    assert source["columns"][CURRENT]["cells_unreadable"] == 40
    findings = {f["key"]: f for f in found["flights"][0]["findings"]}
    assert findings["cells_unreadable"]["evidence"] == "pack current (A): 40, first on line 301: 'ERR'."
    assert findings["rows_rejected"]["message"].startswith("2 of 3409 rows were broken")
    assert "Line 1001" in findings["rows_rejected"]["evidence"]


def test_the_terminal_says_unreadable_cells_and_rows_left_out(maiden, saved, capsys):
    path = saved(torn(maiden))
    assert run(["review", str(path)]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "40 cells hold no number where one belongs" in shown
    assert "pack current (A): 40, first on line 301: 'ERR'" in shown
    assert run(["columns", str(path)]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert (
        "Cells of all columns: 64681 read, 40 unreadable, 2 left out, 10 blank. 2 rows are left out whole."
        in shown
    )
    assert "3355 read, 40 unreadable, 2 left out, 10 blank" in shown
    assert "Line 1001 left out (number of fields at charge used (mAh)), 5 fields" in shown


def test_a_hundred_rows_left_out_are_listed_in_the_json_however_many_there_are(maiden, saved):
    rows = [line for row in maiden[:600] for line in (row, row[:3])]
    found = review([read_log(saved([*rows[:1], *rows[2:], *maiden[600:]]))]).to_dict()["sources"][0]
    assert found["rows_rejected"] == 599
    assert [r["line"] for r in found["rejected"]] == list(range(3, 203, 2))


@pytest.mark.parametrize("mark", ["-1", "77.7", "ERR", "no data"])
def test_a_mark_for_no_value_is_told_once_and_remembered(maiden, saved, tmp_path, monkeypatch, capsys, mark):
    """A current of −1 A or 77.7 A might be one; only the owner knows that it is none."""
    monkeypatch.setattr("telemetry.answers.user_data_path", lambda _: tmp_path / "kept")
    rows = [list(row) for row in maiden]
    for row in rows[300:340]:
        row[CURRENT] = mark
    path = saved(rows)
    answer = f'pack current (A)=missing "{mark}"'
    assert run(["columns", str(path), "--answer", answer, "--save"]) == 0
    capsys.readouterr()
    trace = read_log(path, kept=Answers())
    current = trace.sources[0].columns[CURRENT]
    assert (current.status, current.cells_read, current.cells_blank) == ("used", 3407 - 40, 40)
    assert f"40 cells say {mark}, which you call no value" in current.reason
    assert np.isnan(trace.channels["current_a", ""].values[299:339]).all()
    assert run(["columns", str(path), "--answer", "pack current (A)=current_a", "--save"]) == 0
    assert read_log(path, kept=Answers()).sources[0].columns[CURRENT].cells_blank == 40


def test_a_mark_told_with_what_the_column_is_holds_for_both(maiden, saved):
    rows = [list(row) for row in maiden]
    rows[0][CURRENT] = "Ch 4"
    for row in rows[300:340]:
        row[CURRENT] = "-1"
    trace = read_log(saved(rows), answers={"Ch 4": "current_a in A missing -1"})
    assert np.isnan(trace.channels["current_a", ""].values[299:339]).all()
    assert np.isfinite(trace.channels["current_a", ""].values).sum() == 3407 - 40
