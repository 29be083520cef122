"""What a sheet does not learn from: another propeller, another pack, a log cut off, a sensor that reads low,
the same flight again.
"""

from dataclasses import replace

import numpy as np
import pytest

from telemetry.comparison.belonging import same_flight
from telemetry.comparison.recalibration import recalibrate
from telemetry.errors import BadUse
from telemetry.sheet import Sheet
from telemetry.simulate import (
    Happening,
    Scenario,
    circuits,
    simulate,
    with_cell,
    with_channels,
    with_fault,
    with_record,
)
from tests.telemetry.comparison.test_recalibration import sheet

FLIGHT = Scenario(legs=circuits(50.0))


def log(scenario, seed, file="flight.csv"):
    """One log of it under a name of its own."""
    trace = simulate(scenario, seed=seed).trace()
    return replace(trace, sources=tuple(replace(s, file=file) for s in trace.sources))


@pytest.fixture(scope="module")
def ordinary():
    return [log(FLIGHT, k, f"flight{k}.csv") for k in (1, 2)]


@pytest.fixture(scope="module")
def taught(ordinary):
    """The sheet after a first lesson."""
    return Sheet.from_text(recalibrate(sheet(), ordinary, date="2026-05-16").sheet_text(), file="mail.toml")


def values(calibration):
    return {p.key: p.new for p in calibration.parameters}


def test_a_flight_without_speeds_leaves_what_an_earlier_lesson_taught(taught):
    """It cannot tell drive, propeller and drag apart; they stay within the doubt they had, and in the
    sheet.
    """
    before = taught.setup().calibration
    poor = with_channels(FLIGHT, without=("rpm", "airspeed_mps", "ground_speed_mps", "current_a@left"))
    again = recalibrate(taught, [log(poor, 3)])
    now = Sheet.from_text(again.sheet_text()).setup().calibration
    assert set(now) == set(before)
    for key, old in before.items():
        assert abs(np.log(now[key].value / old.value)) < 2.0 * old.relative_sd
        assert now[key].relative_sd <= old.relative_sd * 1.001


def test_a_heavier_propeller_is_left_out_and_told(taught):
    """An eighth more power at the same speed, on both sides."""
    heavy = FLIGHT
    for side in ("left", "right"):
        heavy = with_fault(heavy, side, propeller_power=1.15, propeller_thrust=1.10)
    found = recalibrate(taught, [log(FLIGHT, 3, "mine.csv"), log(heavy, 4, "heavy.csv")])
    assert [one.file for one in found.left_out] == ["heavy.csv"]
    assert "another propeller" in found.left_out[0].reason
    with pytest.raises(BadUse, match="no flight left to learn from"):
        recalibrate(taught, [log(heavy, 4, "heavy.csv")])
    assert not recalibrate(taught, [log(heavy, 4, "heavy.csv")], insist=True).left_out


def test_a_pack_of_nearly_twice_the_resistance_is_left_out_and_told(taught):
    aged = FLIGHT
    for cell in range(1, 6):
        aged = with_cell(aged, cell, resistance=1.8)
    found = recalibrate(taught, [log(FLIGHT, 3, "mine.csv"), log(aged, 4, "aged.csv")])
    assert [one.file for one in found.left_out] == ["aged.csv"]
    assert "another" in found.left_out[0].reason and "pack" in found.left_out[0].reason


def test_a_current_a_tenth_below_the_motors_together_is_left_out():
    low = replace(
        FLIGHT,
        recorders=tuple(
            replace(
                r,
                sensors=tuple(
                    replace(s, gain=0.9 * s.gain) if (s.quantity, s.position) == ("current_a", "") else s
                    for s in r.sensors
                ),
            )
            for r in FLIGHT.recorders
        ),
    )
    with pytest.raises(BadUse, match=r"reads 1\d % less than the motors"):
        recalibrate(sheet(), [log(low, 3)])


def test_a_log_that_begins_in_the_air_and_a_cut_motor_are_left_out(ordinary):
    begun = log(with_record(Scenario(legs=circuits(70.0)), from_s=45.0), 3, "begun.csv")
    cut = replace(FLIGHT, happenings=(Happening("cut", "left", 35.0, 8.0),))
    found = recalibrate(sheet(), [ordinary[0], begun, log(cut, 4, "cut.csv")])
    reasons = {one.file: one.reason for one in found.left_out}
    assert "begins in the air" in reasons["begun.csv"]
    assert "cut at" in reasons["cut.csv"]
    assert all(p.flights == 1 for p in found.parameters)


def test_one_log_three_times_is_one_flight_and_none_in_the_next_lesson(ordinary, taught):
    found = recalibrate(sheet(), [ordinary[0]] * 3)
    assert all(p.flights == 1 for p in found.parameters)
    assert len(found.left_out) == 2
    assert "one flight counts once" in found.left_out[0].reason
    with pytest.raises(BadUse, match="has taught the sheet before"):
        recalibrate(taught, ordinary[:1])


def test_a_stretch_of_a_flights_rows_is_that_flight_and_another_flight_is_not():
    rng = np.random.default_rng(5)
    first, second = (20.0 + rng.normal(0.0, 3.0, 4000).round(2) for _ in range(2))
    assert same_flight(first[700:1900], first)
    assert same_flight(first, first[700:1900])
    assert not same_flight(second[700:1900], first)


def test_the_json_lists_what_was_left_out(ordinary):
    found = recalibrate(sheet(), [ordinary[0], ordinary[0]]).to_dict()
    assert found["schema"] == "sagline.calibration/1"
    assert [set(one) for one in found["left_out"]] == [{"file", "reason"}]
