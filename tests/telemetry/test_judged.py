"""What a flight could judge, topic by topic of the table of findings."""

from __future__ import annotations

from pathlib import Path

import pytest

import telemetry
from telemetry.finding_table import KINDS
from telemetry.findings import Results
from telemetry.findings.judged import judged_subjects

SAMPLES = Path(__file__).parents[2] / "sample_logs"


@pytest.fixture(scope="module")
def maiden():
    sheet = telemetry.Sheet.read(SAMPLES / "saltmarsh_mail.toml")
    return telemetry.review(telemetry.read_log(SAMPLES / "maiden.csv"), sheet)


def test_every_topic_of_the_table_is_judged_somewhere_and_no_other(maiden):
    topics = {kind.topic for kind in KINDS.values() if kind.topic}
    one = maiden.flights[0]
    parts = (one.signals, one.pack, one.capacity, one.current, one.motors, one.bench, one.comparison)
    assert set(judged_subjects(Results(*parts, one.timer, maiden.setup))) == topics


def test_a_whole_log_judges_cells_ratings_and_the_pair_but_nothing_it_did_not_measure(maiden):
    topics = maiden.flights[0].judged
    expected = {"weak:cell 5", "floor:cell 1", "pair:left and right", "cut:left motor", "cut:both motor"}
    assert expected | {"prediction", "rating:pack plug, steadily"} <= set(topics)
    assert not any(t.startswith("bench:") for t in topics), "no bench run"
    hot = [t for t in topics if t.startswith("hot:")]
    assert hot == ["hot:the left motor", "hot:the right motor"], "controllers and pack were not measured"
