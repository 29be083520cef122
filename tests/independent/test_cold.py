"""Packs at 0 °C, and packs that warm by more than a degree a minute, flown with other physics."""

from __future__ import annotations

import pytest

import telemetry
from tests.independent import fly, judge
from tests.independent.scenarios import scenario


def flown(folder, name, *, warms=False, holds=1.0, seed=811):
    """A flight begun at 0 °C; `warms` keeps all of its heat in the pack, `holds` is what is left of its
    capacity in the cold.
    """
    plan = scenario(name, seed)
    plan.air.temperature_c = plan.pack.temperature_c = 0.0
    plan.pack.capacity_mah *= holds
    if warms:
        plan.pack.cooling_w_per_k, plan.pack.self_heat_j_per_k = 0.0, 0.5 * plan.pack.self_heat_j_per_k
    made = fly(plan, seed=seed)
    files = made.write(folder)
    reviewed = telemetry.review(
        [telemetry.read_log(log) for log in files.logs], telemetry.Sheet.read(files.sheet)
    )
    return made, reviewed.to_dict()


@pytest.mark.parametrize("warms", [False, True])
@pytest.mark.parametrize("name", ["trainer_3s", "twin_5s", "big_12s"])
def test_charge_left_and_timer_hold_in_the_cold(tmp_path, name, warms):
    made, found = flown(tmp_path, name, warms=warms)
    flight, pack_c = found["flights"][0], made.table["pack_c"]
    minutes = len(pack_c) * (made.table["time"][1] - made.table["time"][0]) / 60.0
    assert (pack_c[-1] - pack_c[0] > minutes) or not warms
    assert judge(made.truth, found).wrong == []
    held(made, flight)


@pytest.mark.parametrize("name", ["trainer_3s", "twin_5s", "big_12s"])
def test_they_hold_for_a_pack_that_gives_a_seventh_less_than_its_sheet_says(tmp_path, name):
    made, found = flown(tmp_path, name, holds=0.86)
    assert found["flights"][0]["decision"] in ("check", "stop")
    held(made, found["flights"][0])


def held(made, flight):
    """The charge left is the true one, and the same flight flown to the alarm and landed leaves the reserve
    in what the weakest cell truly holds.
    """
    true, timer = made.truth.figures, flight["timer"]
    left = flight["pack"]["charge_left_fraction"]
    assert left["low"] <= true["charge_left_fraction"] <= left["high"]
    landed_mah = true["mean_current_a"] / 3.6 * (timer["alarm_s"] + timer["landing_allowance_s"])
    assert landed_mah <= (1.0 - timer["reserve_fraction"]) * float(made.plan.pack.capacity_mah.min())
