"""The Saltmarsh Mail, an invented 1.83 m twin, and the flights of its sample logs.

Nobody built it and nobody flew it. Each sample has a scenario, a seed and, for each recorder, a file name and
a dialect that no real recorder writes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from telemetry.simulate.cell import CellTruth, PackTruth
from telemetry.simulate.course import Air, AirframeTruth
from telemetry.simulate.csv_log import CsvDialect, Heading
from telemetry.simulate.drive import DriveTruth, Fault
from telemetry.simulate.plan import FlownLeg, bench_steps, circuits
from telemetry.simulate.recorder import Recorder, Sensor
from telemetry.simulate.scenario import Scenario, usual_sensors
from telemetry.simulate.vary import with_cell, with_fault
from telemetry.trace import Key

CRUISE_MPS = 22.0
SKIS = AirframeTruth(mass_kg=4.15, drag_area_m2=0.058, rolling_friction=0.09, braking_friction=0.10)


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample: a scenario, its seed, a file and a dialect for each recorder, the sheet's configuration and
    pack.
    """

    name: str
    scenario: Scenario
    seed: int
    files: tuple[tuple[str, CsvDialect], ...]
    configuration: str = ""
    pack: str = ""


def mail(**replacing: object) -> Scenario:
    """The Mail as it truly is: five cells within 2 %, motors within 0.3 % of each other."""
    spread = (1.01, 0.99, 1.0, 1.015, 0.985)
    typical = CellTruth(capacity_mah=5120.0, start_left_fraction=0.99, empty_rise_fraction=0.2)
    cells = tuple(
        replace(
            typical,
            r0_ohm=typical.r0_ohm * k,
            r1_ohm=typical.r1_ohm * k,
            r2_ohm=typical.r2_ohm * k,
            start_left_fraction=0.99 - 0.05 * (k - 1.0),
        )
        for k in spread
    )
    scenario = Scenario(
        name="saltmarsh mail",
        pack=PackTruth(cells=cells),
        drives=(DriveTruth("left"), DriveTruth("right", fault=Fault(kv=1.002, winding=1.01))),
        legs=_outing(330.0, passes=3),
    )
    return replace(scenario, **replacing)  # type: ignore[arg-type]


def _at(hour: int, minute: int, second: int) -> float:
    """A time of day. [s]"""
    return 3600.0 * hour + 60.0 * minute + second


def _on(day: date, start_s: float, dialect: CsvDialect) -> CsvDialect:
    """A way to write a log with the day and the time of day."""
    return replace(dialect, time="clock", time_unit="", clock_start_s=start_s, day=day)


def _outing(cruise_s: float, *, passes: int) -> tuple[FlownLeg, ...]:
    return circuits(cruise_s, airspeed_mps=CRUISE_MPS, passes=passes, taxi_s=12.0, climb_throttle=0.8)


def _recorder(
    *,
    row_s: float = 0.1,
    cell_s: float = 0.2,
    lag_s: float = 0.2,
    without: tuple[str, ...] = (),
    **choices: float,
) -> Recorder:
    sensors = tuple(
        replace(
            s,
            interval_s=cell_s if s.quantity == "cell_voltage_v" else s.interval_s,
            lag_s=lag_s if s.quantity.endswith("voltage_v") else s.lag_s,
        )
        for s in usual_sensors()
        if s.quantity not in without
    )
    return Recorder("receiver", sensors, interval_s=row_s, **choices)  # type: ignore[arg-type]


_MOTOR_ENGLISH = {"left": "port", "right": "starboard"}


