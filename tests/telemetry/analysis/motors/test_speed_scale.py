"""A speed that reads a constant factor off is no uneven pair and no failing motor."""

from __future__ import annotations

from dataclasses import replace

import pytest

from telemetry.analysis.motors import analyse
from telemetry.estimate import Undecided
from telemetry.sheet.setup import Drive, Motor
from telemetry.signals import signals_of


def scaled(trace, side, factor):
    one = trace.channels["rpm", side]
    return replace(
        trace, channels={**trace.channels, ("rpm", side): replace(one, values=one.values * factor)}
    )


@pytest.mark.source("arithmetic: 14 poles are 7 pairs, 12 are 6; a recorder divides by what it was told")
@pytest.mark.parametrize(
    ("factor", "whole"), [(7 / 6, (7, 6)), (6 / 7, (6, 7)), (2.0, (2, 1)), (0.5, (1, 2)), (7 / 5, (7, 5))]
)
def test_a_wrong_pole_count_is_told_and_left_out_of_the_pair(fly, factor, whole):
    trace, flight, truth = fly(800)
    found = analyse(signals_of(scaled(trace, "right", factor), flight))
    (scale,) = found.speed_scales
    assert (scale.whole, scale.by_current) == (whole, True)
    assert scale.ratio == pytest.approx(factor * truth.rpm_ratio, rel=0.003)
    assert found.events == ()
    assert found.pairs[0].verdict in ("even", "undecided")
    assert found.pairs[0].imbalance_fraction.value == pytest.approx(truth.imbalance, abs=0.02)


@pytest.mark.parametrize(("cause", "size"), [("kv", 0.08), ("propeller", 0.3), ("endpoint", 0.08)])
def test_motors_that_truly_differ_read_right(fly, cause, size):
    trace, flight, _ = fly(801, cause, size)
    found = analyse(signals_of(trace, flight))
    assert found.speed_scales == ()
    assert found.pairs[0].verdict == "uneven"


def test_speeds_alone_leave_it_open(fly):
    trace, flight, _ = fly(802, has=("voltage", "throttle", "rpm"))
    found = analyse(signals_of(scaled(trace, "left", 7 / 6), flight))
    assert [s.by_current for s in found.speed_scales] == [False]
    assert found.pairs[0].verdict == "undecided"
    assert isinstance(found.pairs[0].imbalance_fraction, Undecided)


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_sheet_s_kv_tells_whose_speed_reads_off(fly, side):
    trace, flight, _ = fly(800)
    top_v = float(trace.channels["pack_voltage_v", ""].values.max())
    top_rpm = float(trace.channels["rpm", "left"].values.max())
    drives = tuple(Drive(p, motor=Motor(kv_rpm_per_v=1.25 * top_rpm / top_v)) for p in ("left", "right"))
    found = analyse(signals_of(scaled(trace, side, 7 / 6), flight), drives=drives)
    assert found.speed_scales[0].motor in (side, "")


def test_a_failing_motor_is_still_seen_beside_a_wrong_pole_count(fly):
    trace, flight, truth = fly(6001, event=("cut", "right"))
    found = analyse(signals_of(scaled(trace, "left", 2.0), flight))
    assert [(e.kind, e.motor) for e in found.events] == [("cut", "right")]
    assert found.events[0].start_s == pytest.approx(truth.events[0][2], abs=1.6)
