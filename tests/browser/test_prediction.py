"""The set-up sheet's page on kept flights: what to expect, and what the flights teach it."""

import re

import pytest
from playwright.sync_api import expect

from telemetry.logbook import Logbook, SaidPack
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
    assert [s.setup().reserve.loaded_cell_v for s in saved if s.tables.pack.chemistry == "lifepo4"] == [
        2.5,
        2.5,
    ]


def test_two_tabs_look_at_two_configurations_and_reload_keeps_each(browser, flown):
    """What is looked at stands in the address: one tab does not change the other's page or card."""
    context = browser.new_context(viewport={"width": 1280, "height": 1000}, base_url=flown)
    wheels, skis = context.new_page(), context.new_page()
    wheels.goto("/prediction")
    skis.goto("/prediction")
    fitted = skis.locator("select[data-address=configuration]")
    expect(fitted).to_be_visible(timeout=SLOW_MS)
    fitted.select_option("skis")
    skis.wait_for_url("**/prediction?configuration=skis")
    expect(skis.locator("h1")).to_contain_text("skis", timeout=SLOW_MS)
    wheels.reload()
    expect(wheels.locator("select[data-address=configuration]")).to_have_value("", timeout=SLOW_MS)
    skis.reload()
    expect(skis.locator("h1")).to_contain_text("skis", timeout=SLOW_MS)
    skis.locator("#nav").get_by_role("link", name="card").click()
    expect(skis.locator(".card")).to_contain_text("skis", timeout=SLOW_MS)
    wheels.goto("/card")
    expect(wheels.locator(".card")).to_be_visible(timeout=SLOW_MS)
    expect(wheels.locator(".card")).not_to_contain_text("skis")
    context.close()


def test_an_address_that_names_what_the_sheet_does_not_have_says_so(page):
    page.goto("/prediction?configuration=floats")
    expect(page.get_by_role("alert")).to_contain_text('no configuration "floats"', timeout=SLOW_MS)
    page.goto("/card?configuration=floats")
    expect(page.locator("#main")).to_contain_text('no configuration "floats"', timeout=SLOW_MS)


def test_a_pack_of_the_logbook_can_be_looked_at_with_a_sheet_that_does_not_know_it(
    browser, tmp_path, samples, serving
):
    folder = tmp_path / "logbook"
    Logbook(folder).keep([samples / "maiden.csv"], sheet=samples / "saltmarsh_mail.toml")
    Logbook(folder).say_pack(SaidPack("Long", 5, 8000.0, "lipo"))
    with serving(folder) as address:
        page = browser.new_page(base_url=address)
        page.goto("/prediction")
        page.locator("select[data-address=pack]").select_option("Long", timeout=SLOW_MS)
        page.wait_for_url("**/prediction?pack=Long")
        page.goto("/card?pack=Long")
        expect(page.locator(".card")).to_contain_text(re.compile(r"8\s?000\s?mAh"), timeout=SLOW_MS)
        page.close()
