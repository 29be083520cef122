"""What the charger put back: one estimator, for the review, the timer and the season."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.debrief import review
from telemetry.estimate import Undecided
from telemetry.history import PastFlight
from telemetry.put_back import flown_on, put_backs, sensor_gain
from telemetry.season.timer import timer_for
from telemetry.season.trends import SeasonFlight, season_trends
from telemetry.sheet import Sheet
from telemetry.simulate import random_scenario, simulate

TWO_PACKS = """
[aircraft]
mass_kg = 3.6
[pack]
name = "A"
cells = 5
capacity_mah = 5000
[[packs]]
name = "B"
"""


def low_by_three_per_cent(pack="A"):
    """Three flights of which the log counts 0.97 of what the charger put back."""
    return [
        PastFlight(300.0, 0.97 * put_back, "", "", pack, put_back) for put_back in (2900.0, 3000.0, 3100.0)
    ]


def test_review_timer_and_season_say_the_same_of_three_flights():
    flown = low_by_three_per_cent()
    setup = Sheet.from_text(TWO_PACKS).setup()
    gain = sensor_gain(put_backs(flown))
    assert gain.value == pytest.approx(0.97)
    reviewed = review(simulate(random_scenario(3), seed=3).trace(), setup, flown).flights[0].capacity
    assert reviewed.sensor_gain == gain
    assert (
        season_trends([SeasonFlight(1, pack="A", put_back=p) for p in put_backs(flown)]).gains[0].gain == gain
    )
    # 5000 mAh of the pack's are 4850 of the sensor's; four fifths of them may be used
    assert timer_for(setup, flown).usable_mah == pytest.approx(0.8 * 0.97 * 5000.0)


def test_what_the_charger_put_back_after_two_flights_is_no_gain_of_the_sensor():
    """The second flight began at 60 %: the charger put back 2000 mAh that an earlier one had drawn too."""
    full = low_by_three_per_cent()
    second = PastFlight(200.0, 1500.0, "", "", "A", 3500.0, start_charge_fraction=0.6)
    untold = replace(second, start_charge_fraction=None)
    assert put_backs([*full, second, untold]) == put_backs(full)
    nearly = replace(second, start_charge_fraction=0.9)
    assert put_backs([nearly]) == ((1500.0, 3500.0),), "90 % counts as full"
    setup = Sheet.from_text(TWO_PACKS).setup()
    # without the second flight's put-back the sensor's gain stays 0.97: four fifths of 4850 mAh
    assert timer_for(setup, [*full, second]).usable_mah == pytest.approx(0.8 * 0.97 * 5000.0)
    assert timer_for(setup, [*full, second]).flights_used == 4, "it still tells what a minute takes"


def test_a_pack_without_a_name_in_the_history_is_the_sheets_own_and_no_other():
    sheet = Sheet.from_text(TWO_PACKS)
    first, second = sheet.setup().pack, sheet.setup(pack="B").pack
    named, unnamed, other = (low_by_three_per_cent(pack)[0] for pack in ("A", "", "B"))
    assert flown_on([named, unnamed, other], first) == (named, unnamed)
    assert flown_on([named, unnamed, other], sheet.setup(pack="A").pack) == (named, unnamed)
    assert flown_on([named, unnamed, other], second) == (other,)
    assert flown_on([named, unnamed, other], None) == (unnamed,)


def test_the_gain_of_a_pack_rests_on_its_own_flights():
    setup = Sheet.from_text(TWO_PACKS).setup(pack="B")
    assert timer_for(setup, low_by_three_per_cent("")).usable_mah == pytest.approx(0.8 * 5000.0)
    trace = simulate(random_scenario(3), seed=3).trace()
    assert isinstance(
        review(trace, setup, low_by_three_per_cent("A")).flights[0].capacity.sensor_gain, Undecided
    )


def test_the_interval_holds_the_mean_over_flights_that_end_their_charge_differently():
    # truth made here: a sensor at 0.96, a charger good to 0.5 %, charges that end 1.5 % apart
    rng = np.random.default_rng(21)
    held = 0
    for _ in range(600):
        flights, charger = rng.integers(1, 8), 1 + 0.005 * rng.standard_normal()
        charge = rng.uniform(2000.0, 4000.0, flights)
        put_back = charge * charger * (1 + 0.015 * rng.standard_normal(flights))
        gain = sensor_gain(list(zip(0.96 * charge, put_back, strict=True)))
        held += gain.low <= 0.96 <= gain.high
    assert held / 600 >= 0.94
    assert gain.kind == "mean"
