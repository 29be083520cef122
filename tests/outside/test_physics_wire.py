"""Leads against the wire and cable standards."""

import pytest

from telemetry.physics import wire

GAUGES = [8, 10, 12, 14, 16]


@pytest.mark.source("ASTM B258 definition of gauges 36 and 4/0")
@pytest.mark.parametrize(("gauge", "diameter_mm"), [(36, 0.127), (-3, 11.684)])
def test_the_two_gauges_that_define_the_rest(gauge, diameter_mm):
    assert wire.awg_diameter_mm(gauge) == pytest.approx(diameter_mm, rel=1e-12)


@pytest.mark.source("ASTM B258")
@pytest.mark.parametrize(
    ("gauge", "area_mm2"), list(zip(GAUGES, [8.366, 5.261, 3.309, 2.081, 1.309], strict=True))
)
def test_area_of_a_gauge(gauge, area_mm2):
    assert wire.awg_area_mm2(gauge) == pytest.approx(area_mm2, rel=1e-3)


@pytest.mark.source("ASTM B258 area with IEC 60028 resistivity 1/58 Ω·mm²/m (from memory)")
@pytest.mark.parametrize(
    ("gauge", "mohm_per_m"), list(zip(GAUGES, [2.061, 3.277, 5.211, 8.285, 13.174], strict=True))
)
def test_one_conductor_of_a_gauge(gauge, mohm_per_m):
    assert 1000 * wire.lead_resistance_ohm(1.0, wire.awg_area_mm2(gauge)) == pytest.approx(
        mohm_per_m, rel=1e-3
    )


@pytest.mark.source("IEC 60228:2004, class 5 plain copper, maximum at 20 °C")
@pytest.mark.parametrize(
    ("area_mm2", "maximum_mohm"), [(1.5, 13.3), (2.5, 7.98), (4, 4.95), (6, 3.30), (10, 1.91), (16, 1.21)]
)
def test_pure_copper_stays_under_the_cable_standard(area_mm2, maximum_mohm):
    ours_mohm = 1000 * wire.lead_resistance_ohm(1.0, area_mm2)
    # the table is a maximum, 10 to 16 % above solid copper of the nominal area
    assert 0.84 * maximum_mohm < ours_mohm < maximum_mohm


@pytest.mark.source("IEC 60028, 0.00393 per kelvin (from memory)")
def test_copper_at_80_degrees():
    assert wire.copper_factor(80.0) == pytest.approx(1.2358, rel=1e-4)


@pytest.mark.source(
    "IEC 60228:2004 Annex, factors back to 20 °C; that standard takes 0.004 per kelvin, so 0.6 % apart at "
    "100 °C"
)
@pytest.mark.parametrize(("temperature_c", "factor"), [(40, 0.926), (80, 0.806), (100, 0.758)])
def test_warm_leads_against_the_cable_standard(temperature_c, factor):
    assert 1.0 / wire.copper_factor(temperature_c) == pytest.approx(factor, rel=7e-3)
    assert 250.0 / (230.0 + temperature_c) == pytest.approx(factor, abs=6e-4)


def test_a_pair_of_leads_drops_twice_what_one_does():
    # 40 A through 2 × 0.3 m of 5.26 mm²: 40 · 2 · 0.3 / (58 · 5.261) V
    one_ohm = wire.lead_resistance_ohm(0.3, 5.261)
    assert 40 * 2 * one_ohm == pytest.approx(40 * 0.6 / (58 * 5.261), rel=1e-12)
    assert wire.lead_heat_w(40.0, 2 * one_ohm) == pytest.approx(40**2 * 0.6 / (58 * 5.261), rel=1e-12)


@pytest.mark.source(
    "NEC table 310.17, single copper conductor in free air at 30 °C, 90 °C column (from memory)"
)
@pytest.mark.parametrize(("gauge", "ampacity_a"), [(14, 35), (12, 40), (10, 55), (8, 80)])
def test_a_lead_in_a_fuselage_carries_less_than_one_in_free_air(gauge, ampacity_a):
    ours_a = wire.steady_current_a(wire.awg_area_mm2(gauge), ambient_c=30.0, hottest_c=90.0)
    assert 0.70 * ampacity_a < ours_a < ampacity_a


@pytest.mark.source("energy: heat in = heat out")
def test_the_steady_current_heats_as_much_as_the_surface_passes():
    current_a = wire.steady_current_a(
        5.261, ambient_c=30.0, hottest_c=90.0, insulation_mm=0.8, surface_wpm2k=12.0
    )
    heat_wpm = wire.lead_heat_w(current_a, wire.lead_resistance_ohm(1.0, 5.261, 90.0))
    outer_m = (2 * (5.261 / 3.141592653589793) ** 0.5 + 1.6) / 1000
    assert heat_wpm == pytest.approx(12.0 * 3.141592653589793 * outer_m * 60.0, rel=1e-9)
