"""Two groups of flights compared in a real browser."""

import pytest
from playwright.sync_api import expect

from telemetry.logbook import Logbook

pytestmark = pytest.mark.browser

SLOW_MS = 60_000


def test_a_group_is_compared_and_its_address_can_be_kept(browser, tmp_path, serving, write_flight):
    book = Logbook(tmp_path / "logbook")
    for number, cruise_a in enumerate((20.0, 20.3, 19.8, 24.2, 24.0, 24.4), start=1):
        book.keep([write_flight(tmp_path / f"2026-06-{number:02d}.csv", cruise_a)])
    with serving(tmp_path / "logbook") as address:
        page = browser.new_page(base_url=address)
        page.goto("/compare")
        page.get_by_label("first group").fill("1-3", timeout=SLOW_MS)
        page.get_by_label("second group").fill("4-6")
        page.keyboard.press("Enter")
        page.wait_for_url("**/compare?first=1-3&second=4-6")
        expect(page.locator("h1")).to_contain_text("Changed: consumption, mAh/min", timeout=SLOW_MS)
        page.reload()
        line = page.locator("#figures tr", has_text="consumption")
        expect(line).to_contain_text("changed", timeout=SLOW_MS)
        page.goto("/compare?first=1-3&second=3-6")
        expect(page.get_by_role("alert")).to_contain_text("flight 3 is in both groups", timeout=SLOW_MS)
        page.close()
