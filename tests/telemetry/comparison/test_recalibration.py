"""What flights teach a sheet, and what they don't."""

import json

import numpy as np
import pytest

from telemetry.analysis import flights
from telemetry.comparison.fitting import KEYS
from telemetry.comparison.recalibration import recalibrate
from telemetry.comparison.residuals import compare
from telemetry.errors import BadUse
from telemetry.prediction.assumptions import complete
from telemetry.sheet import Sheet
from telemetry.signals import signals_of
from telemetry.simulate import Scenario, circuits, simulate, with_channels

SHEET = """# the Mail's sheet
[aircraft]
mass_kg = 3.9
span_m = 1.83
wing_area_m2 = 0.50
drag_area_m2 = 0.046
[field]
temperature_c = 18
elevation_m = 0
[pack]
cells = 5
capacity_mah = 5200
resistance_mohm = 3.6
[motor]
kv_rpm_per_v = {kv}
resistance_mohm = 25
no_load_points = [{{voltage_v = 10.0, current_a = 1.2}}]
[propeller]
diameter_in = 11
pitch_in = 7
static_points = [{{rpm = 11250, current_a = {current}, voltage_v = 18.5, thrust_n = 29.2}}]
[leads]
length_m = 0.45
awg = 10
[[motors]]
position = "left"
[[motors]]
position = "right"
[[configurations]]
name = "skis"
drag_area_m2 = 0.060
"""


def sheet(kv=650, current=39.0):
    return Sheet.from_text(SHEET.format(kv=kv, current=current), file="mail.toml")


@pytest.fixture(scope="module")
def scenario():
    return Scenario(legs=circuits(50.0))


@pytest.fixture(scope="module")
def traces(scenario):
    return [simulate(scenario, seed=k).trace() for k in (1, 2, 3)]


@pytest.fixture(scope="module")
def learnt(traces):
    return recalibrate(sheet(), traces, date="2026-05-16")


def mean_current_residual(trace, setup):
    found = compare(signals_of(trace, flights.find(trace)[0], setup), setup, draws=16)
    return {(r.quantity, r.position, r.statistic): r.residual_fraction for r in found.residuals}


def cruise_speed_residual(trace, setup):
    """Of the left propeller, over the cruise: on the ground and in a glide the wheels and the wind turn it,
    not Kv.
    """
    found = compare(signals_of(trace, flights.find(trace)[0], setup), setup, draws=16)
    cruise = [
        p
        for p in found.phases
        if p.phase == "cruise" and (p.residual.quantity, p.residual.position) == ("rpm", "left")
    ]
    seconds = np.array([p.end_s - p.start_s for p in cruise])
    return float(seconds @ [p.residual.residual_fraction for p in cruise] / seconds.sum())


def test_after_three_flights_the_next_is_within_three_percent(scenario, learnt):
    """Issue's target: mean current 3 % in the median and 6 % at the 90th, loaded voltage 1.5 %."""
    after = Sheet.from_text(learnt.sheet_text()).setup()
    found = mean_current_residual(simulate(scenario, seed=9).trace(), after)
    assert abs(found[("current_a", "", "mean")]) < 0.03
    assert abs(found[("pack_voltage_v", "", "mean")]) < 0.015


def test_a_sheet_with_a_wrong_kv_is_put_right(scenario, traces):
    wrong = sheet(kv=690)
    before = cruise_speed_residual(traces[0], wrong.setup())
    new = recalibrate(wrong, traces[:2])
    after = cruise_speed_residual(
        simulate(scenario, seed=9).trace(), Sheet.from_text(new.sheet_text()).setup()
    )
    assert abs(before) > 0.03
    assert abs(after) < 0.6 * abs(before)
    gain = next(p for p in new.parameters if p.key == "drive_gain")
    assert gain.new.value < 0.97
    assert gain.shift_fraction == pytest.approx(gain.new.value / gain.old - 1.0)


def test_intervals_hold_their_value_and_shrink_with_flights(traces, learnt):
    one = {p.key: p for p in recalibrate(sheet(), traces[:1]).parameters}
    three = {p.key: p for p in learnt.parameters}
    for key in set(one) & set(three):
        assert three[key].new.high - three[key].new.low < one[key].new.high - one[key].new.low
        assert three[key].flights == 3


def test_what_is_not_learnt_says_why(learnt):
    told = {p.key for p in learnt.parameters} | {u.subject for u in learnt.unlearnt}
    assert told == set(KEYS)
    assert all(len(u.reason) > 20 for u in learnt.unlearnt)


