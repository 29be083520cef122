"""Several recorders on one clock."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from telemetry.errors import BadLog
from telemetry.importers.alignment import align
from telemetry.trace import Trace

_spec = importlib.util.spec_from_file_location(
    "recorder_pairs", Path(__file__).with_name("recorder_pairs.py")
)
pairs = importlib.util.module_from_spec(_spec)
sys.modules["recorder_pairs"] = pairs
_spec.loader.exec_module(pairs)


def errors(seeds) -> tuple[np.ndarray, np.ndarray, float, float]:
    """Offset errors at the flight's middle in samples of the slower log, drift errors, and coverage of
    both.
    """
    samples, drifts, inside_offset, inside_drift = [], [], [], []
    for seed in seeds:
        a, b, offset, drift = pairs.pair(seed)
        clock = align([a, b]).sources[1].clock
        own_zero = -b.sources[0].clock.offset_s.value
        middle = own_zero + b.duration_s / 2
        ours = clock.offset_s.value + (1 + clock.drift_ppm.value * 1e-6) * middle
        truth = offset + (1 + drift * 1e-6) * middle
        interval = max(a.sample_interval_s, b.sample_interval_s)
        samples.append(abs(ours - truth) / interval)
        drifts.append(abs(clock.drift_ppm.value - drift))
        inside_offset.append(clock.offset_s.low <= offset <= clock.offset_s.high)
        inside_drift.append(clock.drift_ppm.low <= drift <= clock.drift_ppm.high)
    return np.array(samples), np.array(drifts), float(np.mean(inside_offset)), float(np.mean(inside_drift))


@pytest.mark.source(
    "our own aim, no source: every clock within one sample, half of them within 0.4, drift within 100 ppm"
)
def test_clocks_ten_minutes_and_300_ppm_apart_are_matched_within_a_sample():
    samples, drifts, in_offset, in_drift = errors(range(12))
    assert samples.max() < 1.0
    assert np.median(samples) < 0.4
    assert np.median(drifts) < 100
    assert in_offset > 0.8
    assert in_drift > 0.8


@pytest.mark.slow
def test_two_hundred_pairs_of_clocks():
    samples, drifts, in_offset, in_drift = errors(range(1000, 1200))
    drift = f"drift median {np.median(drifts):.0f}, 90 % {np.percentile(drifts, 90):.0f} ppm"
    print(
        f"offset median {np.median(samples):.3f}, worst {samples.max():.3f} samples; {drift}; coverage "
        f"{in_offset:.3f}, {in_drift:.3f}"
    )
    assert samples.max() < 1.0
    assert np.median(samples) < 0.4
    assert np.percentile(drifts, 90) < 150
    assert in_offset > 0.9
    assert in_drift > 0.9


@pytest.mark.source("K1: 300 ppm for 600 s are 0.180 s, arithmetic")
def test_a_drift_of_300_ppm_for_600_s_is_0_180_s():
    flown = pairs.flight(5, 620.0)
    keys = {("current_a", ""): "total", ("throttle_fraction", ""): "throttle"}
    a = pairs.recorded(
        flown, keys, rate_hz=20, starts_s=0.0, offset_s=0.0, drift_ppm=0.0, file="a.csv", seed=1
    )
    b = pairs.recorded(
        flown, keys, rate_hz=10, starts_s=0.0, offset_s=0.0, drift_ppm=300.0, file="b.csv", seed=2
    )
    clock = align([a, b]).sources[1].clock
    assert 600 * clock.drift_ppm.value * 1e-6 == pytest.approx(0.180, abs=0.02)


def three(seed: int = 3):
    flown = pairs.flight(seed)
    receiver = pairs.recorded(
        flown,
        {("current_a", ""): "total", ("pack_voltage_v", ""): "voltage"},
        rate_hz=10,
        starts_s=1.0,
        offset_s=0.0,
        drift_ppm=0.0,
        file="receiver.csv",
        seed=1,
    )
    motor = {("current_a", ""): "left", ("rpm", "centre"): "rpm", ("pack_voltage_v", ""): "voltage"}
    left = pairs.recorded(
        flown, motor, rate_hz=20, starts_s=2.5, offset_s=300.0, drift_ppm=120.0, file="mail-left.csv", seed=2
    )
    right = pairs.recorded(
        flown,
        {**motor, ("current_a", ""): "right"},
        rate_hz=20,
        starts_s=0.2,
        offset_s=-100.0,
        drift_ppm=-80.0,
        file="mail-right.csv",
        seed=3,
    )
    return receiver, left, right


def test_two_controllers_take_the_side_that_their_files_name():
    trace = align(three())
    assert trace.positions("current_a") == ("", "left", "right")
    assert trace.positions("rpm") == ("left", "right")
    assert [trace.channels["current_a", p].source for p in ("", "left", "right")] == [0, 1, 2]


def test_nameless_controllers_are_numbered_in_the_order_given():
    receiver, left, right = three()
    nameless = [
        replace(t, sources=(replace(t.sources[0], file=f),))
        for t, f in ((left, "one.csv"), (right, "two.csv"))
    ]
    assert align([receiver, *nameless]).positions("current_a") == ("", "1", "2")


def test_the_motors_are_checked_against_the_total():
    note = next(n for n in align(three()).sources[0].notes if n.step == "alignment")
    assert note.status == "used"
    share = float(note.reason.split("sum to ")[1].split(" %")[0])
    assert share == pytest.approx(99.0, abs=1.5)


def test_rows_are_merged_in_order_and_silent_where_they_are_not_their_own():
    parts = three()
    trace = align(parts)
    assert trace.time_s.size == sum(p.time_s.size for p in parts)
    assert np.all(np.diff(trace.time_s) >= 0)
    left = trace.channels["current_a", "left"]
    assert np.isfinite(left.values).sum() == parts[1].time_s.size
    assert not left.fresh[np.isnan(left.values)].any()
    # the first log sets the clock: its first row is zero, a recorder started before it comes earlier
    assert 0.0 in trace.time_s
    assert trace.time_s[0] < 0


def test_a_channel_that_two_recorders_have_is_taken_from_the_first():
    trace = align(three())
    assert trace.channels["pack_voltage_v", ""].source == 0
    assert [c.status for c in trace.sources[1].columns if c.quantity == "pack_voltage_v"] == ["ignored"]


def test_one_log_stays_as_it_is():
    receiver, *_ = three()
    assert align([receiver]) is receiver


def test_logs_of_different_flights_are_refused():
    a, _, _, _ = pairs.pair(1)
    _, b, _, _ = pairs.pair(2)
    with pytest.raises(BadLog, match=r"correlation|more than one place"):
        align([a, b])


def test_nothing_shared_is_refused():
    a, b, _, _ = pairs.pair(1)
    only_rpm = replace(b, channels={("motor_temperature_c", "left"): b.channels["rpm", "left"]})
    with pytest.raises(BadLog, match=r"left\.csv: it shares no throttle"):
        align([a, only_rpm])


def test_the_same_steps_over_and_over_are_ambiguous():
    time_s = np.arange(0, 200, 0.1)
    steps = np.where((time_s % 20) < 10, 10.0, 30.0) + 0.0
    flown = {"time": time_s, "total": steps, "left": steps / 2}
    a = pairs.recorded(
        flown,
        {("current_a", ""): "total"},
        rate_hz=10,
        starts_s=0.0,
        offset_s=0.0,
        drift_ppm=0.0,
        file="a.csv",
        seed=1,
    )
    b = pairs.recorded(
        {**flown, "time": time_s},
        {("current_a", "left"): "left"},
        rate_hz=10,
        starts_s=40.0,
        offset_s=0.0,
        drift_ppm=0.0,
        file="b.csv",
        seed=2,
    )
    with pytest.raises(BadLog, match="more than one place"):
        align([a, b])


def test_a_log_given_twice_and_one_without_a_clock_are_refused():
    a, b, _, _ = pairs.pair(1)
    with pytest.raises(BadLog, match="same log as"):
        align([a, a])
    with pytest.raises(BadLog, match="neither time nor rate"):
        align([a, replace(b, has_clock=False)])


def moved(b: Trace, change) -> Trace:
    """A recorder's trace whose own clock was changed."""
    return replace(b, time_s=change(b.time_s))


