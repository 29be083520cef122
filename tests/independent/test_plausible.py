"""The independent simulator against facts from outside: it must be plausible before it may judge anything.

The ids (B5, P5, …) are those of the project's list of check values; the source stands beside each check.
"""

from __future__ import annotations

import csv
import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.independent import FAULTS, SCENARIOS, Recording, fly, judge, scenario
from tests.independent.cells import FULL_V, open_circuit_v, resistance_after
from tests.independent.propeller import make_propeller
from tests.independent.run import STEP_S

FLIGHTS = [name for name in SCENARIOS if name not in ("twin_bench", "twin_taxi")]


@cache
def flown(name: str, *faults: str) -> Recording:
    return fly(name, seed=11, faults=faults)


@pytest.mark.source("Chen et al. 2020 (B5), Prada et al. 2013 (B6), points as pybamm carries them")
@pytest.mark.parametrize(
    ("chemistry", "volts"),
    [
        ("li_ion", [4.200, 4.124, 4.097, 4.042, 3.948, 3.841, 3.751, 3.667, 3.581, 3.485, 3.296, 3.109]),
        ("lifepo4", [3.600, 3.316, 3.314, 3.310, 3.274, 3.269, 3.266, 3.252, 3.206, 3.168, 2.978, 2.785]),
    ],
)
def test_open_circuit_curves(chemistry: str, volts: list[float]) -> None:
    charge = np.array([1, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.05])
    assert open_circuit_v(chemistry, charge) == pytest.approx(volts, abs=0.03)


def test_lithium_polymer_at_rest() -> None:
    """Common practice, no source (B4, T11): full 4.20 V, half 3.70–3.85 V, high-voltage cells 4.35 V."""
    assert open_circuit_v("lipo", 1.0) == pytest.approx(FULL_V["lipo"], abs=1e-3)
    assert 3.70 <= float(open_circuit_v("lipo", 0.5, 0.2)) <= 3.85
    assert open_circuit_v("lihv", 1.0) == pytest.approx(4.35, abs=1e-3)


@pytest.mark.source(
    "UIUC volume 2, Deters et al. AIAA 2014-2151: a 9 in propeller of two blades (P5); J of P6"
)
def test_propeller_coefficients_are_of_a_real_size() -> None:
    propeller = make_propeller(9, 6.75)
    thrust, torque = propeller.look_up(0.0)
    assert thrust == pytest.approx(0.135, rel=0.15)
    assert torque * 2 * np.pi == pytest.approx(0.083, rel=0.25)
    windmilling = propeller.look_up(1.4)
    assert windmilling[0] < 0
    assert windmilling[1] < 0


@pytest.mark.source(
    "Brandt & Selig, AIAA 2011-1255 (P4): best efficiency 0.28 … 0.65, here with a little room"
)
def test_propeller_efficiency() -> None:
    advance = np.linspace(0.1, 1.2, 60)
    pairs = np.array([make_propeller(10, 7).look_up(j) for j in advance])
    efficiency = advance * pairs[:, 0] / (pairs[:, 1] * 2 * np.pi)
    driving = pairs[:, 1] > 0.003
    assert 0.5 < efficiency[driving].max() < 0.75


@pytest.mark.source("actuator-disc theory (P2, P3): ideal thrust (2 ρ A P²)^(1/3)")
def test_static_thrust_stays_under_the_momentum_bound() -> None:
    run = flown("twin_bench")
    table, parts = run.table, run.plan.drives[0]
    power, thrust = table["motor_torque"][:, 0] * table["motor_omega"][:, 0], table["motor_thrust"][:, 0]
    steady = table["motor_command"][:, 0] > 0.45
    area = np.pi / 4 * parts.propeller.diameter_m**2
    bound = (2 * run.plan.air.density * area * power[steady] ** 2) ** (1 / 3)
    merit = float(np.median((thrust[steady] / bound) ** 1.5))
    assert 0.4 < merit < 0.8


@pytest.mark.source("SI identity (C1): 1 A·s is 1/3.6 mAh")
@pytest.mark.parametrize("name", ["twin_5s", "twin_trainer"])
def test_charge_is_the_integral_of_current(name: str) -> None:
    table = flown(name).table
    assert table["drawn"][-1] == pytest.approx(float(table["current"].sum()) * STEP_S / 3.6, rel=1e-9)


@pytest.mark.source("conservation of energy")
@pytest.mark.parametrize("name", ["twin_5s", "trainer_3s", "big_12s"])
def test_energy_goes_down_the_drive(name: str) -> None:
    table = flown(name).table
    battery = float((table["pack_v"] * table["current"]).sum())
    shaft = float((table["motor_torque"] * table["motor_omega"]).sum())
    air = float((table["motor_thrust"].sum(axis=1) * table["air"]).sum())
    assert 0.6 < shaft / battery < 0.92
    assert 0.35 < air / shaft < 0.75


