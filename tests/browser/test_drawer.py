"""What is said of a kept flight, changed on its page: saved, undone, cleared."""

import pytest
from playwright.sync_api import expect

from telemetry.logbook import Logbook

pytestmark = pytest.mark.browser

SLOW_MS = 60_000
SHEET = """
[aircraft]
name = "Ferry"
mass_kg = 3.6
[pack]
name = "A"
cells = 5
capacity_mah = 5200
[[packs]]
name = "B"
[motor]
kv_rpm_per_v = 640
[propeller]
diameter_in = 11
pitch_in = 7
[[configurations]]
name = "skis"
mass_kg = 3.9
"""


@pytest.fixture
def place(browser, tmp_path, serving, write_flight):
    sheet = tmp_path / "ferry.toml"
    sheet.write_text(SHEET, encoding="utf-8")
    book = Logbook(tmp_path / "logbook")
    for day, cruise_a in ((1, 20.0), (2, 21.0)):
        book.keep([write_flight(tmp_path / f"2026-06-0{day}.csv", cruise_a)], sheet=sheet)
    with serving(tmp_path / "logbook") as address:
        page = browser.new_page(base_url=address)
        page.goto("/flights/1")
        page.get_by_text("Change what is said of this flight").click(timeout=SLOW_MS)
        yield page, book
        page.close()


def test_a_flight_is_re_assigned_and_the_change_undone(place):
    page, book = place
    drawer = page.locator("#details")
    expect(drawer).to_contain_text("and the timer, trends and open checks of one later flight")
    page.locator("#drawer-configuration").select_option("skis")
    page.locator("#drawer-pack").select_option("B")
    page.fill("#drawer-put_back_mah", "1 640")
    page.fill("#drawer-temperature_c", "4,5")
    page.fill("#drawer-note", "first snow")
    drawer.get_by_role("button", name="Save").click()
    expect(drawer).to_contain_text("Saved, and worked out again.", timeout=SLOW_MS)
    kept = book.flights()[0]
    assert (kept.configuration, kept.pack, kept.put_back_mah, kept.temperature_c, kept.note) == (
        "skis",
        "B",
        1640.0,
        4.5,
        "first snow",
    )
    drawer.get_by_role("button", name="Undo").click()
    expect(drawer).to_contain_text("As it was before.", timeout=SLOW_MS)
    kept = book.flights()[0]
    assert (kept.configuration, kept.pack, kept.put_back_mah, kept.temperature_c, kept.note) == (
        "",
        "",
        None,
        None,
        "",
    )


def test_a_value_is_cleared_again_and_nonsense_is_one_sentence(place):
    page, book = place
    drawer = page.locator("#details")
    page.fill("#drawer-temperature_c", "8")
    drawer.get_by_role("button", name="Save").click()
    expect(drawer).to_contain_text("Saved", timeout=SLOW_MS)
    page.goto("/flights/1")
    page.get_by_text("Change what is said of this flight").click(timeout=SLOW_MS)
    expect(page.locator("#drawer-temperature_c")).to_have_value("8")
    page.fill("#drawer-temperature_c", "warm")
    drawer.get_by_role("button", name="Save").click()
    expect(drawer.get_by_role("alert")).to_contain_text("“warm” is no number.", timeout=SLOW_MS)
    assert book.flights()[0].temperature_c == 8.0
    page.fill("#drawer-temperature_c", "")
    drawer.get_by_role("button", name="Save").click()
    expect(drawer).to_contain_text("Saved", timeout=SLOW_MS)
    assert book.flights()[0].temperature_c is None
