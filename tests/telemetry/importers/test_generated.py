"""Logs in every dialect, from one truth: nothing silently wrong, what is beyond doubt recognised, the charge
right.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.errors import BadLog
from telemetry.importers.log import read_log


def campaign(generator, folder: Path, seeds, *, short: bool) -> None:
    wrong, missed, certain, off = [], 0, 0, []
    texts = set()
    for seed in seeds:
        written = generator.write_log(seed, short=short)
        texts.add(written.raw)
        path = folder / "log.csv"
        path.write_bytes(written.raw)
        try:
            verdict = generator.judge(written, read_log(path))
        except BadLog:
            missed += len(written.expected)
            certain += len(written.expected)
            continue
        if verdict.wrong:
            wrong.append((written.why, verdict.wrong))
        missed, certain = missed + len(verdict.missed), certain + verdict.certain
        if verdict.charge_error is not None and abs(verdict.charge_error) > 0.006:
            off.append((written.why, verdict.charge_error))
    assert len(texts) == len(seeds)
    assert wrong == []
    assert off == []
    assert missed <= 0.05 * certain, f"{missed} of {certain} certain columns were not recognised"


@pytest.mark.parametrize("start", range(0, 400, 50))
def test_four_hundred_logs_are_read_right_or_not_at_all(generator, tmp_path, start):
    campaign(generator, tmp_path, range(start, start + 50), short=True)


@pytest.mark.slow
@pytest.mark.parametrize("start", range(1000, 4200, 200))
def test_thousands_of_logs_are_read_right_or_not_at_all(generator, tmp_path, start):
    campaign(generator, tmp_path, range(start, start + 200), short=False)
