"""The first-order motor against its relations worked by hand."""

import math

import numpy as np
import pytest

from telemetry.physics import motor

KV = 1000.0
WINDING = {"kv_rpm_per_v": KV, "resistance_ohm": 0.050}


@pytest.mark.source("M. Drela, First-Order DC Electric Motor Model, MIT, 2007; the numbers worked by hand")
def test_current_torque_and_powers_at_a_speed():
    current_a = 42.0  # (11.1 V − 9000 rpm ÷ 1000 rpm/V) ÷ 50 mΩ
    assert motor.voltage_v(9000.0, current_a, **WINDING) == pytest.approx(11.1, rel=1e-12)
    assert motor.speed_rpm(11.1, current_a, **WINDING) == pytest.approx(9000.0, rel=1e-12)
    assert motor.back_emf_v(11.1, current_a, resistance_ohm=0.050) == pytest.approx(9.0, rel=1e-12)
    torque_nm = motor.torque_nm(current_a, 1.0, kv_rpm_per_v=KV)
    assert torque_nm == pytest.approx(0.39152, rel=1e-4)
    assert motor.current_of_torque_a(torque_nm, 1.0, kv_rpm_per_v=KV) == pytest.approx(42.0, rel=1e-12)
    shaft_w = motor.shaft_power_w(torque_nm, 9000.0)
    assert shaft_w == pytest.approx(369.0, rel=1e-4)
    assert 11.1 * current_a == pytest.approx(466.2, rel=1e-4)
    assert shaft_w / (11.1 * current_a) == pytest.approx(0.7915, rel=1e-4)


@pytest.mark.source("calculus on the relations above: best current √(V·I0/R), efficiency (1 − √(I0·R/V))²")
def test_best_efficiency():
    best_a, best = math.sqrt(11.1 * 1.0 / 0.050), (1.0 - math.sqrt(1.0 * 0.050 / 11.1)) ** 2
    assert (best_a, best) == pytest.approx((14.900, 0.87027), rel=1e-4)
    currents_a = np.linspace(5.0, 40.0, 3501)
    rpm = motor.speed_rpm(11.1, currents_a, **WINDING)
    efficiency = motor.shaft_power_w(motor.torque_nm(currents_a, 1.0, kv_rpm_per_v=KV), rpm) / (
        11.1 * currents_a
    )
    assert np.max(efficiency) == pytest.approx(best, rel=1e-6)
    assert currents_a[np.argmax(efficiency)] == pytest.approx(best_a, abs=0.01)


@pytest.mark.source("SI identity: torque constant × speed constant = 1")
@pytest.mark.parametrize("kv", [280.0, 550.0, 1000.0])
def test_torque_and_speed_constant_are_one(kv):
    assert motor.torque_constant_nmpa(kv) == pytest.approx(60.0 / (2.0 * math.pi * kv), rel=1e-14)
    assert motor.torque_constant_nmpa(kv) * kv == pytest.approx(9.5493, rel=1e-5)


@pytest.mark.source(
    "ideal buck converter, derived: with no resistance a factor on Kv or on the duty is the same"
)
def test_kv_and_duty_look_alike_at_the_pack():
    def level(kv, duty, load_nm=0.3, supply_v=18.0):
        winding_a = motor.current_of_torque_a(load_nm, 0.0, kv_rpm_per_v=kv)
        rpm = motor.speed_rpm(duty * supply_v, winding_a, kv_rpm_per_v=kv, resistance_ohm=0.0)
        return rpm, motor.supply_current_a(duty, winding_a)

    assert level(400.0 * 0.98, 0.6) == pytest.approx(level(400.0, 0.6 * 0.98), rel=1e-12)


@pytest.mark.source("arithmetic: a straight line through two points, one through nought by least squares")
def test_no_load_points_give_friction_and_iron_loss():
    def at_6000(*points):
        found = motor.no_load_of(points)
        return motor.no_load_current_a(6000.0, level_a=found.level_a, a_per_rpm=found.a_per_rpm)

    assert at_6000((4000.0, 0.8), (8000.0, 1.2)) == pytest.approx(1.0, rel=1e-9)
    assert at_6000((8000.0, 1.2)) == pytest.approx(1.2, rel=1e-12)
    assert at_6000((8000.0, 1.1), (8000.0, 1.3)) == pytest.approx(1.2, rel=1e-12)
    # the line through both would begin below nought: (4000·0.2 + 8000·1.2) ÷ (4000² + 8000²) A per rpm
    assert at_6000((4000.0, 0.2), (8000.0, 1.2)) == pytest.approx(6000 * 10400 / 80e6, rel=1e-12)
