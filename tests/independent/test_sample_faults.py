"""What is decided of the sample flights, with and without a fault in their logs."""

from __future__ import annotations

from random import Random

import pytest

import telemetry
from tests.benchmarks.sample_faults import SAMPLE_FAULTS, SAMPLES, SCENARIOS, SampleLog, wrong_in

TELLING = ("current reads 3 A at rest", "ends in the air", "motor cut 3 s")


def decided(folder, scenario, fault=None):
    log = SampleLog.read(scenario)
    if fault:
        SAMPLE_FAULTS[fault].edit(log, Random(f"131/{fault}"))
    path = folder / f"{scenario}.csv"
    path.write_text(log.text(), encoding="utf-8")
    sheet = telemetry.Sheet.read(SAMPLES / "saltmarsh_mail.toml")
    fitted = "skis" if scenario == "on_skis" else None
    found = telemetry.review(telemetry.read_log(path), sheet, configuration=fitted).to_dict()
    return found["flights"][0]


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_a_sample_flight_is_clear(tmp_path, scenario):
    assert wrong_in(decided(tmp_path, scenario), None) == ()


@pytest.mark.parametrize(
    "fault", [f if f in TELLING else pytest.param(f, marks=pytest.mark.slow) for f in SAMPLE_FAULTS]
)
def test_a_fault_in_a_sample_log_is_told(tmp_path, fault):
    scenario = SCENARIOS[len(fault) % 2]
    assert wrong_in(decided(tmp_path, scenario, fault), SAMPLE_FAULTS[fault]) == ()
