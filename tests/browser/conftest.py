"""A real server on this machine and a real browser, both ours alone."""

from __future__ import annotations

import shutil
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest
import waitress
from playwright.sync_api import sync_playwright

from dashboard import request_security
from dashboard.app import make_app

SAMPLES = Path(__file__).parents[2] / "sample_logs"
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(autouse=True, scope="session")
def answers_of_its_own(tmp_path_factory):
    """Answers and settings of the tests stay out of the user's own folder."""
    patch = pytest.MonkeyPatch()
    patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
    yield
    patch.undo()


@pytest.fixture(scope="session")
def browser():
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert found, "the browser tests need Chromium on the PATH; on Debian: apt-get install chromium"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=found, args=FLAGS)
        yield chromium
        chromium.close()


@contextmanager
def _serving(folder: Path, port: int = 0):
    app = make_app(folder)
    running = waitress.create_server(
        app.server,
        host="127.0.0.1",
        port=port,
        threads=8,
        max_request_body_size=request_security.LARGEST_BODY_BYTES,
    )
    thread = threading.Thread(target=running.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{running.effective_port}"
    running.close()
    for connection in list(running._map.values()):  # those that a page left open: their own thread ends them
        connection.will_close = True
    thread.join(timeout=10)
    app.server.extensions["sagline"].close()


@pytest.fixture(scope="session")
def serving():
    """Runs a dashboard on a logbook's folder and gives its address."""
    return _serving


@pytest.fixture(scope="session")
def server(tmp_path_factory):
    """The address of a dashboard on a logbook that starts empty."""
    with _serving(tmp_path_factory.mktemp("book") / "logbook") as address:
        yield address


@contextmanager
def _watched(browser, address: str, **choices):
    context = browser.new_context(
        **({"viewport": {"width": 1440, "height": 1000}, "base_url": address} | choices)
    )
    page = context.new_page()
    complaints: list[str] = []
    page.on(
        "request",
        lambda r: (
            complaints.append(f"asked {r.url}") if not r.url.startswith((address, "data:", "blob:")) else None
        ),
    )
    page.on("pageerror", lambda e: complaints.append(str(e)))
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    yield page
    context.close()
    assert complaints == []


@pytest.fixture(scope="session")
def open_page(browser, server):
    """Opens pages that fail their test when they ask another host, or when their console complains."""
    return lambda **choices: _watched(browser, server, **choices)


@pytest.fixture(scope="module")
def newcomer(browser, tmp_path_factory):
    """Such a page on a dashboard of its own, whose logbook is empty."""
    with _serving(tmp_path_factory.mktemp("new") / "logbook") as address, _watched(browser, address) as page:
        yield page


@pytest.fixture
def page(open_page):
    """One such page."""
    with open_page() as found:
        yield found


@pytest.fixture(scope="session")
def samples() -> Path:
    return SAMPLES