@pytest.mark.source("Drela 2007 (M1): Ω = Kv (V − I R); freewheeling and throttle curve cost some of it")
def test_full_throttle_speed_follows_kv() -> None:
    run = flown("twin_bench")
    table, parts = run.table, run.plan.drives[0]
    full = np.nonzero(table["motor_command"][:, 0] > 0.999)[0][-50]
    volts = table["pack_v"][full] - table["motor_winding"][full, 0] * (
        parts.winding_ohm + parts.on_ohm + parts.lead_ohm
    )
    assert table["motor_omega"][full, 0] * 30 / np.pi == pytest.approx(parts.kv_rpm_per_v * volts, rel=0.02)


@pytest.mark.source("Kirchhoff's voltage law")
def test_cells_add_up_to_the_pack() -> None:
    run = flown("four_6s")
    rest = run.table["cells"].sum(axis=1) - run.table["current"] * run.plan.pack.plug_ohm
    assert run.table["pack_v"] == pytest.approx(rest, abs=1e-9)


@pytest.mark.source(
    "Arrhenius law (B2): ×1.75 at 0.20 eV, ×2.3 at 0.30 eV from 25 to 5 °C; growth with time: B8"
)
def test_cell_resistance_with_time_and_cold() -> None:
    pack = scenario("twin_5s", 11).pack
    at = [
        float(resistance_after(pack, s, 20.0, np.array([1000.0]), np.array([25.0])).mean())
        for s in (0, 1, 10)
    ]
    cold = float(resistance_after(pack, 1.0, 20.0, np.array([1000.0]), np.array([5.0])).mean())
    assert at[0] < at[1] < at[2]
    assert 1.05 < at[2] / at[1] < 1.6
    assert 1.2 < cold / at[1] < 2.3


@pytest.mark.parametrize("name", FLIGHTS)
def test_flights_take_off_land_and_keep_the_reserve(name: str) -> None:
    """Common practice, no source (T4): about a fifth stays in the pack, no loaded cell under 3.3 V."""
    known = flown(name).truth.figures
    assert known["takeoff_s"] is not None
    assert known["landing_s"] > known["takeoff_s"] + 60
    assert 0.25 < known["charge_left_fraction"] < 0.9
    assert min(cell["min_loaded_v"] for cell in known["cells"]) > 3.3


def test_the_glider_glides() -> None:
    """Common practice, no source: a motor glider of this size sinks by 0.3 to 1.2 m/s with its motor
    stopped.
    """
    table = flown("glider_3s").table
    gliding = (table["height"] > 40) & (table["motor_command"][:, 0] == 0) & (np.abs(table["path"]) < 0.12)
    sink = -float(np.mean((table["speed"] * np.sin(table["path"]))[gliding]))
    assert 0.3 < sink < 1.2


def test_regeneration_returns_charge() -> None:
    assert flown("twin_trainer").table["current"].min() < -1.0


@pytest.mark.parametrize("name", ["twin_5s", "twin_bench"])
def test_what_is_written_can_be_read(name: str, tmp_path: Path) -> None:
    run = flown(name)
    files = run.write(tmp_path)
    text = files.logs[0].read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines(), delimiter=run.logs[0].delimiter))
    assert len(rows) == len(run.logs[0].time_s) + 1
    assert {len(row) for row in rows} == {len(run.logs[0].columns) + 1}
    sheet = tomllib.loads(files.sheet.read_text(encoding="utf-8"))
    assert sheet["pack"]["cells"] == run.plan.pack.cells
    assert sheet["motor"]["kv_rpm_per_v"] == pytest.approx(run.plan.drives[0].kv_rpm_per_v, rel=0.025)


def test_faults_are_in_the_truth() -> None:
    sound, weak = flown("trainer_3s").truth.figures["cells"], flown("trainer_3s", "weak_cell_60").truth
    c = (weak.expected[0].cell or 0) - 1
    assert weak.figures["cells"][c]["resistance_1s_ohm"] / sound[c]["resistance_1s_ohm"] == pytest.approx(
        1.6, rel=0.05
    )
    cut = flown("twin_5s", "motor_cut_4s").truth
    assert cut.expected[0].at_s == cut.events[0]["began_s"]
    assert cut.events[0]["ended_s"] - cut.events[0]["began_s"] == pytest.approx(4.0, abs=0.11)
    assert len(FAULTS) >= 45


def test_the_judge_tells_right_from_wrong() -> None:
    truth = flown("trainer_3s", "weak_cell_60").truth
    cell = truth.expected[0].cell
    flight = {
        "decision": "check",
        "open": [],
        "takeoff_s": truth.figures["takeoff_s"],
        "pack": {"weak_cell": cell, "weak_cell_kind": "resistance", "cells": []},
        "capacity": {
            "consumed_mah": {"value": truth.figures["consumed_as_sensed_mah"], "low": 0.0, "high": 1.0}
        },
        "motors": {"pairs": [], "events": []},
        "findings": [{"key": "weak_cell_resistance"}],
    }
    right = judge(truth, {"flights": [flight]})
    assert right.wrong == []
    assert len(right.loose) == 1
    wrong = {**flight, "decision": "clear", "takeoff_s": 0.0, "findings": []}
    wrong["pack"] = {"weak_cell": None, "cells": []}
    assert len(judge(truth, {"flights": [wrong]}).wrong) == 4
