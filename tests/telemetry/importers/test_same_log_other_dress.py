"""The same log in another dress reads the same; a clock that falls to its step's and returns is one clock."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from telemetry import read_log, review

SAMPLES = ("maiden.csv", "on_skis.csv", "bench_runup.csv", "three_recorders_left.csv")


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return [row for row in csv.reader(file) if row]


def channels_of(trace):
    return {key: channel.values for key, channel in trace.channels.items() if key[0] != "event"}


@pytest.mark.parametrize("sample", SAMPLES)
@pytest.mark.parametrize(
    ("delimiter", "decimal", "encoding", "ends", "turned"),
    [
        (";", ",", "utf-16", "\r\n", True),
        ("\t", ".", "utf-8-sig", "\r", False),
        ("|", ",", "utf-8", "\n", True),
    ],
)
def test_a_sample_in_another_dress_has_the_same_channels(
    sample_logs, tmp_path, sample, delimiter, decimal, encoding, ends, turned
):
    rows = [row[::-1] if turned else row for row in rows_of(sample_logs / sample)]
    broken = [*rows[:40], rows[40][:1], *rows[40:]]
    lines = [
        delimiter.join(cell.replace(".", decimal) if i else cell for cell in row)
        for i, row in enumerate(broken)
    ]
    path = tmp_path / sample
    path.write_bytes((ends.join(lines) + ends).encode(encoding))
    dressed, plain = read_log(path), read_log(sample_logs / sample)
    assert dressed.sources[0].rows_rejected == plain.sources[0].rows_rejected + 1
    ours, theirs = channels_of(dressed), channels_of(plain)
    assert ours.keys() == theirs.keys()
    for key, values in ours.items():
        assert np.array_equal(values, theirs[key], equal_nan=True), key
    assert np.array_equal(dressed.time_s, plain.time_s)


PULSES = np.tile(np.concatenate([np.full(60, 5.0), np.zeros(120)]), 20)
STEP_S = np.tile(np.concatenate([np.arange(60.0), np.arange(120.0)]), 20)
TOTAL_S = np.arange(PULSES.size, dtype=float)
CLOCKS = {
    "beside a total": ("Time (s),Total Time (s)", (STEP_S, TOTAL_S)),
    "alone": ("Time (s)", (STEP_S,)),
    "falls and returns": ("Time (s)", (np.where((TOTAL_S > 900) & (TOTAL_S < 1500), STEP_S, TOTAL_S),)),
}


@pytest.mark.parametrize(("names", "clocks"), CLOCKS.values(), ids=CLOCKS)
def test_twenty_pulses_of_a_minute_at_5_a_are_1667_mah_whatever_the_clock(tmp_path, names, clocks):
    amps = np.round(PULSES + np.random.default_rng(3).normal(0, 0.01, PULSES.size), 3)
    volts = 12.6 - 0.0005 * np.cumsum(PULSES) / 3.6 - 0.03 * PULSES
    rows = zip(*clocks, volts, amps, strict=True)
    path = tmp_path / "pulses.csv"
    text = "\n".join(",".join(f"{x:.3f}" for x in row) for row in rows)
    path.write_text(f"{names},Voltage (V),Current (A)\n{text}\n", encoding="utf-8")
    trace = read_log(path)
    assert trace.duration_s == pytest.approx(3599.0)
    flights = review([trace]).to_dict()["flights"]
    charge_mah = sum(f["capacity"]["consumed_mah"]["value"] for f in flights)
    assert charge_mah == pytest.approx(20 * 60 * 5 / 3.6, rel=0.01)
