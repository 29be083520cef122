"""The timer a pilot is given: what it counts on, what gives out first, and what it admits."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from telemetry.estimate import Estimate, Undecided
from telemetry.history import PastFlight
from telemetry.made import MadeBy
from telemetry.season.timer import (
    CellFacts,
    PackFacts,
    TimeLimit,
    Timer,
    timer_for,
    timer_to_dict,
)
from telemetry.sheet.setup import Drive, Motor, PackSetup, Propeller, Reserve, Setup, Site, StaticPoint

RATES = [612.0, 598.0, 655.0, 630.0, 590.0, 641.0]
LIMIT = 678.15
"""Student's 95 % limit of the seventh on the log scale (scipy.stats.t)."""
TWIN = tuple(Drive(side, Motor(640.0), Propeller(0.279, 0.178)) for side in ("left", "right"))
MEDIAN = float(np.exp(np.mean(np.log(RATES))))


def setup_with(*, capacity_mah=5200.0, resistance_ohm=0.003, configuration="", pack="A", **reserve):
    return Setup(
        "Mail",
        configuration,
        PackSetup(pack, 5, capacity_mah, resistance_ohm=resistance_ohm),
        drives=TWIN,
        mass_kg=3.9,
        reserve=Reserve(**reserve),
    )


def flown(rates=RATES, configuration="", pack="", dates=None):
    return [
        PastFlight(300.0, 5.0 * rate, configuration, dates[k] if dates else "", pack)
        for k, rate in enumerate(rates)
    ]


def test_six_flights_set_the_alarm_by_arithmetic():
    timer = timer_for(setup_with(), flown())
    assert timer.usable_mah == pytest.approx(4160.0)
    # 4160 mAh at 678.15 mAh/min are 368.06 s; a minute to land leaves 308.06 s
    assert timer.alarm_s == 305.0
    assert timer.consumed_alarm_mah == pytest.approx(LIMIT * 305.0 / 60.0, rel=1e-4)
    assert (timer.starts, timer.limited_by, timer.flights_used) == ("throttle_up", "charge", 6)
    assert timer.warning_s == pytest.approx(4160.0 / MEDIAN * 60.0 - 305.0, rel=1e-6)
    assert timer.given_up_s == pytest.approx(timer.warning_s - 60.0)


def test_the_alarm_charge_leaves_the_landing_above_the_reserve():
    timer = timer_for(setup_with(), flown())
    assert timer.consumed_alarm_mah + LIMIT * timer.landing_allowance_s / 60.0 <= timer.usable_mah


