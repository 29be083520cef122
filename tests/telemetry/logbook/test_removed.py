"""A flight taken out of every figure and back, and a stop that its owner has settled: list, page, card and
timer say the same.
"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from telemetry.cli import run
from telemetry.debrief import next_timer
from telemetry.estimate import Undecided
from telemetry.history import read_history
from telemetry.logbook import Edits, Logbook, in_order_flown
from telemetry.prediction import predict
from telemetry.sheet import Sheet


@pytest.fixture
def rated(tmp_path, small_twin):
    path = tmp_path / "rated.toml"
    path.write_text(
        small_twin("capacity_mah = 5200", "capacity_mah = 5200\nratings = [{current_a = 30}]"),
        encoding="utf-8",
    )
    return path


@pytest.fixture
def season(book, write_log, rated):
    """Four flights, the second over the pack's rating: 40 A on the mean of its first thirty seconds."""
    for day, cruise_a in ((1, 20.0), (2, 30.0), (3, 21.0), (4, 20.5)):
        book.keep([write_log(f"2026-06-0{day}.csv", cruise_a=cruise_a)], sheet=rated)
    return book


def command(book, *arguments):
    return run([*map(str, arguments), "--logbook", str(book.folder.path)])


def asked(book, rated):
    """The timer that the card and `sagline timer` print."""
    setup = Sheet.read(rated).setup()
    known = book.earlier(setup)
    return next_timer(setup, predict(setup), known.flights, facts=known.facts, standing=known.standing)


def test_a_removed_flight_counts_in_no_figure_and_comes_back_as_it_was(season, rated, tmp_path, capsys):
    before = season.flights()
    originals = sorted(p.name for p in (season.folder.path / "originals").iterdir())
    assert command(season, "remove", 2) == 0
    assert capsys.readouterr().out == (
        "Flight 2 is removed: it counts in no figure. sagline restore 2 brings it back.\n"
    )
    removed = season.flights()
    assert [f.removed for f in removed] == [False, True, False, False]
    assert [p.date for p in season.history(aircraft="Test Twin")] == [
        "2026-06-01",
        "2026-06-03",
        "2026-06-04",
    ]
    assert asked(season, rated).flights_used == 3
    assert asked(season, rated).alarm_s == removed[3].alarm_s == season.read(4).flights[0].timer.alarm_s
    assert removed[3].alarm_s > before[3].alarm_s, "the 30 A flight took most"
    assert season.read(2).flights[0].timer.reason.startswith("a stop stands")
    assert [f.id for f in in_order_flown(removed)] == [1, 3, 4], "what trends and open checks are drawn from"
    season.export(tmp_path / "list.csv")
    assert len(read_history(tmp_path / "list.csv")) == 3
    assert sorted(p.name for p in (season.folder.path / "originals").iterdir()) == originals
    assert command(season, "restore", 2) == 0
    assert capsys.readouterr().out == "Flight 2 is restored: it counts again.\n"
    made = {"kept_at": "", "made_by": None}
    assert [replace(f, **made) for f in season.flights()] == [replace(f, **made) for f in before]


def test_the_list_shows_what_is_removed(season, capsys):
    assert command(season, "remove", 2, 3) == 0
    capsys.readouterr()
    assert command(season, "flights", "--json") == 0
    listed = json.loads(capsys.readouterr().out)["flights"]
    assert [(f["id"], f["removed"]) for f in listed] == [(1, False), (2, True), (3, True), (4, False)]
    assert command(season, "flights") == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.endswith("removed: counts in no figure") for line in lines[1:5]] == [
        False,
        True,
        True,
        False,
    ]


def test_what_is_removed_is_removed_in_a_database_made_anew(season):
    season.remove([2])
    (season.folder.path / "logbook.sqlite").unlink()
    assert season.check()
    assert [f.removed for f in season.flights()] == [False, True, False, False]
    assert any("reviewed again" in line for line in season.check(anew=True))
    assert [f.removed for f in season.flights()] == [False, True, False, False]


def test_a_log_of_a_removed_flight_kept_again_stays_removed(season, rated, tmp_path):
    season.remove([2])
    outcome = season.keep([tmp_path / "2026-06-02.csv"], sheet=rated)
    assert [(f.id, f.removed) for f in outcome.kept] == [(2, True)]


@pytest.mark.parametrize("verb", ["remove", "restore"])
def test_a_number_that_is_not_kept_is_one_sentence_and_changes_nothing(season, capsys, verb):
    before = season.flights()
    assert command(season, verb, 1, 9) == 2
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", "the logbook has no flight 9. sagline flights lists what it has.\n")
    assert season.flights() == before


def test_a_removed_flights_stop_stands_in_no_later_one(season, rated):
    lone = Logbook(season.folder.path)
    lone.remove([3, 4])
    assert isinstance(asked(lone, rated), Undecided), "flight 2 was flown last and its stop stands"
    lone.remove([2])
    assert asked(lone, rated).flights_used == 1
    assert lone.open_checks() == ()


def test_a_settled_stop_is_settled_on_page_card_timer_and_list(season, rated):
    """The kept flight's own page went on to withhold its timer."""
    season.remove([3, 4])
    (one,) = season.read(2).flights
    assert one.decision == "stop"
    assert one.answer("timer").sentence.startswith("Undecided. A stop stands: ")
    season.edit([2], change=Edits(cleared=("over_rating",)))
    (one,) = season.read(2).flights
    kept = season.flights()[1]
    assert one.timer.alarm_s == asked(season, rated).alarm_s == kept.alarm_s
    assert (
        kept.headline
        == one.headline
        == ("Open before the next flight: the log has no voltage of the pack or its cells.")
    )
    assert (one.decision, kept.decision) == ("open", "open"), "its log shows no voltage under load"
    (settled,) = [f for f in one.findings if f.key == "over_rating"]
    assert (settled.severity, settled.settled) == ("stop", True), "it happened all the same"
    assert settled.message.endswith("Settled by the owner.")
    assert kept.first_key != "over_rating"
    assert "over_rating" in [r.key for r in kept.raised]


def test_settling_a_stop_gives_later_flights_their_timers_back(book, write_log, rated):
    book.keep([write_log("2026-06-01.csv", cruise_a=30.0)], sheet=rated)
    blind = ("Time s", "Current left A", "Altitude m")
    book.keep([write_log("2026-06-02.csv", cruise_a=19.0, columns=blind)], sheet=rated)
    assert book.flights()[1].verdicts["timer"] == "undecided"
    assert "a stop stands since flight 1" in book.flights()[1].headline
    book.edit([1], change=Edits(cleared=("over_rating",)))
    assert "a stop stands" not in book.flights()[1].headline
    assert book.flights()[1].headline == book.read(2).flights[0].headline
