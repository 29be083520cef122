"""A log's channels as a table for other programs: SI, a column a channel, units and sampling inside."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

from telemetry.cli import run
from telemetry.importers.log import read_log

SAMPLES = Path(__file__).parents[3] / "sample_logs"


@pytest.fixture
def placed(tmp_path):
    """A log that knows its place, with a mark that a spreadsheet would run."""
    lines = ["Time s,Current A,Pack voltage V,Latitude deg,Longitude deg,Event"]
    for step in range(200):
        mark = "=1+1" if step == 50 else "gear up" if step > 120 else ""
        lines.append(
            f"{step / 10:.1f},{20 + step % 3},{18.5 - 0.01 * (step % 7):.2f},"
            f"{50 + step * 1e-5:.5f},{5 - step * 1e-5:.5f},{mark}"
        )
    path = tmp_path / "placed.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def exported(log, target, *options):
    assert run(["export", str(log), "-o", str(target), *options]) == 0
    return target


def test_every_fresh_sample_of_the_maiden_is_in_the_parquet_file_to_the_last_bit(tmp_path):
    log = SAMPLES / "maiden.csv"
    table = pd.read_parquet(exported(log, tmp_path / "maiden.parquet"))
    trace = read_log(log)
    for (quantity, position), channel in trace.channels.items():
        column = table["@".join(filter(None, (quantity, position)))].to_numpy()
        assert np.array_equal(np.isfinite(column), channel.fresh)
        assert np.array_equal(column[channel.fresh], channel.values[channel.fresh])


def test_units_and_sampling_stand_inside_the_file(tmp_path):
    schema = pq.read_schema(exported(SAMPLES / "maiden.csv", tmp_path / "maiden.parquet"))
    cell = {k.decode(): json.loads(v) for k, v in schema.field("cell_voltage_v@3").metadata.items()}
    assert (cell["unit"], cell["header"], cell["file"]) == ("V", "cell 3 (V)", "maiden.csv")
    assert cell["fresh_every_s"] == pytest.approx(0.2)
    assert json.loads(schema.metadata[b"made_by"])["logs"][0]["file"] == "maiden.csv"


def test_the_csv_has_the_numbers_of_the_parquet_file(tmp_path):
    log = SAMPLES / "on_skis.csv"
    text = pd.read_csv(exported(log, tmp_path / "skis.csv"), comment="#")
    assert text.equals(pd.read_parquet(exported(log, tmp_path / "skis.parquet")))


def test_where_somebody_flies_goes_along_only_when_asked_for(placed, tmp_path):
    shy = exported(placed, tmp_path / "shy.csv")
    assert "50.00" not in shy.read_text(encoding="utf-8")
    open_ = pd.read_csv(exported(placed, tmp_path / "open.csv", "--position"), comment="#")
    assert open_["latitude_deg"].iloc[10] == pytest.approx(50.0001)


def test_no_spreadsheet_runs_a_mark(placed, tmp_path):
    table = pd.read_csv(exported(placed, tmp_path / "marks.csv"), comment="#")
    marks = table["event"].dropna().tolist()
    assert "'=1+1" in marks
    assert not any(mark.startswith("=") for mark in marks)


def test_a_kept_flight_is_exported_from_its_start_to_its_end(tmp_path):
    book = tmp_path / "book"
    assert run(["keep", str(SAMPLES / "maiden.csv"), "--logbook", str(book)]) == 0
    target = tmp_path / "flight.parquet"
    assert run(["export", "1", "-o", str(target), "--logbook", str(book)]) == 0
    table = pd.read_parquet(target)
    assert (table["time_s"].iloc[0], table["time_s"].iloc[-1]) == pytest.approx((0.0, 340.6))


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("export", "LOG", "-o", "channels.xlsx"), "written as .csv or .parquet"),
        (("export", "7", "-o", "x.csv", "--logbook", "BOOK"), "no flight 7"),
        (("export", "LOG", "-o", "nowhere/x.csv"), "cannot be written"),
    ],
)
def test_what_cannot_be_exported_is_one_sentence(tmp_path, capsys, monkeypatch, given, said):
    monkeypatch.chdir(tmp_path)
    run(["keep", str(SAMPLES / "maiden.csv"), "--logbook", "book"])
    capsys.readouterr()
    words = [str(SAMPLES / "maiden.csv") if w == "LOG" else "book" if w == "BOOK" else w for w in given]
    assert run(words) == 2
    out, err = capsys.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)
    assert said in err
