"""Packs of every chemistry, on sheets that say it and on sheets that do not."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

import telemetry
from telemetry.analysis.pack.rest import charge_by_rest
from telemetry.estimate import Estimate
from telemetry.physics.chemistry import CHEMISTRIES
from tests.independent import fly, judge
from tests.independent.scenarios import scenario

OTHERS = ("lihv", "li_ion", "lifepo4")


def reviewed(folder, chemistry, *, stated, name="trainer_3s", seed=811):
    flown = fly(scenario(name, seed, chemistry), seed=seed)
    files = flown.write(folder)
    if not stated:
        text = files.sheet.read_text(encoding="utf-8")
        files.sheet.write_text(re.sub(r"(chemistry|full_cell_v) = .*\n", "", text), encoding="utf-8")
    traces = [telemetry.read_log(log) for log in files.logs]
    return flown.truth, telemetry.review(traces, telemetry.Sheet.read(files.sheet)).to_dict()


@pytest.mark.parametrize("chemistry", ("lipo", *OTHERS))
def test_a_sound_flight_is_clear_on_a_sheet_that_says_its_chemistry(tmp_path, chemistry):
    truth, found = reviewed(tmp_path, chemistry, stated=True)
    flight = found["flights"][0]
    assert (flight["decision"], judge(truth, found).wrong) == ("clear", [])
    left = flight["pack"]["charge_left_fraction"]
    assert left["low"] <= truth.figures["charge_left_fraction"] <= left["high"]


@pytest.mark.parametrize(
    ("name", "seed", "chemistry"),
    [
        # throttled back on purpose to just above the controller's start, and braked there
        ("twin_trainer", 40007, "lifepo4"),
        # long dives in which the air turns the propeller
        ("aerobatic_4s", 60011, "lihv"),
        # the same commands flown slowly once the pack is low
        ("aerobatic_4s", 60051, "lipo"),
    ],
)
def test_what_a_low_voltage_or_a_dive_does_to_a_motor_is_no_fault(tmp_path, name, seed, chemistry):
    truth, found = reviewed(tmp_path, chemistry, stated=True, name=name, seed=seed)
    assert (found["flights"][0]["decision"], judge(truth, found).wrong) == ("clear", [])


@pytest.mark.parametrize("chemistry", OTHERS)
def test_another_chemistry_than_the_sheet_is_taken_to_mean_is_named(tmp_path, chemistry):
    _, found = reviewed(tmp_path, chemistry, stated=False)
    flight = found["flights"][0]
    said = next(f for f in flight["findings"] if f["key"] == "chemistry_disagrees")
    assert flight["decision"] in ("check", "stop")
    assert said["values"]["key"] == chemistry
    assert flight["pack"]["charge_left_fraction"] is None
    assert not {"reserve_used", "cell_under_floor", "not_full"} & {f["key"] for f in flight["findings"]}


def test_a_pack_that_a_charger_set_by_the_sheet_would_overcharge_is_a_stop(tmp_path):
    _, found = reviewed(tmp_path, "lifepo4", stated=False)
    flight = found["flights"][0]
    assert flight["decision"] == "stop"
    assert (
        "3.60 V a cell"
        in next(f for f in flight["findings"] if f["key"] == "chemistry_disagrees")["evidence"]
    )


def test_on_a_plateau_the_charge_left_comes_from_the_charge_drawn(tmp_path):
    told = charge_by_rest(Estimate.around(3.27, 0.003), CHEMISTRIES["lifepo4"].curve)
    assert "the charge drawn alone tells what is left" in told.reason
    truth, found = reviewed(tmp_path, "lifepo4", stated=True)
    left = found["flights"][0]["pack"]["charge_left_fraction"]
    assert left["value"] == pytest.approx(truth.figures["charge_left_fraction"], abs=0.05)


def test_a_twelve_cell_pack_without_sheet_and_cells_is_open_and_no_charge_is_told(tmp_path):
    """A fifty-volt pack can have eleven to fourteen cells: a guess of one too few read 74 % as 11 %."""
    flown = fly(scenario("big_12s", 811), seed=811)
    trace = telemetry.read_log(flown.write(tmp_path).logs[0])
    bare = {key: c for key, c in trace.channels.items() if key[0] != "cell_voltage_v"}
    found = telemetry.review(replace(trace, channels=bare)).to_dict()
    flight = found["flights"][0]
    pack = flight["pack"]
    assert (flight["decision"], flight["open"][0]["what"]) == ("open", "cells")
    assert [pack[k] for k in ("cell_count", "start_charge_fraction", "charge_left_fraction")] == [None] * 3
    assert not {"not_full", "cell_under_floor", "overcharged"} & {f["key"] for f in flight["findings"]}
    assert any("give [pack] cells" in one["reason"] for one in found["undecided"])


@pytest.mark.parametrize("chemistry", ("lipo", *OTHERS))
def test_without_a_sheet_the_charge_left_holds_the_truth_whatever_the_cells_are(tmp_path, chemistry):
    flown = fly(scenario("trainer_3s", 811, chemistry), seed=811)
    trace = telemetry.read_log(flown.write(tmp_path).logs[0])
    flight = telemetry.review(trace).to_dict()["flights"][0]
    left = flight["pack"]["charge_left_fraction"]
    if left is not None:
        assert left["low"] <= flown.truth.figures["charge_left_fraction"] <= left["high"]
    assert flight["pack"]["cell_count"] == 3
    keys = {f["key"]: f for f in flight["findings"] if f["severity"] != "note"}
    if chemistry == "lihv":
        # full for these cells, far over full for any other: no sheet tells, so never clear
        assert (flight["decision"], list(keys)) == ("check", ["overcharged"])
        assert "full at 4.35 V" in keys["overcharged"]["evidence"]
    else:
        assert (flight["decision"], keys) == ("clear", {})
