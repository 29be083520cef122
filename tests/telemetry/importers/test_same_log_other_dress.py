"""The same log in another dress reads the same; a clock that falls to its step's and returns is one clock."""

from __future__ import annotations

import importlib.util
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest

from telemetry import Sheet, read_log, review

spec = importlib.util.spec_from_file_location("dressing", Path(__file__).parent / "dressing" / "__init__.py")
dressing = importlib.util.module_from_spec(spec)
sys.modules["dressing"] = dressing
spec.loader.exec_module(dressing)

PATHS = dressing.sample_paths()
SAMPLES = [p for p in PATHS if p.parent.name == "sample_logs"]
OPEN_LOGS = [p for p in PATHS if p not in SAMPLES]
LOGS = [
    *(pytest.param(p, id=p.stem) for p in SAMPLES),
    *(pytest.param(p, id=p.stem, marks=pytest.mark.open_data) for p in OPEN_LOGS),
]


def faults_of(path, dresses):
    """What a log does not read the same in, of these dresses by name."""
    found = {}
    for name, worn in dresses:
        verdict, why = dressing.compare(dressing.sample(path), worn) or ("same", "")
        if verdict != "same":
            found[name] = f"{verdict}: {why}"
    return found


def share(path, *, small=100_000):
    """The dresses of one log, and two at once: all logs together wear each, a small log twice as many."""
    deck = [*PATHS, *(p for p in PATHS if p.stat().st_size < small)]
    own = [d for i, d in enumerate(dressing.DRESSES.items()) if deck[i % len(deck)] == path]
    return [*own, dressing.drawn(zlib.crc32(path.name.encode()))]


@pytest.mark.parametrize("path", LOGS)
def test_a_log_in_its_share_of_the_dresses_has_the_same_channels(path):
    assert faults_of(path, share(path)) == {}


@pytest.mark.slow
@pytest.mark.parametrize("path", LOGS)
def test_a_log_in_every_dress_has_the_same_channels(path):
    assert faults_of(path, dressing.DRESSES.items()) == {}


@pytest.mark.slow
@pytest.mark.parametrize("path", LOGS)
def test_a_log_in_a_hundred_pairs_of_dresses_has_the_same_channels(path):
    seed = 1000 + zlib.crc32(path.name.encode())
    assert faults_of(path, [dressing.drawn(seed + i) for i in range(100)]) == {}


def test_the_dresses_change_what_is_written():
    """Else nothing would be tried: hardly two dresses of one log are the same bytes, but for those that are
    how it stands already.
    """
    log = dressing.sample(next(p for p in SAMPLES if p.name == "bench_runup.csv"))
    made = {name: dressing.dress(log, worn) for name, worn in dressing.DRESSES.items()}
    written = [one.raw for one in made.values() if one is not None]
    assert len(written) > 150
    assert len(set(written)) > 0.9 * len(written)


def figures_of(path):
    """What a pilot reads: the decision, and each flight's figures."""
    sheet = Sheet.read(SAMPLES[0].parent / "saltmarsh_mail.toml")
    found = review([read_log(path)], sheet).to_dict()
    said = [(f["decision"], f["pack"]["weak_cell"], f["pack"]["weak_cell_kind"]) for f in found["flights"]]
    numbers = [
        value
        for f in found["flights"]
        for value in (
            f["end_s"] - f["start_s"],
            f["capacity"]["consumed_mah"]["value"],
            f["pack"]["resistance_1s_ohm"]["value"],
            f["pack"]["start_voltage_v"],
            f["current"]["peak_a"],
        )
    ]
    return said, numbers


REVIEWED = [
    ("maiden.csv", "language de, latin-1"),
    ("weak_cell.csv", "decimal comma, semicolon"),
    ("on_skis.csv", "unit mA"),
]


@pytest.mark.parametrize(("sample", "name"), REVIEWED)
def test_a_pilot_reads_the_same_figures_and_the_same_decision(tmp_path, sample, name):
    path = next(p for p in SAMPLES if p.name == sample)
    made = dressing.dress(dressing.sample(path), dressing.DRESSES[name])
    worn = tmp_path / sample
    worn.write_bytes(made.raw)
    said, numbers = figures_of(worn)
    own_said, own_numbers = figures_of(path)
    assert said == own_said
    assert numbers == pytest.approx(own_numbers, rel=1e-6)


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
