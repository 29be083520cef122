"""What a column may be said to be, and what the fields of a form say."""

from __future__ import annotations

import json

import numpy as np

from dashboard.choices import answers_in, catalogue, likely, places_of, unread
from dashboard.other_files import ENDINGS, KINDS, refusal
from telemetry.answers import check_answer
from telemetry.importers.outcome import Numbers
from telemetry.importers.table import RawColumn
from telemetry.quantities import QUANTITIES
from telemetry.trace import Column

SPEAKS = Column(
    "Temp", None, "", "", "doubtful", "it speaks of temperature, but not of what; name it to use it"
)


def numbers(low: float, high: float) -> Numbers:
    return Numbers(low, low, (low + high) / 2, high)


def test_a_temperature_that_the_numbers_forbid_is_not_offered():
    # a motor at 212 °F is as hot as boiling water, 100 °C (by definition of both scales); nothing here runs
    # at 1758
    assert "motor_temperature_c@left in °C" in likely(SPEAKS, numbers(14.0, 212.0))
    assert likely(SPEAKS, numbers(0.0, 1758.0)) == []


def test_a_likely_answer_names_the_unit_in_which_the_numbers_can_be():
    # no cell has 3700 V: 3700 are mV
    cell = Column("z9", "cell_voltage_v", "3", "", "doubtful", "it could be a cell")
    assert likely(cell, numbers(3300.0, 4200.0))[0] == "cell_voltage_v@3 in mV"
    assert likely(cell, numbers(3.3, 4.2))[0] == "cell_voltage_v@3 in V"


def test_a_clock_without_a_unit_is_asked_by_unit():
    clock = Column("Time", "time_s", "", "s", "doubtful", "it may be ms as well")
    assert likely(clock, numbers(0.0, 3600.0)) == [f"time_s in {u}" for u in ("s", "ms", "µs", "min", "h")]


def test_each_choice_shows_what_it_makes_of_the_numbers():
    raw = RawColumn("Temp", "", "", np.array([68.0, 50.0, 212.0, np.nan]))
    asked = unread(SPEAKS, raw)
    told = {offer.words: offer.numbers for offer in asked.offers}
    assert told["left motor temperature in °C"] == "first 68, lowest 50, mean 110, highest 212 °C"
    assert unread(SPEAKS, RawColumn("Temp", "", "", np.array([np.nan]))) is None


def test_every_answer_that_the_fields_can_say_is_one():
    for name, known in json.loads(catalogue()).items():
        assert known["places"] == [list(place) for place in places_of(name)]
        for place, _ in known["places"]:
            said, _ = answers_in({"header.0": "X", "quantity.0": name, "place.0": place, "unit.0": ""})
            sort = QUANTITIES[name].positions
            assert check_answer(said["X"]) == said["X"] or sort == "motor"


def test_several_answers_are_taken_from_one_form():
    fields = {
        "header.0": "t",
        "quantity.0": "time_s",
        "place.0": "",
        "unit.0": "ms",
        "header.1": "Temp",
        "choice.1": "pack_temperature_c in °C",
        "quantity.1": "rpm",
        "header.2": "I1",
        "choice.2": "other",
        "quantity.2": "current_a",
        "place.2": "left",
        "unit.2": "mA",
        "header.3": "later",
        "choice.3": "",
        "header.4": "untouched",
        "quantity.4": "",
        "header.5": "wrong",
        "quantity.5": "forget",
        "header.6": "blob",
        "quantity.6": "ignore",
    }
    answers, forgotten = answers_in(fields)
    assert answers == {
        "t": "time_s in ms",
        "Temp": "pack_temperature_c in °C",
        "I1": "current_a@left in mA",
        "blob": "ignore",
    }
    assert forgotten == ["wrong"]


def test_files_that_are_no_logs_are_refused_by_name():
    assert refusal("Holiday.JPG") == "Holiday.JPG: this is a picture, no log. It was left where it is."
    assert "Save it as CSV text" in refusal("list.xlsx")
    assert "Unpack it" in refusal("all.zip")
    assert [refusal(name) for name in ("a.csv", "b.txt", "c.log", "d.tsv", "e", "f.toml")] == [""] * 6
    assert all(refusal(f"a.{ending}") for ending in ENDINGS) and len(KINDS) > 5
