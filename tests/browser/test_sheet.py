"""The set-up sheet in a real browser: a twin described from nothing by keyboard alone, and what is typed and
not yet sent.
"""

import pytest
from playwright.sync_api import expect

from telemetry.sheet import Sheet

pytestmark = pytest.mark.browser

SLOW_MS = 60_000

TWIN = {
    "aircraft_name": "Ferry",
    "aircraft_mass_kg": "3.6 kg",
    "aircraft_span_m": "72 in",
    "aircraft_wing_area_m2": "0.5",
    "pack_cells": "5",
    "pack_capacity_mah": "5.2 Ah",
    "leads_length_m": "45 cm",
    "leads_area_mm2": "12 AWG",
    "motor_kv_rpm_per_v": "640",
    "motor_no_load_a": "1.2",
    "propeller_diameter_in": "11",
    "propeller_pitch_in": "7",
    "motors_0_place": "left",
    "motors_1_place": "right",
}


def tab_to(page, ident):
    """Go on with the Tab key until a field has the focus."""
    for _ in range(250):
        if page.evaluate("document.activeElement.id") == ident:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{ident} is not reached by keyboard")


def type_into(page, key, text):
    tab_to(page, f"f-{key}")
    if page.evaluate("document.activeElement.tagName") == "SELECT":
        page.keyboard.type(text)
    else:
        page.keyboard.press("Control+A")
        page.keyboard.type(text)


@pytest.fixture
def place(browser, tmp_path, serving):
    """An empty logbook, its page, and where the sheet is saved."""
    folder = tmp_path / "logbook"
    with serving(folder) as address:
        page = browser.new_page(base_url=address)
        page.goto("/prediction")
        page.get_by_role("button", name="Start").first.focus()
        page.keyboard.press("Enter")
        expect(page.locator("form.sheetform")).to_be_visible(timeout=SLOW_MS)
        yield page, folder
        page.close()


def test_a_twin_is_described_by_keyboard_alone_predicted_and_its_card_printed(place):
    page, folder = place
    for key, text in TWIN.items():
        type_into(page, key, text)
    for _ in range(250):
        if page.evaluate("document.activeElement.value") == "save":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#sheet")).to_contain_text("Saved beside the logs.", timeout=SLOW_MS)
    expect(page.locator("h1")).to_contain_text("a timer of", timeout=SLOW_MS)
    (path,) = folder.glob("*.toml")
    setup = Sheet.read(path).setup()
    assert setup.positions == ("left", "right")
    assert setup.pack.capacity_mah == 5200
    page.goto("/card")
    expect(page.locator(".card")).to_contain_text("Ferry", timeout=SLOW_MS)
    assert len(page.pdf(format="A5")) > 10_000


def test_a_refused_form_says_what_is_wrong_takes_the_focus_and_keeps_what_was_typed(place):
    page, _ = place
    page.fill("#f-pack_cells", "5")
    page.fill("#f-aircraft_mass_kg", "heavy")
    page.fill("#f-propeller_blades", "0")
    page.get_by_role("button", name="Work it out again").click()
    summary = page.locator("#form-errors")
    expect(summary).to_contain_text("2 values cannot be taken", timeout=SLOW_MS)
    expect(summary).to_be_focused()
    expect(page.locator("#f-aircraft_mass_kg")).to_have_value("heavy")
    summary.get_by_role("link").last.click()
    expect(page.locator("#f-propeller_blades")).to_be_focused()


def test_what_is_typed_outlives_leaving_the_page_and_is_said_until_it_is_worked_out(place):
    page, _ = place
    page.fill("#f-aircraft_name", "Gull")
    expect(page.locator(".unsaved")).to_have_text("Changed here, not worked out yet.")
    page.goto("/bring-in")
    page.goto("/prediction")
    expect(page.locator("#f-aircraft_name")).to_have_value("Gull", timeout=SLOW_MS)
    expect(page.locator(".unsaved")).to_have_text("Changed here, not worked out yet.")
    page.get_by_role("button", name="Work it out again").click()
    expect(page.locator(".unsaved")).to_have_text("Worked out, not saved yet.", timeout=SLOW_MS)
    expect(page.locator("#f-aircraft_name")).to_have_value("Gull")
