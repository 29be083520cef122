"""A pack for each motor: every motor is fed by exactly one, and the sheet is refused in one sentence else."""

import pytest

from telemetry.errors import BadSheet, BadUse
from telemetry.sheet import Sheet

TWIN = """
[aircraft]
mass_kg = 4.0
span_m = 2.0
wing_area_m2 = 0.5

[pack]
cells = 4
capacity_mah = 4000
ratings = [{ c_rate = 20 }]

[[motors]]
position = "left"

[[motors]]
position = "right"
"""
LEFT = '[[packs]]\nname = "A"\nfeeds = ["left"]\n'
RIGHT = '[[packs]]\nname = "B"\nfeeds = ["right"]\ncapacity_mah = 3600\n'


def refused(text: str) -> str:
    with pytest.raises(BadSheet) as caught:
        Sheet.from_text(text, file="twin.toml")
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_each_motor_has_the_pack_that_feeds_it():
    setup = Sheet.from_text(TWIN + RIGHT + LEFT).setup()
    assert [(one.position, one.pack.name, one.pack.capacity_mah) for one in setup.packs] == [
        ("left_pack", "A", 4000.0),
        ("right_pack", "B", 3600.0),
    ]
    assert setup.capacity_mah == 7600.0


def test_a_pack_s_rating_is_a_multiple_of_its_own_capacity():
    setup = Sheet.from_text(TWIN + LEFT + RIGHT).setup()
    rated = {r.part: r.rating_a for r in setup.ratings()}
    assert (rated["left pack, steadily"], rated["right pack, steadily"]) == (80.0, 72.0)


def test_a_share_of_the_aircraft_has_half_its_mass_at_the_same_aspect_ratio():
    share = Sheet.from_text(TWIN + LEFT + RIGHT).setup().alone("right_pack")
    assert (share.mass_kg, share.wing_area_m2, share.positions, share.packs) == (2.0, 0.25, ("right",), ())
    assert share.span_m**2 / share.wing_area_m2 == pytest.approx(2.0**2 / 0.5)


def test_pack_need_not_say_what_each_pack_says():
    bare = TWIN.replace("cells = 4\ncapacity_mah = 4000\n", "")
    own = "cells = 4\ncapacity_mah = 3000\n"
    setup = Sheet.from_text(bare + LEFT + own + '[[packs]]\nname = "B"\nfeeds = ["right"]\n' + own).setup()
    assert setup.capacity_mah == 6000.0


def test_a_pack_cannot_be_chosen_where_each_motor_has_its_own():
    sheet = Sheet.from_text(TWIN + LEFT + RIGHT, file="twin.toml")
    assert sheet.pack_names == ()
    with pytest.raises(BadUse, match="each motor has a pack of its own"):
        sheet.setup(pack="A")


@pytest.mark.parametrize(
    ("packs", "says"),
    [
        (LEFT, 'no pack feeds the motor "right"'),
        (LEFT + '[[packs]]\nname = "B"\n', "[[packs]] B: it does not say which motor it feeds"),
        (LEFT + RIGHT.replace('"right"', '"left"'), '"left" has a pack already'),
        (LEFT + RIGHT.replace('"right"', '"centre"'), 'there is no motor "centre"'),
        (LEFT.replace('["left"]', '["left", "right"]'), "a pack feeds one motor here"),
        (LEFT.replace('["left"]', '"left"'), '"left" is not a list of one motor'),
    ],
)
def test_anything_but_one_pack_a_motor_is_refused(packs, says):
    assert says in refused(TWIN + packs)


def test_the_pack_of_a_lone_motor_is_the_sheet_s_own():
    lone = TWIN.replace('\n[[motors]]\nposition = "right"\n', "")
    assert "Leave feeds out." in refused(lone + LEFT)
