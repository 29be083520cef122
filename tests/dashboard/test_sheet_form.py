"""The form writes into the owner's own sheet, and refuses by field."""

import pytest

from dashboard.pages.sheet_form import FIELDS, changed, form, read_number, shown
from dashboard.pages.typed_units import in_unit
from telemetry.sheet import Sheet

OWN = """\
# my twin
[aircraft]
name = "Test <b>"   # stays
mass_g = 3900
[pack]
cells = 5
capacity_mah = 5200
ratings = [{c_rate = 20}, {c_rate = 30, seconds = 10}]
[leads]
awg = 12
[propeller]
diameter_in = 12
"""


@pytest.fixture
def sheet():
    return Sheet.from_text(OWN, file="own.toml")


def test_values_show_in_the_forms_units_whatever_they_were_written_in(sheet):
    values = shown(sheet)
    assert values["aircraft_mass_kg"] == "3.9"
    assert values["leads_area_mm2"] == "3.309", "AWG 12 is 3.309 mm² (ASTM B258)"
    assert (values["pack_steady"], values["pack_burst"], values["pack_burst_s"]) == ("20", "30", "10")
    assert values["motor_kv_rpm_per_v"] == ""


def test_what_was_not_touched_is_not_rewritten(sheet):
    found, wrong = changed(sheet, shown(sheet))
    assert wrong == {}
    assert found.text == OWN


def test_a_change_keeps_the_owners_remarks_and_replaces_the_other_unit(sheet):
    found, wrong = changed(sheet, shown(sheet) | {"aircraft_mass_kg": "4,1", "leads_area_mm2": "4"})
    assert wrong == {}
    assert "# stays" in found.text
    assert "mass_g" not in found.text
    assert "awg" not in found.text
    assert found.tables.aircraft.mass_kg == 4.1
    assert found.tables.leads.area_mm2 == 4


def test_ratings_are_amperes_and_the_seconds_they_last(sheet):
    found, wrong = changed(
        sheet,
        shown(sheet)
        | {"pack_burst_s": "15", "controller_steady": "40", "controller_burst": "55", "plug_steady": "70"},
    )
    assert wrong == {}
    assert [(r.c_rate, r.seconds) for r in found.tables.pack.ratings] == [(20, None), (30, 15)]
    assert [(r.current_a, r.seconds) for r in found.tables.controller.ratings] == [(40, None), (55, 10)]
    assert found.tables.leads.plug_ratings[0].current_a == 70


def test_shares_are_typed_in_percent(sheet):
    found, _ = changed(sheet, shown(sheet) | {"reserve_fraction": "25"})
    assert found.tables.reserve.fraction == 0.25


def test_an_emptied_field_is_not_known_any_more(sheet):
    found, wrong = changed(sheet, shown(sheet) | {"propeller_diameter_in": ""})
    assert wrong == {}
    assert found.tables.propeller.diameter_in is None


def test_an_impossible_value_is_refused_at_its_own_field(sheet):
    found, wrong = changed(
        sheet, shown(sheet) | {"propeller_blades": "0", "pack_cells": "five", "aircraft_mass_kg": "4.1"}
    )
    assert found is None
    assert set(wrong) == {"propeller_blades", "pack_cells"}
    assert "0 is not a number of blades" in wrong["propeller_blades"]
    assert "five" in wrong["pack_cells"]


def test_the_form_says_every_value_as_text_and_ties_a_fault_to_its_field(sheet):
    markup = form(
        sheet,
        assumed={"motor_resistance_mohm": "42 mΩ"},
        typed={"pack_cells": '"><script>'},
        wrong={"pack_cells": "That is no number."},
    )
    assert "<script" not in markup
    assert "Test &lt;b&gt;" in markup
    assert 'aria-invalid="true"' in markup
    assert "assumed 42 mΩ" in markup
    for key in FIELDS:
        assert f'<label for="f-{key}">' in markup


def test_a_chosen_chemistry_is_written_into_the_owners_text(sheet):
    found, wrong = changed(sheet, shown(sheet) | {"pack_chemistry": "li_ion"})
    assert wrong == {}
    assert "# my twin" in found.text
    pack = found.setup().pack
    assert (pack.chemistry.key, pack.chemistry_stated, pack.full_cell_v) == ("li_ion", True, 4.20)
    unsaid, wrong = changed(found, shown(found) | {"pack_chemistry": ""})
    assert wrong == {}
    assert unsaid.tables.pack.chemistry is None


def test_the_full_voltage_of_a_cell_is_the_chargers_where_it_is_typed(sheet):
    found, wrong = changed(sheet, shown(sheet) | {"pack_chemistry": "lihv", "pack_full_cell_v": "4,30"})
    assert wrong == {}
    assert found.setup().pack.full_cell_v == 4.30
    refused, wrong = changed(sheet, shown(sheet) | {"pack_full_cell_v": "42"})
    assert refused is None
    assert "42" in wrong["pack_full_cell_v"]


