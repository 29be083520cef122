"""What is written into a sheet leaves its owner's words alone, and is read back the same."""

import pytest

from telemetry.errors import BadSheet
from telemetry.sheet import Sheet
from telemetry.sheet.merging import drive_text, pack_text
from telemetry.sheet.setup import Calibrated
from telemetry.sheet.writing import calibrated_text

SHEET = """# the Mail's own sheet
[pack]
cells = 5            # the old ones
capacity_mah = 5200
[motor]
kv_rpm_per_v = 640
[[configurations]]
name = "on skis, in snow"
drag_area_m2 = 0.055
[[configurations]]
name = "new motor"
[configurations.motor]
kv_rpm_per_v = 700
"""
GAIN = Calibrated(0.982, 0.006, 3, "2026-05-16")
POWER = Calibrated(1.041, 0.02, 3, "2026-05-16", -0.7)
PACK = Calibrated(1.2, 0.05, 3, "2026-05-16")
DRAG = Calibrated(1.1, 0.08, 3, "2026-05-16")


def learnt(sheet: Sheet, configuration: str, **values) -> Sheet:
    setup = sheet.setup(configuration)
    text = calibrated_text(
        sheet.text,
        values,
        configuration=configuration,
        drive=drive_text(setup.drives),
        pack=pack_text(setup.pack),
    )
    return Sheet.from_text(text)


def test_a_calibration_is_read_back_as_it_was_written():
    new = learnt(Sheet.from_text(SHEET), "", drive_gain=GAIN, propeller_power=POWER, pack_resistance=PACK)
    assert new.setup().calibration == {"drive_gain": GAIN, "propeller_power": POWER, "pack_resistance": PACK}


def test_the_owners_remarks_stay():
    new = learnt(Sheet.from_text(SHEET), "", drive_gain=GAIN)
    assert new.text.startswith(SHEET.rstrip())
    assert "# the old ones" in new.text


def test_drag_belongs_to_its_configuration_and_the_drive_to_all():
    first = learnt(Sheet.from_text(SHEET), "", drive_gain=GAIN, drag=DRAG)
    second = learnt(first, "on skis, in snow", drive_gain=GAIN, drag=Calibrated(1.3, 0.1, 1))
    assert second.setup().calibration["drag"] == DRAG
    skis = second.setup("on skis, in snow").calibration
    assert skis["drag"].value == 1.3
    assert skis["drive_gain"] == GAIN


def test_a_new_motor_starts_the_drive_afresh_and_keeps_the_pack():
    new = learnt(Sheet.from_text(SHEET), "", drive_gain=GAIN, propeller_power=POWER, pack_resistance=PACK)
    assert set(new.setup("new motor").calibration) == {"pack_resistance"}
    assert new.setup("new motor").outdated == ("drive_gain", "propeller_power")
    assert new.setup().outdated == ()
    assert set(new.changed({("motor", "kv_rpm_per_v"): 660}).setup().calibration) == {"pack_resistance"}


def test_another_pack_starts_its_resistance_afresh():
    new = learnt(Sheet.from_text(SHEET), "", drive_gain=GAIN, pack_resistance=PACK)
    assert set(new.changed({("pack", "capacity_mah"): 4000}).setup().calibration) == {"drive_gain"}


def test_a_second_calibration_replaces_the_first():
    twice = learnt(
        learnt(Sheet.from_text(SHEET), "", drive_gain=GAIN, propeller_power=POWER),
        "",
        drive_gain=Calibrated(0.97, 0.004, 6),
    )
    assert twice.text.count("[calibration]") == 1
    assert set(twice.setup().calibration) == {"drive_gain"}


def test_a_value_can_be_changed_in_place_and_is_checked():
    sheet = Sheet.from_text(SHEET)
    assert "cells = 6            # the old ones" in sheet.changed({("pack", "cells"): 6}).text
    assert sheet.changed({("aircraft", "mass_kg"): 4.0}).setup().mass_kg == 4.0
    assert sheet.changed({("motor", "kv_rpm_per_v"): None}).setup().drives[0].motor.kv_rpm_per_v is None
    with pytest.raises(BadSheet, match="cells"):
        sheet.changed({("pack", "cells"): 0})