def test_the_new_sheet_keeps_the_old_one_and_carries_flights_and_date(learnt):
    text = learnt.sheet_text()
    assert text.startswith("# the Mail's sheet")
    new = Sheet.from_text(text).setup()
    assert new.calibration["drive_gain"].flights == 3
    assert new.calibration["drive_gain"].date == "2026-05-16"


def test_what_was_learnt_on_wheels_carries_to_skis_but_not_drag(learnt):
    skis = Sheet.from_text(learnt.sheet_text()).setup("skis").calibration
    assert {"drive_gain", "propeller_power", "pack_resistance"} >= set(skis) >= {"drive_gain"}
    assert "drag" in Sheet.from_text(learnt.sheet_text()).setup().calibration


def test_a_pack_learnt_on_a_warm_day_holds_less_on_a_cold_one():
    """Without the pack's own temperature in the log its warmth and its resistance are one."""
    table = (
        "\n[calibration]\npack_resistance = {value = 0.6, relative_sd = 0.04, flights = 2, temperature_c = "
        "-4}\n"
    )
    cold, warm = (
        Sheet.from_text(
            SHEET.format(kv=650, current=39.0).replace("temperature_c = 18", f"temperature_c = {t}") + table
        ).setup()
        for t in (-4, 18)
    )
    assert complete(cold).cell_ohm == pytest.approx(0.6 * 0.0036)
    assert 0.9 * 0.0036 < complete(warm).cell_ohm < 0.0036
    assert complete(warm).cell_sd > 2 * complete(cold).cell_sd


def test_more_flights_build_on_what_was_known(scenario, learnt):
    fourth = simulate(scenario, seed=4).trace()
    again = recalibrate(Sheet.from_text(learnt.sheet_text()), [fourth])
    by_key = {p.key: p for p in again.parameters}
    for old in learnt.parameters:
        if old.key in by_key:
            assert by_key[old.key].old == pytest.approx(old.new.value, abs=1e-3)
            assert by_key[old.key].flights == 4
            assert abs(by_key[old.key].shift_fraction) < 0.1


def test_the_object_is_the_contracts(learnt):
    content = json.loads(json.dumps(learnt.to_dict(), allow_nan=False))
    assert content["schema"] == "sagline.calibration/1"
    for parameter in content["parameters"]:
        assert {"key", "old", "new", "shift_fraction", "flights"} == set(parameter)
        assert parameter["new"]["low"] < parameter["new"]["value"] < parameter["new"]["high"]


def test_a_measured_airspeed_shows_a_drag_that_was_entered_too_small(traces):
    """True drag area 0.046 m²; entered as 0.032 it comes back most of the way."""
    slick = Sheet.from_text(
        SHEET.format(kv=650, current=39.0).replace("drag_area_m2 = 0.046", "drag_area_m2 = 0.032")
    )
    drag = next(p for p in recalibrate(slick, traces[:2]).parameters if p.key == "drag")
    assert 1.15 < drag.new.value < 1.8
    assert drag.new.low < 0.046 / 0.032 < drag.new.high


def test_logs_that_teach_nothing_are_refused(scenario):
    silent = simulate(with_channels(scenario, without=("throttle_fraction",)), seed=1).trace()
    with pytest.raises(BadUse, match=r"mail\.toml.*throttle"):
        recalibrate(sheet(), [silent])


def test_flights_without_airspeed_or_speed_sensor_still_teach_the_current(scenario):
    bare = with_channels(
        scenario, without=("airspeed_mps", "ground_speed_mps", "rpm", "current_a@left", "current_a@right")
    )
    new = recalibrate(sheet(current=46.0), [simulate(bare, seed=k).trace() for k in (1,)])
    after = mean_current_residual(simulate(bare, seed=9).trace(), Sheet.from_text(new.sheet_text()).setup())
    assert abs(after[("current_a", "", "mean")]) < 0.06
    assert np.isfinite(after[("current_a", "", "mean")])


def test_another_aircrafts_log_teaches_nothing_whoever_asks(traces):
    """Five cells cannot be a sheet's four: the page's button is refused as the command is."""
    four = Sheet.from_text(SHEET.format(kv=650, current=39.0).replace("cells = 5", "cells = 4"))
    with pytest.raises(BadUse, match="does not fit the sheet"):
        recalibrate(four, traces)
