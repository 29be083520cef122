"""A server that is stopped under an open page, and started again on the same port."""

import threading

import pytest
import waitress
from playwright.sync_api import expect

from dashboard.app import make_app

pytestmark = pytest.mark.browser

SLOW_MS = 60_000


def started(folder, port):
    app = make_app(folder)
    running = waitress.create_server(app.server, host="127.0.0.1", port=port, threads=4)
    thread = threading.Thread(target=running.run, daemon=True)
    thread.start()

    def stop():
        running.close()
        thread.join(timeout=10)
        for connection in list(running._map.values()):
            connection.close()
        app.server.extensions["sagline"].close()

    return running.effective_port, stop


def test_a_stopped_server_is_said_and_the_page_goes_on_when_it_is_back(browser, tmp_path):
    port, stop = started(tmp_path / "book", 0)
    page = browser.new_page(base_url=f"http://127.0.0.1:{port}")
    page.goto("/prediction")
    page.get_by_role("button", name="Start").first.click(timeout=SLOW_MS)
    page.fill("#f-aircraft_name", "Gull", timeout=SLOW_MS)
    stop()
    gone = page.locator("#server-gone")
    expect(gone).to_contain_text("was stopped on this computer", timeout=SLOW_MS)
    _, stop = started(tmp_path / "book", port)
    expect(gone).to_contain_text("is back", timeout=SLOW_MS)
    expect(page.locator("#f-aircraft_name")).to_have_value("Gull")
    expect(gone).to_be_empty(timeout=SLOW_MS)
    page.close()
    stop()
