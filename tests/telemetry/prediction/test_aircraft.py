"""Sheets of every kind of electric aircraft, from 0.2 to 25 kg and 2S to 14S. All are invented."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import pytest

from telemetry.prediction import predict
from telemetry.season.timer.floor import to_fill_in
from telemetry.sheet import Sheet

PAIR, FOUR = ("left", "right"), ("left_outer", "left_inner", "right_inner", "right_outer")
FAN = """
diameter_mm = 69
ducted = true
blades = 10
static_points = [{rpm = 43000, current_a = 72, voltage_v = 21.0, thrust_n = 22.0}]
"""


def sheet(
    mass_kg: float,
    span_m: float,
    pack: str,
    kv: int,
    propeller: str,
    motors: tuple[str, ...] = (),
    more: str = "",
) -> Sheet:
    """An invented sheet with what its owner knows at least."""
    text = (
        f"[aircraft]\nmass_kg = {mass_kg}\nspan_m = {span_m}\n[pack]\n{pack}\n[motor]\nkv_rpm_per_v = {kv}\n"
        f"[propeller]\n{propeller}\n{more}\n"
    )
    return Sheet.from_text(
        text + "".join(f'[[motors]]\nposition = "{p}"\n' for p in motors), file="invented.toml"
    )


def pack(cells: int, capacity_mah: int, chemistry: str = "lipo") -> str:
    return f'cells = {cells}\ncapacity_mah = {capacity_mah}\nchemistry = "{chemistry}"'


BURSTS = (
    '[plan]\nlegs = [{phase = "climb", seconds = 15, throttle = 1.0, airspeed_mps = 11}, '
    '{phase = "descent", seconds = 60, throttle = 0.0, airspeed_mps = 9}, '
    '{phase = "climb", seconds = 15, throttle = 1.0, airspeed_mps = 11}, '
    '{phase = "descent", seconds = 60, throttle = 0.0, airspeed_mps = 9}]'
)
SHEETS = {
    "indoor, 2S": sheet(0.2, 0.8, pack(2, 300), 1900, "diameter_in = 6\npitch_in = 4"),
    "park flyer, 2S lithium iron phosphate": sheet(
        0.6, 1.0, pack(2, 1100, "lifepo4"), 1400, "diameter_in = 8\npitch_in = 4.5"
    ),
    "trainer, 3S lithium ion": sheet(
        1.4, 1.4, pack(3, 3000, "li_ion"), 950, "diameter_in = 10\npitch_in = 6"
    ),
    "glider in bursts, 3S": sheet(
        1.5, 2.3, pack(3, 2200), 850, "diameter_in = 12\npitch_in = 7", more=BURSTS
    ),
    "pusher wing, 4S high-voltage": sheet(
        1.1, 1.2, pack(4, 2200, "lihv"), 1250, "diameter_in = 8\npitch_in = 6"
    ),
    "aerobatic, 4S": sheet(1.6, 1.2, pack(4, 2700), 800, "diameter_in = 13\npitch_in = 6.5\nblades = 3"),
    "twin, 5S": sheet(3.9, 1.83, pack(5, 5200), 640, "diameter_in = 11\npitch_in = 7", PAIR),
    "ducted fan, 6S": sheet(2.1, 1.0, pack(6, 4000), 2200, FAN),
    "twin ducted fans, 12S": sheet(5.5, 1.6, pack(12, 5000), 1100, FAN, PAIR),
    "four motors, 6S": sheet(6.4, 2.4, pack(6, 5400), 470, "diameter_in = 11\npitch_in = 7", FOUR),
    "endurance, 8S lithium ion": sheet(
        9.0, 3.4, pack(8, 14000, "li_ion"), 320, "diameter_in = 18\npitch_in = 10", PAIR
    ),
    "tug, 10S": sheet(11.0, 2.4, pack(10, 5000), 230, "diameter_in = 20\npitch_in = 10"),
    "transport, 12S": sheet(12.0, 3.0, pack(12, 5200), 190, "diameter_in = 17\npitch_in = 10", PAIR),
    "giant, 14S": sheet(25.0, 4.5, pack(14, 16000), 130, "diameter_in = 24\npitch_in = 12", PAIR),
    "giant of four, 14S": sheet(25.0, 4.8, pack(14, 20000), 160, "diameter_in = 18\npitch_in = 10", FOUR),
}


def numbers(found: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every number and every null in an object, by its path."""
    if isinstance(found, dict):
        for key, value in found.items():
            yield from numbers(value, f"{path}.{key}")
    elif isinstance(found, list):
        for k, value in enumerate(found):
            yield from numbers(value, f"{path}[{k}]")
    elif found is None or isinstance(found, int | float):
        yield path, found


def estimates(found: Any) -> Iterator[dict[str, float]]:
    """Every value with an interval."""
    if isinstance(found, dict):
        if {"value", "low", "high"} <= set(found):
            yield found
        for value in found.values():
            yield from estimates(value)
    elif isinstance(found, list):
        for value in found:
            yield from estimates(value)


