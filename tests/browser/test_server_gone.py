"""A server that is stopped under an open page, and started again on the same port."""

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

SLOW_MS = 60_000


def test_a_stopped_server_is_said_and_the_page_goes_on_when_it_is_back(browser, tmp_path, serving):
    with serving(tmp_path / "book") as address:
        page = browser.new_page(base_url=address)
        page.goto("/prediction")
        page.get_by_role("button", name="Start").first.click(timeout=SLOW_MS)
        page.fill("#f-aircraft_name", "Gull", timeout=SLOW_MS)
    gone = page.locator("#server-gone")
    expect(gone).to_contain_text("was stopped on this computer", timeout=SLOW_MS)
    with serving(tmp_path / "book", int(address.rpartition(":")[2])):
        expect(gone).to_contain_text("is back", timeout=SLOW_MS)
        expect(page.locator("#f-aircraft_name")).to_have_value("Gull")
        expect(gone).to_be_empty(timeout=SLOW_MS)
        page.close()
