"""All words of the pages stand in one place."""

import re
from pathlib import Path

import pytest

import dashboard
from dashboard.texts import said, say
from telemetry.quantities import QUANTITIES

SOURCES = [p.read_text(encoding="utf-8") for p in Path(dashboard.__file__).parent.rglob("*.py")]


def test_every_key_that_the_code_names_has_words():
    named = {
        key for text in SOURCES for key in re.findall(r'\b(?:say|pieces)\("([a-z_]+\.[a-z_0-9]+)"', text)
    }
    assert len(named) > 150
    for key in named:
        assert isinstance(said(key, ""), str)
        assert said(key, "missing!") != "missing!", key


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_has_a_name(quantity):
    assert say(f"quantity.{quantity}")


def test_no_words_is_an_error_where_they_are_owed():
    with pytest.raises(KeyError):
        say("no.such_words")
