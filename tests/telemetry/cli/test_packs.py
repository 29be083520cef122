"""Packs move between aircraft: what is said of one holds wherever it flies."""

from __future__ import annotations

import json

import pytest

from telemetry.cli import run
from telemetry.logbook import Logbook
from telemetry.logbook.fleet import PACKS


@pytest.fixture
def place(tmp_path, small_twin):
    """Two aircraft of one logbook, each with a sheet that knows pack A alone."""
    for name in ("Mail", "Ferry"):
        (tmp_path / f"{name}.toml").write_text(small_twin("Test Twin", name), encoding="utf-8")
    return tmp_path


def sagline(place, *words):
    return run([*map(str, words), "--logbook", str(place / "book")])


def told(capsys, place, *words):
    capsys.readouterr()
    assert sagline(place, *words, "--json") == 0
    return json.loads(capsys.readouterr().out)


def test_a_new_pack_flies_in_an_aircraft_whose_sheet_does_not_know_it(place, write_flight, capsys):
    assert sagline(place, "packs", "--add", "C", "--cells", 5, "--capacity", 4000, "--chemistry", "lihv") == 0
    first = write_flight(place / "2026-06-01.csv", 20.0)
    assert sagline(place, "keep", first, "--sheet", place / "Mail.toml", "--pack", "C") == 0
    (flight,) = Logbook(place / "book").flights()
    assert (flight.pack, flight.pack_called) == ("C", "C")
    setup = Logbook(place / "book").setup(1)
    assert (setup.pack.capacity_mah, setup.pack.chemistry.key) == (4000.0, "lihv")
    (pack,) = told(capsys, place, "packs")["packs"]
    assert (pack["name"], pack["flights"], pack["aircraft"], pack["last_flown"]) == (
        "C",
        1,
        ["Mail"],
        "2026-06-01",
    )


def test_a_pack_of_one_aircraft_is_known_to_the_other_with_its_capacity(place, write_flight, capsys):
    sheet = place / "Mail.toml"
    sheet.write_text(
        sheet.read_text(encoding="utf-8").replace('name = "A"', 'name = "Long"').replace("5200", "6000"),
        encoding="utf-8",
    )
    assert sagline(place, "keep", write_flight(place / "2026-06-01.csv", 20.0), "--sheet", sheet) == 0
    ferry = write_flight(place / "2026-06-02.csv", 24.0)
    assert sagline(place, "keep", ferry, "--sheet", place / "Ferry.toml", "--pack", "Long") == 0
    assert Logbook(place / "book").setup(2).pack.capacity_mah == 6000.0
    (pack,) = told(capsys, place, "packs")["packs"]
    assert (pack["name"], pack["cells"], pack["capacity_mah"]) == ("Long", 5, 6000.0)
    assert pack["aircraft"] == ["Mail", "Ferry"]
    timer = told(capsys, place, "timer", "--aircraft", "Ferry", "--pack", "Long")["timer"]
    assert timer["usable_mah"] == pytest.approx(4800.0)


def test_a_retired_pack_is_kept_in_the_list_and_set_up_no_more(place, write_flight, capsys):
    sagline(place, "packs", "--add", "C", "--cells", 5, "--capacity", 4000)
    assert sagline(place, "packs", "--retire", "C") == 0
    assert "C (retired)" in capsys.readouterr().out
    first = write_flight(place / "2026-06-01.csv", 20.0)
    assert sagline(place, "keep", first, "--sheet", place / "Mail.toml", "--pack", "C") == 2
    assert 'pack "C" is retired' in capsys.readouterr().err
    assert sagline(place, "packs", "--add", "C") == 0
    assert sagline(place, "keep", first, "--sheet", place / "Mail.toml", "--pack", "C") == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("packs", "--retire", "Z"), 'the logbook has no pack "Z"'),
        (("packs", "--add", "Q"), "cells and capacity are needed"),
        (("packs", "--cells", "5"), "Name it with --add."),
    ],
)
def test_a_pack_that_cannot_be_is_one_sentence_and_nothing_is_written(place, capsys, words, said):
    sagline(place, "packs", "--add", "A", "--cells", 5, "--capacity", 5200)
    before = (place / "book" / PACKS).read_bytes()
    capsys.readouterr()
    assert sagline(place, *words) == 2
    out, err = capsys.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)
    assert said in err
    assert (place / "book" / PACKS).read_bytes() == before


def test_a_changed_propeller_is_a_dated_entry_of_its_aircraft(place, write_flight, capsys):
    sheet = place / "Mail.toml"
    assert sagline(place, "keep", write_flight(place / "2026-06-01.csv", 20.0), "--sheet", sheet) == 0
    sheet.write_text(
        sheet.read_text(encoding="utf-8").replace("diameter_in = 11", "diameter_in = 12"), encoding="utf-8"
    )
    assert sagline(place, "keep", write_flight(place / "2026-06-08.csv", 24.0), "--sheet", sheet) == 0
    (mail,) = told(capsys, place, "aircraft")["aircraft"]
    assert (mail["name"], mail["flights"], mail["packs"]) == ("Mail", 2, ["A"])
    assert [(v["date"], v["changed"]) for v in mail["sheets"]] == [
        ("2026-06-01", []),
        ("2026-06-08", ["propeller: 11 × 7 in, then 12 × 7 in"]),
    ]
    assert sagline(place, "aircraft") == 0
    assert "Mail, from flight 2 (2026-06-08): propeller: 11 × 7 in, then 12 × 7 in" in capsys.readouterr().out
