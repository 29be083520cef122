"""What is decided of flights by a simulator that the analyses do not know, with and without a fault."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import telemetry
from tests.independent import FAULTS, SCENARIOS, fly, judge

HEALTHY = ("twin_5s", "trainer_3s")
TELLING = ("link_lost", "landed_at_8", "begins_in_air", "shed_blade")


def decided(folder: Path, name: str, seed: int, *faults: str) -> tuple[dict, tuple[str, ...]]:
    """The first flight of the review of one made log, and what its truth says is wrong in it."""
    flown = fly(name, seed=seed, faults=faults)
    files = flown.write(folder)
    traces = [telemetry.read_log(log) for log in files.logs]
    bench = flown.truth.kind == "bench"
    found = telemetry.review(traces, telemetry.Sheet.read(files.sheet), bench=bench).to_dict()
    json.dumps(found, allow_nan=False)
    return found["flights"][0], judge(flown.truth, found).wrong


@pytest.mark.parametrize(
    "name", [n if n in HEALTHY else pytest.param(n, marks=pytest.mark.slow) for n in SCENARIOS]
)
def test_a_sound_flight_is_clear(tmp_path, name):
    flight, wrong = decided(tmp_path, name, 31)
    assert flight["decision"] == "clear", wrong


@pytest.mark.parametrize(
    "fault", [f if f in TELLING else pytest.param(f, marks=pytest.mark.slow) for f in FAULTS]
)
def test_no_fault_that_must_be_told_is_clear(tmp_path, fault):
    name = FAULTS[fault].scenarios[0]
    _, wrong = decided(tmp_path, name, 131, fault)
    assert not [w for w in wrong if w.startswith("decision clear")]
