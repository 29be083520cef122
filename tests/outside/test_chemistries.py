"""Every chemistry against published cells and the trade: where it is full, what it bears, where it rests."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.physics.chemistry import CHEMISTRIES
from telemetry.simulate.fleet import LITHIUM_ION as SIMULATED_LITHIUM_ION

CHARGE = np.array([0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0])
CHEN_V = np.array([3.109, 3.296, 3.485, 3.581, 3.667, 3.751, 3.841, 3.948, 4.042, 4.097, 4.124, 4.200])
PRADA_V = np.array([2.785, 2.978, 3.168, 3.206, 3.252, 3.266, 3.269, 3.274, 3.310, 3.314, 3.316, 3.600])
MAKES_DIFFER_V = 0.03


@pytest.mark.source(
    "Chen et al. 2020, J. Electrochem. Soc. 167 080534, as pybamm's `Chen2020` (2.5 to 4.2 V)"
)
def test_lithium_ion_rests_as_a_21700_cell_with_a_high_nickel_cathode():
    rests = CHEMISTRIES["li_ion"].curve.voltage_v(CHARGE)
    assert np.max(np.abs(rests - CHEN_V)) < MAKES_DIFFER_V


@pytest.mark.source(
    "Chen et al. 2020, J. Electrochem. Soc. 167 080534, as pybamm's `Chen2020` (2.5 to 4.2 V)"
)
def test_the_invented_trainers_cells_rest_as_that_cell_too():
    assert np.max(np.abs(SIMULATED_LITHIUM_ION.voltage_v(CHARGE) - CHEN_V)) < MAKES_DIFFER_V


@pytest.mark.source(
    "Prada et al. 2013, J. Electrochem. Soc. 160 A616, as pybamm's `Prada2013` (2.0 to 3.6 V)"
)
def test_lithium_iron_phosphate_rests_as_a_published_cell():
    rests = CHEMISTRIES["lifepo4"].curve.voltage_v(CHARGE)
    assert np.max(np.abs(rests - PRADA_V)) < MAKES_DIFFER_V


@pytest.mark.source(
    "Prada et al. 2013, J. Electrochem. Soc. 160 A616, as pybamm's `Prada2013` (2.0 to 3.6 V)"
)
@pytest.mark.parametrize("left", [0.4, 0.6, 0.8])
def test_on_a_plateau_the_doubt_holds_what_fifteen_millivolts_more_or_less_would_read(left):
    curve = CHEMISTRIES["lifepo4"].curve
    rest_v = float(np.interp(left, CHARGE, PRADA_V))
    read = [curve.charge_left_fraction(rest_v + off_v) for off_v in (-0.015, 0.015)]
    assert max(abs(r - left) for r in read) <= curve.uncertainty_fraction(left) + 0.03


@pytest.mark.source("common practice, no source")
@pytest.mark.parametrize(
    ("key", "full_v", "least_floor_v", "most_floor_v"),
    [
        ("lipo", 4.20, 3.0, 3.3),
        ("lihv", 4.35, 3.0, 3.3),
        ("li_ion", 4.20, 2.8, 3.0),
        ("lifepo4", 3.60, 2.5, 2.8),
    ],
)
def test_a_charger_ends_and_a_loaded_cell_is_spared_where_the_trade_has_it(
    key, full_v, least_floor_v, most_floor_v
):
    kind = CHEMISTRIES[key]
    assert kind.curve.full_cell_v == full_v
    assert least_floor_v <= kind.loaded_floor_v.value <= most_floor_v


@pytest.mark.source(
    "common practice, no source: lithium iron phosphate rests at 3.3 V once it is off the charger"
)
def test_iron_phosphate_off_the_charger_is_no_empty_pack():
    curve = CHEMISTRIES["lifepo4"].curve
    left = curve.charge_left_fraction(3.30)
    assert left + curve.uncertainty_fraction(left) >= 0.95


@pytest.mark.source("common practice, no source: a stored pack is about half full")
@pytest.mark.parametrize("key", list(CHEMISTRIES))
def test_a_stored_pack_is_about_half_full(key):
    kind = CHEMISTRIES[key]
    assert 0.25 < kind.curve.charge_left_fraction(kind.storage_v.value) < 0.75
