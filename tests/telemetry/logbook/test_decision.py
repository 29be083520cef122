"""A kept flight's decision, and what a log that was cut off is good for."""

from __future__ import annotations

import pytest

from telemetry.errors import SaglineError
from telemetry.history import read_history
from telemetry.logbook.exporting import write_list
from telemetry.logbook.facts import _decision_of

LOGGED = ("Time s", "Pack voltage V", "Current A", "Altitude m")


def test_the_list_says_what_was_decided_and_what_was_left_open(book, write_log, sheet):
    book.keep([write_log(columns=LOGGED)], sheet=sheet)
    (listed,) = book.flights()
    (one,) = book.read(1).flights
    assert (listed.decision, listed.open) == (one.decision, one.open)
    assert listed.decision in ("clear", "check", "stop", "open")


def test_a_flight_that_its_log_cuts_off_is_open_and_no_row_of_history(book, write_log, sheet, tmp_path):
    log = write_log(columns=LOGGED)
    log.write_text("\n".join(log.read_text(encoding="utf-8").splitlines()[:301]) + "\n", encoding="utf-8")
    (kept,) = book.keep([log], sheet=sheet).kept
    assert (kept.decision, kept.cut_off) == ("open", "end")
    assert [o.what for o in kept.open] == ["flight"]
    assert kept.past is None
    write_list(book.flights(), tmp_path / "season.csv")
    try:
        assert list(read_history(tmp_path / "season.csv")) == []
    except SaglineError as refused:
        assert "no flight" in str(refused)


@pytest.mark.parametrize(
    ("severities", "decision"),
    [({"stop": 1, "check": 2}, "stop"), ({"check": 1}, "check"), ({"note": 3}, None)],
)
def test_facts_of_before_decisions_say_no_more_than_their_findings(severities, decision):
    assert _decision_of(severities) == decision
