"""A set-up sheet is read, or refused in one sentence that names file, table and key."""

import pytest

from telemetry.errors import BadSheet, BadUse
from telemetry.sheet import Sheet, new_sheet_text, read_sheet

PACK = "[pack]\ncells = 5\ncapacity_mah = 5200\n"


def refused(text: str) -> str:
    with pytest.raises(BadSheet) as caught:
        Sheet.from_text(text, file="mail.toml")
    sentence = str(caught.value)
    assert sentence.startswith("mail.toml")
    assert "\n" not in sentence
    return sentence


def test_cells_and_capacity_are_enough():
    setup = Sheet.from_text(PACK).setup()
    assert (setup.pack.cells, setup.pack.capacity_mah, setup.pack.full_cell_v) == (5, 5200.0, 4.20)
    assert setup.mass_kg is None
    assert setup.reserve.fraction == 0.20


def test_without_motors_there_is_one_in_the_middle():
    assert Sheet.from_text(PACK).setup().positions == ("centre",)


def test_the_new_sheet_can_be_read_as_it_is():
    assert Sheet.from_text(new_sheet_text()).setup().pack.cells == 5


def test_the_new_sheet_can_be_read_with_every_remark_taken_away():
    """What is offered in remarks is valid too: each commented key, one at a time."""
    lines = new_sheet_text().splitlines()
    for k, line in enumerate(lines):
        bare = line.removeprefix("# ")
        if (
            line.startswith("# ")
            and " = " in bare
            and not bare.startswith(
                (
                    "legs",
                    "feeds",
                    "position",
                    "rotation",
                    "logged_as",
                    "name",
                    "capacity_mah",
                    "mass_kg = 4.1",
                    "drag_area_m2 = 0.031",
                    "  {",
                )
            )
        ):
            Sheet.from_text("\n".join([*lines[:k], bare, *lines[k + 1 :]]))


@pytest.mark.parametrize(
    ("table", "key", "value", "read", "expected"),
    [
        ("aircraft", "mass_g", 3900, lambda s: s.mass_kg, 3.9),
        ("aircraft", "span_mm", 1830, lambda s: s.span_m, 1.83),
        ("aircraft", "span_in", 72, lambda s: s.span_m, 1.8288),
        ("propeller", "diameter_mm", 304.8, lambda s: s.drives[0].propeller.diameter_m, 0.3048),
        ("propeller", "diameter_m", 0.3048, lambda s: s.drives[0].propeller.diameter_m, 0.3048),
        ("propeller", "pitch_in", 8, lambda s: s.drives[0].propeller.pitch_m, 0.2032),
        ("motor", "resistance_ohm", 0.042, lambda s: s.drives[0].motor.resistance_ohm, 0.042),
        ("motor", "resistance_mohm", 42, lambda s: s.drives[0].motor.resistance_ohm, 0.042),
        ("field", "pressure_hpa", 1013.25, lambda s: s.site.pressure_pa, 101_325.0),
        ("leads", "area_mm2", 4.0, lambda s: s.leads.area_mm2, 4.0),
    ],
)
def test_a_key_may_be_written_in_the_units_of_the_trade(table, key, value, read, expected):
    """One inch is 25.4 mm exactly."""
    assert read(Sheet.from_text(f"{PACK}[{table}]\n{key} = {value}\n").setup()) == pytest.approx(
        expected, rel=1e-12
    )


