"""The pages on paper: their size, and nothing wider than it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from dashboard import card, report
from telemetry import Sheet, predict, read_log, review
from telemetry.debrief import next_timer

SAMPLES = Path(__file__).parents[2] / "sample_logs"
POINTS_PER_MM = 72 / 25.4
A4_MM, A5_MM = (210, 297), (148, 210)
MARGIN_MM, PIXELS_PER_MM = 14, 96 / 25.4


@pytest.fixture(scope="module")
def sheet():
    return Sheet.read(SAMPLES / "saltmarsh_mail.toml")


@pytest.fixture(scope="module")
def printed(browser, sheet):
    """The report of a run-up, which has the longest tables, and the card: HTML by name."""
    run_up = review(read_log(SAMPLES / "bench_runup.csv"), sheet)
    found, setup = predict(sheet), sheet.setup()
    field_card = card.page(found, setup, next_timer(setup, found, ()))
    return {"report": report.page(run_up), "card": field_card}


def sizes_mm(pdf: bytes) -> list[tuple[int, int]]:
    """Width and height of every page, from its MediaBox."""
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    return [(round(float(w) / POINTS_PER_MM), round(float(h) / POINTS_PER_MM)) for w, h in boxes]


def on_paper(browser, html: str) -> bytes:
    page = browser.new_page()
    page.set_content(html)
    pdf = page.pdf(prefer_css_page_size=True)
    page.close()
    return pdf


@pytest.mark.source("ISO 216:2007: A4 is 210 × 297 mm, A5 148 × 210 mm (from memory)")
def test_the_report_is_on_a4_and_the_card_on_half_of_it(browser, printed):
    assert set(sizes_mm(on_paper(browser, printed["report"]))) == {A4_MM}
    assert sizes_mm(on_paper(browser, printed["card"])) == [A5_MM]


@pytest.mark.source("ANSI/ASME Y14.1: size A is 11 in = 279.4 mm high and wider than A4 (from memory)")
def test_the_words_of_a_page_end_above_the_foot_of_us_letter(browser, printed):
    page = browser.new_page()
    page.set_content(printed["report"])
    rules = page.evaluate(
        "[...document.styleSheets].flatMap(s => [...s.cssRules]).filter(r => r.constructor.name == "
        "'CSSPageRule').map(r => r.cssText)"
    )
    page.close()
    (bottom_mm,) = {
        float(m[1])
        for rule in rules
        if (m := re.search(r"@page \{.*?margin: 14mm 14mm ([\d.]+)mm", rule, re.DOTALL))
    }
    assert A4_MM[1] - bottom_mm <= 279.4 - 6.35  # a quarter of an inch that many printers leave blank


def test_nothing_on_paper_is_wider_than_it(browser, printed):
    page = browser.new_page(
        viewport={"width": int((A4_MM[0] - 2 * MARGIN_MM) * PIXELS_PER_MM), "height": 900}
    )
    page.emulate_media(media="print")
    page.set_content(printed["report"])
    wide = page.evaluate(
        """[...document.querySelectorAll('table, figure, p, h1, h2, svg')]
           .filter(e => e.getClientRects().length)
           .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
           .map(e => e.outerHTML.slice(0, 80))"""
    )
    page.close()
    assert wide == []


def test_a_heading_stays_with_its_words_and_a_drawing_with_its_caption(browser, printed):
    page = browser.new_page()
    page.emulate_media(media="print")
    page.set_content(printed["report"])
    style = (
        "(name, value, where) => [...document.querySelectorAll(where)].every(e => getComputedStyle(e)[name] "
        "=== value)"
    )
    for name, value, where in (
        ("breakAfter", "avoid", "section h2"),
        ("breakInside", "avoid", "figure, tr, .pair2:has(> figure)"),
        ("breakBefore", "avoid", "figure + .fine, .pair2 + .fine, .row > .notes"),
        ("display", "table-header-group", "thead"),
    ):
        assert page.evaluate(f"([n, v, w]) => ({style})(n, v, w)", [name, value, where]), where
        assert page.locator(where).count(), where
    page.close()
