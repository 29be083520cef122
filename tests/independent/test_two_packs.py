"""Two packs, each feeding one motor, flown by other physics than the product's."""

import pytest

import telemetry
from tests.independent.two_packs import fly_two_packs


@pytest.fixture(scope="module")
def reviewed(tmp_path_factory):
    flown = fly_two_packs()
    log, sheet = flown.write(tmp_path_factory.mktemp("two_packs"))
    (flight,) = telemetry.review(telemetry.read_log(log), telemetry.Sheet.read(sheet)).to_dict()["flights"]
    return flown, flight


def test_each_pack_s_charge_is_within_one_percent(reviewed):
    flown, flight = reviewed
    drawn = [one["capacity"]["consumed_mah"]["value"] for one in flight["packs"]]
    assert drawn == pytest.approx(flown.consumed_mah, rel=0.01)
    assert flight["capacity"]["consumed_mah"]["value"] == pytest.approx(sum(flown.consumed_mah), rel=0.01)


def test_the_weak_cell_stands_in_the_right_pack(reviewed):
    _, flight = reviewed
    assert [one["weak_cell"] for one in flight["packs"]] == [None, 2]
    assert flight["pack"]["name"] == "B"
    assert "right pack, cell 2" in [f["subject"] for f in flight["findings"] if f["key"].startswith("weak")]


def test_like_motors_on_unlike_packs_are_an_even_pair(reviewed):
    flown, flight = reviewed
    (pair,) = flight["motors"]["pairs"]
    assert flown.pair["current_ratio"] < 0.985, "the right motor draws less on its weaker pack"
    assert pair["verdict"] == "even"
    assert abs(pair["imbalance_fraction"]["value"]) < 0.012


def test_the_timer_is_that_of_the_pack_that_allows_less(reviewed):
    _, flight = reviewed
    alarms = {one["name"]: one["timer"]["alarm_s"] for one in flight["packs"] if one["timer"]}
    assert flight["timer"]["alarm_s"] == min(alarms.values()) == alarms[flight["timer"]["pack"]]


def test_a_heavier_propeller_is_found_through_the_difference_of_the_packs(tmp_path):
    log, sheet = fly_two_packs(weak=1.0, heavier=1.08).write(tmp_path)
    (flight,) = telemetry.review(telemetry.read_log(log), telemetry.Sheet.read(sheet)).to_dict()["flights"]
    (pair,) = flight["motors"]["pairs"]
    assert pair["verdict"] == "uneven"
    assert 0.02 < pair["imbalance_fraction"]["value"] < 0.09