@pytest.mark.source("ASTM B258, d = 0.127 mm · 92^((36 − n)/39): 12 AWG is 3.309 mm²")
def test_a_wire_may_be_given_by_its_gauge():
    assert Sheet.from_text(f"{PACK}[leads]\nawg = 12\n").setup().leads.area_mm2 == pytest.approx(
        3.309, rel=1e-3
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[pack]\ncells = 0\ncapacity_mah = 5200", ("[pack] cells", "0 is not a number of cells", "1 to 14")),
        ("[pack]\ncells = 5\ncapacity_ah = 5.2", ("capacity_ah", "capacity_mah")),
        ("[pack]\ncells = 5", ("[pack]", "capacity_mah is missing")),
        ("[motor]\nkv_rpm_per_v = 500", ("no [pack]",)),
        (PACK + "[aircraft]\nmass_lb = 8", ("mass_lb", "mass_kg or mass_g")),
        (PACK + "[aircraft]\nmass = 8", ("mass has no unit", "mass_kg or mass_g")),
        (PACK + "[field]\npressure_pa = 101325", ("pressure_pa", "pressure_hpa")),
        (PACK + "[motor]\nkv = 500", ("kv is not a key", "kv_rpm_per_v")),
        (PACK + "[propeler]\npitch_in = 8", ("[propeler]", "[propeller]")),
        (PACK + "[propeller]\ndiametre_in = 12", ("diametre_in", "diameter_in")),
        (PACK + "[aircraft]\nkv_rpm_per_v = 500", ("kv_rpm_per_v", "under [motor]")),
        (PACK + "[propeller]\ndiameter_mm = 3000", ("diameter_mm", "3000", "25.4 to 1524")),
        (
            PACK + "[propeller]\ndiameter_mm = 300\ndiameter_in = 12",
            ("diameter_mm and diameter_in", "Keep one"),
        ),
        (PACK + '[motor]\nkv_rpm_per_v = "500"', ("kv_rpm_per_v", '"500"')),
        (PACK + "[aircraft]\nmass_kg = true", ("mass_kg", "true")),
        (PACK + "[aircraft]\nmass_kg = nan", ("mass_kg", "nan")),
        (PACK + "[leads]\nawg = 60", ("awg", "60", "-3")),
        (PACK + '[[motors]]\nposition = "lefft"', ("lefft", "left", "centre")),
        (PACK + '[[motors]]\nposition = "left"\n[[motors]]\nposition = "left"', ("left", "twice")),
        (
            PACK + '[[motors]]\nposition = "left"\nrotation = "outboard"',
            ("rotation", "clockwise or anticlockwise"),
        ),
        (
            PACK + '[[configurations]]\nname = "skis"\n[configurations.propeller]\npitch_in = 0',
            ("[[configurations]] skis", "[propeller] pitch_in"),
        ),
        (PACK + "[motor]\nratings = [{c_rate = 3}]", ("[motor] ratings 1", "current_a")),
        (PACK + "[motor]\nratings = [{current = 30}]", ("[motor] ratings 1", "current_a")),
        (PACK + '[plan]\nlegs = [{phase = "cruise", seconds = 60}]', ("[plan] legs 1", "airspeed_mps")),
        (PACK + "[motor]\nkv_rpm_per_v 500", ("line 5",)),
        (PACK + "[pack]\ncells = 6", ("line 4",)),
    ],
)
def test_what_a_sheet_cannot_mean_is_refused_by_name(text, words):
    sentence = refused(text)
    for word in words:
        assert word in sentence


def test_a_file_that_is_no_sheet_is_refused(tmp_path):
    picture = tmp_path / "mail.toml"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n\xff\xfe\x00")
    for path in (picture, tmp_path / "nothing.toml", tmp_path):
        with pytest.raises(BadSheet) as caught:
            read_sheet(path)
        assert path.name in str(caught.value)


def test_an_unknown_configuration_or_pack_names_the_known_ones():
    sheet = Sheet.from_text(
        PACK
        + (
            '[[configurations]]\nname = "wheels"\n[[configurations]]\nname = "skis"\n[[packs]]\nname = "No. '
            '2"\n'
        )
    )
    with pytest.raises(BadUse, match=r"skies.*Did you mean skis.*wheels, skis"):
        sheet.setup("skies")
    with pytest.raises(BadUse, match=r"No\. 3.*No\. 2"):
        sheet.setup(pack="No. 3")
