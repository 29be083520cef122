"""Invented aircraft of other kinds: each with its log, its owner's sheet and what was true."""

from __future__ import annotations

import json
from types import SimpleNamespace

import pytest

import telemetry
from telemetry.cli import run
from telemetry.samples import SCENARIOS, TRUTH, write_samples
from telemetry.simulate.fleet import FLEET


@pytest.fixture(scope="module", params=list(FLEET))
def flown(request, tmp_path_factory):
    """What `sagline simulate --scenario` writes, and its review with the sheet that comes with it."""
    name, folder = request.param, tmp_path_factory.mktemp("fleet")
    assert run(["simulate", "--scenario", name, "-o", str(folder)]) == 0
    log, sheet, truth = (folder / f"{name}{end}" for end in (".csv", ".toml", "_truth.json"))
    reviewed = telemetry.review(telemetry.read_log(log), telemetry.Sheet.read(sheet)).to_dict()
    told = json.loads(truth.read_text(encoding="utf-8"))
    flight = reviewed["flights"][0]
    return SimpleNamespace(
        name=name, folder=folder, log=log, sheet=sheet, flight=flight, told=told, true=told["flights"][name]
    )


def test_log_sheet_and_truth_say_that_they_are_invented(flown):
    assert sorted(p.name for p in flown.folder.iterdir()) == sorted(
        [flown.log.name, flown.sheet.name, f"{flown.name}_truth.json"]
    )
    assert "invented" in flown.log.read_text(encoding="utf-8").splitlines()[0]
    assert "invented aircraft. Nobody built it" in flown.sheet.read_text(encoding="utf-8")
    assert "no such aircraft was built or flown" in flown.told["invented"]


def test_it_is_the_same_bytes_again(flown, tmp_path):
    for path in write_samples(tmp_path, flown.name):
        assert path.read_bytes() == (flown.folder / path.name).read_bytes()


def test_charge_landing_and_charge_left_are_those_of_the_truth(flown):
    capacity, pack = flown.flight["capacity"], flown.flight["pack"]
    assert capacity["consumed_mah"]["value"] == pytest.approx(flown.true["consumed_mah"], rel=0.006)
    assert flown.flight["takeoff_s"] == pytest.approx(flown.true["takeoffs_s"][0], abs=3.0)
    assert flown.flight["landing_s"] == pytest.approx(flown.true["landings_s"][-1], abs=5.0)
    left = pack["charge_left_fraction"]
    assert left["low"] <= flown.true["charge_left_fraction"] <= left["high"]


def test_every_cells_resistance_is_that_of_the_truth(flown):
    found, known = flown.flight.get("packs", [flown.flight["pack"]]), flown.true["packs"] or [flown.true]
    cells = [
        (c, t) for p, k in zip(found, known, strict=True) for c, t in zip(p["cells"], k["cells"], strict=True)
    ]
    for cell, true in cells:
        assert cell["resistance_1s_ohm"]["value"] == pytest.approx(true["resistance_1s_ohm"], rel=0.04)


def test_only_what_was_made_unlike_is_a_check(flown):
    keys = [f["key"] for f in flown.flight["findings"] if f["severity"] != "note"]
    if flown.name == "four_motors":
        assert (flown.flight["decision"], keys) == ("check", ["pair_uneven"])
        outer, inner = flown.flight["motors"]["pairs"]
        assert (outer["cause"], inner["verdict"]) == ("propeller", "even")
        true = next(p for p in flown.true["pairs"] if p["right"] == "right_outer")
        assert outer["imbalance_fraction"]["value"] == pytest.approx(true["imbalance_fraction"], abs=0.01)
    elif flown.name == "two_packs":
        assert (flown.flight["decision"], keys) == ("check", ["weak_cell_resistance"])
        assert flown.flight["motors"]["pairs"][0]["verdict"] == "even"
    else:
        assert (flown.flight["decision"], keys) == ("clear", [])


def test_the_owners_sheet_predicts_the_flight(flown):
    rows = [p for p in flown.flight["prediction"] if p["statistic"] in ("mean", "min")]
    assert len(rows) >= 3
    assert all(p["low"] <= p["measured"] <= p["high"] for p in rows)


def test_the_glider_is_one_flight_of_five_bursts(tmp_path):
    phases = json.loads(write_samples(tmp_path, "glider")[-1].read_text(encoding="utf-8"))["flights"][
        "glider"
    ]
    assert [name for name, _, _ in phases["phases"]].count("climb") == 5


def test_the_whole_story_is_a_scenario_too_and_tells_what_was_true(tmp_path):
    names = [path.name for path in write_samples(tmp_path, "saltmarsh")]
    assert {"maiden.csv", "saltmarsh_mail.toml", "history.csv", TRUTH} <= set(names)
    told = json.loads((tmp_path / TRUTH).read_text(encoding="utf-8"))["flights"]
    assert told["weak_cell"]["consumed_mah"] > 1000.0


def test_help_names_every_scenario_and_an_unknown_one_is_refused_with_them(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert run(["simulate", "--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert [name for name in SCENARIOS if name not in told] == []
    assert run(["simulate", "--scenario", "loop", "-o", str(tmp_path / "new")]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == f"there is no scenario 'loop'. Known are {', '.join(SCENARIOS)}.\n"
    assert not (tmp_path / "new").exists()
