"""The plan flown, and what it must obey."""

import json

import pytest

from telemetry.prediction import predict
from telemetry.sheet import Sheet

PLANE = """
[aircraft]
mass_kg = 3.9
span_m = 1.83
wing_area_m2 = 0.50
drag_area_m2 = 0.042
[field]
elevation_m = 0
temperature_c = 15
[pack]
cells = 5
capacity_mah = 5200
resistance_mohm = 3.3
[reserve]
fraction = 0.25
[motor]
kv_rpm_per_v = 640
resistance_mohm = 25
no_load_points = [{voltage_v = 10.0, current_a = 1.2}]
[propeller]
diameter_in = 11
pitch_in = 7
static_points = [{rpm = 11250, current_a = 39.0, voltage_v = 18.5, thrust_n = 29.2}]
[leads]
length_m = 0.45
area_mm2 = 4.0
[[motors]]
position = "left"
[[motors]]
position = "right"
"""
PLAN = """
[plan]
legs = [
  {phase = "takeoff", seconds = 8, throttle = 1.0},
  {phase = "climb", seconds = 15, climb_mps = 4.0, airspeed_mps = 16},
  {phase = "cruise", seconds = 200, airspeed_mps = 18},
  {phase = "approach", seconds = 30, throttle = 0.2},
]
"""


def flown(text):
    return predict(Sheet.from_text(text).setup())


@pytest.fixture(scope="module")
def planned():
    return flown(PLANE + PLAN)


def test_charge_is_mean_current_times_time(planned):
    seconds = 8 + 15 + 200 + 30
    assert planned.flight.consumed_mah.value == pytest.approx(
        planned.flight.mean_current_a.value * seconds / 3.6, rel=1e-6
    )
    by_legs = sum(leg.current_a.value * leg.seconds for leg in planned.flight.legs) / 3.6
    assert planned.flight.consumed_mah.value == pytest.approx(by_legs, rel=1e-6)


def test_time_to_reserve_is_usable_charge_over_mean_current(planned):
    expected = (1 - 0.25) * 5.2 * 3600 / planned.flight.mean_current_a.value
    assert planned.flight.time_to_reserve_s.value == pytest.approx(expected, rel=1e-6)


def test_take_off_draws_most_and_approach_least(planned):
    takeoff, climb, cruise, approach = (leg.current_a.value for leg in planned.flight.legs)
    assert takeoff > climb > cruise > approach
    assert planned.flight.min_pack_voltage_v.value <= min(
        leg.pack_voltage_v.value for leg in planned.flight.legs
    )


def test_level_flight_needs_the_power_of_drag_and_no_less(planned):
    """Electrical power must exceed drag × airspeed over the best efficiency any such propeller showed.

    Best peak efficiency 0.65 of 79 propellers of 9 to 11 in: Brandt & Selig, AIAA 2011-1255.
    """
    speed, density, weight = 18.0, 1.225, 3.9 * 9.80665
    drag = 0.5 * density * speed**2 * 0.042 + weight**2 / (0.5 * density * speed**2 * 3.14159 * 1.83**2 * 0.8)
    electrical = planned.flight.level_current_a.value * 5 * 3.85
    assert electrical > drag * speed / 0.80
    assert electrical < drag * speed / 0.40


def test_a_climb_takes_the_power_of_lifting_the_weight_besides():
    """m·g·c at the propeller's and the motor's efficiency: between once and three times the lifting power
    more.
    """
    level = flown(PLANE + '[plan]\nlegs = [{phase = "cruise", seconds = 30, airspeed_mps = 16}]')
    climb = flown(
        PLANE + '[plan]\nlegs = [{phase = "climb", seconds = 30, airspeed_mps = 16, climb_mps = 3.0}]'
    )
    legs = [p.flight.legs[0] for p in (level, climb)]
    more_w = (
        legs[1].current_a.value * legs[1].pack_voltage_v.value
        - legs[0].current_a.value * legs[0].pack_voltage_v.value
    )
    lifting_w = 3.9 * 9.80665 * 3.0
    assert 1.3 * lifting_w < more_w < 3.0 * lifting_w


def test_circuits_cost_the_induced_drag_of_their_turns():
    """Half the time at 40° of bank lifts 1/cos 40° times the weight: (1 + 1/cos² 40°)/2 = 1.35 times the
    induced drag.
    """
    legs = '[plan]\nlegs = [{phase = "%s", seconds = 60, airspeed_mps = 14}]'
    cruise, circuits = (
        flown(PLANE + legs % phase).flight.legs[0].current_a.value for phase in ("cruise", "circuits")
    )
    pressure, weight = 0.5 * 1.225 * 14.0**2, 3.9 * 9.80665
    induced = weight**2 / (pressure * 3.14159 * 1.83**2 * 0.8)
    more_drag = 0.35 * induced / (pressure * 0.042 + induced)
    assert circuits / cruise - 1.0 == pytest.approx(more_drag, rel=0.35)


