"""What other programs do to a log when they save it: sentences above it, turned rows, split headings."""

from __future__ import annotations

import numpy as np
import pytest

SWEEP = [(2.0 * i, 1050 + 95 * i, 11.1 - 0.02 * i, 0.4 + 1.2 * i, 500 * i) for i in range(11)]


def sweep(header="time (s),command (µs),voltage (V),current (A),rpm", rows=SWEEP):
    return "\n".join([header, *(",".join(f"{x:g}" for x in row) for row in rows)]) + "\n"


def test_a_sentence_above_a_table_in_line_is_no_row_of_headings(read):
    names = ["time (s)", "cell 1 (V)", "cell 2 (V)", "cell 3 (V)", "pack current (A)"]
    told = ["Line 1 of the recorder's own story, version 1.1", "Line 2 of it, version 1.2"]
    lines = ["  ".join(n.rjust(16) for n in names)]
    for i in range(200):
        amps = 20.0 if (i // 20) % 2 else 0.0
        cells = [0.1 * i, *(4.1 - 0.004 * amps - 0.001 * n - 1e-4 * i for n in range(3)), amps + 0.1]
        lines.append("  ".join(f"{x:16.3f}" for x in cells))
    trace = read("\n".join([*told, *lines]) + "\n")
    assert trace.positions("cell_voltage_v") == ("1", "2", "3")
    assert trace.positions("current_a") == ("",)


def test_a_log_saved_with_the_newest_row_first_is_turned_round(read):
    trace, turned = read(sweep()), read(sweep(rows=SWEEP[::-1]))
    assert turned.duration_s == pytest.approx(20.0)
    assert np.array_equal(turned.channels["current_a", ""].values, trace.channels["current_a", ""].values)
    assert any("newest row stands first" in n.reason for n in turned.sources[0].notes)


@pytest.mark.parametrize("mark", [-9999, -32768, 9999.99, 65535])
def test_one_mark_in_eleven_rows_turns_no_sign(read, mark):
    rows = [list(row) for row in SWEEP]
    rows[4][3] = mark
    amps = read(sweep(rows=rows)).channels["current_a", ""].values
    assert np.isnan(amps[4])
    assert np.nanmax(amps) == pytest.approx(12.4)
    assert np.nanmin(amps) == pytest.approx(0.4)


@pytest.mark.parametrize(("unit", "size"), [("s", 1), ("ms", 1000), ("µs", 1_000_000)])
def test_a_count_since_1970_under_date_and_time_is_the_clock(read, unit, size):
    rows = [(f"{(1_770_000_000 + row[0]) * size:.0f}", *row[1:]) for row in SWEEP]
    head = f"date and time ({unit}),command (µs),voltage (V),current (A),rpm"
    trace = read("\n".join([head, *(",".join(map(str, row)) for row in rows)]) + "\n")
    assert trace.duration_s == pytest.approx(20.0)
    assert trace.sources[0].columns[0].quantity == "time_s"


@pytest.mark.parametrize(
    "heading", ["Elektrické otáčky", "Giri elettrici", "Velocità elettrica", "Elektryczne obroty", "eRPM"]
)
def test_electrical_speed_is_never_read_as_the_shaft_s(read, heading):
    trace = read(sweep(f"time (s),command (µs),voltage (V),current (A),{heading} (rpm)"))
    assert trace.positions("rpm") == ()
    assert trace.sources[0].columns[4].status == "doubtful"


def test_headings_in_two_rows_may_leave_the_lower_place_empty(read):
    upper = "time (s),command (µs),voltage (V),motor,"
    lower = ",,,current (A),speed (rpm)"
    trace = read(sweep(f"{upper}\n{lower}"))
    assert set(trace.channels) == {
        ("throttle_fraction", ""),
        ("pack_voltage_v", ""),
        ("current_a", ""),
        ("rpm", "centre"),
    }


def test_a_row_that_begins_with_a_table_program_s_fault_is_left_out_and_said(read):
    lines = sweep().splitlines()
    lines.insert(6, "#VALUE!,1430,11,4,2000")
    lines.insert(3, "# 3,1430,11,4,2000")
    trace = read("\n".join(lines))
    assert [(r.line, r.kind, r.column) for r in trace.sources[0].rejected] == [(8, "time", "time (s)")]
    assert trace.time_s.size == 11


def test_a_hundred_thousandth_of_a_day_is_a_second(read):
    rows = [(46_095.43 + row[0] * 5 / 86_400, *row[1:]) for row in SWEEP]
    head = "date and time,command (µs),voltage (V),current (A),rpm"
    body = [",".join([f"{row[0]:.9f}", *(f"{x:g}" for x in row[1:])]) for row in rows]
    assert read("\n".join([head, *body]) + "\n").duration_s == pytest.approx(100.0, abs=0.001)
