"""A trace as a table, by numbers made by hand."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from telemetry.frames import even_times, grid_step, most_silent
from telemetry.trace import Channel, Trace


def channel(quantity, position, values, fresh, texts=()):
    values = np.array(values, dtype=float)
    return Channel(quantity, position, values, np.array(fresh, dtype=bool), "", 0.1, texts=texts)


@pytest.fixture
def trace() -> Trace:
    found = [
        channel("current_a", "", [10.0, 20.0, 20.0, 40.0], [1, 1, 0, 1]),
        channel("cell_voltage_v", "1", [np.nan, 4.0, 3.8, np.nan], [0, 1, 1, 0]),
        channel("rpm", "left", [np.nan] * 4, [0] * 4),
        channel("event", "", [np.nan, 1.0, 1.0, np.nan], [0, 1, 0, 0], ("", "flaps", "flaps", "")),
    ]
    return Trace(np.array([0.0, 0.1, 0.2, 0.4]), {(c.quantity, c.position): c for c in found})


def test_every_instant_has_a_row_and_what_was_not_fresh_is_nan(trace):
    frame = trace.to_frame()
    assert (frame.index.name, frame.index.tolist()) == ("time_s", [0.0, 0.1, 0.2, 0.4])
    assert list(frame.columns) == ["current_a", "cell_voltage_v@1", "rpm@left", "event"]
    assert frame["current_a"].tolist() == pytest.approx([10.0, 20.0, np.nan, 40.0], nan_ok=True)
    assert frame["cell_voltage_v@1"].tolist() == pytest.approx([np.nan, 4.0, 3.8, np.nan], nan_ok=True)
    assert frame["event"].dropna().to_dict() == {0.1: "flaps"}


def test_an_even_grid_takes_straight_lines_between_fresh_samples(trace):
    frame = trace.to_frame(interval_s=0.1)
    assert frame.index.tolist() == [0.0, 0.1, 0.2, 0.3, 0.4]
    # from 20 A at 0.1 s to 40 A at 0.4 s: the held repeat at 0.2 s is none
    assert frame["current_a"].tolist() == pytest.approx([10.0, 20.0, 80 / 3, 100 / 3, 40.0])
    expected = [np.nan, 4.0, 3.8, np.nan, np.nan]
    assert frame["cell_voltage_v@1"].tolist() == pytest.approx(expected, nan_ok=True)
    assert frame["rpm@left"].isna().all()
    assert "event" not in frame


def test_a_grid_stands_at_whole_multiples_though_a_recorder_began_earlier(trace):
    earlier = Trace(trace.time_s - 0.25, trace.channels)
    assert earlier.to_frame(interval_s=0.1).index.tolist() == [-0.2, -0.1, 0.0, 0.1]


@pytest.mark.parametrize("seconds", [59.8, 600.0, 3599.99])
@pytest.mark.parametrize("interval_s", [0.01, 0.05, 0.1, 0.2])
def test_rounding_costs_no_last_instant(seconds, interval_s):
    last = round(seconds / interval_s) * interval_s
    flown = channel("current_a", "", [1.0, 3.0], [1, 1])
    frame = Trace(np.array([0.0, round(last, 6)]), {("current_a", ""): flown}).to_frame(interval_s)
    assert len(frame) == round(last / interval_s) + 1
    assert frame["current_a"].iloc[-1] == pytest.approx(3.0)


@pytest.mark.parametrize("interval_s", [0.0, -1.0, float("nan"), float("inf")])
def test_an_interval_lies_above_zero(trace, interval_s):
    with pytest.raises(ValueError, match="above zero"):
        trace.to_frame(interval_s)


def test_a_log_without_rows_has_an_empty_table():
    empty = Trace(np.array([]), {})
    assert empty.to_frame().empty
    assert empty.to_frame(0.1).empty


def test_nothing_loads_pandas_before_a_table_is_asked_for():
    code = (
        "import sys, telemetry, telemetry.cli, telemetry.trace, telemetry.importers.log, telemetry.debrief; "
    )
    code += "assert 'pandas' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_a_grid_grows_with_the_samples_and_not_with_a_silence_of_a_year():
    times = np.concatenate([np.arange(0.0, 100.0), 31_536_000.0 + np.arange(100.0)])
    grid = even_times(times, 0.5, most_silent=60.0)
    # twice 99 s, and a minute of the silence
    assert grid.size == pytest.approx((2 * 99 + 60) / 0.5, abs=2)
    assert np.all(np.diff(grid) > 0)
    assert grid[0] == 0.0
    assert times[-1] - 1.0 < grid[-1] < times[-1]
    assert even_times(np.arange(10.0), 0.5, most_silent=60.0).tolist() == np.arange(0.0, 9.0, 0.5).tolist()


@pytest.mark.parametrize("span_s", [1e5, 86_400.0 * 365, 1e12])
def test_the_size_of_a_grid_hangs_on_samples_and_on_no_time_span(span_s):
    samples = 3000
    assert span_s / grid_step(span_s, 0.1, samples) <= 20 * samples + 100_000
    apart_s = np.linspace(0.0, span_s, samples)
    silent_s = most_silent(60.0, 0.5, samples)
    assert even_times(apart_s, 0.5, most_silent=silent_s).size <= 20 * samples + 100_000


def test_a_log_of_three_hours_at_ten_rows_a_second_keeps_a_grid_as_fine_as_wanted():
    assert grid_step(3 * 3600.0, 0.04, 3 * 36_000) == 0.04


def test_a_table_that_would_have_no_end_is_refused_with_its_interval():
    flown = channel("current_a", "", [1.0, 3.0], [1, 1])
    with pytest.raises(ValueError, match="an interval of 1e-09 s makes more than 20000000 rows"):
        Trace(np.array([0.0, 60.0]), {("current_a", ""): flown}).to_frame(interval_s=1e-9)