def _english(
    *, cells: bool = True, rpm: bool = True, temperature: bool = True, air: bool = True
) -> dict[Key, Heading]:
    """Plain English with the unit in brackets."""
    found = {
        ("throttle_fraction", ""): Heading("throttle (%)", "%", 100.0, 0),
        ("rudder_fraction", ""): Heading("rudder (%)", "%", 100.0, 0),
        ("pack_voltage_v", ""): Heading("pack voltage (V)", "V", 1.0, 2),
        ("current_a", ""): Heading("pack current (A)", "A", 1.0, 1),
        ("charge_mah", ""): Heading("charge used (mAh)", "mAh", 1.0, 0),
    }
    if cells:
        found |= {("cell_voltage_v", str(k)): Heading(f"cell {k} (V)", "V", 1.0, 3) for k in range(1, 6)}
    for side, word in _MOTOR_ENGLISH.items():
        found[("current_a", side)] = Heading(f"{word} motor current (A)", "A", 1.0, 1)
        if rpm:
            found[("rpm", side)] = Heading(f"{word} propeller speed (rpm)", "rpm", 1.0, 0)
        if temperature:
            found[("motor_temperature_c", side)] = Heading(f"{word} motor temperature (°C)", "°C", 1.0, 0)
    if air:
        found |= {
            ("altitude_m", ""): Heading("height (m)", "m", 1.0, 1),
            ("airspeed_mps", ""): Heading("airspeed (m/s)", "m/s", 1.0, 1),
        }
    return found


def _german() -> dict[Key, Heading]:
    """German words, units in a row of their own."""
    found = {
        ("throttle_fraction", ""): Heading("Gas", "%", 100.0, 0),
        ("rudder_fraction", ""): Heading("Seitenruder", "%", 100.0, 0),
        ("pack_voltage_v", ""): Heading("Akkuspannung", "V", 1.0, 2),
        ("current_a", ""): Heading("Gesamtstrom", "A", 1.0, 1),
        ("charge_mah", ""): Heading("Entnommene Ladung", "Ah", 0.001, 3),
    }
    found |= {("cell_voltage_v", str(k)): Heading(f"Zelle {k}", "V", 1.0, 3) for k in range(1, 6)}
    for side, word in {"left": "links", "right": "rechts"}.items():
        found[("current_a", side)] = Heading(f"Strom {word}", "A", 1.0, 1)
        found[("rpm", side)] = Heading(f"Drehzahl {word}", "1/min", 1.0, 0)
        found[("motor_temperature_c", side)] = Heading(f"Motortemperatur {word}", "°C", 1.0, 0)
    return found | {
        ("altitude_m", ""): Heading("Höhe", "m", 1.0, 1),
        ("airspeed_mps", ""): Heading("Fluggeschwindigkeit", "km/h", 3.6, 0),
    }


def _millivolts() -> dict[Key, Heading]:
    """Cells in millivolts, current in tenths, words short."""
    found = {
        key: Heading(f"Cell{key[1]} mV", "mV", 1000.0, 0)
        for key in ((("cell_voltage_v", str(k))) for k in range(1, 6))
    }
    return found | {
        ("current_a", ""): Heading("Current A", "A", 1.0, 1),
        ("current_a", "left"): Heading("Current left A", "A", 1.0, 1),
        ("current_a", "right"): Heading("Current right A", "A", 1.0, 1),
        ("rpm", "left"): Heading("Speed left rpm", "rpm", 1.0, 0),
        ("rpm", "right"): Heading("Speed right rpm", "rpm", 1.0, 0),
        ("throttle_fraction", ""): Heading("Throttle %", "%", 100.0, 0),
        ("altitude_m", ""): Heading("Altitude m", "m", 1.0, 1),
    }


def _controller(position: str, offset_s: float, drift_ppm: float) -> Recorder:
    """A controller's own log: it starts when it likes and keeps its own time."""
    sensors = (
        Sensor("pack_voltage_v", step=0.01, noise=0.01, shows=f"supply_v@{position}"),
        Sensor("current_a", position, step=0.1, noise=0.15, least=0.0),
        Sensor("rpm", position, step=10.0, relative_noise=0.001, unsigned=True),
        Sensor("throttle_fraction", position, step=0.01),
        Sensor("controller_temperature_c", position, interval_s=0.5, step=1.0),
    )
    return Recorder(
        f"{position} controller",
        sensors,
        0.05,
        from_s=2.0 if position == "left" else 3.1,
        clock_offset_s=offset_s,
        clock_drift_ppm=drift_ppm,
    )


