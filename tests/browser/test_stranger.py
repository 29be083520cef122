"""One who has no log yet: looks around in the invented logbook, and finds the way back."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

SLOW_MS = 60_000


@pytest.fixture(scope="module")
def demo(newcomer):
    """The invented logbook, opened from the empty one."""
    newcomer.goto("/")
    expect(newcomer.locator(".state.empty")).to_contain_text("a twin that nobody built")
    newcomer.get_by_role("button", name="Open an invented logbook").click()
    expect(newcomer.locator("#demo-state")).to_contain_text("Making the invented logbook", timeout=SLOW_MS)
    expect(newcomer.locator("table.log tbody tr")).to_have_count(6, timeout=SLOW_MS)
    return newcomer


def test_the_empty_logbook_opens_an_invented_one_that_says_so(demo):
    expect(demo.locator(".invented")).to_contain_text("Invented flights of the Saltmarsh Mail")
    expect(demo.locator("table.log tbody tr", has_text="bench run")).to_have_count(1)


def test_the_weak_cell_of_the_other_pack_is_carried_under_the_newest_flight(demo):
    demo.goto("/")
    line = demo.locator(".opening .todo li.is-check", has_text="Cell 3 is weak.")
    expect(line).to_contain_text("pack B; no later flight has cleared it")
    line.get_by_role("link").click()
    expect(demo.locator("h1")).to_contain_text("after one check", timeout=SLOW_MS)
    demo.go_back()
    expect(demo.locator("table.log tbody tr")).to_have_count(6, timeout=SLOW_MS)


def test_the_season_has_its_page(demo):
    demo.goto("/season")
    expect(demo.locator("h1")).to_contain_text("Cell 3 of pack B was called weak", timeout=SLOW_MS)
    assert demo.locator("#packs svg.plot").count() >= 4
    expect(demo.locator("#nav a[aria-current=page]")).to_have_text("Season")


def test_the_list_is_ordered_by_the_column_pressed(demo):
    demo.goto("/")
    demo.get_by_role("button", name="timer next, min:s").click()
    expect(demo.locator("th[aria-sort=descending]")).to_contain_text("timer next", timeout=SLOW_MS)
    shown = [t for t in demo.locator('td[data-l="timer next, min:s"]').all_inner_texts() if t.strip()]
    minutes = [int(m) * 60 + int(s) for m, s in (re.search(r"(\d+):(\d\d)", t).groups() for t in shown)]
    assert len(minutes) == 5
    assert minutes == sorted(minutes, reverse=True)


def test_the_way_back_leads_to_ones_own_empty_logbook(demo):
    demo.goto("/")
    demo.get_by_role("button", name="Back to your own logbook").click()
    expect(demo.locator("h1")).to_contain_text("No flights kept yet", timeout=SLOW_MS)
    expect(demo.locator(".invented")).to_have_count(0)
