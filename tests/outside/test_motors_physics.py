"""What one difference between two motors does, against the first-order motor solved exactly."""

import numpy as np
import pytest
from scipy.optimize import brentq

from telemetry.analysis.motors.physics import WorkingPoint, effect

KV, R, I0, VOLTS = 1000.0, 0.050, 1.0, 11.1
LOAD = 0.39152 / 9000.0**2  # the propeller that takes the worked example's torque at its speed


def solve(kv=KV, r=R, i0=I0, duty=1.0, load=LOAD):
    """Speed, pack current and shaft power of Drela's motor on a propeller held still. [rpm, A, W]"""

    def excess(rpm):
        current = (duty * VOLTS - rpm / kv) / r
        return 60.0 / (2.0 * np.pi * kv) * (current - i0) - load * rpm**2

    rpm = brentq(excess, 10.0, kv * duty * VOLTS)
    current = (duty * VOLTS - rpm / kv) / r
    return np.array([rpm, duty * current, load * rpm**3 * 2 * np.pi / 60.0])


def point():
    one = np.array([1.0])
    return WorkingPoint(
        one, np.array([42.0 * R / VOLTS]), np.array([I0 / 42.0]), np.array([2.0]), one, one, one
    )


@pytest.mark.source(
    "M. Drela, First-Order DC Electric Motor Model, MIT, 2007; the working point of 11.1 V, 9000 rpm and 42 "
    "A by hand"
)
def test_the_motor_of_the_worked_example():
    rpm, current, shaft = solve()
    assert rpm == pytest.approx(9000.0, rel=1e-4)
    assert current == pytest.approx(42.0, rel=1e-3)
    assert shaft == pytest.approx(369.0, rel=1e-3)


@pytest.mark.source(
    "M. Drela, First-Order DC Electric Motor Model, MIT, 2007, solved exactly at both sides of a small "
    "difference"
)
@pytest.mark.parametrize(
    ("name", "exact"),
    [
        ("propeller", lambda x: solve(load=LOAD * np.exp(x))),
        ("kv", lambda x: solve(kv=KV * np.exp(x))),
        ("winding", lambda x: solve(r=R * np.exp(x))),
        ("duty", lambda x: solve(duty=np.exp(x))),
        ("idle", lambda x: solve(i0=I0 + 42.0 * x)),
    ],
)
def test_each_cause_shows_as_the_exact_motor_does(name, exact):
    small = 0.002
    slope = (np.log(exact(small)) - np.log(exact(-small))) / (2 * small)
    found = effect(point(), **{name: 1.0})
    assert [float(v[0]) for v in (found.speed, found.current, found.shaft)] == pytest.approx(
        list(slope), rel=2e-3, abs=2e-3
    )


@pytest.mark.source(
    "ideal buck converter and Kt·Kv = 1, derived: without resistance and friction a Kv and a duty difference "
    "are the same"
)
def test_kv_and_end_points_look_alike_without_resistance():
    one = np.array([1.0])
    ideal = WorkingPoint(one, np.array([0.0]), np.array([0.0]), np.array([2.0]), one, one, one)
    by_kv, by_duty = effect(ideal, kv=1.0), effect(ideal, duty=1.0)
    assert by_kv.speed == pytest.approx(by_duty.speed)
    assert by_kv.current == pytest.approx(by_duty.current)
    assert by_kv.speed == pytest.approx(1.0)
    assert by_kv.current == pytest.approx(3.0)