def _controller_dialect(position: str) -> CsvDialect:
    headings = {
        ("throttle_fraction", position): Heading(f"{position} throttle %", "%", 100.0, 0),
        ("pack_voltage_v", ""): Heading("supply V", "V", 1.0, 2),
        ("current_a", position): Heading(f"{position} motor A", "A", 1.0, 1),
        ("rpm", position): Heading(f"{position} motor rpm", "rpm", 1.0, 0),
        ("controller_temperature_c", position): Heading(f"{position} controller °C", "°C", 1.0, 0),
    }
    return CsvDialect(time="milliseconds", time_text="time ms", time_unit="ms", headings=headings)


def _bench() -> Sample:
    pack = mail().pack
    scenario = mail(
        legs=bench_steps(hold_s=8.0, idle_s=5.0),
        air=Air(temperature_c=14.0, density_kgm3=1.229, wind_mps=0.0),
        recorders=(_recorder(row_s=0.05),),
    )
    dialect = CsvDialect(time_text="elapsed (s)", headings=_english(air=False))
    return Sample(
        "bench", replace(scenario, pack=replace(pack, start_c=16.0)), 101, (("bench_runup.csv", dialect),)
    )


def _maiden() -> Sample:
    scenario = mail(
        legs=_outing(225.0, passes=1),
        air=Air(temperature_c=14.0, density_kgm3=1.229, wind_mps=1.5, gust_mps=0.3),
        recorders=(_recorder(),),
    )
    dialect = replace(
        _on(date(2025, 4, 6), _at(9, 42, 10), CsvDialect(headings=_english())),
        day_form="%Y-%m-%dT",
        time_text="moment",
    )
    return Sample(
        "maiden",
        replace(scenario, pack=replace(scenario.pack, start_c=18.0)),
        102,
        (("maiden.csv", dialect),),
    )


def _heavier_right_propeller() -> Sample:
    even = mail(air=Air(temperature_c=19.0, density_kgm3=1.207), recorders=(_recorder(),))
    scenario = with_fault(even, "right", propeller_power=1.07, propeller_thrust=1.035)
    layout = CsvDialect(";", ",", "cp1252", "\r\n", unit_row=True, headings=_german())
    dialect = replace(
        _on(date(2025, 5, 4), _at(14, 3, 20), layout),
        day_form="%d.%m.%Y",
        day_text="Flugtag",
        time_text="Uhrzeit",
    )
    return Sample("heavier_right_propeller", scenario, 103, (("heavier_right_propeller.csv", dialect),))


def _weak_cell() -> Sample:
    air = Air(temperature_c=16.0, density_kgm3=1.220, wind_mps=3.0, gust_mps=0.7)
    scenario = with_cell(
        mail(air=air, recorders=(_recorder(without=("pack_voltage_v",)),)), 3, resistance=1.45
    )
    preamble = ("# recorder: bench-made, invented", "# aircraft: Saltmarsh Mail", "# field: the salt marsh")
    layout = CsvDialect("\t", preamble=preamble, headings=_millivolts())
    dialect = replace(_on(date(2025, 6, 8), _at(10, 22, 1), layout), day_text="Day", time_text="Clock")
    return Sample("weak_cell", scenario, 104, (("weak_cell.csv", dialect),), pack="B")


def _skis() -> Sample:
    air = Air(temperature_c=-4.0, density_kgm3=1.311, wind_mps=1.0, gust_mps=0.3)
    scenario = mail(
        airframe=SKIS,
        air=air,
        legs=_outing(240.0, passes=2),
        recorders=(_recorder(row_s=0.125, cell_s=0.25, lag_s=0.3),),
    )
    layout = CsvDialect(",", encoding="utf-8-sig", newline="\r\n", headings=_english(temperature=False))
    dialect = replace(
        _on(date(2025, 12, 14), _at(11, 5, 30), layout), day_form="%d/%m/%Y ", time_text="flown at"
    )
    return Sample(
        "on_skis",
        replace(scenario, pack=replace(scenario.pack, start_c=17.0)),
        105,
        (("on_skis.csv", dialect),),
        "skis",
    )


