"""Air against the standard atmosphere and two psychrometric libraries."""

import ambiance
import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from telemetry.physics import air

psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.source("ISO 2533:1975 / ICAO Doc 7488, geometric height, via ambiance 1.3.1")
@pytest.mark.parametrize(
    ("elevation_m", "density", "pressure", "kelvin"),
    [(0, 1.2250, 101_325, 288.15), (500, 1.16727, 95_461.3, 284.900), (1500, 1.05810, 84_559.7, 278.402)],
)
def test_standard_atmosphere(elevation_m, density, pressure, kelvin):
    assert air.density_kgm3(elevation_m) == pytest.approx(density, rel=1e-4)
    assert air.standard_pressure_pa(elevation_m) == pytest.approx(pressure, rel=1e-4)
    assert air.standard_temperature_k(elevation_m) == pytest.approx(kelvin, rel=1e-4)


@pytest.mark.source("ICAO Doc 7488 as ambiance computes it")
@pytest.mark.parametrize("elevation_m", [-100, 0, 237, 1000, 2400, 4000])
def test_the_atmosphere_library_agrees_at_every_field(elevation_m):
    theirs = ambiance.Atmosphere(elevation_m)
    assert air.density_kgm3(elevation_m) == pytest.approx(theirs.density[0], rel=1e-6)
    assert air.standard_pressure_pa(elevation_m) == pytest.approx(theirs.pressure[0], rel=1e-6)


@pytest.mark.source("gas law with R = 287.053 J/(kg·K)")
def test_a_hot_dry_day_at_the_sea():
    ours = air.density_kgm3(0, temperature_c=35, pressure_pa=101_325, relative_humidity_fraction=0)
    assert ours == pytest.approx(1.1455, rel=1e-3)
    assert ours == pytest.approx(101_325 / (287.053 * 308.15), rel=1e-5)


@pytest.mark.source(
    "ASHRAE Handbook Fundamentals 2017 ch. 1, as psychrolib has it; CoolProp's humid air as a second opinion"
)
@pytest.mark.parametrize(("humidity", "expected"), [(0.0, 1.1455), (0.5, 1.1335), (0.8, 1.1263)])
def test_humid_air_is_lighter(humidity, expected):
    ours = air.density_kgm3(0, temperature_c=35, pressure_pa=101_325, relative_humidity_fraction=humidity)
    assert ours == pytest.approx(expected, rel=1e-3)
    ratio = psychrolib.GetHumRatioFromRelHum(35, humidity, 101_325)
    assert ours == pytest.approx(psychrolib.GetMoistAirDensity(35, ratio, 101_325), rel=1e-4)
    # real gas against ideal gas: 0.05 % apart
    assert ours == pytest.approx(
        (1 + ratio) / HAPropsSI("V", "T", 308.15, "P", 101_325, "R", humidity), rel=1e-3
    )


@pytest.mark.source("psychrolib 2.5.0 GetSatVapPres (ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6)")
@pytest.mark.parametrize("temperature_c", [-20, -5, 0.5, 15, 35, 45])
def test_saturation_pressure_of_water(temperature_c):
    assert air.saturation_pressure_pa(temperature_c) == pytest.approx(
        psychrolib.GetSatVapPres(temperature_c), rel=1e-4
    )


@pytest.mark.source("psychrolib 2.5.0: 5627.8 Pa at 35 °C")
def test_saturation_pressure_at_35_degrees():
    assert air.saturation_pressure_pa(35) == pytest.approx(5627.8, rel=2e-3)
