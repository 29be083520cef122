"""Clocks that leap while the flight goes on, and gaps that are none."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

import telemetry
from telemetry.analysis import flights
from telemetry.signals import cleaned

STEP_S = 0.2
RNG = np.random.default_rng(5)
DAY_S = 86_400.0


def flown(seconds: float = 240.0) -> dict[str, np.ndarray]:
    """A flight of steps of throttle, at rest for the first and last 20 s."""
    time_s = np.arange(0.0, seconds, STEP_S)
    level = np.interp(time_s, np.arange(0, seconds, 7.0), RNG.uniform(0.3, 1.0, int(seconds / 7) + 1))
    level = np.convolve(level, np.ones(5) / 5, mode="same")
    level[(time_s < 20) | (time_s > seconds - 20)] = 0.0
    amps = 40.0 * level**2 + 0.4
    charge = np.cumsum(amps) * STEP_S / 3.6
    return {
        "time_s": time_s,
        "current (A)": np.round(amps + RNG.normal(0, 0.05, time_s.size), 1),
        "voltage (V)": np.round(20.9 - 0.02 * amps - 0.0006 * charge + RNG.normal(0, 0.005, time_s.size), 2),
        "altitude (m)": np.round(40 * np.sin(np.pi * time_s / seconds) ** 2 * (level > 0), 1),
        "charge (mAh)": np.round(charge),
    }


def text(flight: dict[str, np.ndarray], stamps, *, without: tuple[str, ...] = (), header: str = "time (s)"):
    kept = [name for name in flight if name != "time_s" and not name.startswith(without or ("-",))]
    rows = zip(stamps, *(flight[name] for name in kept), strict=True)
    written = [s if isinstance(s, str) else f"{s:.2f}" for s in stamps]
    lines = [",".join([w, *(f"{v:g}" for v in row[1:])]) for w, row in zip(written, rows, strict=True)]
    return "\n".join([",".join([header, *kept]), *lines]) + "\n"


def at(time_s, moment_s):
    return time_s >= moment_s


FLIGHT = flown()
TIME_S = FLIGHT["time_s"]
LEAPS = {
    "an hour forward": TIME_S + 3600 * at(TIME_S, 90),
    "an hour back": TIME_S + 9000 - 3600 * at(TIME_S, 90),
    "forty seconds": TIME_S + 40 * at(TIME_S, 90),
    "thirty days": TIME_S + 30 * DAY_S * at(TIME_S, 90),
    "a year": TIME_S + 365 * DAY_S * at(TIME_S, 90),
    "set by satellite": np.where(at(TIME_S, 90), TIME_S + 1_781_000_000, TIME_S + 3),
    "set by satellite before the take-off": np.where(at(TIME_S, 8), TIME_S + 1_781_000_000, TIME_S + 3),
    "a day back": TIME_S + 2 * DAY_S - DAY_S * at(TIME_S, 90),
    "an hour and back": TIME_S + 3600 * (at(TIME_S, 90) & ~at(TIME_S, 140)),
}


@pytest.mark.parametrize("name", LEAPS)
@pytest.mark.parametrize("without", [(), ("charge",)], ids=["counted", "not counted"])
def test_a_clock_that_leaps_in_a_flight_is_run_on_and_said(read, name, without):
    trace = read(text(FLIGHT, LEAPS[name], without=without))
    # whole rows of the true clock
    assert np.allclose(trace.time_s, TIME_S, atol=0.02)
    assert trace.gaps == ()
    assert [jump.kind for jump in trace.sources[0].jumps] == ["clock"]


def test_the_date_is_that_of_the_part_whose_clock_was_set(read):
    trace = read(text(FLIGHT, LEAPS["set by satellite"]))
    assert trace.sources[0].clock.offset_s.value == pytest.approx(-1_781_000_000, abs=0.1)


@pytest.mark.parametrize(
    ("unit", "a_second", "counts"),
    [("ms", 1e3, 2**32), ("µs", 1e6, 2**32), ("s", 1.0, 2**16), ("ms", 1e3, 2**24)],
    ids=["ms at 32 bits", "µs at 32 bits", "s at 16 bits", "ms at 24 bits"],
)
def test_a_counter_that_is_full_in_the_air_goes_on_from_zero(read, unit, a_second, counts):
    stamps = np.mod(np.round(TIME_S * a_second, 1) + counts - 90 * a_second, counts)
    assert np.sum(np.diff(stamps) < 0) == 1
    trace = read(text(FLIGHT, [f"{s:.1f}" for s in stamps], header=f"time ({unit})"))
    assert np.allclose(trace.time_s, TIME_S, atol=0.02)
    assert trace.gaps == ()
    assert trace.sources[0].jumps == ()


@pytest.mark.parametrize("year", ["1970", "2099"])
def test_one_row_of_another_century_stands_in_its_place(read, year):
    stamps = [f"2026-06-14 10:{int(s // 60):02d}:{s % 60:05.2f}" for s in TIME_S]
    stamps[600] = year + stamps[600][4:]
    trace = read(text(FLIGHT, stamps, header="time"))
    assert np.allclose(trace.time_s, TIME_S, atol=0.02)
    assert "stamped" in trace.sources[0].jumps[0].reason


def test_a_clock_that_counts_rows_for_a_while_and_returns(read):
    stamps = TIME_S + 500.0
    stamps[500:600] = np.arange(100)
    trace = read(text(FLIGHT, stamps))
    assert np.allclose(trace.time_s, TIME_S, atol=0.02)


def test_a_clock_that_counts_rows_from_there_on_keeps_the_pace_that_the_charge_counts_at(read):
    stamps = TIME_S + 500.0
    stamps[500:] = np.arange(TIME_S.size - 500)
    trace = read(text(FLIGHT, stamps))
    assert np.allclose(trace.time_s, TIME_S, atol=0.05)
    assert "5 times as fast" in trace.sources[0].jumps[0].reason


def test_a_clock_set_back_by_two_rows_is_no_row_written_late(read):
    trace = read(text(FLIGHT, TIME_S - 0.4 * at(TIME_S, 90)))
    assert np.allclose(trace.time_s, TIME_S, atol=0.02)


@pytest.mark.parametrize("silent_s", [8, 20, 60])
def test_a_recorder_that_was_off_in_the_air_is_a_gap(read, silent_s):
    keep = ~(at(TIME_S, 90) & ~at(TIME_S, 90 + silent_s))
    part = {name: values[keep] for name, values in FLIGHT.items()}
    trace = read(text(part, part["time_s"]))
    assert trace.sources[0].jumps == ()
    assert len(trace.gaps) == 1
    assert trace.duration_s == pytest.approx(TIME_S[-1])


def test_a_silence_that_looks_like_any_other_moment_is_open(read):
    # the current and voltage stand still: five minutes more of it would look the same
    steady = {"time_s": TIME_S, "current (A)": 20.0 + 0.1 * (np.arange(TIME_S.size) % 3)}
    steady["voltage (V)"] = 20.0 + 0.01 * (np.arange(TIME_S.size) % 2)
    trace = read(text(steady, TIME_S + 300 * at(TIME_S, 90)))
    (jump,) = trace.sources[0].jumps
    assert jump.kind == "clock_open"
    assert "cannot be told" in jump.reason


def test_a_recorder_that_restarts_under_load_leaves_open_how_long_it_was_off(read):
    keep = ~(at(TIME_S, 90) & ~at(TIME_S, 105))
    part = {name: values[keep] for name, values in FLIGHT.items()}
    stamps = np.where(part["time_s"] >= 105, part["time_s"] - 105, part["time_s"])
    part["voltage (V)"] = part["voltage (V)"] - 0.3 * at(part["time_s"], 105)
    jumps = read(text(part, stamps, without=("charge",))).sources[0].jumps
    assert [jump.kind for jump in jumps] == ["clock_open"]


@pytest.mark.parametrize("apart_s", [3600.0, 365 * DAY_S])
def test_another_pack_after_a_silence_is_a_gap_and_costs_no_memory(read, apart_s):
    twice = {name: np.concatenate([values, values]) for name, values in FLIGHT.items()}
    stamps = np.concatenate([TIME_S, TIME_S + TIME_S[-1] + apart_s])
    trace = read(text(twice, stamps))
    assert trace.sources[0].jumps == ()
    assert trace.duration_s == pytest.approx(stamps[-1])
    tracemalloc.start()
    found = flights.find(cleaned(trace))
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(found) == 2
    assert max(f.end_s - f.start_s for f in found) < 300
    assert most < 100e6


def test_the_review_says_that_the_clock_leapt_and_counts_the_charge_once(read):
    found = telemetry.review(read(text(FLIGHT, LEAPS["an hour forward"]))).to_dict()["flights"][0]
    (leapt,) = [f for f in found["findings"] if f["key"] == "clock_jump"]
    assert leapt["severity"] == "note"
    assert "set forward 1 h" in leapt["evidence"]
    # the counter's own last figure
    assert found["capacity"]["consumed_mah"]["value"] == pytest.approx(FLIGHT["charge (mAh)"][-1], rel=0.02)
