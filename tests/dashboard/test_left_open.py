"""What a log leaves open stands with what to do: behind a stop, before a check."""

from __future__ import annotations

from dashboard.paper import html_text
from dashboard.sections.opening import todo
from telemetry.findings import Finding, Open

STOP = Finding("stop", "link_lost", "link", {}, "The link was lost.", "", "The link was lost.")
CHECK = Finding("check", "log_cut_off", "log", {}, "The log is cut off.", "", "The log is cut off.")


def test_what_is_open_stands_between_stop_and_check():
    page = html_text(todo((STOP, CHECK), (Open("flight", "how the flight ended, as the log stops"),)))
    said = ("The link was lost", "How the flight ended", "The log is cut off")
    places = [page.index(part) for part in said]
    assert places == sorted(places)
    assert ">Open<" in page


def test_a_clear_flight_has_nothing_open():
    assert ">Open<" not in html_text(todo(()))
