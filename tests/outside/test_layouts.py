"""One motor, two, four, and a ducted fan: what the sums of currents and momentum theory demand of each."""

from __future__ import annotations

import math

import pytest

from telemetry.physics import ducted_fan
from telemetry.physics.propeller import thrust_coefficient
from telemetry.prediction import predict
from telemetry.sheet import Sheet

LAYOUTS = {
    "one": (),
    "two": ("left", "right"),
    "four": ("left_outer", "left_inner", "right_inner", "right_outer"),
}


def sheet(positions: tuple[str, ...]) -> Sheet:
    """An invented drive that is the same at every position, on a pack that grows with their number."""
    motors = max(len(positions), 1)
    text = (
        f"[aircraft]\nmass_kg = {1.6 * motors}\n[pack]\ncells = 4\ncapacity_mah = {2600 * motors}\n"
        f"resistance_mohm = {5.0 / motors}\n"
        "[motor]\nkv_rpm_per_v = 800\nresistance_mohm = 30\nratings = [{current_a = 45}]\n"
        "[propeller]\ndiameter_in = 11\npitch_in = 7\n"
        "[controller]\nratings = [{current_a = 50}]\n"
        "[leads]\nlength_m = 0.4\narea_mm2 = 3.0\nplug_ratings = [{current_a = 120}]\n"
    )
    return Sheet.from_text(
        text + "".join(f'[[motors]]\nposition = "{p}"\n' for p in positions), file="x.toml"
    )


@pytest.mark.source("Kirchhoff's current law")
@pytest.mark.parametrize("layout", list(LAYOUTS))
def test_the_pack_carries_the_sum_of_the_motors(layout):
    full = next(s for s in predict(sheet(LAYOUTS[layout])).static if s.throttle_fraction == 1.0)
    assert len(full.motors) == max(len(LAYOUTS[layout]), 1)
    assert full.current_a.value == pytest.approx(sum(m.current_a.value for m in full.motors), rel=1e-6)
    assert full.thrust_n.value == pytest.approx(sum(m.thrust_n.value for m in full.motors), rel=1e-6)


@pytest.mark.source(
    "common practice, no source: each controller carries its motor's, the pack's plug the sum"
)
@pytest.mark.parametrize("layout", ["two", "four"])
def test_the_plug_is_held_against_the_sum_and_a_controller_against_its_own(layout):
    count = len(LAYOUTS[layout])
    limits = {m.part: m.predicted_a.value for m in predict(sheet(LAYOUTS[layout])).limits}
    plug = next(a for part, a in limits.items() if part.startswith("pack plug"))
    controllers = [a for part, a in limits.items() if "controller" in part]
    assert len(controllers) == count
    assert plug == pytest.approx(sum(controllers), rel=1e-6)


@pytest.mark.source("symmetry: the same drive on its own share of the pack does the same")
def test_four_drives_on_a_pack_four_times_as_large_do_what_one_does_on_one():
    one, four = (
        next(s for s in predict(sheet(LAYOUTS[k])).static if s.throttle_fraction == 1.0)
        for k in ("one", "four")
    )
    assert four.motors[0].rpm.value == pytest.approx(one.motors[0].rpm.value, rel=0.005)
    assert four.thrust_n.value == pytest.approx(4.0 * one.thrust_n.value, rel=0.01)


@pytest.mark.source("momentum theory: T = ρ·A·v² of a jet that fills the area A")
def test_the_jet_of_a_ducted_fan_is_as_fast_as_its_thrust_demands():
    thrust_n, rpm, diameter_m = 22.0, 43000.0, 0.069
    ct = thrust_coefficient(thrust_n, density_kgm3=1.225, rpm=rpm, diameter_m=diameter_m)
    jet_mps = ducted_fan.jet_advance_ratio(ct) * rpm / 60.0 * diameter_m
    area_m2 = 0.8 * math.pi / 4.0 * diameter_m**2
    assert 1.225 * area_m2 * jet_mps**2 == pytest.approx(thrust_n, rel=1e-9)


@pytest.mark.source("momentum theory: ideal power ½·ρ·A·v³ of a jet that the duct keeps from narrowing")
def test_usual_fans_stay_under_what_momentum_theory_allows():
    ct, cp = ducted_fan.STATIC_THRUST_COEFFICIENT, ducted_fan.STATIC_POWER_COEFFICIENT
    advance = ducted_fan.jet_advance_ratio(ct)
    ideal = 0.5 * 0.8 * math.pi / 4.0 * advance**3
    # from two fifths to nine tenths of the shaft power reach the jet
    assert 0.4 < ideal / cp < 0.9
