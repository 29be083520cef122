"""The invented logs of the Saltmarsh Mail, read without a doubt."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.importers.alignment import align
from telemetry.importers.log import read_log

SAMPLES = Path(__file__).parents[3] / "sample_logs"
LOGS = sorted(p.name for p in SAMPLES.glob("*.csv") if p.name != "history.csv")


@pytest.mark.parametrize("name", LOGS)
def test_every_column_of_a_sample_log_is_understood(name):
    source = read_log(SAMPLES / name).sources[0]
    assert {c.header for c in source.columns if c.status == "doubtful"} == set()
    assert source.rows_rejected == 0


def test_three_recorders_come_onto_one_clock():
    trace = align(
        [read_log(SAMPLES / f"three_recorders_{part}.csv") for part in ("receiver", "left", "right")]
    )
    assert trace.positions("current_a") == ("", "left", "right")
    # simulated: the controllers start 2.0 and 3.1 s after the receiver, their clocks read 187 and 64 s then,
    # 140 and −95 ppm fast or slow
    for source, offset_s, drift_ppm in zip(
        trace.sources[1:], (2.0 - 187.0, 3.1 - 64.0), (140.0, -95.0), strict=True
    ):
        assert source.clock.offset_s.value == pytest.approx(offset_s, abs=0.05)
        assert source.clock.drift_ppm.value == pytest.approx(drift_ppm, abs=100)
        assert source.clock.offset_s.low <= offset_s <= source.clock.offset_s.high
        assert source.clock.drift_ppm.low <= drift_ppm <= source.clock.drift_ppm.high
