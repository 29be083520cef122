"""The set-up sheet's page on kept flights: what to expect, and what the flights teach it."""

import re

import pytest
from playwright.sync_api import expect

from telemetry.logbook import Logbook
from telemetry.sheet import Sheet

pytestmark = pytest.mark.browser

SLOW_MS = 60_000


@pytest.fixture(scope="module")
def flown(tmp_path_factory, samples, serving):
    """The address of a dashboard whose logbook holds the maiden, flown with the sheet."""
    folder = tmp_path_factory.mktemp("flown") / "logbook"
    Logbook(folder).keep([samples / "maiden.csv"], sheet=samples / "saltmarsh_mail.toml")
    with serving(folder) as address:
        yield address


@pytest.fixture
def page(browser, flown):
    context = browser.new_context(viewport={"width": 1280, "height": 1000}, base_url=flown)
    yield context.new_page()
    context.close()


def interval_a(page):
    """The 95 % interval of the current in level flight, as the page says it."""
    row = page.locator("#expect tr", has_text="current in level flight")
    high, low = (float(t) for t in row.locator(".tol span").all_inner_texts()[:2])
    return high - low


def test_flights_teach_the_sheet_and_it_goes_on_with_what_they_taught(page):
    """The drag, and how hard the drive pulls, are the two great unknowns of a sheet: one flight leaves less
    of both.
    """
    page.goto("/prediction")
    expect(page.locator("h1")).to_contain_text("in level flight", timeout=SLOW_MS)
    before = interval_a(page)
    page.get_by_role("button", name="Learn from the kept flights").click()
    learnt = page.locator("#learnt")
    expect(learnt).to_contain_text("pack resistance", timeout=SLOW_MS)
    expect(learnt.locator("tbody tr").first.locator("td").last).to_have_text("1")
    learnt.get_by_role("button").click()
    expect(page.locator("#sheet")).to_contain_text("with what the flights taught", timeout=SLOW_MS)
    assert interval_a(page) < 0.8 * before


def test_on_a_phone_every_column_of_the_bench_table_is_in_sight(page):
    page.set_viewport_size({"width": 390, "height": 800})
    page.goto("/prediction")
    table = page.locator("#expect table").first
    expect(table).to_be_visible(timeout=SLOW_MS)
    assert table.evaluate("t => t.scrollWidth - t.parentElement.clientWidth") <= 0


def test_the_flight_shows_phase_by_phase_how_far_off_the_sheet_was(page):
    page.goto("/flights/1")
    row = page.locator("#predicted tr", has_text="cruise").first
    expect(row).to_contain_text("%", timeout=SLOW_MS)


def test_a_chemistry_is_chosen_and_saved_and_the_loaded_floor_follows_it(browser, tmp_path, samples, serving):
    """Lithium iron phosphate ends at 3.60 V a cell and bears 2.5 V under load, lithium polymer 4.20 and 3.3 V
    (common practice, no source).
    """
    folder = tmp_path / "logbook"
    own = tmp_path / "own.toml"
    text = (samples / "saltmarsh_mail.toml").read_text(encoding="utf-8")
    unsaid = r"^(chemistry|loaded_cell_v|full_cell_v) = .*\n"
    own.write_text(re.sub(unsaid, "", text, flags=re.MULTILINE), encoding="utf-8")
    Logbook(folder).keep([samples / "maiden.csv"], sheet=own)
    with serving(folder) as address:
        page = browser.new_page(base_url=address)
        page.goto("/prediction")
        chemistry = page.locator("#f-pack_chemistry")
        floor, full = page.get_by_label("floor of a loaded cell"), page.get_by_label("a full cell, at rest")
        expect(chemistry).to_have_value("", timeout=SLOW_MS)
        expect(floor).to_have_attribute("placeholder", "3.30")
        chemistry.select_option(label="lithium iron phosphate")
        expect(floor).to_have_attribute("placeholder", "2.50")
        expect(full).to_have_attribute("placeholder", "3.60")
        page.get_by_role("button", name="Save the sheet").click()
        expect(page.locator("#sheet")).to_contain_text("Saved beside the logs.", timeout=SLOW_MS)
        expect(chemistry).to_have_value("lifepo4")
        expect(floor).to_have_attribute("placeholder", "2.50")
        page.close()
    saved = [Sheet.read(path) for path in folder.rglob("*.toml")]
    assert [s.setup().reserve.loaded_cell_v for s in saved if s.tables.pack.chemistry == "lifepo4"] == [2.5]