def error_s(a: Trace, b: Trace, changed: Trace) -> float:
    """How far rows of a changed clock land from where those of the unchanged one do, at most. [s]"""
    ours, truth = (align([a, other]) for other in (changed, b))
    rows = [np.sort(t.time_s[np.isfinite(_second(t).values)]) for t in (ours, truth)]
    return float(np.max(np.abs(rows[0] - rows[1])))


def _second(trace: Trace):
    return next(c for c in trace.channels.values() if c.source == 1)


@pytest.mark.parametrize("leap_s", [0.4, 2.0, 20.0])
def test_a_second_clock_that_was_set_in_the_flight_is_run_on_and_said(leap_s):
    a, b, _, _ = pairs.pair(4)
    middle_s = float(np.median(b.time_s))
    changed = moved(b, lambda t: t + leap_s * (t > middle_s))
    # a sample of the slower log
    assert error_s(a, b, changed) < max(a.sample_interval_s, b.sample_interval_s)
    (jump,) = align([a, changed]).sources[1].jumps
    assert f"set forward {leap_s:.1f} s" in jump.reason


@pytest.mark.source("ceramic resonators: half a per cent (common practice, no source)")
@pytest.mark.parametrize("ppm", [2000.0, -4000.0])
def test_a_clock_that_runs_far_too_fast_is_followed_and_its_drift_said(ppm):
    a, b, _, own = pairs.pair(4)
    changed = moved(b, lambda t: t / (1 + ppm * 1e-6))
    source = align([a, changed]).sources[1]
    assert source.clock.drift_ppm.value == pytest.approx(own + ppm, abs=150)
    assert any(f"{source.clock.drift_ppm.value:+.0f} ppm" in n.reason for n in source.notes)


def test_two_recorders_of_one_motor_do_not_make_two_motors():
    flown = pairs.flight(6)
    pack = pairs.recorded(
        flown,
        {
            ("current_a", ""): "total",
            ("cell_voltage_v", "1"): "voltage",
            ("throttle_fraction", ""): "throttle",
            ("motor_temperature_c", "centre"): "rpm",
        },
        rate_hz=10, starts_s=0.0, offset_s=0.0, drift_ppm=0.0, file="pack.csv", seed=1,
    )  # fmt: skip
    motor = pairs.recorded(
        flown,
        {("current_a", "centre"): "total", ("throttle_fraction", ""): "throttle", ("rpm", "centre"): "rpm"},
        rate_hz=5, starts_s=70.0, offset_s=40.0, drift_ppm=30.0, file="controller.csv", seed=2,
    )  # fmt: skip
    trace = align([pack, motor])
    assert trace.positions("current_a") == ("", "centre")
    assert trace.positions("rpm") == ("centre",)
