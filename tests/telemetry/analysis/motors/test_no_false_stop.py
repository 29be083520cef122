"""What sound aircraft do on purpose is no failure of a motor: flights of a simulator of other physics."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from telemetry.analysis.flights import find
from telemetry.analysis.motors import analyse
from telemetry.importers.log import read_log
from telemetry.signals import signals_of
from tests.independent import fly as flown


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """`log(scenario)` gives the trace of a sound aircraft and its one flight."""

    @cache
    def made(name):
        files = flown(name, seed=31).write(tmp_path_factory.mktemp(name))
        trace = read_log(files.logs[0])
        (flight,) = find(trace)
        return trace, flight

    return made


def without(trace, *quantities):
    return replace(trace, channels={k: c for k, c in trace.channels.items() if k[0] not in quantities})


def one_stick(trace):
    """The same flight of a recorder that logs the stick and not what each motor was told."""
    keys = [key for key in trace.channels if key[0] == "throttle_fraction"]
    mean = np.mean([trace.channels[key].values for key in keys], axis=0)
    stick = replace(trace.channels[keys[0]], position="", values=mean)
    left = {key: c for key, c in trace.channels.items() if key not in keys}
    return replace(trace, channels={**left, ("throttle_fraction", ""): stick})


def stops(trace, flight):
    return [e for e in analyse(signals_of(trace, flight)).events if e.kind != "overheating"]


@pytest.mark.parametrize("left_out", [(), ("rpm",), ("rudder_fraction",)])
def test_a_motor_throttled_back_on_purpose_has_not_failed(log, left_out):
    """Mixed thrust, one motor idling by its own command, current that flows back in a descent."""
    trace, flight = log("twin_trainer")
    found = analyse(signals_of(without(trace, *left_out), flight))
    assert found.events == ()
    assert found.pairs[0].verdict in ("even", "undecided")


@pytest.mark.parametrize("left_out", [(), ("rpm",), ("rudder_fraction",)])
def test_steering_with_the_motors_on_the_ground_is_no_failure(log, left_out):
    trace, flight = log("twin_taxi")
    assert stops(without(trace, *left_out), flight) == []


@pytest.mark.parametrize("left_out", [(), ("rudder_fraction",)])
def test_steering_that_was_not_logged_is_no_failure_either(log, left_out):
    """Thrust is taken from either side in turn; a failing motor stays on its side."""
    trace, flight = log("twin_taxi")
    assert stops(without(one_stick(trace), *left_out), flight) == []


def test_a_taxi_run_decides_no_pair(log):
    trace, flight = log("twin_taxi")
    assert analyse(signals_of(trace, flight)).pairs[0].verdict == "undecided"


@pytest.mark.parametrize("name", ["aerobatic_4s", "glider_3s"])
@pytest.mark.parametrize("left_out", [(), ("rpm",), ("current_a",)])
def test_bursts_of_throttle_and_folded_propellers_are_no_failure(log, name, left_out):
    """The air turns a propeller at no command, or it stands folded: nothing drives it, and nothing failed."""
    trace, flight = log(name)
    events = analyse(signals_of(without(trace, *left_out), flight)).events
    assert not isinstance(events, tuple) or events == ()
