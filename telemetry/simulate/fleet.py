"""Invented aircraft of other kinds than the Saltmarsh Mail, one flight each: a glider, a trainer on
lithium-ion cells, one with four motors, a twin with a pack for each motor.

Nobody built them and nobody flew them. Each has a scenario, a seed, and the sheet that an owner would write
for it: with honest errors of a few per cent against the truth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from telemetry.simulate.cell import CellTruth, OpenCircuit, PackTruth
from telemetry.simulate.course import Air, AirframeTruth
from telemetry.simulate.drive import DriveTruth, Fault, MotorTruth, PropellerTruth
from telemetry.simulate.plan import FlownLeg, circuits
from telemetry.simulate.recorder import Recorder
from telemetry.simulate.scenario import Scenario, usual_sensors
from telemetry.simulate.two_packs import SEED, SHEET, two_packs

_HEAD = """\
# Set-up sheet of an invented aircraft. Nobody built it. Its figures carry honest errors
# against the truth that its log was made from, as an owner's figures do.
"""

_GLIDER = """
[aircraft]
name = "Invented glider"
mass_kg = 1.50
span_m = 2.30
wing_area_m2 = 0.46
drag_area_m2 = 0.0120            # parasitic only

[field]
elevation_m = 120
temperature_c = 19

[pack]
name = "A"
chemistry = "lipo"
cells = 3
capacity_mah = 2200
resistance_mohm = 6.2            # per cell, as the charger shows it
ratings = [{ c_rate = 25 }]

[motor]
kv_rpm_per_v = 840
resistance_mohm = 37
no_load_points = [{ voltage_v = 9.5, current_a = 1.1, rpm = 7930 }]
ratings = [{ current_a = 45, seconds = 30 }]

[propeller]
diameter_in = 12
pitch_in = 7
static_points = [                # on the thrust stand
    { rpm = 8570, current_a = 38.9, voltage_v = 11.70, thrust_n = 21.4 },
    { rpm = 7110, current_a = 28.2, voltage_v = 9.58, thrust_n = 15.2 },
]

[controller]
ratings = [{ current_a = 50 }]

[leads]
length_m = 0.40                  # one way
area_mm2 = 2.6

[plan]
legs = [                         # a burst to height, then a glide with the motor stopped, twice
    { phase = "takeoff", seconds = 4, throttle = 0.9 },
    { phase = "climb", seconds = 14, throttle = 0.95, airspeed_mps = 12 },
    { phase = "descent", seconds = 85, throttle = 0.0, airspeed_mps = 10 },
    { phase = "climb", seconds = 8, throttle = 0.95, airspeed_mps = 12 },
    { phase = "descent", seconds = 140, throttle = 0.0, airspeed_mps = 10 },
]
"""

_TRAINER = """
[aircraft]
name = "Invented trainer"
mass_kg = 1.52
span_m = 1.42
wing_area_m2 = 0.35
drag_area_m2 = 0.0280            # parasitic only, on wheels

[field]
elevation_m = 40
temperature_c = 17

[pack]
name = "A"
chemistry = "li_ion"             # cylinders, three in series and two in parallel
cells = 3
parallel = 2
capacity_mah = 6000
resistance_mohm = 11.6           # per group, as the charger shows it
ratings = [{ c_rate = 5 }]

[motor]
kv_rpm_per_v = 990
resistance_mohm = 43
no_load_points = [{ voltage_v = 8.2, current_a = 1.1, rpm = 8070 }]
ratings = [{ current_a = 32 }]

[propeller]
diameter_in = 10
pitch_in = 6
static_points = [                # on the thrust stand
    { rpm = 10110, current_a = 26.8, voltage_v = 11.70, thrust_n = 15.2 },
    { rpm = 8460, current_a = 18.7, voltage_v = 9.58, thrust_n = 10.7 },
]

[controller]
ratings = [{ current_a = 40 }]

[leads]
length_m = 0.40                  # one way
area_mm2 = 2.8

