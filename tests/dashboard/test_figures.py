"""How figures are written."""

import pytest

from dashboard.figures import HARD, THIN, clock, decimals_for, hard, interval, number, signed, spoken
from telemetry.estimate import Estimate


def test_thousands_are_parted_by_a_thin_space_as_iso_80000_1_writes_them():
    # ISO 80000-1:2022, 7.3.1: groups of three by a small space, never a dot or comma
    assert number(12345.6, 1) == f"12{THIN}345.6"


def test_a_minus_is_a_minus_and_zero_has_none():
    assert number(-3.14159, 2) == "−3.14"
    assert number(-0.001, 1) == "0.0"
    assert signed(0.0, 1) == "0.0"
    assert signed(2.34, 1) == "+2.3"


@pytest.mark.parametrize(
    ("seconds", "watch", "words"),
    [
        (255, "4:15", f"4{HARD}min{HARD}15{HARD}s"),
        (59.6, "1:00", f"1{HARD}min"),
        (45, "0:45", f"45{HARD}s"),
        (3720, "62:00", f"62{HARD}min"),
    ],
)
def test_a_watch_reads_minutes_and_seconds(seconds, watch, words):
    assert clock(seconds) == watch
    assert spoken(seconds) == words


@pytest.mark.parametrize(
    ("half_width", "decimals"), [(300, 0), (2.0, 1), (0.3, 1), (0.12, 2), (0.03, 2), (0.004, 3)]
)
def test_digits_follow_the_interval(half_width, decimals):
    # the convention of the GUM (JCGM 100:2008, 7.2.6): an uncertainty is given to two digits at most, the
    # value to match
    assert decimals_for(Estimate.around(5.0, half_width)) == decimals


def test_limits_read_low_to_high_and_carry_signs_where_they_matter():
    assert interval(Estimate(6.8, 5.5, 8.1), 1) == "(5.5–8.1)"
    assert interval(Estimate(0.5, -0.1, 1.1), 1) == "(−0.1 to 1.1)"
    assert interval(Estimate(6.8, 5.5, 8.1), 1, plus=True) == "(+5.5 to +8.1)"


def test_no_figure_is_parted_from_its_unit():
    assert (
        hard("at 25 °C and 48 % left after 6 min 45 s")
        == f"at 25{HARD}°C and 48{HARD}% left after 6{HARD}min 45{HARD}s"
    )
    assert hard("2 motors, 5 cells") == "2 motors, 5 cells"
