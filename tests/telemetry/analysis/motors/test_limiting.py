"""A controller that holds power back once the pack is low."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.motors import analyse
from telemetry.signals import signals_of


def held(trace, sides, *, share=0.7, from_s=100.0, low_v=0.9):
    """Above half command the motors turn at a share of what it asks for, on a pack that is low from then on.
    Current goes with the cube of speed (propeller law, from memory).
    """
    late = trace.time_s >= from_s
    asked = trace.channels["throttle_fraction", ""].values > 0.5
    channels = dict(trace.channels)
    volts = channels["pack_voltage_v", ""]
    channels["pack_voltage_v", ""] = replace(volts, values=np.where(late, low_v, 1.0) * volts.values)
    own = np.where(late, low_v, 1.0)
    for side in ("left", "right"):
        slower = own * np.where(late & asked & (side in sides), share, 1.0)
        for quantity, power in (("rpm", 1), ("current_a", 2)):
            if (quantity, side) in channels:
                one = channels[quantity, side]
                lost = slower if power == 1 else own**2 * (slower / own) ** 3
                channels[quantity, side] = replace(one, values=one.values * lost)
    return replace(trace, channels=channels)


def limited(trace, flight):
    found = analyse(signals_of(trace, flight))
    return [(e.motor, e.start_s) for e in found.events if e.kind == "controller_limited"]


@pytest.mark.parametrize(
    ("sides", "has"),
    [
        (("left", "right"), ("current", "rpm")),
        (("left", "right"), ("rpm",)),
        (("left",), ("current", "rpm")),
    ],
)
def test_power_held_back_at_low_voltage_is_told(fly, sides, has):
    trace, flight, _ = fly(900, has=("voltage", "throttle", *has))
    found = limited(held(trace, sides), flight)
    assert {motor for motor, _ in found} == {"both" if len(sides) == 2 else "left"}
    assert found[0][1] == pytest.approx(100.0, abs=20.0)


def test_a_single_motor_shows_it_too(fly):
    trace, flight, _ = fly(900)
    alone = {
        (q, "centre" if p else ""): replace(one, position="centre" if p else "")
        for (q, p), one in held(trace, ("left",)).channels.items()
        if p != "right"
    }
    found = limited(replace(trace, channels=alone), flight)
    assert [motor for motor, _ in found][:1] == ["centre"]


@pytest.mark.parametrize("seed", [900, 901, 902])
def test_a_pack_that_only_falls_holds_nothing_back(fly, seed):
    """Speed falls with the voltage that drives it."""
    trace, flight, _ = fly(seed)
    assert limited(held(trace, ()), flight) == []
    assert limited(trace, flight) == []


def test_a_motor_that_died_is_cut_and_not_held_back(fly):
    trace, flight, _ = fly(6003, event=("cut", "right"))
    assert limited(trace, flight) == []


def test_thrust_goes_with_the_square_of_speed(fly):
    trace, flight, _ = fly(900)
    found = analyse(signals_of(held(trace, ("left", "right"), share=0.7), flight))
    (event, *_) = [e for e in found.events if e.kind == "controller_limited"]
    assert event.thrust_lost_fraction == pytest.approx(1 - 0.7**2, abs=0.1)