@pytest.mark.parametrize(
    ("key", "full_v", "floor_v"),
    # full and loaded floor as T11 has them (common practice, no source)
    [("", "4.20", "3.30"), ("lihv", "4.35", "3.30"), ("li_ion", "4.20", "2.80"), ("lifepo4", "3.60", "2.50")],
)
def test_a_field_left_open_shows_what_its_chemistry_brings(sheet, key, full_v, floor_v):
    found, _ = changed(sheet, shown(sheet) | {"pack_chemistry": key})
    markup = form(found, assumed={})
    assert (
        f'name="pack_full_cell_v" type="text" inputmode="decimal" value="" placeholder="{full_v}"' in markup
    )
    assert (
        f'name="reserve_loaded_cell_v" type="text" inputmode="decimal" value="" placeholder="{floor_v}"'
        in markup
    )
    assert f'<option value="{key}" selected' in markup


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("3,90", 3.9),
        ("5 200", 5200),
        ("−4", -4),
        ("8\u202f974", 8974),
        ("1e3", 1000.0),
        ("", None),
        ("abc", None),
    ],
)
def test_numbers_are_read_as_people_type_them(typed, value):
    assert read_number(typed) == value


WITH_TWO_PACKS = """\
[pack]
cells = 4
capacity_mah = 3000
[[packs]]
name = "A"
feeds = ["left"]     # the newer one
[[packs]]
name = "B"
feeds = ["right"]
resistance_mohm = 4.1
[propeller]
diameter_in = 2.7
ducted = true        # seven blades each
[[motors]]
position = "left"
[[motors]]
position = "right"
"""


def test_packs_of_their_own_and_ducted_fans_survive_a_change_made_in_the_form():
    sheet = Sheet.from_text(WITH_TWO_PACKS, file="own.toml")
    assert changed(sheet, shown(sheet))[0].text == WITH_TWO_PACKS
    found, wrong = changed(sheet, shown(sheet) | {"pack_capacity_mah": "3300"})
    assert wrong == {}
    assert found.text == WITH_TWO_PACKS.replace("3000", "3300")
    assert [pack.feeds for pack in found.tables.packs] == [("left",), ("right",)]


def test_a_fan_in_a_duct_is_chosen_and_taken_back_in_the_form(sheet):
    fan, wrong = changed(sheet, shown(sheet) | {"propeller_ducted": "true"})
    assert wrong == {}
    assert fan.setup().drives[0].propeller.ducted
    assert '<option value="true" selected>fan in a duct</option>' in form(fan, assumed={})
    back, wrong = changed(fan, shown(fan) | {"propeller_ducted": ""})
    assert wrong == {}
    assert back.text == sheet.text


TWIN_FROM_NOTHING = {
    "aircraft_name": "Ferry",
    "aircraft_mass_kg": "3,4 kg",
    "aircraft_span_m": "1830 mm",
    "pack_cells": "5",
    "pack_capacity_mah": "5.2 Ah",
    "leads_area_mm2": "12 AWG",
    "controller_reversing": "true",
    "motor_kv_rpm_per_v": "640",
    "motor_no_load_a": "1.2",
    "propeller_diameter_in": "280 mm",
    "propeller_pitch_in": "7",
    "motors_0_place": "left",
    "motors_0_rotation": "clockwise",
    "motors_1_place": "right",
    "motors_1_rotation": "anticlockwise",
    "motors_1_logged_as": "1",
    "packs_0_name": "short",
    "packs_0_capacity_mah": "4000",
    "configurations_0_name": "skis",
    "configurations_0_mass_kg": "3.65",
    "legs_0_phase": "takeoff",
    "legs_0_seconds": "5",
    "legs_0_throttle": "95",
    "legs_1_phase": "cruise",
    "legs_1_seconds": "4 min",
    "legs_1_airspeed_mps": "60 km/h",
    "receiver_supply_voltage_v": "6",
    "receiver_supply_steady": "5",
}


