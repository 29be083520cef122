"""Logs with other trades' habits are read rightly, or asked about; nothing is misread without a word."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry import read_log, review

from .habits import write_log
from .habits.judge import Judged, judge, judge_review

HELD_OUT = 500_000
"""Seeds from here on were not looked at while the reader was made."""


def read_all(folder: Path, seeds: range, *, reviewed: int = 0) -> list[Judged]:
    """Every log read and judged, each `reviewed`-th reviewed too."""
    path, found = folder / "log.csv", []
    for seed in seeds:
        log = write_log(seed)
        path.write_bytes(log.raw)
        one = judge(log, path)
        if reviewed and seed % reviewed == 0 and not one.refused:
            judge_review(log, review([read_log(path)]), one)
        found.append(one)
    return found


def wrong_in(found: list[Judged]) -> list[str]:
    """Every sentence of something misread."""
    return [sentence for one in found for sentence in one.wrong]


def share_read(found: list[Judged]) -> float:
    """Of the columns that a careful practitioner can tell, those that were read."""
    return 1 - sum(len(one.missed) for one in found) / sum(one.sure for one in found)


def test_logs_of_other_trades_are_read_or_asked_about_and_never_misread(tmp_path):
    found = read_all(tmp_path, range(HELD_OUT, HELD_OUT + 200))
    assert wrong_in(found) == []
    assert share_read(found) >= 0.97
    assert sum(one.needless for one in found) <= 2


def test_charge_and_start_voltage_of_other_trades_logs_are_the_measured_ones(tmp_path):
    found = read_all(tmp_path, range(HELD_OUT, HELD_OUT + 40), reviewed=2)
    checked = [(what, right) for one in found for what, right in one.checked.items()]
    assert all(right for what, right in checked if what in ("charge", "start voltage"))
    assert sum(what == "charge" for what, _ in checked) >= 12
    resistances = [right for what, right in checked if "resistance" in what]
    # intervals of 95 %
    assert sum(not right for right in resistances) <= max(2, 0.1 * len(resistances))
    assert not any("below zero" in sentence for sentence in wrong_in(found))


@pytest.mark.slow
def test_two_thousand_logs_of_other_trades(tmp_path):
    found = read_all(tmp_path, range(HELD_OUT + 1000, HELD_OUT + 3000))
    assert wrong_in(found) == []
    assert share_read(found) >= 0.97
