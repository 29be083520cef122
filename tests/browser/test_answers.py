"""Columns named in place, folders, files that are no logs, what is asked before a log is kept: by hand."""

from __future__ import annotations

import re

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

SLOW_MS = 60_000
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
HEAD = "time [s],I1 [A],I2 [A],pack voltage [V],Temp 1,Temp 2"


@pytest.fixture(scope="module")
def place(browser, serving, tmp_path_factory):
    """A page of a dashboard of its own; the tests go on from one another."""
    with serving(tmp_path_factory.mktemp("answers") / "logbook") as address:
        context = browser.new_context(viewport={"width": 1440, "height": 1000}, base_url=address)
        page = context.new_page()
        complaints = []
        page.on("pageerror", lambda e: complaints.append(str(e)))
        page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
        yield page
        context.close()
        assert complaints == []


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder of an afternoon: two logs, one of them without a word that is known, a picture and a list."""
    found = tmp_path_factory.mktemp("afternoon")
    time_s = np.arange(0.0, 120.0, 0.2)
    current = np.where((time_s > 10) & (time_s < 100), 25 + 6 * np.sin(time_s / 3), 0.3)
    voltage = 20.8 - 0.02 * current - time_s * 0.004
    rows = [
        f"{t:.1f},{i / 2:.2f},{i / 2.05:.2f},{v:.3f},{22 + t * 0.1:.0f},{23 + t * 0.2:.0f}"
        for t, i, v in zip(time_s, current, voltage, strict=True)
    ]
    (found / "two.csv").write_text("\n".join([HEAD, *rows]), encoding="utf-8")
    (found / "deeper").mkdir()
    (found / "deeper" / "strange.csv").write_text("\n".join(["qa,qb,qc,qd,qe,qf", *rows]), encoding="utf-8")
    (found / "field.jpg").write_bytes(b"\xff\xd8\xff")
    (found / "list.xlsx").write_bytes(b"PK\x03\x04")
    (found / ".hidden").write_text("of the system", encoding="utf-8")
    return found


def faults(page):
    found = Axe().run(page, options=RULES).response["violations"]
    return [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in found]


def sideways(page):
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


def title(page):
    return page.locator("#bring-headline")


def test_a_folder_is_taken_and_what_is_no_log_in_it_is_refused_by_name(place, folder):
    place.goto("/bring-in")
    place.locator("#log-folder").set_input_files(folder)
    expect(title(place)).to_have_text(
        "1 of 4 files read. 3 questions before all can be read whole.", timeout=SLOW_MS
    )
    refused = place.locator("#dropped-files li.bad")
    expect(refused).to_have_count(3)
    expect(refused.filter(has_text="field.jpg")).to_contain_text("This is a picture, no log.")
    expect(refused.filter(has_text="list.xlsx")).to_contain_text("Save it as CSV text and drop that.")
    expect(place.locator("body")).not_to_contain_text(".hidden")
    expect(place.locator("#sending")).to_be_hidden()
    assert faults(place) == []


def test_each_choice_shows_its_numbers_and_what_it_changes(place):
    form = place.locator("form.doubt")
    choice = form.get_by_role("radio", name=re.compile("pack temperature in °C first 22, lowest 22"))
    choice.first.check()
    effect = form.locator("[data-effect='4']")
    expect(effect).to_contain_text("After: pack temperature, first 22, lowest 22", timeout=SLOW_MS)
    form.get_by_role("radio", name="2 is left, seen from behind").check()
    expect(form.get_by_role("status")).to_contain_text("“I2 [A]” changes with it.", timeout=SLOW_MS)
    expect(form.get_by_role("status")).to_contain_text("After: left current, first 0.15")
    expect(form.get_by_role("checkbox").first).not_to_be_checked()


def test_another_quantity_brings_its_own_places_and_units(place):
    group = place.locator("form.doubt").get_by_role("group", name="What Temp 2 is", exact=True)
    group.get_by_label("what").select_option("cell voltage")
    expect(group.get_by_label("where").locator("option").nth(2)).to_have_text("cell 3")
    group.get_by_label("what").select_option("controller temperature")
    group.get_by_label("where").select_option("left motor")
    group.get_by_label("unit").select_option("°F")
    effect = place.locator("form.doubt [data-effect='5']")
    # 23 °F is −5 °C by definition of the scales
    expect(effect).to_contain_text("After: left controller temperature, first −5", timeout=SLOW_MS)


def test_several_answers_are_read_once_and_listed(place):
    place.locator("form.doubt").get_by_role("button", name="Read again with these answers").click()
    expect(title(place)).to_have_text("1 of 4 files read.", timeout=SLOW_MS)
    given = place.locator("ul.given li")
    expect(given).to_have_count(4)
    expect(given.first).to_contain_text("Temp 1: pack temperature in °C, for this log")
    expect(place.locator("#remembered-answers")).to_be_empty()
    assert faults(place) == []


def test_an_answer_is_forgotten_and_asked_again(place):
    place.get_by_role("button", name="Forget the answer about Temp 1").click()
    expect(place.locator("form.doubt legend").first).to_contain_text("What is “Temp 1”", timeout=SLOW_MS)
    expect(place.locator("ul.given li")).to_have_count(3)


def test_a_refused_log_is_named_column_by_column_and_then_read(place):
    form = place.locator('form.rename[data-file="strange.csv"]')
    for header, what, unit in (("qa", "time", "s"), ("qb", "current", "A"), ("qd", "pack voltage", "V")):
        group = form.get_by_role("group", name=f"What {header} is", exact=True)
        group.get_by_label("what").select_option(what)
        group.get_by_label("unit").select_option(unit)
    expect(form.get_by_role("status")).to_contain_text("The log is then read: 2:00 min:s, ", timeout=SLOW_MS)
    form.get_by_role("checkbox", name="Remember these answers").check()
    form.get_by_role("button", name="Read again with these answers").click()
    expect(title(place)).to_contain_text("2 of 4 files read.", timeout=SLOW_MS)
    remembered = place.locator("#remembered-answers")
    expect(remembered).to_contain_text("qb: current in A")
    remembered.get_by_role("button", name="Forget the answer about qb").click()
    expect(remembered).not_to_contain_text("qb: current", timeout=SLOW_MS)
    expect(remembered).to_contain_text("qd: pack voltage in V")


def test_the_page_is_sound_in_the_dark_and_on_a_phone(place):
    place.emulate_media(color_scheme="dark")
    place.locator("details.renamings summary").first.click()
    place.wait_for_timeout(300)
    assert faults(place) == []
    for width in (390, 320):
        place.set_viewport_size({"width": width, "height": 844})
        place.wait_for_timeout(300)
        assert sideways(place) == 0, width
    assert faults(place) == []
    place.set_viewport_size({"width": 1440, "height": 1000})
    place.emulate_media(color_scheme="light")


def test_before_a_log_is_kept_its_date_configuration_and_pack_are_asked(place, samples):
    place.goto("/bring-in")
    place.locator("#log-files").set_input_files([samples / "saltmarsh_mail.toml", samples / "on_skis.csv"])
    place.wait_for_url(re.compile(r"/flights/d\d+"), timeout=SLOW_MS)
    asked = place.get_by_role("form", name="Before it is kept")
    expect(asked.get_by_label("flown on")).to_have_value("2025-12-14", timeout=SLOW_MS)
    asked.get_by_label("configuration").select_option("skis")
    asked.get_by_label("pack").select_option("B")
    place.wait_for_timeout(300)
    assert [f for f in faults(place) if "plotly" not in str(f)] == []
    asked.get_by_role("button", name="Keep in the logbook").click()
    place.get_by_role("link", name="Kept in the logbook as flight 1").click(timeout=SLOW_MS)
    expect(place.locator("h1")).to_contain_text("skis", timeout=SLOW_MS)


def test_the_same_log_again_is_said_to_be_kept(place, samples, tmp_path):
    again = tmp_path / "again.csv"
    again.write_bytes((samples / "on_skis.csv").read_bytes().replace(b"\r\n", b"\n") + b"\n")
    place.goto("/bring-in")
    place.locator("#log-files").set_input_files(again)
    latest = place.locator("#dropped-files li").first
    expect(latest).to_contain_text("again.csv")
    expect(latest).to_contain_text("Kept already: flight 1.", timeout=SLOW_MS)


def test_a_folder_is_dropped_by_hand(place, folder):
    place.goto("/bring-in")
    files = place.locator("#dropped-files li")
    expect(files).to_have_count(6, timeout=SLOW_MS)
    session = place.context.new_cdp_session(place)
    box = place.locator("#log-drop").bounding_box()
    dragged = {"items": [], "files": [str(folder)], "dragOperationsMask": 1}
    for kind in ("dragEnter", "dragOver", "drop"):
        at = {"x": box["x"] + 50, "y": box["y"] + 30}
        session.send("Input.dispatchDragEvent", {"type": kind, "data": dragged, **at})
    expect(files).to_have_count(10, timeout=SLOW_MS)
    # what is still remembered of strange.csv, its time and its pack's voltage, is enough to read it
    expect(title(place)).to_contain_text("2 of 4 files read.", timeout=SLOW_MS)
