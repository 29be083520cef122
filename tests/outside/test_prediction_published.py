"""The prediction against published sources: standard air, copper, the first-order motor, measured propellers,
momentum theory.
"""

import math

import numpy as np
import pytest

from telemetry.prediction import predict
from telemetry.prediction.airframe import drag_n, least_power_speed_mps
from telemetry.prediction.assumptions import complete
from telemetry.prediction.expected import held_still
from telemetry.prediction.powertrain import thrust_of, torque_of
from telemetry.prediction.sampling import sample
from telemetry.sheet import Sheet

PACK = "[pack]\ncells = 5\ncapacity_mah = 5200\n"
INCH = 0.0254


def setup(text: str):
    return Sheet.from_text(PACK + text).setup()


@pytest.mark.source("ISO 2533:1975 / ICAO Doc 7488 by ambiance 1.3.1")
@pytest.mark.parametrize(("elevation_m", "density"), [(0, 1.2250), (500, 1.16727), (1500, 1.05810)])
def test_the_air_of_a_field_without_a_thermometer_is_the_standard_one(elevation_m, density):
    assert predict(setup(f"[field]\nelevation_m = {elevation_m}\n")).air_density_kgm3 == pytest.approx(
        density, rel=1e-4
    )


@pytest.mark.source("ASHRAE Handbook Fundamentals 2017 ch. 1 eq. 11 by psychrolib 2.5.0 and CoolProp")
@pytest.mark.parametrize(("humidity", "density"), [(0.0, 1.1455), (0.5, 1.1335), (0.8, 1.1263)])
def test_a_hot_humid_day_is_thin(humidity, density):
    day = f"[field]\ntemperature_c = 35\npressure_hpa = 1013.25\nrelative_humidity_fraction = {humidity}\n"
    assert predict(setup(day)).air_density_kgm3 == pytest.approx(density, rel=1e-3)


@pytest.mark.source(
    "M. Drela, First-Order DC Electric Motor Model, MIT, 2007; numbers computed from its relations"
)
def test_a_static_point_gives_the_motors_torque():
    """11.1 V, 42 A, 9000 rpm, Kv 1000, 50 mΩ, 1 A: Q = 0.39152 N·m; the propeller through that point takes
    it.
    """
    made = (
        "[motor]\nkv_rpm_per_v = 1000\nresistance_mohm = 50\nno_load_points = [{voltage_v = 8, current_a = "
        "1.0}]\n"
    )
    made += (
        "[propeller]\ndiameter_in = 10\npitch_in = 6\nstatic_points = [{rpm = 9000, current_a = 42, "
        "voltage_v = 11.1}]\n"
    )
    sampled = sample(complete(setup(made)), draws=0)
    at_density = sampled.density_kgm3[0] / 1.225
    torque, _ = torque_of(sampled, np.full((1, 1), 9000.0), np.zeros(1))
    assert torque[0, 0] / at_density == pytest.approx(0.39152, rel=1e-4)


@pytest.mark.source(
    "UIUC Propeller Data Site, volume 2, research propeller DA4002 9 in; Deters, Ananda & Selig, AIAA "
    "2014-2151"
)
def test_a_measured_propeller_scales_from_one_static_point_to_a_quarter_of_its_speed():
    """From 5943.33 rpm (59.52 W, 4.610 N) to 1546.67 rpm: CP 0.088432 and CT 0.125931 measured there.

    CP falls 9 % over that span and CT grows 11 %, which is how good a law in the square of speed can be.
    """
    kv = 1000.0
    torque = 59.52 / (5943.33 * math.pi / 30.0)
    current = torque * kv * math.pi / 30.0 + 0.5
    made = (
        f"[motor]\nkv_rpm_per_v = {kv}\nresistance_mohm = 50\nno_load_points = [{{voltage_v = 8, current_a = "
        f"0.5}}]\n"
    )
    made += (
        f"[propeller]\ndiameter_in = 9\npitch_in = 6.75\nstatic_points = [{{rpm = 5943.33, current_a = "
        f"{current:.5f}, thrust_n = 4.610}}]\n"
    )
    sampled = sample(complete(setup(made)), draws=0)
    turns, density, diameter = 1546.67 / 60.0, sampled.density_kgm3[0], 9 * INCH
    torque_low, _ = torque_of(sampled, np.full((1, 1), 1546.67), np.zeros(1))
    thrust_low, _ = thrust_of(sampled, np.full((1, 1), 1546.67), np.zeros(1))
    cp = torque_low[0, 0] * 2.0 * math.pi / (density * turns**2 * diameter**5)
    ct = thrust_low[0, 0] / (density * turns**2 * diameter**4)
    assert cp == pytest.approx(0.088432, rel=0.06)
    assert ct == pytest.approx(0.125931, rel=0.06)


