"""Time columns to seconds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.importers.clock import gaps_of
from telemetry.importers.clock.instants import read_times
from telemetry.importers.clock.order import in_order, share_stamps

N = 300
AMPS = np.where((np.arange(N) // 25) % 2, 12.0, 36.0)


def flown(stamps: list[str], header: str = "time (s)") -> str:
    lines = [f"{s},{20.9 - 0.01 * a:.2f},{a:.1f}" for s, a in zip(stamps, AMPS, strict=False)]
    return "\n".join([f"{header},voltage (V),current (A)", *lines])


def hms(seconds: float, decimals: int = 1) -> str:
    width = 3 + decimals if decimals else 2
    return (
        f"{int(seconds // 3600) % 24:02d}:{int(seconds // 60) % 60:02d}:{seconds % 60:0{width}.{decimals}f}"
    )


@pytest.mark.parametrize(
    ("header", "stamps"),
    [
        ("time (s)", [f"{0.2 * i:.1f}" for i in range(N)]),
        ("time", [f"{0.2 * i:.1f}" for i in range(N)]),
        ("time (ms)", [f"{200 * i}" for i in range(N)]),
        ("time", [f"{200 * i}" for i in range(N)]),
        ("time (µs)", [f"{200_000 * i}" for i in range(N)]),
        ("time (s)", [f"{200 * i}" for i in range(N)]),
        ("time", [f"{i // 300:02d}:{0.2 * (i % 300):04.1f}" for i in range(N)]),
        ("time", [hms(50_000 + 0.2 * i) for i in range(N)]),
        ("time", [hms(86_390 + 0.2 * i) for i in range(N)]),
        ("time", [f"2026-06-14T10:03:{0.2 * i:04.1f}+02:00" if i < 300 else "" for i in range(N)]),
        ("time", [f"{1_750_000_000 + 0.2 * i:.1f}" for i in range(N)]),
        ("time (ms)", [f"{1_750_000_000_000 + 200 * i}" for i in range(N)]),
        ("time (ms)", [f"{(50_000 + 200 * i) % 65_536}" for i in range(N)]),
    ],
)
def test_every_way_of_writing_time_gives_the_same_clock(read, header, stamps):
    trace = read(flown(stamps, header))
    assert np.allclose(trace.time_s, 0.2 * np.arange(N), atol=1e-6)


def test_the_offset_tells_the_files_own_time_in_seconds(read):
    day = read(flown([hms(50_000 + 0.2 * i) for i in range(N)], "time")).sources[0].clock
    assert day.offset_s.value == pytest.approx(-50_000)
    date = (
        read(flown([f"2025-06-15T15:06:{40 + 0.05 * i:05.2f}Z" for i in range(N)], "time")).sources[0].clock
    )
    # 1 750 000 000 s after 1970 is 2025-06-15 15:06:40 UTC
    assert date.offset_s.value == pytest.approx(-1_750_000_000)
    assert date.drift_ppm.value == 0


def test_a_date_and_a_time_of_day_apart_are_one_moment(read):
    lines = [f"15.06.2025;{hms(86_390 + 0.2 * i)};{20.9 - 0.01 * a:.2f};{a:.1f}" for i, a in enumerate(AMPS)]
    trace = read("\n".join(["Datum;Uhrzeit;Spannung (V);Strom (A)", *lines]))
    assert np.allclose(trace.time_s, 0.2 * np.arange(N), atol=1e-6)
    # 2025-06-15 23:59:50 UTC
    assert trace.sources[0].clock.offset_s.value == pytest.approx(
        -(1_750_000_000 - 15 * 3600 - 6 * 60 - 40 + 86_390)
    )


def test_rows_that_share_whole_seconds_are_spread_over_them(read):
    trace = read(flown([hms(50_000 + (i + 3) // 5, 0) for i in range(N)], "time"))
    assert np.allclose(trace.time_s, 0.2 * np.arange(N), atol=0.05)


def test_a_few_equal_stamps_are_left_alone():
    stamps = np.array([0.0, 0.1, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8])
    assert share_stamps(stamps)[0].tolist() == stamps.tolist()


def test_a_row_swapped_over_a_second_that_ten_rows_share_is_no_restart():
    seconds = np.repeat(np.arange(30.0), 10)
    seconds[[149, 150]] = seconds[[150, 149]]
    ordered = in_order(seconds)
    assert ordered.starts == (0,)
    assert ordered.time_s[-1] == 29.0
    assert "out of order" in ordered.said[0]


def test_swapped_rows_are_put_back():
    found = in_order(np.array([0.0, 0.1, 0.3, 0.2, 0.4, 0.5]))
    assert found.time_s.tolist() == [0.0, 0.1, 0.2, 0.3, 0.4, 0.5]
    assert found.rows.tolist() == [0, 1, 3, 2, 4, 5]
    assert "out of order" in found.said[0]


def test_a_restart_goes_on_after_the_old_run_and_is_said(read):
    stamps = [f"{0.2 * i:.1f}" for i in range(150)] * 2
    trace = read(flown(stamps))
    assert np.all(np.diff(trace.time_s) > 0)
    assert trace.duration_s == pytest.approx(0.2 * 299)
    assert any("restarted once" in n.reason for n in trace.sources[0].notes)


def test_two_wraps_of_a_counter_of_sixteen_bits_are_no_restart():
    seconds = (np.arange(1500) * 100 % 65_536) / 1000
    found = in_order(seconds, (65.536,))
    assert np.allclose(np.diff(found.time_s), 0.1)
    assert found.starts == (0,)


def test_a_silence_is_a_gap_and_slow_rows_are_not():
    time_s = np.concatenate([np.arange(0, 20, 0.1), np.arange(28, 50, 0.1)])
    gaps = gaps_of(time_s)
    assert [(round(g.start_s, 1), round(g.end_s, 1)) for g in gaps] == [(19.9, 28.0)]
    # a recorder that slows down to 10 s at rest: rows of open_data's kind
    assert gaps_of(np.concatenate([np.arange(0, 600, 10.0), 600 + np.arange(0, 1, 0.01)])) == ()


def test_the_unit_that_no_header_names_is_said(read):
    column = read(flown([f"{200 * i}" for i in range(N)], "time")).sources[0].columns[0]
    assert (column.unit, column.status) == ("ms", "used")
    assert "steps of 200" in column.reason


@pytest.mark.source("ISO 8601-1 (from memory), checked against Python's datetime")
@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("2026-06-14T10:03:07.25+02:00", 1_781_424_187.25),
        ("20260614T100307Z", 1_781_431_387.0),
        ("2026-06-14T10:03:07,25", 1_781_431_387.25),
        ("2026-06-14 10:03:07", 1_781_431_387.0),
        ("14.06.2026 10:03:07", 1_781_431_387.0),
    ],
)
def test_stamps_of_the_international_standard(text, seconds):
    found = read_times([text, text])
    assert found is not None
    assert found.seconds[0] == pytest.approx(seconds, abs=1e-6)


@given(st.floats(0, 80_000), st.floats(0.02, 2.0), st.integers(20, 200))
@settings(max_examples=60, deadline=None)
def test_a_clock_never_falls_and_loses_no_row(start, step, count):
    day = np.round(start + step * np.arange(count), 3) % 86_400
    found = in_order(day, (86_400.0,))
    assert np.all(np.diff(found.time_s) >= 0)
    assert sorted(found.rows.tolist()) == list(range(count))
    assert found.time_s[-1] - found.time_s[0] == pytest.approx(step * (count - 1), abs=0.01)


@pytest.mark.parametrize("broken", ["40000.0", "0.2", "3.6"])
def test_a_broken_stamp_costs_no_row_and_moves_no_other(read, broken):
    stamps = [f"{30 + 0.2 * i:.1f}" for i in range(N)]
    stamps[120] = broken
    trace = read(flown(stamps))
    assert np.allclose(trace.time_s, 0.2 * np.arange(N), atol=1e-6)
    (jump,) = trace.sources[0].jumps
    assert (jump.kind, jump.start_s) == ("clock", pytest.approx(0.2 * 119))
    assert "the row on line 122 is stamped" in jump.reason


COUNTED = np.round(np.concatenate([[0.0], np.cumsum(0.2 * (AMPS[1:] + AMPS[:-1]) / 2 / 3.6)]), 1)


def counting(stamps: list[str], charge: np.ndarray) -> str:
    rows = [
        f"{s},{20.9 - 0.01 * a:.2f},{a:.1f},{q:.1f}" for s, a, q in zip(stamps, AMPS, charge, strict=True)
    ]
    return "\n".join(["time,voltage (V),current (A),charge (mAh)", *rows])


@pytest.mark.parametrize(
    ("leap_s", "said"),
    [(3600, "forward 1 h"), (-3600, "back 1 h"), (3640, "forward 60 min 40 s"), (40, "forward 40 s")],
)
@pytest.mark.parametrize("day", ["", "2026-10-25 "])
def test_a_clock_that_is_set_while_the_charge_counts_on_is_run_on(read, leap_s, said, day):
    at_s = 50_000 + 0.2 * np.arange(N) + leap_s * (np.arange(N) >= 150)
    trace = read(counting([day + hms(s) for s in at_s], COUNTED))
    assert np.allclose(trace.time_s, 0.2 * np.arange(N), atol=1e-6)
    (note,) = [n for n in trace.sources[0].notes if n.step == "clock jump"]
    # the header stands on line 1
    assert f"{said} before line 152" in note.reason
    assert note.status == "used"


def test_a_charge_that_went_on_meanwhile_is_a_pause(read):
    at_s = 50_000 + 0.2 * np.arange(N) + 3600 * (np.arange(N) >= 150)
    trace = read(counting([hms(s) for s in at_s], np.where(np.arange(N) < 150, COUNTED, COUNTED + 60)))
    assert trace.duration_s == pytest.approx(0.2 * (N - 1) + 3600)
    assert len(trace.gaps) == 1


def test_without_a_counter_an_hour_under_load_is_no_pause(read):
    # 12 A for an hour would be 12 Ah
    at_s = 50_000 + 0.2 * np.arange(N) + 3600 * (np.arange(N) >= 150)
    assert read(flown([hms(s) for s in at_s], "time")).gaps == ()


@pytest.mark.parametrize(("fine_s", "coarse_s"), [(0.1, 1.0), (0.5, 1.0), (0.1, 10.0)])
def test_a_pulse_test_whose_clock_falls_to_a_step_clock_and_returns_keeps_its_time(read, fine_s, coarse_s):
    """Rests of 60 s on the test's clock, pulses of 30 A for 20 s on a clock of their own."""
    own, amps = [], []
    for pulse in range(4):
        rest, on = np.arange(0, 60, coarse_s), np.arange(0, 20, fine_s)
        own += [*(80.0 * pulse + rest), *on]
        amps += [0.0] * rest.size + [30.0] * on.size
    own, amps = [*own, *(320.0 + rest)], [*amps, *([0.0] * rest.size)]
    volts = 4.1 - 0.004 * np.array(amps)
    rows = [f"{t:.1f},{v:.3f},{a:.1f}" for t, v, a in zip(own, volts, amps, strict=True)]
    trace = read("\n".join(["Time (s),Voltage (V),Current (A)", *rows]) + "\n")
    assert trace.time_s[-1] == pytest.approx(380.0 - coarse_s)
    # each pulse, a straight rise over the coarse row before and a fall over its own row after
    pulse_as = 30.0 * (20.0 - fine_s + (coarse_s + fine_s) / 2)
    current = trace.channels["current_a", ""].values
    assert np.trapezoid(current, trace.time_s) == pytest.approx(4 * pulse_as)
