"""A motor that loses load in flight: whose, when, and what is true of the pair since."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.motors import analyse
from telemetry.estimate import Estimate
from telemetry.signals import signals_of

AT_S = 110.0
BLADE = -0.45  # one of two blades gone takes somewhat under half of the torque (common practice, no source)


def spliced(before, after, at_s=AT_S):
    """Two flights of one pair in one air, the second from `at_s` on."""
    channels = {
        key: replace(one, values=np.where(before.time_s < at_s, one.values, after.channels[key].values))
        for key, one in before.channels.items()
    }
    return replace(before, channels=channels)


def lose(fly, seed, side="right", size=BLADE, cause="propeller", **choices):
    """A flight in which one motor's load changes at 1:50."""
    names = ("left", "right") if side == "right" else ("right", "left")
    sound, flight, _ = fly(seed, names=names, **choices)
    hurt, _, truth = fly(seed, cause, size, names=names, **choices)
    return spliced(sound, hurt), flight, truth


def losses(found):
    return [e for e in found.events if e.kind == "thrust_lost"]


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("has", [("current", "rpm"), ("current",), ("rpm",)])
@pytest.mark.parametrize("seed", [700, 701])
def test_a_shed_blade_is_told_on_its_side_and_at_its_second(fly, seed, has, side):
    trace, flight, _ = lose(fly, seed, side, has=("voltage", "throttle", *has))
    found = analyse(signals_of(trace, flight))
    assert [(e.kind, e.motor) for e in found.events] == [("thrust_lost", side)]
    assert found.events[0].start_s == pytest.approx(AT_S, abs=2.0)
    assert found.pairs[0].since_s == found.events[0].start_s


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_pair_is_what_it_is_since_then(fly, side):
    trace, flight, truth = lose(fly, 702, side)
    pair = analyse(signals_of(trace, flight)).pairs[0]
    sign = 1 if side == "right" else -1
    assert (pair.verdict, pair.more) == ("uneven", "left" if side == "right" else "right")
    assert sign * pair.imbalance_fraction.value == pytest.approx(truth.imbalance, abs=0.1)
    assert pair.current_ratio.value**sign == pytest.approx(truth.current_ratio, abs=0.04)


def test_half_of_the_pair_s_thrust_is_one_motor_s(fly):
    trace, flight, _ = lose(fly, 702)
    (lost,) = losses(analyse(signals_of(trace, flight)))
    assert lost.thrust_lost_fraction == pytest.approx(-BLADE / 2, abs=0.05)


def test_vibration_that_rises_with_it_is_in_the_evidence(fly):
    trace, flight, _ = lose(fly, 702)
    current = trace.channels["current_a", "left"]
    shaken = replace(
        current, quantity="vibration_mps2", position="", values=np.where(trace.time_s < AT_S, 1.5, 20.0)
    )
    trace = replace(trace, channels={**trace.channels, ("vibration_mps2", ""): shaken})
    (lost,) = losses(analyse(signals_of(trace, flight)))
    assert "vibration rose from 1.5 to 20.0 m/s²" in lost.evidence


def test_a_current_sensor_that_jumps_is_no_lost_load(fly):
    """Speed would rise, were the load gone."""
    trace, flight, _ = fly(703)
    one = trace.channels["current_a", "right"]
    jumped = replace(one, values=np.where(trace.time_s < AT_S, one.values, 0.6 * one.values))
    found = analyse(
        signals_of(replace(trace, channels={**trace.channels, ("current_a", "right"): jumped}), flight)
    )
    assert losses(found) == []


def test_the_pack_s_own_sensor_betrays_a_sensor_that_jumps(fly):
    trace, flight, _ = fly(703, has=("voltage", "throttle", "current"))
    left, right = (trace.channels["current_a", side] for side in ("left", "right"))
    pack = replace(left, position="", values=left.values + right.values)
    jumped = replace(right, values=np.where(trace.time_s < AT_S, right.values, 0.6 * right.values))
    channels = {**trace.channels, ("current_a", ""): pack, ("current_a", "right"): jumped}
    assert losses(analyse(signals_of(replace(trace, channels=channels), flight))) == []


def test_a_load_that_rises_is_not_lost_but_splits_the_pair(fly):
    trace, flight, _ = lose(fly, 704, size=0.6)
    found = analyse(signals_of(trace, flight))
    assert losses(found) == []
    assert found.pairs[0].since_s == pytest.approx(AT_S, abs=2.0)
    assert found.pairs[0].more == "right"


def test_what_grows_over_minutes_is_no_sudden_loss(fly):
    sound, flight, _ = fly(705)
    hurt, _, _ = fly(705, "propeller", BLADE)
    share = np.clip(sound.time_s / sound.time_s[-1], 0.0, 1.0)
    channels = {
        key: replace(one, values=(1 - share) * one.values + share * hurt.channels[key].values)
        for key, one in sound.channels.items()
    }
    found = analyse(signals_of(replace(sound, channels=channels), flight))
    assert (losses(found), found.pairs[0].since_s) == ([], None)


@pytest.mark.parametrize("seed", range(710, 716))
@pytest.mark.parametrize("has", [("current", "rpm"), ("current",), ("rpm",)])
def test_a_pair_that_stays_what_it_is_is_not_split(fly, seed, has):
    cause, size = [("none", 0.0), ("propeller", 0.08), ("winding", 0.25), ("kv", 0.03), ("drag", 2.0)][
        seed % 5
    ]
    trace, flight, _ = fly(seed, cause, size, has=("voltage", "throttle", *has))
    found = analyse(signals_of(trace, flight))
    assert (losses(found), found.pairs[0].since_s) == ([], None)


@pytest.mark.parametrize("size", [1.0, 2.5])
def test_a_dragging_motor_is_the_one_that_takes_more(fly, size):
    """It draws more current and puts less into its propeller; no verdict points the other way."""
    trace, flight, truth = fly(41, "drag", size)
    pair = analyse(signals_of(trace, flight)).pairs[0]
    assert truth.imbalance < 0 < truth.current
    assert isinstance(pair.imbalance_fraction, Estimate)
    assert pair.verdict == "undecided" or pair.more == "right"