@pytest.mark.parametrize("name", list(SHEETS))
def test_every_aircraft_gets_every_figure_with_its_interval(name):
    found = predict(SHEETS[name]).to_dict()
    told = {key: found[key] for key in ("static", "flight", "air_density_kgm3")}
    assert [path for path, value in numbers(told) if value is None or not math.isfinite(value)] == []
    assert all(e["low"] <= e["value"] <= e["high"] for e in estimates(told))


@pytest.mark.parametrize("name", list(SHEETS))
def test_more_throttle_is_more_current_and_no_disc_gives_more_than_momentum_theory(name):
    """A disc held still gives (2·ρ·A·P²)^(1/3) at most: actuator-disc theory."""
    setup = SHEETS[name].setup()
    found = predict(setup)
    forward = [s for s in found.static if s.throttle_fraction > 0.0]
    currents = [s.current_a.value for s in sorted(forward, key=lambda s: s.throttle_fraction)]
    assert currents == sorted(currents)
    full = next(s for s in forward if s.throttle_fraction == 1.0)
    for drive, motor in zip(setup.drives, full.motors, strict=True):
        area_m2 = math.pi / 4.0 * drive.propeller.diameter_m**2
        most_n = (2.0 * found.air_density_kgm3 * area_m2 * motor.shaft_w.value**2) ** (1.0 / 3.0)
        assert 0.3 * most_n < motor.thrust_n.value <= 1.0001 * most_n


def test_a_glider_in_bursts_draws_nothing_between_them():
    legs = predict(SHEETS["glider in bursts, 3S"]).flight.legs
    assert [leg.current_a.value > 5.0 for leg in legs] == [True, False, True, False]
    assert legs[1].current_a.high < 0.1


def test_a_ducted_fan_goes_by_its_static_point_held_still_and_by_its_jet_in_the_air():
    """One fan on the stand: 22.0 N at 43,000 rpm; a jet of four fifths of its disc leaves it at √(T/ρA)."""
    found = predict(SHEETS["ducted fan, 6S"])
    full = next(s for s in found.static if s.throttle_fraction == 1.0)
    thrust, rpm = full.motors[0].thrust_n, full.motors[0].rpm.value
    assert thrust.low < 22.0 * (rpm / 43000) ** 2 < thrust.high
    said = {a.key: a for a in found.assumed}
    jet_mps = math.sqrt(22.0 / (1.225 * 0.8 * math.pi / 4.0 * 0.069**2))
    assert said["propeller.jet_mps"].value == pytest.approx(jet_mps, abs=1.0)
    assert "does not reach a ducted fan" in said["propeller.jet_mps"].reason
    assert "propeller.pitch_in" not in said


def test_in_the_air_a_ducted_fan_is_far_less_sure_than_held_still():
    found = predict(SHEETS["ducted fan, 6S"])
    full = next(s for s in found.static if s.throttle_fraction == 1.0)
    still, level = full.current_a, found.flight.level_current_a
    assert (level.high - level.low) / level.value > 2.0 * (still.high - still.low) / still.value


def test_a_ducted_fan_sets_an_alarm_from_a_static_point_alone():
    fan = SHEETS["ducted fan, 6S"]
    assert to_fill_in(fan.setup()) == ()
    bare = Sheet.from_text(
        fan.text.replace("static_points", "#").replace("ducted", "pitch_in = 3\nducted"), file="bare.toml"
    )
    assert len(to_fill_in(bare.setup())) == 1


NO_LOAD_SHEET = """
[aircraft]
mass_kg = 3.6
[pack]
cells = 5
capacity_mah = 5200
[motor]
kv_rpm_per_v = 640
resistance_mohm = 25
no_load_points = [{point}]
[propeller]
diameter_in = 11
pitch_in = 7
static_points = [{{rpm = 10390, current_a = 33.6, voltage_v = 17.0, thrust_n = 24.7}}]
"""


def full_throttle_a(point):
    setup = Sheet.from_text(NO_LOAD_SHEET.format(point=point)).setup()
    found = predict(setup)
    return found, next(row for row in found.static if row.throttle_fraction == 1.0).current_a


def test_a_no_load_current_alone_is_a_point_and_its_unknown_voltage_is_said():
    """Data sheets often give the no-load current without its voltage (common practice, no source)."""
    told, at_12v = full_throttle_a("{current_a = 1.2, voltage_v = 12.0}")
    found, alone = full_throttle_a("{current_a = 1.2}")
    assert alone.value == pytest.approx(at_12v.value, rel=0.02)
    assert alone.high - alone.low >= 0.98 * (at_12v.high - at_12v.low)
    keys = [a.key for a in found.assumed]
    assert "motor.no_load_points" in keys
    assert "motor.no_load_points" not in [a.key for a in told.assumed]
