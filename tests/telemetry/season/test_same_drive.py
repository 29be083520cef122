"""Which past flights tell what the next one takes: those of the same motors, propellers, cells and
configuration, about as heavy and as draggy.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from telemetry.history import PastFlight
from telemetry.season.same_drive import drive_of, of_this_drive, one_aircraft
from telemetry.season.timer import timer_for
from telemetry.sheet import Sheet, new_sheet_text

TWIN = """
[aircraft]
name = "Twin"
mass_kg = 3.9
drag_area_m2 = 0.04
[pack]
cells = 5
capacity_mah = 5200
[[packs]]
name = "small"
capacity_mah = 3300
[motor]
kv_rpm_per_v = 640
resistance_mohm = 25
[propeller]
diameter_in = 11
pitch_in = 7
[[motors]]
position = "left"
[[motors]]
position = "right"
[[configurations]]
name = "wheels"
[[configurations]]
name = "skis"
mass_kg = 4.2
"""


def setup(text=TWIN, **chosen):
    return Sheet.from_text(text).setup(**chosen)


def flown(text=TWIN, configuration="", **chosen):
    return PastFlight(300.0, 1900.0, configuration, drive=drive_of(setup(text, **chosen)))


def counts(row, hand=None):
    return of_this_drive([row], hand or setup()) == (row,)


@pytest.mark.parametrize(
    ("was", "written"),
    [
        ("kv_rpm_per_v = 640", "kv_rpm_per_v = 700"),
        ("diameter_in = 11", "diameter_in = 12"),
        ("pitch_in = 7", "pitch_in = 8"),
        ("pitch_in = 7", "pitch_in = 7\nblades = 3"),
        ("cells = 5", "cells = 4"),
        ("mass_kg = 3.9", "mass_kg = 4.2"),
        ("drag_area_m2 = 0.04", "drag_area_m2 = 0.05"),
        ('[[motors]]\nposition = "right"\n', ""),
    ],
)
def test_another_drive_is_no_evidence(was, written):
    assert not counts(flown(TWIN.replace(was, written)))


@pytest.mark.parametrize(
    ("was", "written"),
    [
        ("mass_kg = 3.9", "mass_kg = 4.05"),
        ("drag_area_m2 = 0.04", "drag_area_m2 = 0.0415"),
        ("diameter_in = 11", "diameter_mm = 279"),
        ("capacity_mah = 5200", "capacity_mah = 4800"),
        ("kv_rpm_per_v = 640\n", ""),
        ("mass_kg = 3.9\n", ""),
    ],
)
def test_within_five_per_cent_in_another_unit_on_another_pack_or_with_less_said_it_is(was, written):
    assert counts(flown(TWIN.replace(was, written)))


def test_the_pack_is_no_part_of_the_drive():
    assert counts(flown(pack="small"))


def test_the_sheet_as_it_stands_is_the_configuration_that_changes_nothing():
    on_wheels = flown(configuration="wheels")
    assert counts(on_wheels)
    assert counts(flown(), setup(configuration="wheels"))
    assert not counts(flown(configuration="skis"))
    assert not counts(on_wheels, setup(configuration="skis"))


def test_a_row_of_a_list_counts_because_its_owner_vouches_for_it():
    assert counts(PastFlight(300.0, 1900.0))
    assert not counts(PastFlight(300.0, 1900.0, "skis")), "of that configuration only"


def test_under_a_new_sheets_name_any_difference_may_be_another_aircraft():
    template = new_sheet_text()
    hand = setup(template)
    assert hand.name == "my model"
    assert counts(flown(template), hand), "the very same figures"
    for change in ("# mass_kg = 3.9", "# kv_rpm_per_v = 532"):
        other = template.replace(change, change.removeprefix("# "))
        assert not counts(flown(other), hand)
        assert not one_aircraft(flown(other).drive, drive_of(hand))
    assert not counts(flown(template.replace("capacity_mah = 5200", "capacity_mah = 2200")), hand)


def test_flights_of_another_drive_neither_lengthen_nor_shorten_the_timer():
    light = [replace(flown(TWIN.replace("= 640", "= 400")), consumed_mah=800.0 + 10 * n) for n in range(6)]
    own = [replace(flown(), consumed_mah=1900.0 + 30 * n) for n in range(3)]
    assert timer_for(setup(), [*light, *own]).alarm_s == timer_for(setup(), own).alarm_s
    assert timer_for(setup(), [*light, *own]).flights_left_out == 6
    assert (
        "six of another drive left out" in timer_for(setup(TWIN.replace("mass_kg = 3.9", "")), light).reason
    )
