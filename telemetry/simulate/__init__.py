"""Invented flights with known truth, for the sample logs and for tests.

    flown = simulate(random_scenario(17), seed=17)
    flown.trace()                      the log as the importer should understand it, fresh samples marked
    flown.truth.cells[2].resistance_1s_ohm, .consumed_mah, .takeoff_s, .pairs[0].imbalance_fraction ...
    flown.truth.at("current_a")        the truth on a fine grid
    flown.write_csv(path, CsvDialect(delimiter=";", decimal=","))

To vary it: `random_scenario(seed, cells=5, rate_hz=10, bench=True, happenings=(Happening("cut", "left",
120.0, 8.0),))` draws aircraft, cells, air and sensors; `with_cell(scenario, 3, resistance=1.25)` weakens a
cell, `with_fault(scenario, "right", propeller_power=1.06, propeller_thrust=1.03)` a side,
`with_channels(scenario, without=("rpm", "current_a@"))` takes columns away, `with_record(scenario,
from_s=60)` starts the log in the air, `with_motors(scenario, ("centre",))` changes their number;
`legs=several(2, 120.0)`, `touch_and_go(90.0)` and `taxi_only()` are other plans, and `dataclasses.replace`
does the rest. `Scenario()` itself is the plain Saltmarsh Mail.

It knows more physics than the analyses' models on purpose (iron loss, a propeller whose coefficients move
with its speed, cells of one's own curve), and shares none of their code.
"""

from telemetry.simulate.cell import CellTruth, OpenCircuit, PackTruth
from telemetry.simulate.course import Air, AirframeTruth
from telemetry.simulate.csv_log import CsvDialect, Heading
from telemetry.simulate.draw import random_scenario
from telemetry.simulate.drive import ControllerTruth, DriveTruth, Fault, MotorTruth, PropellerTruth
from telemetry.simulate.flight import Simulated, simulate
from telemetry.simulate.happenings import Happened
from telemetry.simulate.plan import (
    FlownLeg,
    Happening,
    bench_steps,
    circuits,
    several,
    taxi_only,
    touch_and_go,
)
from telemetry.simulate.recorder import Recorder, Recording, Sensor
from telemetry.simulate.scenario import Scenario, usual_sensors
from telemetry.simulate.truth import CellFigures, PairFigures, Truth
from telemetry.simulate.vary import with_cell, with_channels, with_fault, with_motors, with_record

__all__ = [
    "Air",
    "AirframeTruth",
    "CellFigures",
    "CellTruth",
    "ControllerTruth",
    "CsvDialect",
    "DriveTruth",
    "Fault",
    "FlownLeg",
    "Happened",
    "Happening",
    "Heading",
    "MotorTruth",
    "OpenCircuit",
    "PackTruth",
    "PairFigures",
    "PropellerTruth",
    "Recorder",
    "Recording",
    "Scenario",
    "Sensor",
    "Simulated",
    "Truth",
    "bench_steps",
    "circuits",
    "random_scenario",
    "several",
    "simulate",
    "taxi_only",
    "touch_and_go",
    "usual_sensors",
    "with_cell",
    "with_channels",
    "with_fault",
    "with_motors",
    "with_record",
]
