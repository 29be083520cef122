"""From a dropped log to its debrief, on a real server in a real browser."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

SLOW_MS = 60_000
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


def drop(page, *paths):
    page.goto("/bring-in")
    page.locator("#log-files").set_input_files(list(paths))


@pytest.fixture(scope="module")
def flight(open_page, samples):
    """The page of a flight just dropped with its sheet, and not kept; several tests look at it in turn."""
    with open_page() as page:
        drop(page, samples / "saltmarsh_mail.toml", samples / "weak_cell.csv")
        page.wait_for_url(re.compile(r"/flights/d\d+"), timeout=SLOW_MS)
        page.wait_for_selector(".js-plotly-plot .main-svg", timeout=SLOW_MS)
        yield page


@pytest.fixture
def dropped(flight):
    """Its address."""
    return re.search(r"/flights/d\d+", flight.url).group()


def debrief(page, address):
    page.goto(address)
    page.wait_for_selector(".js-plotly-plot .main-svg", timeout=SLOW_MS)


def sideways(page):
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


SHOWN = (
    "[...document.querySelectorAll('[data-plot] .js-plotly-plot')].slice(0, 2).map(p => "
    "p.layout.xaxis.range.map(Math.round))"
)
"""The part of the flight that the first two plots show, in seconds."""


def until(page, script, value):
    """Wait for the page to come to a value; its content policy forbids the browser's own way of waiting."""
    for _ in range(100):
        if page.evaluate(script) == value:
            return
        page.wait_for_timeout(200)
    assert page.evaluate(script) == value


def faults(page):
    """What axe finds by WCAG 2.2 A and AA, plotly's own drawing apart."""
    found = Axe().run(page, context={"exclude": [[".js-plotly-plot"]]}, options=RULES).response["violations"]
    return [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in found]


def test_a_dropped_log_becomes_a_debrief(flight):
    expect(flight.locator("h1")).to_contain_text("before the next flight")
    expect(flight.locator(".answer")).to_have_count(5)
    expect(flight.locator(".answer").first).to_contain_text("cell 3 is weak")
    expect(flight.locator(".cells-wide svg.plot")).to_have_count(5)
    expect(flight.locator("#timer .caution")).to_contain_text("Local rules and licensed practice come first")
    assert faults(flight) == []


def test_a_file_that_is_no_log_is_one_sentence(page, tmp_path):
    picture = tmp_path / "holiday.csv"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20)
    drop(page, picture)
    refusal = page.locator("li.bad")
    expect(refusal).to_contain_text("Not read.", timeout=SLOW_MS)
    expect(refusal).to_contain_text("holiday.csv")
    expect(page.locator("body")).not_to_contain_text("Traceback")
    refusal.get_by_role("button").click()
    expect(page.locator("li.bad")).to_have_count(0)


def test_hostile_names_are_shown_as_text(page, samples, tmp_path):
    lines = (samples / "weak_cell.csv").read_text(encoding="utf-8").splitlines()
    header = next(i for i, line in enumerate(lines) if "\t" in line)
    lines[header] += "\t<script>window.pwned=1</script>"
    lines[header + 1 :] = [f"{line}\tx" for line in lines[header + 1 :]]
    hostile = tmp_path / "<img src=x onerror=window.pwned=1>.csv"
    hostile.write_text("\n".join(lines), encoding="utf-8")
    drop(page, hostile)
    page.wait_for_url(re.compile(r"/flights/d\d+"), timeout=SLOW_MS)
    page.goto("/bring-in")
    expect(page.locator("table.cols").first).to_contain_text(
        "<script>window.pwned=1</script>", timeout=SLOW_MS
    )
    assert page.evaluate("window.pwned") is None


def test_all_plots_over_time_zoom_together_by_hand_and_by_key(flight):
    flight.locator("#window-from").fill("1:00")
    flight.locator("#window-from").press("Enter")
    flight.locator("#window-to").fill("2:00")
    flight.locator("#window-to").press("Enter")
    until(flight, SHOWN, [[60, 120], [60, 120]])
    flight.locator('[data-plot="current"]').focus()
    flight.keyboard.press("+")
    until(flight, SHOWN, [[75, 105], [75, 105]])
    flight.keyboard.press("0")
    expect(flight.locator("#window-from")).to_have_value("0:00", timeout=SLOW_MS)


def test_other_wishes_move_the_alarm(flight):
    flight.locator("#wish-reserve").fill("40")
    flight.locator("#wish-reserve").press("Tab")
    expect(flight.locator("#wished")).to_contain_text(
        "With these wishes the alarm from a full pack would be", timeout=SLOW_MS
    )
    expect(flight.locator("#drag-reserve")).to_have_value("40")


def test_a_number_opens_its_note(flight):
    flight.locator('a.n[href="#how-peak"]').first.click()
    expect(flight.locator("#how-peak")).to_be_visible()


def test_a_dropped_log_is_kept_when_told_to(flight, page):
    flight.locator("#keep").click()
    expect(flight.locator("#keep-words")).to_contain_text("Kept in the logbook as flight 1", timeout=SLOW_MS)
    page.goto("/")
    expect(page.locator("table.log tbody tr")).to_have_count(1, timeout=SLOW_MS)
    expect(page.locator("table.log")).to_contain_text("Cell 3 is weak.")


def test_the_sheet_can_be_changed_and_says_what_is_wrong(page, dropped):
    page.goto("/prediction")
    page.locator("#f-propeller_blades").fill("0")
    page.get_by_role("button", name="Work it out again").click()
    expect(page.locator("#f-propeller_blades-d")).to_contain_text(
        "0 is not a number of blades", timeout=SLOW_MS
    )
    page.locator("#f-propeller_blades").fill("3")
    page.get_by_role("button", name="Work it out again").click()
    expect(page.locator("#sheet")).to_contain_text("it is not saved yet", timeout=SLOW_MS)


PLACES = ("/", "/season", "/bring-in", "/prediction", "/card", "/flights/99")


def look_at(page, path):
    page.goto(path)
    page.wait_for_selector("#main h1, #main .card", timeout=SLOW_MS)
    page.wait_for_timeout(200)


def test_every_page_is_sound_for_those_who_hear_it(page, dropped):
    for path in PLACES:
        look_at(page, path)
        assert faults(page) == [], path


def test_dark_paper_has_the_same_contrast(page, dropped):
    page.emulate_media(color_scheme="dark")
    debrief(page, dropped)
    page.wait_for_timeout(500)
    assert faults(page) == []
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(28, 30, 31)"
    inked = (
        "[...document.querySelectorAll('[data-plot=current] .js-line')].some(line => line.style.stroke === "
        "'rgb(236, 234, 228)')"
    )
    until(page, inked, True)


def test_no_page_scrolls_sideways(page, dropped):
    for width in (1440, 390, 320):
        page.set_viewport_size({"width": width, "height": 900})
        debrief(page, dropped)
        page.wait_for_timeout(500)
        assert sideways(page) == 0, width
        if width == 320:
            for path in PLACES:
                look_at(page, path)
                assert sideways(page) == 0, path