def test_a_leg_may_be_spelled_with_a_hyphen():
    legs = (
        '[plan]\nlegs = [{phase = "%s", seconds = 6, throttle = 1.0}, {phase = "%s", seconds = 6, throttle = '
        "1.0}]"
    )
    ours = flown(PLANE + legs % ("takeoff", "go_around")).flight.legs
    theirs = flown(PLANE + legs % ("Take-off", "go-around")).flight.legs
    assert [leg.current_a for leg in theirs] == [leg.current_a for leg in ours]


def test_more_mass_and_more_drag_take_more_current(planned):
    heavy = flown(PLANE.replace("mass_kg = 3.9", "mass_kg = 5.0") + PLAN)
    dirty = flown(PLANE.replace("drag_area_m2 = 0.042", "drag_area_m2 = 0.060") + PLAN)
    assert heavy.flight.level_current_a.value > planned.flight.level_current_a.value
    assert dirty.flight.level_current_a.value > 1.2 * planned.flight.level_current_a.value


def test_cold_lowers_the_voltage_under_load():
    cold = flown(PLANE.replace("temperature_c = 15", "temperature_c = -5") + PLAN)
    warm = flown(PLANE.replace("temperature_c = 15", "temperature_c = 30") + PLAN)
    assert cold.flight.min_pack_voltage_v.value < warm.flight.min_pack_voltage_v.value - 0.3


def test_without_a_plan_a_stated_one_is_flown_and_level_flight_is_at_least_power():
    found = flown(PLANE)
    assert {"plan.legs", "plan.legs.airspeed_mps"} <= {a.key for a in found.assumed}
    assert found.flight.legs


def test_a_climb_beyond_the_engines_is_flown_at_full_throttle():
    steep = flown(
        PLANE + '[plan]\nlegs = [{phase = "climb", seconds = 5, airspeed_mps = 20, climb_mps = 40.0}]'
    )
    full = next(s for s in steep.static if s.throttle_fraction == 1.0)
    assert steep.flight.legs[0].current_a.value < 1.1 * full.current_a.value


def test_the_object_is_the_contracts(planned):
    content = json.loads(json.dumps(planned.to_dict(), allow_nan=False))
    assert content["schema"] == "sagline.prediction/1"
    assert {"configuration", "air_density_kgm3", "static", "flight", "limits", "assumed"} <= set(content)
    static = content["static"][0]
    assert set(static) == {
        "throttle_fraction",
        "pack_voltage_v",
        "current_a",
        "thrust_n",
        "motors",
        "lead_drop_v",
        "lead_heat_w",
    }
    motor = {
        "position",
        "voltage_v",
        "current_a",
        "rpm",
        "torque_nm",
        "shaft_w",
        "thrust_n",
        "efficiency_fraction",
    }
    assert set(static["motors"][0]) == motor
    assert set(static["current_a"]) == {"value", "low", "high"}
    assert set(content["flight"]) == {
        "level_current_a",
        "min_pack_voltage_v",
        "mean_current_a",
        "consumed_mah",
        "time_to_reserve_s",
        "legs",
    }
    assert set(content["flight"]["legs"][0]) == {"phase", "seconds", "current_a", "pack_voltage_v"}


def test_the_timer_gets_a_mean_rate_and_its_spread(planned):
    mean, spread = planned.rate_prior
    assert mean == pytest.approx(planned.flight.mean_current_a.value * 1000 / 60)
    assert 0.03 < spread < 0.4


def test_without_a_plan_it_is_flown_as_fast_as_models_are_and_the_pilots_pace_is_in_doubt():
    """Twice the stall or nearly (common practice, no source): √(2·3.9·9.81/(1.225·0.5·1.2)) = 10.2 m/s, so
    about 19.
    """
    found = flown(PLANE)
    (plan,) = [a for a in found.assumed if a.key == "plan.legs"]
    assert "19 m/s" in plan.reason
    assert plan.interval_share > 0.1
    paced = flown(
        PLANE + '[plan]\nlegs = [{phase = "cruise", seconds = 200, airspeed_mps = 19.4}]'
    ).flight.mean_current_a
    loose = flown(
        PLANE + '[plan]\nlegs = [{phase = "cruise", seconds = 200, climb_mps = 0.0}]'
    ).flight.mean_current_a
    assert loose.value == pytest.approx(paced.value, rel=0.05)
    assert loose.high - loose.low > 1.2 * (paced.high - paced.low)


def test_thrust_of_a_propeller_known_by_its_current_goes_with_its_power():
    """A propeller that takes a quarter more power than its size lets expect has wide blades, and more thrust
    besides.
    """
    point = "static_points = [{rpm = 11250, current_a = %s, voltage_v = 18.5}]"
    usual, wide = (
        next(
            s
            for s in flown(
                PLANE.replace(
                    "static_points = [{rpm = 11250, current_a = 39.0, voltage_v = 18.5, thrust_n = 29.2}]",
                    point % a,
                )
            ).static
            if s.throttle_fraction == 0.5
        ).thrust_n.value
        for a in (39.0, 49.0)
    )
    assert wide > 1.03 * usual
