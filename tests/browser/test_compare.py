"""Two groups of flights compared in a real browser."""

import math

import pytest
from playwright.sync_api import expect

from telemetry.logbook import Logbook

pytestmark = pytest.mark.browser

SLOW_MS = 60_000


def write_log(path, cruise_a):
    lines = ["Time s,Current A,Altitude m"]
    for step in range(600):
        air_s = step / 2 - 30.0
        flying = 0.0 <= air_s <= 240.0
        current_a = cruise_a + 2.0 * math.sin(air_s) if flying else 0.3 + 0.1 * (step % 2)
        height_m = 60.0 * min(1.0, air_s / 20.0, (240.0 - air_s) / 20.0) if flying else 0.0
        lines.append(f"{step / 2:.1f},{current_a:.2f},{height_m + 0.1 * (step % 3):.2f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_group_is_compared_and_its_address_can_be_kept(browser, tmp_path, serving):
    book = Logbook(tmp_path / "logbook")
    for number, cruise_a in enumerate((20.0, 20.3, 19.8, 24.2, 24.0, 24.4), start=1):
        book.keep([write_log(tmp_path / f"2026-06-{number:02d}.csv", cruise_a)])
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