def test_a_twin_is_described_from_nothing():
    bare = Sheet.from_text("[pack]\ncells = 4\ncapacity_mah = 1000\n", file="own.toml")
    found, wrong = changed(bare, shown(bare) | TWIN_FROM_NOTHING)
    assert wrong == {}
    tables = found.tables
    assert (tables.aircraft.mass_kg, tables.aircraft.span_m, tables.pack.capacity_mah) == (3.4, 1.83, 5200)
    assert tables.leads.area_mm2 == pytest.approx(3.309, abs=0.001)
    assert tables.propeller.diameter_in == pytest.approx(280 / 25.4)
    assert [(m.position, m.rotation, m.logged_as) for m in tables.motors] == [
        ("left", "clockwise", None),
        ("right", "anticlockwise", "1"),
    ]
    assert (tables.packs[0].name, tables.packs[0].capacity_mah) == ("short", 4000)
    assert (tables.configurations[0].name, tables.configurations[0].mass_kg) == ("skis", 3.65)
    assert [leg.seconds for leg in tables.plan.legs] == [5, 240]
    assert tables.plan.legs[1].airspeed_mps == pytest.approx(60 / 3.6)
    assert tables.controller.reversing is True
    assert tables.motor.no_load_points[0].current_a == 1.2
    again, wrong = changed(found, shown(found))
    assert (again.text, wrong) == (found.text, {})


def test_two_packs_that_feed_a_motor_each_are_described_together():
    """Alone, a pack that feeds the left motor leaves the right one without: both come in one step."""
    bare = Sheet.from_text("[pack]\ncells = 5\ncapacity_mah = 3000\n", file="own.toml")
    typed = {
        "motors_0_place": "left",
        "motors_1_place": "right",
        "packs_0_name": "A",
        "packs_0_feeds": "left",
    }
    found, wrong = changed(bare, shown(bare) | typed)
    assert found is None
    assert wrong
    (one, wrong) = changed(bare, shown(bare) | {**typed, "packs_0_feeds": ""})
    assert wrong == {}
    both, wrong = changed(
        one, shown(one) | {"packs_0_feeds": "left", "packs_1_name": "B", "packs_1_feeds": "right"}
    )
    assert wrong == {}
    assert [p.feeds for p in both.tables.packs] == [("left",), ("right",)]


def test_an_entry_whose_fields_are_all_emptied_is_taken_out_and_the_others_stay():
    bare = Sheet.from_text("[pack]\ncells = 4\ncapacity_mah = 1000\n", file="own.toml")
    twin, _ = changed(bare, shown(bare) | TWIN_FROM_NOTHING)
    emptied = {key: "" for key in shown(twin) if key.startswith("legs_0_")}
    found, wrong = changed(twin, shown(twin) | emptied)
    assert wrong == {}
    assert [leg.phase for leg in found.tables.plan.legs] == ["cruise"]
    assert found.tables.motors == twin.tables.motors


def test_an_entry_filled_in_behind_an_empty_one_is_the_next():
    bare = Sheet.from_text("[pack]\ncells = 4\ncapacity_mah = 1000\n", file="own.toml")
    leg = {"legs_2_phase": "cruise", "legs_2_seconds": "60"}
    found, wrong = changed(bare, shown(bare) | leg)
    assert wrong == {"legs_2_phase": "This leg has no throttle, rate of climb or airspeed. Give one of them."}
    found, wrong = changed(bare, shown(bare) | leg | {"legs_2_throttle": "60"})
    assert wrong == {}
    assert [(leg.phase, leg.seconds) for leg in found.tables.plan.legs] == [("cruise", 60)]


def test_what_cannot_be_is_told_at_its_field_in_whichever_entry(sheet):
    typed = {"motors_0_place": "left", "motors_1_arm_m": "0.3", "aircraft_mass_kg": "5 volts"}
    found, wrong = changed(sheet, shown(sheet) | typed)
    assert found is None
    assert set(wrong) == {"motors_1_arm_m", "aircraft_mass_kg"}
    assert "“volts” is no unit of this field. It takes kg, g, lb, oz." in wrong["aircraft_mass_kg"]
    markup = form(sheet, assumed={}, typed=typed, wrong=wrong)
    assert 'href="#f-motors_1_arm_m">Motor 2, from the middle</a>' in markup


def test_a_phase_of_the_owners_own_is_not_lost_in_the_list_of_phases(sheet):
    own = sheet.changed(
        {
            ("plan", "legs", 0, "phase"): "circuits",
            ("plan", "legs", 0, "seconds"): 120,
            ("plan", "legs", 0, "throttle"): 0.5,
        }
    )
    assert '<option value="circuits" selected>circuits</option>' in form(own, assumed={})


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("72 in", "m", 1.8288),
        ("6 ft", "m", 1.8288),
        ("9 lb", "kg", 4.08233),
        ("25 oz", "kg", 0.70874),
        ("0,042 Ω", "mΩ", 42.0),
        ("86 °F", "°C", 30.0),
        ("2.4 kgf", "N", 23.5360),
        ("5,200 Ah", "mAh", 5200.0),
        ("awg 12", "mm²", 3.309),
        ("1013", "hPa", 1013),
    ],
)
def test_units_of_the_owners_liking_are_taken(text, unit, value):
    """Factors of NIST SP 811; AWG of ASTM B258."""
    found, fault = in_unit(text, unit)
    assert fault == ""
    assert found == pytest.approx(value, rel=1e-4)
