"""One who has no log yet: looks around in the invented logbook, and finds the way back."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

SLOW_MS = 120_000


@pytest.fixture(scope="module")
def demo(newcomer):
    """The invented logbook, opened from the empty one."""
    newcomer.goto("/")
    expect(newcomer.locator(".state.empty")).to_contain_text("an invented twin")
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
    expect(demo.locator("h1")).to_contain_text("One check before the next flight", timeout=SLOW_MS)
    for width in (1440, 390):
        demo.set_viewport_size({"width": width, "height": 1000})
        expect(demo.locator(".answer svg:visible")).to_have_count(5)
    demo.set_viewport_size({"width": 1440, "height": 1000})
    demo.go_back()
    expect(demo.locator("table.log tbody tr")).to_have_count(6, timeout=SLOW_MS)


def test_the_season_has_its_page(demo):
    demo.goto("/season")
    expect(demo.locator("h1")).to_contain_text("Cell 3 of pack B was called weak", timeout=SLOW_MS)
    assert demo.locator("#packs svg.plot").count() >= 4
    expect(demo.locator("#nav a[aria-current=page]")).to_have_text("Season")


def test_the_list_is_ordered_by_the_column_pressed(demo):
    demo.goto("/")
    demo.get_by_role("button", name="timer next, full pack, min:s").click()
    expect(demo.locator("th[aria-sort=descending]")).to_contain_text("timer next", timeout=SLOW_MS)
    shown = [
        t for t in demo.locator('td[data-l="timer next, full pack, min:s"]').all_inner_texts() if t.strip()
    ]
    minutes = [int(m) * 60 + int(s) for m, s in (re.search(r"(\d+):(\d\d)", t).groups() for t in shown)]
    assert len(minutes) == 5
    assert minutes == sorted(minutes, reverse=True)


def test_the_way_back_leads_to_ones_own_empty_logbook(demo):
    demo.goto("/")
    demo.get_by_role("button", name="Back to your own logbook").click()
    expect(demo.locator("h1")).to_contain_text("No flights kept yet", timeout=SLOW_MS)
    expect(demo.locator(".invented")).to_have_count(0)


def test_a_doubt_is_settled_by_an_answer_and_never_by_a_careless_press(newcomer, samples, tmp_path):
    text = (samples / "maiden.csv").read_text(encoding="utf-8")
    doubtful = tmp_path / "doubtful.csv"
    doubtful.write_text(
        text.replace("port motor temperature (°C)", "Temp")
        .replace("port ", "motor 1 ")
        .replace("starboard ", "motor 2 "),
        encoding="utf-8",
    )
    newcomer.goto("/bring-in")
    newcomer.locator("#log-files").set_input_files(doubtful)
    form = newcomer.locator("form.doubt")
    expect(form.locator("legend")).to_have_text(
        ["What is “Temp” in doubtful.csv?", "Which motor of doubtful.csv is left?"], timeout=SLOW_MS
    )
    again = form.get_by_role("button", name="Read again with these answers")
    again.click()
    expect(form.get_by_role("status")).to_have_text("No answer is chosen yet.")
    form.get_by_role("radio", name="pack temperature in °C").check()
    again.click()
    expect(form.locator("legend")).to_have_text(["Which motor of doubtful.csv is left?"], timeout=SLOW_MS)
    form.get_by_label("1 is left, seen from behind").check()
    again.click()
    newcomer.wait_for_url(re.compile(r"/flights/d\d+"), timeout=SLOW_MS)
    expect(newcomer.locator("#pair")).to_contain_text("left", timeout=SLOW_MS)


def test_recorders_of_one_flight_become_one_kept_flight(newcomer, samples):
    newcomer.goto("/bring-in")
    newcomer.locator("#together").check()
    newcomer.locator("#log-files").set_input_files(
        [samples / f"three_recorders_{one}.csv" for one in ("receiver", "left", "right")]
    )
    newcomer.wait_for_url(re.compile(r"/flights/d\d+"), timeout=SLOW_MS)
    newcomer.locator("#keep").click()
    expect(newcomer.locator("#keep-words")).to_contain_text(
        "Kept in the logbook as flight 1", timeout=SLOW_MS
    )
    newcomer.locator("#keep-words a").click()
    expect(newcomer.locator(".over").first).to_contain_text("Flight 1", timeout=SLOW_MS)
    newcomer.go_back()
    expect(newcomer.locator("#keep-words")).to_contain_text("flight 1", timeout=SLOW_MS)


def test_everything_on_the_list_is_reached_by_tab_with_its_focus_seen(newcomer):
    newcomer.goto("/")
    expect(newcomer.locator("table.log tbody tr")).to_have_count(1, timeout=SLOW_MS)
    outlined = """() => {
        const e = document.activeElement, box = e.closest(".dash-input-container");
        const ring = (x) => x && getComputedStyle(x).outlineStyle === "solid";
        return [e, box].some((x) => ring(x) && parseFloat(getComputedStyle(x).outlineWidth) >= 3);
    }"""
    reached = []
    for _ in range(30):
        newcomer.keyboard.press("Tab")
        if newcomer.evaluate("document.activeElement === document.body"):
            break
        assert newcomer.evaluate(outlined), newcomer.evaluate("document.activeElement.outerHTML")
        reached.append(
            newcomer.evaluate(
                "document.activeElement.textContent || document.activeElement.id || "
                "document.activeElement.name"
            )
        )
    assert [r for r in reached if r in ("To the page", "Season", "find", "1", "paper")] == [
        "To the page",
        "Season",
        "find",
        "1",
        "paper",
    ]
