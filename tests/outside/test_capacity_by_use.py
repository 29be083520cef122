"""What a pack gives at a high current and in the cold, against published cells."""

from __future__ import annotations

import math

import pytest

from telemetry.physics.cell import arrhenius_factor
from telemetry.physics.chemistry import CHEMISTRIES
from telemetry.season.timer.limits import Loaded

TO_2V5_MAH = {3.0: 2956.5, 6.0: 2945.2, 9.0: 2924.6, 12.0: 2898.8}
ONE_SECOND_MOHM = {20.6: 34.05, 30.2: 30.59, 39.7: 28.77}
TEN_SECONDS_MOHM = {20.6: 40.44, 30.2: 36.11, 39.7: 33.73}
"""Three 18650 cells, open pulse and rate tests of ARTS-Laboratory, CC BY-SA 4.0, read from the files."""


@pytest.mark.source("open 18650 rate-test data, ARTS-Laboratory, CC BY-SA 4.0: charge to 2.5 V at 3 to 12 A")
@pytest.mark.parametrize("current_a", [6.0, 9.0, 12.0])
def test_a_higher_current_gives_less_by_what_the_resistance_keeps_back_at_the_floor(current_a):
    """From 3 to 12 A the three cells gave 2.0 % less; the drop over the curve's last tenth says as much."""
    cell = Loaded(TEN_SECONDS_MOHM[20.6] / 1000.0, CHEMISTRIES["li_ion"].curve, 3000.0)
    share = cell.charge_at_mah(2.5, current_a) / cell.charge_at_mah(2.5, 3.0)
    # a per cent is what makes differ in the last tenth (B5 against Mohtat 2020)
    assert share == pytest.approx(TO_2V5_MAH[current_a] / TO_2V5_MAH[3.0], abs=0.01)


@pytest.mark.source("open 18650 rate-test data, ARTS-Laboratory, CC BY-SA 4.0: charge to 2.5 V at 3 and 12 A")
def test_the_charge_of_a_cell_is_the_same_within_the_doubt_that_charge_left_takes_it_at():
    from telemetry.analysis.pack.rest import CAPACITY_DOUBT_FRACTION

    assert 1.0 - TO_2V5_MAH[12.0] / TO_2V5_MAH[3.0] < CAPACITY_DOUBT_FRACTION


@pytest.mark.source("open 18650 pulse-test data, ARTS-Laboratory, CC BY-SA 4.0: medians of 15 to 16 pulses")
@pytest.mark.parametrize("measured", [ONE_SECOND_MOHM, TEN_SECONDS_MOHM])
def test_lithium_ion_cylinders_go_with_temperature_as_their_chemistry_allows(measured):
    temperatures = sorted(measured)
    fall = math.log(measured[temperatures[0]] / measured[temperatures[-1]])
    per_kjpmol = math.log(arrhenius_factor(temperatures[0], 1.0) / arrhenius_factor(temperatures[-1], 1.0))
    energy = CHEMISTRIES["li_ion"].one_second
    assert fall / per_kjpmol == pytest.approx(7.5, abs=1.0)
    assert abs(fall / per_kjpmol - energy.kjpmol) < 1.96 * energy.sd_kjpmol