[plan]
legs = [
    { phase = "takeoff", seconds = 4, throttle = 0.95 },
    { phase = "climb", seconds = 14, throttle = 0.75 },
    { phase = "cruise", seconds = 720, airspeed_mps = 14 },
    { phase = "approach", seconds = 45, throttle = 0.15 },
]
"""

_FOUR = """
[aircraft]
name = "Invented four-motor"
mass_kg = 6.4
span_m = 2.40
wing_area_m2 = 0.82
drag_area_m2 = 0.074             # parasitic only, on wheels

[field]
elevation_m = 60
temperature_c = 20

[pack]
name = "A"
chemistry = "lipo"
cells = 6
capacity_mah = 5400
resistance_mohm = 2.8            # per cell, as the charger shows it
ratings = [{ c_rate = 25 }]

[motor]
kv_rpm_per_v = 475
resistance_mohm = 53
no_load_points = [{ voltage_v = 17.0, current_a = 0.9, rpm = 8030 }]
ratings = [{ current_a = 30 }]

[propeller]
diameter_in = 11
pitch_in = 7
static_points = [                # one motor on the thrust stand
    { rpm = 10380, current_a = 23.4, voltage_v = 23.40, thrust_n = 24.9 },
    { rpm = 8510, current_a = 16.7, voltage_v = 19.10, thrust_n = 16.1 },
]

[controller]
ratings = [{ current_a = 35 }]

[leads]
length_m = 0.80                  # one way, pack to one controller
area_mm2 = 4.5

[[motors]]
position = "left_outer"

[[motors]]
position = "left_inner"

[[motors]]
position = "right_inner"

[[motors]]
position = "right_outer"

[plan]
legs = [
    { phase = "takeoff", seconds = 4, throttle = 0.95 },
    { phase = "climb", seconds = 9, throttle = 0.75 },
    { phase = "cruise", seconds = 260, airspeed_mps = 18 },
    { phase = "approach", seconds = 35, throttle = 0.15 },
]
"""

FOUR = ("left_outer", "left_inner", "right_inner", "right_outer")

LITHIUM_ION = OpenCircuit(
    base_v=3.387,
    rise_v=0.781,
    bend_v=-0.013,
    knee_v=0.597,
    knee_width=0.069,
    step_v=0.027,
    step_at=0.624,
    step_width=0.07,
)
"""A high-nickel cylinder: within 30 mV of Chen et al. 2020 (J. Electrochem. Soc. 167 080534) from 5 % up."""


@dataclass(frozen=True, slots=True)
class Flown:
    """One flight of one aircraft with its owner's sheet, as TOML."""

    scenario: Scenario
    seed: int
    sheet: str


def _cells(typical: CellTruth, spread: tuple[float, ...]) -> tuple[CellTruth, ...]:
    """Cells that differ in their resistance as those of a healthy pack do."""
    return tuple(
        replace(typical, r0_ohm=typical.r0_ohm * k, r1_ohm=typical.r1_ohm * k, r2_ohm=typical.r2_ohm * k)
        for k in spread
    )


def _recorded(cells: int, positions: tuple[str, ...]) -> tuple[Recorder, ...]:
    return (Recorder("receiver", usual_sensors(cells, positions), interval_s=0.1),)


def _glider() -> Flown:
    """Five bursts to height, and long glides between them with the motor stopped."""
    burst = (FlownLeg("climb", throttle=0.95, height_m=110.0), FlownLeg("glide", 85.0))
    cell = CellTruth(
        capacity_mah=2170.0,
        r0_ohm=0.0046,
        r1_ohm=0.0020,
        r2_ohm=0.0026,
        start_left_fraction=0.99,
    )
    scenario = Scenario(
        name="glider",
        pack=PackTruth(
            cells=_cells(cell, (1.01, 0.99, 1.0)),
            plug_ohm=0.0015,
            lead_ohm=0.005,
            start_c=20.0,
            heat_capacity_jpk=170.0,
        ),
        drives=(
            DriveTruth(
                "centre",
                MotorTruth(850.0, 0.036, 0.8, 0.04, inertia_kgm2=8e-5, heat_capacity_jpk=45.0),
                PropellerTruth(0.3048, 0.0420, 0.098, 0.70),
            ),
        ),
        airframe=AirframeTruth(1.52, 2.30, 0.46, 0.0125, span_efficiency=0.85),
        air=Air(temperature_c=19.0, density_kgm3=1.209),
        legs=(
            FlownLeg("rest", 10.0),
            FlownLeg("takeoff", throttle=0.9),
            *burst * 5,
            FlownLeg("approach"),
            FlownLeg("land"),
            FlownLeg("rest", 35.0),
        ),
        receiver_a=0.3,
        recorders=_recorded(3, ("centre",)),
    )
    return Flown(scenario, 301, _HEAD + _GLIDER)