def _three_recorders() -> Sample:
    receiver = _recorder(without=("rpm", "motor_temperature_c"))
    receiver = replace(
        receiver, sensors=tuple(s for s in receiver.sensors if s.position not in ("left", "right"))
    )
    recorders = (receiver, _controller("left", -187.0, 140.0), _controller("right", -64.0, -95.0))
    scenario = mail(
        air=Air(temperature_c=21.0, density_kgm3=1.199), legs=_outing(240.0, passes=2), recorders=recorders
    )
    headings = {key: heading for key, heading in _english().items() if key[1] not in ("left", "right")}
    dated = replace(
        _on(date(2026, 5, 10), _at(13, 20, 5), CsvDialect(headings=headings)),
        day_form="%Y-%m-%dT",
        zone="Z",
        time_text="UTC",
    )
    files = (
        ("three_recorders_receiver.csv", dated),
        ("three_recorders_left.csv", _controller_dialect("left")),
        ("three_recorders_right.csv", _controller_dialect("right")),
    )
    return Sample("three_recorders", scenario, 106, files)


SAMPLES: dict[str, Callable[[], Sample]] = {
    "bench": _bench,
    "maiden": _maiden,
    "heavier_right_propeller": _heavier_right_propeller,
    "weak_cell": _weak_cell,
    "on_skis": _skis,
    "three_recorders": _three_recorders,
}
"""Each sample's maker by name, in the order of the story."""


@dataclass(frozen=True, slots=True)
class SampleFlight:
    """A row of the history: how a past flight was flown."""

    date: str
    configuration: str
    cruise_s: float
    temperature_c: float
    gust_mps: float


PAST = (
    SampleFlight("2024-09-08", "", 270.0, 19.0, 0.3),
    SampleFlight("2024-09-08", "", 295.0, 21.0, 0.6),
    SampleFlight("2024-09-15", "", 285.0, 17.0, 0.5),
    SampleFlight("2024-09-15", "", 310.0, 18.0, 0.4),
    SampleFlight("2024-10-06", "", 300.0, 13.0, 0.9),
    SampleFlight("2024-10-13", "", 315.0, 12.0, 0.5),
    SampleFlight("2025-02-09", "skis", 230.0, -2.0, 0.4),
    SampleFlight("2025-02-16", "skis", 245.0, -5.0, 0.3),
)
"""Flights before the first sample, oldest first."""


def past_scenario(flown: SampleFlight, seed: int) -> Scenario:
    """How a past flight was flown: the pilot's speed and passes vary from flight to flight."""
    rng = np.random.default_rng([seed, 77])
    speed_mps = CRUISE_MPS * (1.0 + 0.025 * float(rng.standard_normal()))
    air = Air(
        density_kgm3=1.225 * 288.15 / (273.15 + flown.temperature_c),
        temperature_c=flown.temperature_c,
        gust_mps=flown.gust_mps,
    )
    legs = circuits(
        flown.cruise_s,
        airspeed_mps=speed_mps,
        passes=int(rng.integers(1, 4)),
        taxi_s=12.0,
        climb_throttle=0.8,
    )
    airframe = SKIS if flown.configuration == "skis" else AirframeTruth()
    pack = replace(
        mail().pack, start_c=flown.temperature_c + (15.0 if flown.configuration == "skis" else 2.0)
    )
    return mail(
        airframe=airframe,
        air=air,
        legs=legs,
        pack=pack,
        step_s=0.04,
        recorders=(Recorder(sensors=(Sensor("current_a"),)),),
    )