@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.9, 0.95, 0.99])
def test_more_confidence_costs_time_and_half_confidence_is_the_median(confidence):
    alarm = timer_for(setup_with(confidence=confidence), flown()).alarm_s
    assert alarm <= timer_for(setup_with(confidence=0.5), flown()).alarm_s
    if confidence == 0.5:
        assert alarm == 5.0 * ((4160.0 / MEDIAN * 60.0 - 60.0) // 5.0)


def test_the_alarm_is_a_whole_multiple_of_five_seconds_and_never_late():
    for allowance in np.linspace(0.0, 120.0, 37):
        timer = timer_for(setup_with(landing_allowance_s=float(allowance)), flown())
        exact = 4160.0 / LIMIT * 60.0 - allowance
        assert timer.alarm_s % 5.0 == 0.0
        assert exact - 5.01 < timer.alarm_s <= exact + 0.01


def test_each_pack_has_its_own_capacity_and_shares_the_aircrafts_consumption():
    large, small = (
        timer_for(setup_with(), flown(pack="A")),
        timer_for(setup_with(capacity_mah=4800.0, pack="B"), flown(pack="A")),
    )
    assert small.rate_mah_per_min == large.rate_mah_per_min
    assert small.usable_mah == pytest.approx(0.8 * 4800.0)
    assert small.alarm_s == 5.0 * ((3840.0 / LIMIT * 60.0 - 60.0) // 5.0)


def test_an_aged_pack_is_counted_on_for_what_was_measured():
    timer = timer_for(setup_with(), flown(), facts=PackFacts(capacity_mah=4700.0))
    assert timer.usable_mah == pytest.approx(0.8 * 4700.0)
    assert timer.alarm_s < timer_for(setup_with(), flown()).alarm_s
    vague = timer_for(setup_with(), flown(), facts=PackFacts(capacity_mah=Estimate.around(4700.0, 470.0)))
    assert vague.usable_mah == timer.usable_mah
    assert vague.alarm_s < timer.alarm_s


def test_a_sensor_that_counts_low_by_the_charger_shortens_the_timer():
    counted_low = [replace(f, put_back_mah=1.10 * f.consumed_mah) for f in flown()]
    timer = timer_for(setup_with(), counted_low)
    assert timer.usable_mah == pytest.approx(4160.0 / 1.10, rel=0.012)
    assert "charger puts back" in timer.limit_reason
    usual = [replace(f, put_back_mah=1.012 * f.consumed_mah) for f in flown()]
    assert timer_for(setup_with(), usual).usable_mah == pytest.approx(4160.0)
    other_pack = [replace(f, put_back_mah=1.10 * f.consumed_mah, pack="B") for f in flown()]
    assert timer_for(setup_with(), other_pack).usable_mah == pytest.approx(4160.0)


def test_a_go_around_is_set_aside_at_full_throttle():
    facts = PackFacts(full_current_a=72.0)
    with_one = timer_for(setup_with(go_around_s=30.0), flown(), facts=facts)
    # 72 A for 30 s are 600 mAh
    assert with_one.alarm_s == 5.0 * (((4160.0 - 600.0) / LIMIT * 60.0 - 60.0) // 5.0)
    assert with_one.go_around_s == 30.0


def test_voltage_under_load_gives_out_before_the_charge():
    timer = timer_for(setup_with(resistance_ohm=0.014), flown())
    assert timer.limited_by == "voltage"
    assert "3.30 V at cruise" in timer.limit_reason
    landed_mah = LIMIT * (timer.alarm_s + 60.0) / 60.0
    # resting 3.85 V at half charge (common practice, no source) less 40.7 A through 14 mΩ is 3.28 V: down
    # before half is gone
    assert landed_mah < 0.5 * 5200.0
    assert timer.loaded_cell_alarm_v > 3.3


def test_in_the_cold_the_sheets_resistance_is_that_of_the_cold():
    """25 kJ/mol make 6 mΩ at 25 °C 15 mΩ at 0 °C (Arrhenius): 0.62 V at cruise."""
    warm, cold = (
        timer_for(replace(setup_with(resistance_ohm=0.006), site=Site(temperature_c=c)), flown())
        for c in (25.0, 0.0)
    )
    assert (warm.limited_by, cold.limited_by) == ("charge", "voltage")
    assert cold.alarm_s < 0.7 * warm.alarm_s
    assert cold.loaded_cell_alarm_v > 3.3


def test_a_measured_resistance_takes_the_place_of_the_sheets():
    timer = timer_for(setup_with(resistance_ohm=0.014), flown(), facts=PackFacts(resistance_ohm=0.003))
    assert timer.limited_by == "charge"


def test_the_voltage_alarm_is_the_resting_voltage_less_the_drop():
    timer = timer_for(setup_with(), flown())
    cruise_a = MEDIAN * 60.0 / 1000.0
    # 3.72 V at 20 % (common practice, no source)
    assert timer.loaded_cell_reserve_v == pytest.approx(3.72 - 0.003 * cruise_a, abs=1e-3)
    assert timer.loaded_cell_alarm_v > timer.loaded_cell_reserve_v
    unknown = timer_for(setup_with(resistance_ohm=None), flown())
    assert isinstance(unknown.loaded_cell_alarm_v, Undecided)


def test_a_weak_cell_decides_and_is_named():
    cells = tuple(CellFacts(k, 0.003) for k in (1, 2, 4, 5))
    by_resistance = timer_for(
        setup_with(), flown(), facts=PackFacts(cells=(*cells, CellFacts(3, 0.014, weak=True)))
    )
    assert (by_resistance.limited_by, by_resistance.limit_reason) == (
        "cell",
        "cell 3 falls to 3.30 V at cruise",
    )
    by_capacity = timer_for(
        setup_with(), flown(), facts=PackFacts(cells=(*cells, CellFacts(3, 0.003, 0.15, weak=True)))
    )
    assert (by_capacity.limited_by, by_capacity.limit_reason) == (
        "cell",
        "cell 3 gives 15 % less than the pack",
    )
    assert by_capacity.alarm_s == 5.0 * ((0.85 * 4160.0 / LIMIT * 60.0 - 60.0) // 5.0)


def test_a_hot_controller_decides():
    facts = PackFacts(time_limits=(TimeLimit("temperature", 200.0, "the left controller comes to 95 °C"),))
    timer = timer_for(setup_with(), flown(), facts=facts)
    assert (timer.limited_by, timer.alarm_s) == ("temperature", 140.0)
    assert all(more.gain_s == 0.0 for more in timer.more_flights)


def test_no_time_to_fly_is_said_and_not_a_zero():
    timer = timer_for(setup_with(resistance_ohm=0.030), flown())
    assert isinstance(timer, Undecided)
    assert "leaves no time to fly" in timer.reason


def test_the_same_alarm_on_other_timers():
    timer = timer_for(
        setup_with(), flown(), facts=PackFacts(mean_throttle_fraction=0.6, takeoff_after_s=12.0)
    )
    assert timer.alarm_s == 305.0
    assert timer.alarm_from_takeoff_s == 290.0
    # 305 s at a mean of 0.6 are 183 s at full throttle
    assert timer.throttle_timer_s == 180.0


def test_a_timer_for_the_season_is_shorter_than_one_for_the_next_flight():
    timer = timer_for(setup_with(), flown())
    # NIST/SEMATECH: k(6, 0.95, 0.90) = 3.0919 in place of t·sqrt(1 + 1/n) = 2.1765
    spread = float(np.std(np.log(RATES), ddof=1))
    assert timer.season_alarm_s == 5.0 * ((4160.0 / (MEDIAN * np.exp(3.0919 * spread)) * 60.0 - 60.0) // 5.0)
    assert isinstance(timer_for(setup_with(), flown(RATES[:3])).season_alarm_s, Undecided)


def test_more_flights_buy_time_and_ever_less():
    gains = [more.gain_s for more in timer_for(setup_with(), flown()).more_flights]
    assert gains == sorted(gains)
    assert gains[0] > 0
    # twelve flights of that spread: 2.1765 falls to 1.8692 standard deviations
    spread = float(np.std(np.log(RATES), ddof=1))
    at_twelve = 4160.0 / (MEDIAN * np.exp(1.8692 * spread)) * 60.0 - 4160.0 / LIMIT * 60.0
    assert gains[1] == pytest.approx(at_twelve, abs=0.05)


@pytest.mark.parametrize(
    ("flights", "prior", "says"),
    [
        (0, (600.0, 0.1), "the prediction alone, which may be 20 % off: fly short, land early and measure"),
        (1, (600.0, 0.1), "one flight cannot show how much flights differ"),
        (3, None, "3 flights tell the spread between flights only roughly"),
        (6, None, "6 flights carry no date"),
    ],
)
def test_the_weakest_assumption_is_said(flights, prior, says):
    assert says in timer_for(setup_with(), flown(RATES[:flights]), prior=prior).weakest_assumption


def test_flights_of_known_days_lean_on_the_sheets_capacity_next():
    dated = flown(dates=[f"2026-05-{k + 1:02d}" for k in range(len(RATES))])
    assert "nobody measured it" in timer_for(setup_with(), dated).weakest_assumption


def test_undated_flights_say_what_a_shared_day_may_cost():
    assert "8 next flights in 100" in timer_for(setup_with(), flown()).weakest_assumption


def test_a_field_colder_than_any_flight_is_the_weakest_assumption():
    cold = replace(setup_with(), site=Site(temperature_c=2.0))
    assert "as cold as 2 °C" in timer_for(cold, flown()).weakest_assumption
    flown_cold = [replace(f, temperature_c=4.0) for f in flown()]
    assert "cold" not in timer_for(cold, flown_cold).weakest_assumption
    assert "cold" not in timer_for(replace(cold, site=Site(temperature_c=15.0)), flown()).weakest_assumption


def test_without_a_prediction_fewer_than_two_flights_are_refused_with_the_reason():
    for rates in ([], [600.0]):
        refused = timer_for(setup_with(), flown(rates))
        assert isinstance(refused, Undecided)
        assert "one flight says nothing of how much the next may differ" in refused.reason


@pytest.mark.parametrize("left_out", [{"mass_kg": None}, {"drives": ()}, {"drives": (Drive("centre"),)}])
def test_a_sheet_too_bare_to_predict_from_sets_no_alarm_before_two_flights(left_out):
    bare = replace(setup_with(), **left_out)
    refused = timer_for(bare, flown([600.0]), prior=(600.0, 0.2))
    assert isinstance(refused, Undecided)
    assert ("mass_kg" in refused.reason) == ("mass_kg" in left_out)
    assert ("kv_rpm_per_v" in refused.reason) == ("drives" in left_out)
    assert timer_for(bare, flown([600.0, 630.0]), prior=(300.0, 0.2)).flights_used == 2


def test_a_static_point_stands_for_kv_and_size():
    point = Propeller(static_points=(StaticPoint(8900.0, 25.0, 14.2, 17.7),))
    anchored = replace(setup_with(), drives=(Drive("left", propeller=point), Drive("right", propeller=point)))
    assert timer_for(anchored, [], prior=(600.0, 0.2)).flights_used == 0


def test_no_page_prints_a_current_that_the_alarm_would_not_survive():
    timer = timer_for(setup_with(), flown(), prior=(900.0, 0.2))
    # 4160 mAh at 900 mAh/min are 277.3 s, a minute of it to land
    assert (timer.alarm_s, timer.limited_by) == (215.0, "charge")
    assert "the sheet predicts 54 A" in timer.limit_reason
    assert timer_for(replace(setup_with(), mass_kg=None), flown(), prior=(900.0, 0.2)).alarm_s == 305.0
    beside = timer_for(replace(setup_with(), mass_kg=None), flown(), printed_mah_per_min=900.0)
    assert beside.alarm_s == 215.0
    with pytest.raises(ValueError, match="usable"):
        replace(timer, alarm_s=timer.alarm_s + 5.0)


@pytest.mark.parametrize("seed", range(8))
def test_expected_current_times_alarm_and_landing_never_exceeds_the_usable_charge(seed):
    rng = np.random.default_rng(seed)
    rates = 600.0 * np.exp(0.1 * rng.standard_normal(rng.integers(0, 9)))
    prior = (float(rng.uniform(300.0, 900.0)), 0.2)
    facts = PackFacts(capacity_mah=float(rng.uniform(3500.0, 5200.0)))
    timer = timer_for(
        setup_with(landing_allowance_s=float(rng.uniform(0, 120))), flown(rates), prior=prior, facts=facts
    )
    if isinstance(timer, Timer):
        down_min = (timer.alarm_s + timer.landing_allowance_s) / 60.0
        assert max(prior[0], timer.rate_mah_per_min.value) * down_min <= timer.usable_mah


def test_the_alarm_is_for_a_full_pack_and_one_for_what_is_left_stands_beside_it():
    left = PackFacts(charge_left=Estimate.around(0.7, 0.05))
    timer = timer_for(setup_with(), flown(), facts=left)
    assert (timer.alarm_s, timer.from_charge_fraction, timer.starts) == (305.0, 1.0, "throttle_up")
    # 0.7 less 1.645 standard deviations of 0.05/1.96, less the reserve of 0.2: 0.458 of 5200 mAh at 678.15
    # mAh a minute are 210.7 s, a minute of it to land
    assert (timer.now.from_charge_fraction, timer.now.alarm_s) == (0.7, 150.0)
    little = timer_for(setup_with(), flown(), facts=PackFacts(charge_left=Estimate.around(0.4, 0.05)))
    assert "40 % left in the pack is not worth a flight" in little.now.reason
    assert isinstance(timer_for(setup_with(), flown()).now, Undecided)


def test_a_weak_cell_lands_while_it_still_reads_what_the_others_read_at_the_reserve():
    weak = CellFacts(3, 0.0045, weak=True, excess_ohm=0.0015)
    sound = tuple(CellFacts(k, 0.003) for k in (1, 2, 4, 5))
    timer = timer_for(setup_with(), flown(), facts=PackFacts(cells=(*sound, weak)))
    assert timer.limited_by == "cell"
    # 1.5 mΩ at 40.7 A are 61 mV; 3.72 V at 20 %, 3.76 V at 30 %, 3.85 V at 50 % (common practice, no source)
    assert timer.limit_reason == "cell 3 falls 61 mV deeper than its neighbours at cruise"
    landed_mah = LIMIT * (timer.alarm_s + 60.0) / 60.0
    assert 0.60 < landed_mah / 5200.0 < 0.70
    settled = timer_for(setup_with(), flown(), facts=PackFacts(cells=(*sound, replace(weak, weak=False))))
    assert (settled.limited_by, settled.alarm_s) == ("charge", 305.0)


def test_a_hop_is_no_flight():
    hops = [PastFlight(25.0, 600.0)] * 5
    assert "5 shorter than 60 s" in timer_for(setup_with(), hops).reason
    assert timer_for(setup_with(), [*flown(), *hops]).flights_used == 6


def test_the_timer_travels_as_json():
    carried = timer_to_dict(timer_for(setup_with(), flown(RATES[:3])), MadeBy("0"))
    assert carried["schema"] == "sagline.timer/1"
    assert json.loads(json.dumps(carried, allow_nan=False)) == carried
    promised = {
        "alarm_s",
        "starts",
        "usable_mah",
        "reserve_fraction",
        "confidence",
        "flights_used",
        "rate_mah_per_min",
        "landing_allowance_s",
    }
    promised |= {"consumed_alarm_mah", "loaded_cell_alarm_v", "limited_by", "weakest_assumption"}
    assert promised <= carried["timer"].keys()
    assert {
        "subject": "timer.throttle_timer_s",
        "reason": "no past flight says how far the throttle was open",
    } in carried["undecided"]
    assert timer_to_dict(Undecided("why"), MadeBy("0")) == {
        "schema": "sagline.timer/1",
        "made_by": {
            "version": "0",
            "sheet": "",
            "sheet_sha256": "",
            "logs": [],
            "answers": {},
            "options": {},
        },
        "timer": None,
        "undecided": [{"subject": "timer", "reason": "why"}],
    }
