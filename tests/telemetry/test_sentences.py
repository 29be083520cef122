"""The words of findings, answers and headlines."""

from __future__ import annotations

import string
from pathlib import Path

import pytest

from telemetry.finding_table import KINDS
from telemetry.sentences import clock, counted, rating_words, spoken_time, with_limits, words

FINDINGS = sorted(words()["findings"])
FIGURES = (
    "_v",
    "_a",
    "_s",
    "_mah",
    "_c",
    "low",
    "high",
    "value",
    "ratio",
    "margin",
    "left",
    "reserve",
    "residual",
)


def fields(template: str) -> list[tuple[str, str]]:
    return [(name, spec or "") for _, name, spec, _ in string.Formatter().parse(template) if name]


@pytest.mark.parametrize("key", FINDINGS)
def test_every_finding_says_what_happened_what_to_do_and_how_it_is_known(key):
    found = words()["findings"][key]
    assert {"title", "action", "evidence"} <= set(found) <= {"title", "action", "evidence", "why"}
    assert found["title"].endswith(".")


@pytest.mark.parametrize("key", FINDINGS)
def test_no_figure_is_written_without_its_number_of_decimals(key):
    for part in ("title", "action", "evidence"):
        for name, spec in fields(words()["findings"][key][part]):
            assert spec or not name.endswith(FIGURES), f"{key}.{part}: {name} has no format"


def test_times_are_said_as_on_a_watch_and_in_words():
    assert clock(255) == "4:15"
    assert clock(59.6) == "1:00"
    assert spoken_time(255) == "4 min 15 s"
    assert spoken_time(240) == "4 min"
    assert spoken_time(45) == "45 s"


@pytest.mark.parametrize(
    ("figures", "decimals", "written"),
    [
        ((1.068, 1.062, 1.073), 2, "1.068 (1.062–1.073)"),
        ((1.45, 1.41, 1.49), 2, "1.45 (1.41–1.49)"),
        ((18.81, 18.78, 18.84), 1, "18.81 (18.78–18.84)"),
        ((2684.4, 2683.9, 2684.9), 0, "2684 (2684–2685)"),
        ((3.0, 3.0, 3.0), 1, "3.0 (3.0–3.0)"),
        ((-2165.0, -2482.0, -1859.0), 0, "−2165 (−2482 to −1859)"),
        ((0.4, -0.2, 1.0), 1, "0.4 (−0.2 to 1.0)"),
    ],
)
def test_limits_have_the_digits_they_need_and_no_dash_before_a_minus(figures, decimals, written):
    value, low, high = figures
    assert with_limits(value, low, high, decimals=decimals) == written


def test_numbers_of_things_are_said_in_words():
    assert counted("checks_before", count=0) == "Nothing in this log speaks against the next flight"
    assert counted("checks_before", count=1) == "One check before the next flight"
    assert counted("checks_before", count=2) == "Two checks before the next flight"
    assert counted("often", count=2) == "twice"
    assert counted("flights", count=13) == "13 flights"


def test_ratings_are_named_as_the_trade_does():
    assert rating_words("left motor, steadily") == "left motor, continuous"
    assert rating_words("pack, 10 s") == "pack, burst (10 s)"


def test_every_finding_in_the_table_has_words_and_every_word_its_finding():
    assert set(FINDINGS) == set(KINDS)
    for key, kind in KINDS.items():
        assert ("why" in words()["findings"][key]) == (kind.severities != ("note",)), key


def test_another_language_has_every_key_of_english():
    folder = Path(__file__).parents[2] / "telemetry" / "sentences"
    for other in folder.glob("*.toml"):
        assert keys(words(other.stem)) == keys(words("en")), other.name


def keys(table: dict, prefix: str = "") -> set[str]:
    found: set[str] = set()
    for key, value in table.items():
        found |= keys(value, f"{prefix}{key}.") if isinstance(value, dict) else {prefix + key}
    return found


def test_nobody_is_told_that_all_is_optimal():
    text = (Path(__file__).parents[2] / "telemetry" / "sentences" / "en.toml").read_text(encoding="utf-8")
    for never in ("OK", "optimal", "score", "!"):
        assert never not in text
