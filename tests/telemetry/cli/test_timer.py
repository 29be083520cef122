"""`sagline timer` and the card: from a full pack, and never from nothing."""

from __future__ import annotations

import json

import pytest

from telemetry.cli import run
from telemetry.sheet import new_sheet_text


@pytest.fixture
def blank(tmp_path):
    """The sheet that `predict --new` writes, as it is."""
    path = tmp_path / "blank.toml"
    path.write_text(new_sheet_text())
    return path


@pytest.fixture
def full(blank):
    text = blank.read_text()
    for key in ("mass_kg", "kv_rpm_per_v", "diameter_in", "pitch_in"):
        text = text.replace(f"# {key}", key, 1)
    blank.write_text(text.replace('"my model"', '"Mail"'))
    return blank


def timer_of(capsys, *arguments):
    assert run(["timer", *map(str, arguments), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_blank_sheet_gives_no_alarm_and_no_card_but_says_what_to_fill_in(blank, tmp_path, capsys):
    told = timer_of(capsys, "--sheet", blank)
    assert told["timer"] is None
    assert "fill in [aircraft] mass_kg and [motor] kv_rpm_per_v" in told["undecided"][0]["reason"]
    card = tmp_path / "card.html"
    assert run(["predict", str(blank), "--card", str(card)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1 and "fill in [aircraft] mass_kg" in said.err
    assert not card.exists()


def test_mass_kv_and_propeller_are_enough_for_a_first_alarm(full, tmp_path, capsys):
    timer = timer_of(capsys, "--sheet", full)["timer"]
    assert (timer["flights_used"], timer["from_charge_fraction"], timer["starts"]) == (0, 1.0, "throttle_up")
    assert timer["now"] is None
    predicted_mah = timer["predicted_mah_per_min"] * (timer["alarm_s"] + timer["landing_allowance_s"]) / 60.0
    assert predicted_mah <= timer["usable_mah"]
    assert run(["predict", str(full), "--card", str(tmp_path / "card.html")]) == 0


def test_two_vouched_for_flights_are_enough_too_and_one_is_not(blank, tmp_path, capsys):
    rows = ["duration_s,consumed_mah,configuration", "300,1900,", "310,2000,"]
    for count, alarm in ((2, None), (3, 300.0)):
        history = tmp_path / f"{count}.csv"
        history.write_text("\n".join(rows[:count]) + "\n")
        timer = timer_of(capsys, "--sheet", blank, "--history", history)["timer"]
        assert timer is None if alarm is None else timer["alarm_s"] > alarm


def test_flights_on_skis_say_nothing_of_wheels(sample_logs, tmp_path, capsys):
    sheet, history = sample_logs / "saltmarsh_mail.toml", sample_logs / "history.csv"
    asked = ("--sheet", sheet, "--history", history)
    on_wheels = timer_of(capsys, *asked)["timer"]
    assert (on_wheels["flights_used"], on_wheels["flights_left_out"]) == (6, 2)
    named = timer_of(capsys, *asked, "--configuration", "wheels")["timer"]
    assert named["alarm_s"] == on_wheels["alarm_s"], "the sheet as it stands, by its name"
    skis = timer_of(capsys, *asked, "--configuration", "skis")["timer"]
    assert (skis["flights_used"], skis["flights_left_out"]) == (2, 6)


def test_every_place_says_from_a_full_pack(sample_logs, tmp_path, capsys):
    sheet = sample_logs / "saltmarsh_mail.toml"
    assert run(["timer", "--sheet", str(sheet)]) == 0
    assert "from a full pack" in capsys.readouterr().out
    assert run(["predict", str(sheet), "--card", str(tmp_path / "card.html")]) == 0
    assert "from a full pack" in (tmp_path / "card.html").read_text(encoding="utf-8")
    capsys.readouterr()
    assert run(["review", str(sample_logs / "maiden.csv"), "--sheet", str(sheet), "--json"]) == 0
    flight = json.loads(capsys.readouterr().out)["flights"][0]
    assert flight["headline"].endswith("from a full pack.")
    assert "from a full pack" in next(a["sentence"] for a in flight["answers"] if a["question"] == "timer")
    now = flight["timer"]["now"]
    assert now["from_charge_fraction"] == pytest.approx(0.66, abs=0.06), "a short maiden leaves two thirds"
    assert 60.0 <= now["alarm_s"] < flight["timer"]["alarm_s"]
