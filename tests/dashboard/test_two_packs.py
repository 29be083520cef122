"""A flight on two packs as a page and as a card: both packs are there, by name."""

import re
from html import unescape

import pytest

from dashboard import card, report
from telemetry import review as review_of
from telemetry.debrief import next_timer
from telemetry.prediction import predict
from telemetry.sheet import Sheet
from telemetry.simulate import simulate
from telemetry.simulate.two_packs import SEED, SHEET, two_packs


def words_of(page: str) -> str:
    """What a page says, without its style and its tags."""
    bare = re.sub(r"<(style|script).*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", bare)).split())


@pytest.fixture(scope="module")
def flown():
    return review_of(simulate(two_packs(), seed=SEED).trace(), Sheet.from_text(SHEET, file="two_packs.toml"))


def test_the_report_shows_the_cells_of_both_packs(flown):
    page = report.page(flown)
    words = words_of(page)
    assert "Left pack: All 5 cells sagged alike" in words
    assert "Right pack: Cell 2 sagged" in words
    assert words.count("Cell 5") >= 2
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(set(ids)) == len(ids), "every id once"


def test_the_report_says_which_pack_limits_the_timer(flown):
    words = words_of(report.page(flown))
    assert "Each pack alone would allow" in words
    assert f"pack {flown.flights[0].timer.pack} limits" in words
    assert re.search(r"5S 3.?000.mAh, A; 5S 3.?000.mAh, B", words)


def test_the_card_has_the_figures_and_the_checks_of_both_packs():
    setup = Sheet.from_text(SHEET, file="two_packs.toml").setup()
    prediction = predict(setup)
    timer = next_timer(setup, prediction, (), beside=True)
    page = card.page(prediction, setup, timer)
    words = words_of(page)
    assert "left A, 5S" in words and "right B, 5S" in words
    assert "100 %, left" in words.replace("\u00a0", " ") and "100 %, right" in words.replace("\u00a0", " ")
    assert "drawn, whole plan, left pack" in words and "drawn, whole plan, right pack" in words
    assert f"pack {timer.pack}: then about" in words


def test_mean_current_over_alarm_and_landing_stays_within_the_pack_that_limits():
    setup = Sheet.from_text(SHEET, file="two_packs.toml").setup()
    prediction = predict(setup)
    timer = next_timer(setup, prediction, (), beside=True)
    for one in prediction.packs:
        used_mah = one.flight.mean_current_a.value * (timer.alarm_s + timer.landing_allowance_s) / 3.6
        assert used_mah <= timer.usable_mah
