"""A flight is taken out of every figure on its page, shown as removed in the list, and brought back there."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from telemetry.logbook import Logbook

pytestmark = pytest.mark.browser

SLOW_MS = 120_000


@pytest.fixture(scope="module")
def two_kept(browser, serving, tmp_path_factory, samples):
    """A dashboard on a logbook of two flights, and the logbook."""
    folder = tmp_path_factory.mktemp("removed") / "logbook"
    book = Logbook(folder)
    logs = [samples / "maiden.csv", samples / "on_skis.csv"]
    book.keep(logs, sheet=samples / "saltmarsh_mail.toml")
    with serving(folder) as address:
        context = browser.new_context(viewport={"width": 1440, "height": 1000}, base_url=address)
        yield context.new_page(), book
        context.close()


def test_a_flight_is_removed_on_its_page_and_restored_in_the_list(two_kept):
    page, book = two_kept
    page.goto("/flights/1")
    page.get_by_role("button", name="Remove from every figure").click(timeout=SLOW_MS)
    expect(page.locator("p.state")).to_contain_text(
        "counts in no figure until it is restored", timeout=SLOW_MS
    )
    assert [f.removed for f in book.flights()] == [True, False]
    page.goto("/")
    removed = page.locator("table.log tbody tr", has_text="removed: counts in no figure")
    expect(removed).to_have_count(1, timeout=SLOW_MS)
    expect(removed.locator('td[data-l="timer next, full pack, min:s"]')).to_have_text("")
    expect(page.locator("h1 .over")).to_contain_text("one flight, one removed")
    removed.get_by_role("button", name="Restore").click()
    expect(page.locator("table.log")).not_to_contain_text("removed", timeout=SLOW_MS)
    assert [f.removed for f in book.flights()] == [False, False]
    expect(page.locator("h1 .over")).to_contain_text("2 flights")
