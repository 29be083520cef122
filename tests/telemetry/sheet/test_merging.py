"""One sheet, several ways to fly it: what a configuration, a pack or a motor changes, and what stays."""

import pytest

from telemetry.sheet import Sheet

SHEET = """
[aircraft]
name = "Saltmarsh Mail"
mass_kg = 3.9
drag_area_m2 = 0.042
[field]
elevation_m = 4
temperature_c = 16
[pack]
name = "A"
cells = 5
capacity_mah = 5200
resistance_mohm = 3.3
ratings = [{c_rate = 30}]
[[packs]]
name = "B"
capacity_mah = 4000
[motor]
kv_rpm_per_v = 640
resistance_mohm = 25
[propeller]
diameter_in = 11
pitch_in = 7
static_points = [{rpm = 11250, current_a = 39.0, voltage_v = 18.5, thrust_n = 29.2}]
[controller]
ratings = [{current_a = 45}, {current_a = 60, seconds = 10}]
[leads]
plug_ratings = [{current_a = 60}]
[[motors]]
position = "right"
kv_rpm_per_v = 650
[motors.propeller]
pitch_in = 8
[[motors]]
position = "left"
logged_as = "1"
[[configurations]]
name = "skis"
mass_g = 4150
drag_area_m2 = 0.055
field = {temperature_c = -4}
[[configurations]]
name = "three blades"
[configurations.propeller]
blades = 3
diameter_in = 10
"""


@pytest.fixture
def sheet():
    return Sheet.from_text(SHEET)


def test_a_blank_configuration_is_the_sheet_as_it_stands(sheet):
    assert sheet.setup() == sheet.setup("")
    assert (sheet.setup().configuration, sheet.setup().mass_kg) == ("", 3.9)


def test_a_configuration_changes_what_it_names_and_nothing_else(sheet):
    skis = sheet.setup("skis")
    assert (skis.configuration, skis.mass_kg, skis.drag_area_m2) == ("skis", 4.15, 0.055)
    assert (skis.site.temperature_c, skis.site.elevation_m) == (-4.0, 4.0)
    assert skis.pack == sheet.setup().pack


def test_another_pack_differs_in_what_it_names(sheet):
    assert sheet.pack_names == ("A", "B")
    pack = sheet.setup(pack="B").pack
    assert (pack.name, pack.capacity_mah, pack.cells, pack.resistance_ohm) == ("B", 4000.0, 5, 0.0033)


def test_a_motor_may_differ_flat_or_in_a_table(sheet):
    left, right = sheet.setup().drives
    assert (left.position, right.position) == ("left", "right")
    assert (left.motor.kv_rpm_per_v, right.motor.kv_rpm_per_v) == (640.0, 650.0)
    assert right.motor.resistance_ohm == 0.025
    assert right.propeller.pitch_m == pytest.approx(0.2032)
    assert left.logged_as == "1"


def test_points_measured_with_another_propeller_are_not_taken_over(sheet):
    left, right = sheet.setup().drives
    assert len(left.propeller.static_points) == 1
    assert right.propeller.static_points == ()
    assert all(d.propeller.static_points == () for d in sheet.setup("three blades").drives)


def test_controllers_carry_their_own_motor_and_the_plug_the_sum(sheet):
    """Two motors on one pack: each controller carries half, the pack and its plug the sum (common practice,
    no source).
    """
    ratings = {(r.part, r.position): (r.rating_a, r.window_s) for r in sheet.setup().ratings()}
    assert ratings[("left controller, 10 s", "left")] == (60.0, 10.0)
    assert ratings[("right controller, steadily", "right")] == (45.0, 30.0)
    assert ratings[("pack plug, steadily", "")] == (60.0, 30.0)
    assert ratings[("pack, steadily", "")] == (30 * 5.2, 30.0)
