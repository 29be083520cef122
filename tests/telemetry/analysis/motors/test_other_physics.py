"""Faults of motors in flights of a simulator of other physics: the side, the second, the cause."""

from __future__ import annotations

import pytest

from telemetry.analysis.flights import find
from telemetry.analysis.motors import analyse
from telemetry.importers.log import read_log
from telemetry.sheet import read_sheet
from telemetry.signals import signals_of
from tests.independent import fly as flown


@pytest.fixture(scope="module")
def motors(tmp_path_factory):
    """`motors(scenario, seed, fault)` gives the analysis of the one flight, and the truth."""

    def made(name, seed, fault):
        recording = flown(name, seed=seed, faults=(fault,))
        files = recording.write(tmp_path_factory.mktemp(fault))
        trace = read_log(files.logs[0])
        (flight,) = find(trace)
        drives = read_sheet(files.sheet).setup().drives
        return analyse(signals_of(trace, flight), drives=drives), recording.truth

    return made


@pytest.mark.parametrize(
    ("name", "seed", "fault", "kind"),
    [
        ("twin_5s", 102, "shed_blade", "thrust_lost"),
        ("big_12s", 105, "shed_blade", "thrust_lost"),
        ("twin_5s", 104, "motor_cut_to_end", "cut"),
        ("aerobatic_4s", 101, "single_motor_cut_to_end", "cut"),
        ("twin_5s", 102, "out_of_step_2s", "out_of_step"),
    ],
)
def test_an_event_is_one_event_on_its_side_and_at_its_second(motors, name, seed, fault, kind):
    found, truth = motors(name, seed, fault)
    (expected,) = truth.expected
    assert [(e.kind, e.motor) for e in found.events] == [(kind, expected.side)]
    assert found.events[0].start_s == pytest.approx(expected.at_s, abs=2.0)


@pytest.mark.parametrize(
    ("name", "seed", "fault", "cause"),
    [
        ("big_12s", 100, "propeller_6", "propeller"),
        ("four_6s", 101, "propeller_6", "propeller"),
        ("twin_5s", 100, "winding_30", "winding"),
        ("twin_5s", 104, "dragging_bearing", "drag"),
        ("twin_5s", 102, "shed_blade", "propeller"),
    ],
)
def test_an_uneven_pair_is_named_by_its_cause(motors, name, seed, fault, cause):
    found, truth = motors(name, seed, fault)
    uneven = [p for p in found.pairs if p.verdict == "uneven"]
    assert [p.cause for p in uneven] == [cause]
    true = truth.figures["pairs"][f"{uneven[0].left}/{uneven[0].right}"]
    assert uneven[0].imbalance_fraction.value == pytest.approx(true["imbalance_fraction"], abs=0.015)
    assert uneven[0].current_ratio.value == pytest.approx(true["current_ratio"], abs=0.03)


def test_a_wrong_pole_count_is_told_by_its_ratio(motors):
    found, truth = motors("twin_5s", 102, "pole_count_wrong")
    high = truth.expected[0].side
    assert [s.whole for s in found.speed_scales] == [(7, 6) if high == "right" else (6, 7)]
    assert found.pairs[0].verdict in ("even", "undecided")


@pytest.mark.parametrize(("name", "motor"), [("twin_5s", "both"), ("trainer_3s", "centre")])
def test_a_controller_that_holds_back_at_low_voltage_is_told(motors, name, motor):
    found, _ = motors(name, 103, "limited_at_low_voltage")
    assert {(e.kind, e.motor) for e in found.events} == {("controller_limited", motor)}
