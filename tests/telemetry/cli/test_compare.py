"""What changed between two groups of kept flights, by command."""

from __future__ import annotations

import json

import pytest

from telemetry.cli import run
from telemetry.logbook import Logbook


@pytest.fixture(scope="module")
def place(tmp_path_factory, small_twin, write_flight):
    """Four flights on propellers of 11 in, then four on 12 in that take a fifth more."""
    folder = tmp_path_factory.mktemp("place")
    book = Logbook(folder / "book")
    for number, cruise_a in enumerate((20.0, 20.4, 19.7, 20.1, 24.2, 24.0, 24.5, 23.8)):
        text = small_twin() if number < 4 else small_twin("diameter_in = 11", "diameter_in = 12")
        sheet = folder / f"sheet{number}.toml"
        sheet.write_text(text, encoding="utf-8")
        log = write_flight(folder / f"2026-06-{number + 1:02d}.csv", cruise_a, beat=7 + number)
        book.keep([log], sheet=sheet)
    book.remove([4])
    return folder


def compared(place, capsys, *groups):
    assert run(["compare", *groups, "--json", "--logbook", str(place / "book")]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_larger_propellers_cost_is_told_and_so_is_the_propeller(place, capsys):
    found = compared(place, capsys, "1-3", "5,6,7-8")
    assert (found["schema"], found["first"], found["second"]) == (
        "sagline.compare/1",
        [1, 2, 3],
        [5, 6, 7, 8],
    )
    rate = next(f for f in found["figures"] if f["figure"] == "rate_mah_per_min")
    assert rate["verdict"] == "changed"
    assert rate["change_fraction"]["low"] < 0.2 < rate["change_fraction"]["high"]
    current = next(f for f in found["figures"] if f["figure"] == "mean_current_a")
    assert current["first"]["value"] == pytest.approx(rate["first"]["value"] * 0.06, rel=0.02)
    assert "propeller: 11 × 7 in in the first group, 12 × 7 in in the second" in found["notes"]


def test_a_removed_flight_is_left_out_and_named(place, capsys):
    found = compared(place, capsys, "1-4", "5-8")
    assert found["first"] == [1, 2, 3]
    assert "flight 4 is left out: it is removed" in found["notes"]


def test_the_printed_table_has_both_means_the_change_and_the_reason(place, capsys):
    assert run(["compare", "1-3", "5-8", "--logbook", str(place / "book")]) == 0
    line = next(x for x in capsys.readouterr().out.splitlines() if x.startswith("mean current, A"))
    assert "changed: more than the scatter of the flights explains" in line


@pytest.mark.parametrize(
    ("groups", "said"),
    [
        (("1-3", "3-5"), "flight 3 is in both groups"),
        (("1-3", "99"), "no flight 99"),
        (("4", "5-8"), "no flight of the first group counts"),
        (("three", "5"), "'three' names no flights"),
        (("5-1", "6"), "lower number first"),
    ],
)
def test_groups_that_cannot_be_are_one_sentence(place, capsys, groups, said):
    assert run(["compare", *groups, "--logbook", str(place / "book")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert len(err.splitlines()) == 1
