"""What a doubt may be answered with."""

from __future__ import annotations

from dashboard.pages.questions import choices_for
from telemetry.trace import Column

SPEAKS = Column(
    "Temp", None, "", "", "doubtful", "it speaks of temperature, but not of what; name it to use it"
)


def test_a_temperature_that_the_numbers_forbid_is_not_offered():
    # a motor at 212 °F is as hot as boiling water, 100 °C (by definition of both scales); nothing here runs
    # at 1758
    assert ("motor_temperature_c@left", "left motor temperature, °C") in choices_for(SPEAKS, (14.0, 212.0))
    assert choices_for(SPEAKS, (0.0, 1758.0)) == []
