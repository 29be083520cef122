"""What the user settled is kept by the signature of the headers, and never half written."""

from __future__ import annotations

import json

import pytest

from telemetry.answers import Answers, answer_words, check_answer, names_a_side
from telemetry.errors import BadUse

HEADERS = ("sec", "U1", "T2")


def test_the_same_recorder_never_asks_twice(tmp_path):
    Answers(tmp_path).save(HEADERS, {"T2": "pack_temperature_c in °F"})
    assert Answers(tmp_path).for_headers(HEADERS) == {"T2": "pack_temperature_c in °F"}
    assert Answers(tmp_path).for_headers(("sec", "U1", "T3")) == {}


def test_left_and_right_are_kept_only_where_that_is_asked_for(tmp_path):
    kept, told = Answers(tmp_path), {"T2": "controller_temperature_c@right", "U1": "pack_voltage_v"}
    assert kept.save(HEADERS, told) == ("T2",)
    assert kept.for_headers(HEADERS) == {"U1": "pack_voltage_v"}
    assert kept.save(HEADERS, told, sides=True) == ()
    assert kept.for_headers(HEADERS) == told
    assert [names_a_side(a) for a in ("current_a@left_outer", "pack_voltage_v@right_pack", "rpm@1")] == [
        True,
        True,
        False,
    ]


def test_answers_are_listed_by_recorder_and_forgotten_one_by_one(tmp_path):
    kept = Answers(tmp_path)
    kept.save(HEADERS, {"T2": "ignore", "U1": "pack_voltage_v in mV"}, file="maiden.csv")
    kept.save(("t", "x"), {"x": "rpm@1"})
    listed = kept.remembered()
    assert [(one.file, one.answers) for one in listed] == [
        ("maiden.csv", {"T2": "ignore", "U1": "pack_voltage_v in mV"}),
        ("", {"x": "rpm@1"}),
    ]
    kept.forget(listed[0].key, "T2")
    kept.forget(listed[1].key, "x")
    kept.forget("no such key", "x")
    assert [one.answers for one in kept.remembered()] == [{"U1": "pack_voltage_v in mV"}]


def test_an_answer_is_said_in_words():
    said = {
        "left_out": "ignore",
        "right controller temperature in °F": "controller_temperature_c@right in °F",
        "cell voltage 3": "cell_voltage_v@3",
        "left pack cell voltage 2": "cell_voltage_v@left_pack.2",
        "motor 2 current in mA": "current_a@2 in mA",
        "charge": "charge_mah",
    }
    assert [answer_words(a) for a in said.values()] == ["left out", *list(said)[1:]]


def test_later_answers_join_earlier_ones(tmp_path):
    kept = Answers(tmp_path)
    kept.save(HEADERS, {"T2": "ignore"})
    kept.save(HEADERS, {"U1": "pack_voltage_v"})
    assert kept.for_headers(HEADERS) == {"T2": "ignore", "U1": "pack_voltage_v"}


def test_nothing_is_written_before_the_first_answer(tmp_path):
    assert Answers(tmp_path / "new").for_headers(HEADERS) == {}
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("answer", ["pack_volts", "rpm@tail", "cell_voltage_v@99", "current_a@sideways", ""])
def test_an_answer_that_cannot_be_is_refused_and_changes_nothing(tmp_path, answer):
    kept = Answers(tmp_path)
    with pytest.raises(BadUse):
        kept.save(HEADERS, {"T2": answer})
    assert list(tmp_path.iterdir()) == []


def test_a_header_that_the_log_has_not_is_refused(tmp_path):
    with pytest.raises(BadUse, match="no column 'T9'"):
        Answers(tmp_path).save(HEADERS, {"T9": "ignore"})


@pytest.mark.parametrize(
    "spoiled", [b"{", b"\xff\xfe\x00", b"[]", b"3", b'{"a": 1}', b'{"a": {}}', b'{"a": {"answers": ["T2"]}}']
)
def test_a_spoiled_file_is_one_sentence(tmp_path, spoiled):
    (tmp_path / "answers.json").write_bytes(spoiled)
    with pytest.raises(BadUse, match=r"answers\.json"):
        Answers(tmp_path).for_headers(HEADERS)


def test_answers_that_cannot_be_kept_are_one_sentence(tmp_path):
    (tmp_path / "data").write_text("a file where the folder should be", encoding="utf-8")
    with pytest.raises(BadUse, match="the answers cannot be kept"):
        Answers(tmp_path / "data").save(HEADERS, {"T2": "ignore"})
    assert Answers(tmp_path / "data").for_headers(HEADERS) == {}


def test_the_file_is_plain_json_without_left_overs(tmp_path):
    Answers(tmp_path).save(HEADERS, {"T2": "ignore"})
    locks = {"write.lock", "queue.lock"}
    assert {p.name for p in tmp_path.iterdir()} - locks == {"answers.json"}
    json.loads((tmp_path / "answers.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("answer", ["ignore", "rpm@left", "cell_voltage_v@5", "current_a", "current_a@1"])
def test_answers_name_a_quantity_at_a_position_it_can_have(answer):
    assert check_answer(answer) == answer