def _trainer_li_ion() -> Flown:
    """One motor on three lithium-ion cylinders in series, two in parallel."""
    cell = CellTruth(
        capacity_mah=5850.0,
        r0_ohm=0.0098,
        r1_ohm=0.0035,
        r2_ohm=0.0062,
        tau2_s=35.0,
        start_left_fraction=0.985,
        open_circuit=LITHIUM_ION,
        ohmic_kjpmol=12.0,
        slow_kjpmol=16.0,
    )
    scenario = Scenario(
        name="trainer on lithium ion",
        pack=PackTruth(
            cells=_cells(cell, (1.0, 1.012, 0.99)),
            plug_ohm=0.0015,
            lead_ohm=0.005,
            start_c=19.0,
            heat_capacity_jpk=300.0,
        ),
        drives=(
            DriveTruth(
                "centre",
                MotorTruth(980.0, 0.044, 0.7, 0.05, inertia_kgm2=5e-5, heat_capacity_jpk=40.0),
                PropellerTruth(0.254, 0.0430, 0.100, 0.72),
            ),
        ),
        airframe=AirframeTruth(1.50, 1.42, 0.35, 0.030),
        air=Air(temperature_c=17.0, density_kgm3=1.217),
        legs=circuits(720.0, airspeed_mps=14.0, passes=4),
        receiver_a=0.35,
        recorders=_recorded(3, ("centre",)),
    )
    return Flown(scenario, 302, _HEAD + _TRAINER)


def _four_motors() -> Flown:
    """Four alike on one 6S pack, the outer right propeller a little heavier than the others."""
    cell = CellTruth(
        capacity_mah=5330.0, r0_ohm=0.0021, r1_ohm=0.0009, r2_ohm=0.0012, start_left_fraction=0.99
    )
    motor = MotorTruth(470.0, 0.052, 0.5, 0.05, inertia_kgm2=8e-5, heat_capacity_jpk=50.0)
    propeller = PropellerTruth(0.2794, 0.0480, 0.103, 0.76)
    scenario = Scenario(
        name="four motors",
        pack=PackTruth(
            cells=_cells(cell, (1.01, 0.99, 1.0, 1.012, 0.988, 1.0)),
            plug_ohm=0.0010,
            lead_ohm=0.006,
            start_c=21.0,
            heat_capacity_jpk=760.0,
        ),
        drives=tuple(
            DriveTruth(
                position,
                motor,
                propeller,
                fault=Fault(propeller_power=1.08, propeller_thrust=1.04)
                if position == "right_outer"
                else Fault(),
            )
            for position in FOUR
        ),
        airframe=AirframeTruth(6.4, 2.4, 0.82, 0.078),
        air=Air(temperature_c=20.0, density_kgm3=1.205),
        legs=circuits(260.0, airspeed_mps=18.0, passes=3),
        recorders=_recorded(6, FOUR),
    )
    return Flown(scenario, 303, _HEAD + _FOUR)


def _two_packs() -> Flown:
    return Flown(two_packs(), SEED, SHEET)


FLEET: dict[str, Callable[[], Flown]] = {
    "glider": _glider,
    "trainer_li_ion": _trainer_li_ion,
    "four_motors": _four_motors,
    "two_packs": _two_packs,
}
"""By the name of the scenario."""
