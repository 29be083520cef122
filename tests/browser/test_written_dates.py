"""Dates as the browser writes them in every language of the headings are read back."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from telemetry.importers.clock.instants import is_time, read_times
from telemetry.importers.units import vocabulary_file

WRITE = """languages => languages.flatMap(language => ['full', 'long', 'medium', 'short'].flatMap(style =>
  [...Array(12).keys()].map(month => [language, month,
    new Intl.DateTimeFormat(language, {dateStyle: style, timeStyle: 'medium', timeZone: 'UTC'})
      .format(Date.UTC(2026, month, 14, 15, 3, 7))])))"""


@pytest.mark.browser
@pytest.mark.source("Unicode CLDR, through the browser's Intl.DateTimeFormat")
def test_dates_of_every_language_and_style_are_read(browser):
    page = browser.new_page()
    written = page.evaluate(WRITE, [*vocabulary_file()["months"], "en-GB"])
    page.close()
    wrong = []
    for language, month, text in written:
        expected = datetime(2026, month + 1, 14, 15, 3, 7, tzinfo=UTC).timestamp()
        # the day after settles which number is the month
        found = read_times([text, text.replace("14", "15", 1)])
        if not is_time(text) or found is None or found.seconds[0] != expected:
            wrong.append((language, text, found))
    assert len(written) == 13 * 4 * 12
    assert wrong == []
