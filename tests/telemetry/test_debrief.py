"""One log in, one review out: the sheet names motors, history sets the timer, silence stays silent."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

import telemetry
from telemetry.debrief import flown_with, timer_with
from telemetry.errors import BadUse
from telemetry.estimate import Estimate, Undecided
from telemetry.history import PastFlight, read_history
from telemetry.importers.log import read_log
from telemetry.season.timer import Timer
from telemetry.sheet import read_sheet
from telemetry.signals.dates import date_of
from telemetry.trace import Trace


@pytest.fixture(scope="module")
def maiden(sample_logs) -> Trace:
    return read_log(sample_logs / "maiden.csv")


@pytest.fixture(scope="module")
def sheet(sample_logs):
    return read_sheet(sample_logs / "saltmarsh_mail.toml")


@pytest.fixture(scope="module")
def reviewed(maiden, sheet):
    return telemetry.review(maiden, sheet)


def numbered(trace: Trace) -> Trace:
    """The same log from a recorder that numbers its motors, the right one first."""
    numbers = {"left": "2", "right": "1"}
    return replace(
        trace,
        channels={
            (q, numbers.get(p, p)): replace(c, position=numbers.get(p, p))
            for (q, p), c in trace.channels.items()
        },
    )


def test_the_sheet_says_which_numbered_motor_is_left(maiden, sheet, reviewed):
    setup = sheet.setup()
    told = replace(
        setup,
        drives=tuple(replace(d, logged_as={"left": "2", "right": "1"}[d.position]) for d in setup.drives),
    )
    found = telemetry.review(numbered(maiden), told)
    assert found.flights[0].motors.positions == ("left", "right")
    assert found.flights[0].motors.pairs[0].current_ratio == reviewed.flights[0].motors.pairs[0].current_ratio


def test_numbers_stay_numbers_when_nobody_says_which_is_left(maiden):
    assert telemetry.review(numbered(maiden)).flights[0].motors.positions == ("1", "2")


def test_a_command_is_counted_from_the_sheets_neutral(maiden, sheet, reviewed):
    setup = sheet.setup()
    key = ("throttle_fraction", "")
    shifted = replace(
        maiden,
        channels={
            **maiden.channels,
            key: replace(maiden.channels[key], values=0.5 + maiden.channels[key].values / 2),
        },
    )
    told = replace(
        setup,
        drives=tuple(
            replace(d, controller=replace(d.controller, neutral_fraction=0.5)) for d in setup.drives
        ),
    )
    commands = telemetry.review(shifted, told).trace.fresh("throttle_fraction").values
    assert commands == pytest.approx(reviewed.trace.fresh("throttle_fraction").values)


def test_the_timer_rests_on_history_and_the_flight_reviewed(maiden, sheet, sample_logs):
    history = read_history(sample_logs / "history.csv")
    wheels = [row for row in history if row.configuration == ""]
    found = telemetry.review(maiden, sheet, history)
    assert found.flights[0].timer.flights_used == len(wheels) + 1
    (row,) = flown_with(found, found.flights[0])
    assert row.consumed_mah == found.flights[0].capacity.consumed_mah.value


def test_a_flight_shares_its_weather_with_the_others_of_its_day(maiden, sheet):
    earlier = [PastFlight(300.0 + 10 * n, 1750.0 + 40 * n * (-1) ** n) for n in range(4)]
    same, other = ([replace(row, date=day) for row in earlier] for day in ("2025-04-06", "2025-04-05"))
    found = telemetry.review(maiden, sheet, same)
    assert flown_with(found, found.flights[0])[0].date == "2025-04-06"
    # five flights on one day know less of the next than four on one and one on another
    assert found.flights[0].timer.alarm_s < telemetry.review(maiden, sheet, other).flights[0].timer.alarm_s


@pytest.mark.parametrize("first_s", [0.0, 48_005.0, 5e9, 1.7e12, 1e300])
def test_a_clock_that_knows_no_date_gives_none(maiden, first_s):
    clock = replace(maiden.sources[0].clock, offset_s=Estimate.around(-first_s, 0.0, "its own"))
    assert date_of(replace(maiden, sources=(replace(maiden.sources[0], clock=clock),)), 0.0).text == ""


def test_a_bench_run_is_no_flight_of_the_history(sample_logs, sheet):
    run_up = telemetry.review(read_log(sample_logs / "bench_runup.csv"), sheet)
    assert run_up.flights[0].flight.is_bench
    assert flown_with(run_up, run_up.flights[0]) == ()
    assert run_up.flights[0].bench is not None


def test_wishing_for_more_certainty_or_reserve_never_lengthens_the_timer(reviewed):
    one = reviewed.flights[0]
    wished = {"confidence": 0.9, "reserve_fraction": 0.2, "landing_allowance_s": 60.0}
    base = timer_with(reviewed, one, **wished)
    for change in ({"confidence": 0.99}, {"reserve_fraction": 0.3}, {"landing_allowance_s": 120.0}):
        other = timer_with(reviewed, one, **{**wished, **change})
        assert isinstance(base, Timer)
        assert isinstance(other, Timer)
        assert other.alarm_s < base.alarm_s


def test_without_a_sheet_all_that_needs_none_is_there(maiden):
    one = telemetry.review(maiden).flights[0]
    assert isinstance(one.pack.resistance_1s_ohm, Estimate)
    assert isinstance(one.capacity.consumed_mah, Estimate)
    assert one.answer("cells").verdict == "sound"
    assert one.answer("pair").verdict == "even"
    assert isinstance(one.timer, Undecided)
    assert isinstance(one.comparison.residuals, Undecided)


def test_a_log_without_time_integrates_nothing(tmp_path, sheet):
    rng = np.random.default_rng(1)
    counted = np.arange(200) * 12.0
    rows = "\n".join(f"{20 - 0.005 * i + 0.01 * rng.normal():.2f},{c:.0f}" for i, c in enumerate(counted))
    log = tmp_path / "no_time.csv"
    log.write_text(f"Pack voltage [V],Capacity used [mAh]\n{rows}\n", encoding="utf-8")
    found = telemetry.review(read_log(log), sheet).to_dict()
    flight = found["flights"][0]
    assert flight["capacity"]["consumed_mah"]["value"] == pytest.approx(counted[-1], abs=1.0)
    assert flight["capacity"]["energy_wh"] is None
    assert flight["current"]["rms_a"] is None
    assert found["duration_s"] is None
    assert json.dumps(found, allow_nan=False)


def test_a_configuration_without_a_sheet_is_refused(maiden):
    with pytest.raises(BadUse, match="without a set-up sheet"):
        telemetry.review(maiden, configuration="skis")


def test_a_review_leaves_its_trace_as_it_was(maiden, sheet):
    before = {key: channel.values.copy() for key, channel in maiden.channels.items()}
    telemetry.review(maiden, sheet, [PastFlight(300.0, 2000.0)])
    for key, values in before.items():
        assert np.array_equal(values, maiden.channels[key].values, equal_nan=True)