@pytest.mark.source(
    "UIUC Propeller Data Site, volume 2, DA4002 9 in at 2013 rpm; Deters, Ananda & Selig, AIAA 2014-2151"
)
@pytest.mark.parametrize(
    ("advance", "ct", "cp"),
    [
        (0.315488, 0.103248, 0.073956),
        (0.543643, 0.068049, 0.059680),
        (0.642669, 0.046900, 0.047706),
        (0.779962, 0.014050, 0.025041),
    ],
)
def test_a_measured_propeller_in_flight_lies_in_our_scatter(advance, ct, cp):
    """Static CP 0.0868, CT 0.1287 at 2013 rpm (between the static rows of the table, in the logarithm of
    speed); 9 x 6.75 in.

    Each measured ratio lies within two and a half standard deviations, 0.08 for power and 0.06 for thrust, of
    our curve: the scatter of 178 measured propellers about it. At this low Reynolds number it lies at two for
    power, inside for thrust.
    """
    made = "[motor]\nkv_rpm_per_v = 1000\n[propeller]\ndiameter_in = 9\npitch_in = 6.75\n"
    sampled = sample(complete(setup(made)), draws=0)
    rpm = np.full((1, 1), 2013.0)
    speed, still = np.full(1, advance * 2013.0 / 60.0 * 9 * INCH), np.zeros(1)
    cp_ratio = float((torque_of(sampled, rpm, speed)[0] / torque_of(sampled, rpm, still)[0])[0, 0])
    ct_ratio = float((thrust_of(sampled, rpm, speed)[0] / thrust_of(sampled, rpm, still)[0])[0, 0])
    assert abs(cp / 0.0868 - cp_ratio) < 2.5 * 0.08
    assert abs(ct / 0.1287 - ct_ratio) < 2.5 * 0.06


@pytest.mark.source("actuator-disc (momentum) theory: T ≤ (2·ρ·A·P²)^(1/3)")
@pytest.mark.parametrize(
    "size",
    [
        "diameter_in = 9\npitch_in = 3",
        "diameter_in = 11\npitch_in = 7",
        "diameter_in = 14\npitch_in = 14",
        "diameter_in = 12\nblades = 4",
    ],
)
def test_no_thrust_ever_shown_beats_the_ideal_disc(size):
    """In the sheet's own figures and in every draw, forward and reverse."""
    sampled = sample(complete(setup(f"[motor]\nkv_rpm_per_v = 640\n[propeller]\n{size}\n")), draws=400)
    for throttle in (0.25, 1.0, -0.6):
        found = held_still(sampled, throttle)
        power = found.torque_nm * np.abs(found.rpm) * math.pi / 30.0
        disc = math.pi / 4.0 * sampled.drives.diameter_m**2
        ideal = np.cbrt(2.0 * sampled.density_kgm3[:, None] * disc * power**2)
        assert np.all(np.abs(found.thrust_n) <= ideal * (1.0 + 1e-9))


@pytest.mark.source(
    "lifting-line theory: at least power induced drag is three times the parasitic (from memory)"
)
def test_least_power_is_where_induced_drag_is_three_times_the_parasitic():
    made = "[aircraft]\nmass_kg = 3.9\nspan_m = 1.83\ndrag_area_m2 = 0.042\n"
    sampled = sample(complete(setup(made)), draws=0)
    speed = least_power_speed_mps(sampled)
    parasitic = 0.5 * sampled.density_kgm3 * speed**2 * sampled.drag_area_m2
    assert drag_n(sampled, speed)[0] == pytest.approx(4.0 * parasitic[0], rel=1e-9)
    power = [float((drag_n(sampled, speed * k) * speed * k)[0]) for k in (0.97, 1.0, 1.03)]
    assert power[1] < min(power[0], power[2])


@pytest.mark.source(
    "common practice, no source: a 1.8 m twin of three to four kilogram flies on four to five cells of 4000 "
    "to 5200 mAh"
)
def test_a_twin_of_the_usual_size_has_minutes_not_seconds_or_hours():
    made = (
        '[aircraft]\nmass_kg = 3.6\nspan_m = 1.8\n[[motors]]\nposition = "left"\n[[motors]]\nposition = '
        '"right"\n'
    )
    found = predict(setup(made))
    assert 120.0 < found.flight.time_to_reserve_s.value < 1800.0
