"""Simulated aircraft against their own sheets, written by an owner with honest errors.

    python tests/benchmarks/prediction_campaign.py static 60
    python tests/benchmarks/prediction_campaign.py flight 40
    python tests/benchmarks/prediction_campaign.py learn 20
    python tests/benchmarks/prediction_campaign.py flight 40 --bare       no drag area, static point or
    winding python tests/benchmarks/prediction_campaign.py flight 40 --barest     cells, capacity, Kv,
    propeller, mass and span alone

Prints median and 90th percentile of the errors, the share of intervals that hold the truth, and their
half-widths. Nothing of the sheet's doubts is tuned to it: the simulator's truths are drawn by its own rules.
"""

from __future__ import annotations

import argparse
import dataclasses
import sys
import time

import numpy as np

from telemetry.comparison.recalibration import recalibrate
from telemetry.comparison.residuals import compare
from telemetry.estimate import Estimate
from telemetry.prediction import predict
from telemetry.sheet import Sheet
from telemetry.signals import signals_of
from telemetry.simulate import FlownLeg, Scenario, random_scenario, simulate
from telemetry.simulate.drive import equilibrium
from telemetry.trace import Flight, Phase, Stretch

GAS_CONSTANT = 287.05287


def off(rng, fraction, *, normal=False):
    """An honest error: anywhere within ± fraction, or a bell of that deviation."""
    return 1.0 + fraction * (rng.standard_normal() if normal else rng.uniform(-1.0, 1.0))


def honest_sheet(
    scenario: Scenario, rng, *, drag=True, static=True, resistance=True, least=False, normal=False, plan=""
) -> str:
    """The sheet that the aircraft's owner would write."""
    drive, frame, air, pack = scenario.drives[0], scenario.airframe, scenario.air, scenario.pack
    motor, propeller = drive.motor, drive.propeller
    cell = pack.cells[0]
    cell_ohm = np.mean([c.drop_after_ohm(1.0) for c in pack.cells]) * off(rng, 0.15, normal=normal)
    kv = motor.kv_rpm_per_v * off(rng, 0.03, normal=normal)
    volts = 3.75 * len(pack.cells)
    still = equilibrium(
        drive, np.ones(1), np.full(1, volts), np.zeros(1), np.full(1, air.temperature_c + 10.0), 1.225
    )
    free_rpm = 0.97 * 0.6 * volts * motor.kv_rpm_per_v
    free_a = motor.friction_a + motor.iron_apkrpm * free_rpm / 1000.0
    pitch_in = (propeller.zero_thrust_j - 0.17) / 0.92 * propeller.diameter_m / 0.0254
    lines = [
        "[aircraft]",
        f"mass_kg = {frame.mass_kg * off(rng, 0.02):.4f}",
        f"span_m = {frame.span_m:.3f}",
        f"wing_area_m2 = {frame.wing_area_m2:.4f}",
        f"drag_area_m2 = {frame.drag_area_m2 * off(rng, 0.15, normal=normal):.5f}" if drag else "",
        "[field]",
        f"temperature_c = {air.temperature_c:.1f}",
        f"pressure_hpa = {air.density_kgm3 * GAS_CONSTANT * (air.temperature_c + 273.15) / 100.0:.1f}",
        "[pack]",
        f"cells = {len(pack.cells)}",
        f"capacity_mah = {cell.capacity_mah * off(rng, 0.02):.0f}",
        f"resistance_mohm = {1000.0 * cell_ohm:.3f}",
        "[motor]",
        f"kv_rpm_per_v = {kv:.1f}",
        f"resistance_mohm = {1000.0 * motor.resistance_ohm * off(rng, 0.15, normal=normal):.2f}"
        if resistance
        else "",
        f"no_load_points = [{{voltage_v = {0.6 * volts:.2f}, current_a = {free_a * off(rng, 0.05):.3f}}}]",
        "[propeller]",
        f"diameter_in = {propeller.diameter_m / 0.0254:.2f}",
        f"pitch_in = {round(2.0 * pitch_in * off(rng, 0.05)) / 2.0:.1f}",
    ]
    if static:
        current, rpm = (
            still.winding_a[0] * off(rng, 0.03, normal=normal),
            still.rpm[0] * off(rng, 0.01, normal=normal),
        )
        thrust = still.thrust_n[0] * off(rng, 0.03, normal=normal)
        lines.append(
            f"static_points = [{{rpm = {rpm:.0f}, current_a = {current:.2f}, voltage_v = "
            f"{volts * off(rng, 0.01):.2f}, thrust_n = {thrust:.2f}}}]"
        )
    if least:
        kept = (
            "[",
            "mass_kg",
            "span_m",
            "temperature_c",
            "cells",
            "capacity_mah",
            "kv_rpm_per_v",
            "diameter_in",
            "pitch_in",
        )
        lines = [line for line in lines if line.startswith(kept)]
        return "\n".join([*lines, '[[motors]]\nposition = "left"\n[[motors]]\nposition = "right"', plan, ""])
    lines += [
        "[leads]",
        "length_m = 0.4",
        f"area_mm2 = {2.0 * 0.4 / 58.0 / pack.lead_ohm:.2f}",
        '[[motors]]\nposition = "left"\n[[motors]]\nposition = "right"',
    ]
    return "\n".join([*lines, plan, ""])


def flight_of(flown) -> Flight:
    """The flight as its truth has it: this campaign is not about finding it."""
    truth = flown.truth
    phases = tuple(Phase(*p) for p in truth.phases)
    return Flight(
        truth.start_s, truth.end_s, truth.takeoff_s, truth.landing_s, Stretch(*truth.powered_s), phases
    )


def full(scenario: Scenario) -> Scenario:
    """The same aircraft with every cell full, in still air: wind through a propeller on the stand is not held
    still.
    """
    cells = tuple(dataclasses.replace(c, start_left_fraction=1.0) for c in scenario.pack.cells)
    pack = dataclasses.replace(scenario.pack, cells=cells, start_c=scenario.air.temperature_c)
    air = dataclasses.replace(scenario.air, wind_mps=0.0, gust_mps=0.0)
    return dataclasses.replace(scenario, pack=pack, air=air)


class Score:
    """Errors and intervals of one quantity."""

    def __init__(self) -> None:
        self.errors, self.held, self.halves = [], [], []

    def add(self, estimate: Estimate, truth: float) -> None:
        self.errors.append(estimate.value / truth - 1.0)
        self.held.append(estimate.low <= truth <= estimate.high)
        self.halves.append((estimate.high - estimate.low) / 2.0 / abs(estimate.value))

    def take(self, other) -> None:
        self.errors += other.errors
        self.held += other.held
        self.halves += other.halves

    def line(self, name: str) -> str:
        e = np.array(self.errors)
        a = np.abs(e)
        return (
            f"{name:26s} n {e.size:3d}  mean {100 * e.mean():+5.1f} %  median {100 * np.median(a):4.1f} %  "
            f"90th {100 * np.quantile(a, 0.9):4.1f} %  "
            f"covered {100 * np.mean(self.held):3.0f} %  half-width {100 * np.median(self.halves):4.1f} % "
            f"(90th {100 * np.quantile(self.halves, 0.9):4.1f} %)"
        )


def static_campaign(count: int, *, first: int = 0, **sheet) -> dict[str, Score]:
    """Full throttle held still, ten seconds in, on a full pack."""
    scores = {name: Score() for name in ("current", "rpm", "thrust", "pack voltage")}
    for seed in range(first, first + count):
        rng = np.random.default_rng(seed)
        scenario = full(random_scenario(seed))
        text = honest_sheet(scenario, rng, **sheet)
        held = dataclasses.replace(
            scenario,
            legs=(FlownLeg("rest", 3.0), FlownLeg("bench", 12.0, throttle=1.0), FlownLeg("rest", 2.0)),
        )
        flown = simulate(held, seed=seed)
        t = flown.truth.time_s
        on = t[np.flatnonzero(flown.truth.at("rpm", "left") > 0.5 * flown.truth.at("rpm", "left").max())[0]]
        k = int(np.searchsorted(t, on + 10.0))
        prediction = predict(Sheet.from_text(text).setup())
        point = next(s for s in prediction.static if s.throttle_fraction == 1.0)
        scores["current"].add(point.current_a, flown.truth.at("current_a")[k])
        scores["rpm"].add(point.motors[0].rpm, flown.truth.at("rpm", "left")[k])
        thrust = flown.truth.series.get(("thrust_n", "left"))
        if thrust is not None:
            scores["thrust"].add(point.motors[0].thrust_n, thrust[k])
        scores["pack voltage"].add(point.pack_voltage_v, flown.truth.at("pack_voltage_v")[k])
    return scores


def flight_campaign(count: int, *, first: int = 0, without=(), **sheet) -> dict[str, Score]:
    """The measured throttle of a flight through its sheet; level flight."""
    scores: dict[str, Score] = {}
    for seed in range(first, first + count):
        rng = np.random.default_rng(seed)
        scenario = random_scenario(seed)
        flown = simulate(scenario, seed=seed)
        truth = flown.truth
        cruise = np.zeros(truth.time_s.size, dtype=bool)
        for name, start, end in truth.phases:
            if name == "cruise":
                cruise |= (truth.time_s > start + 5.0) & (truth.time_s < end)
        steady = cruise & (
            np.abs(truth.at("throttle_fraction") - np.median(truth.at("throttle_fraction")[cruise])) < 0.08
        )
        speed = float(np.mean(truth.at("airspeed_mps")[steady]))
        plan = f'[plan]\nlegs = [{{phase = "cruise", seconds = 200, airspeed_mps = {speed:.2f}}}]'
        setup = Sheet.from_text(honest_sheet(scenario, rng, plan=plan, **sheet)).setup()
        scores.setdefault("level current", Score()).add(
            predict(setup).flight.level_current_a, float(np.mean(truth.at("current_a")[steady]))
        )
        score_replay(scores, flown, setup, without)
    return scores


def seen(flown, without):
    """The log without some quantities."""
    trace = flown.trace()
    return dataclasses.replace(
        trace, channels={key: channel for key, channel in trace.channels.items() if key[0] not in without}
    )


def score_replay(scores, flown, setup, without=()) -> None:
    trace = seen(flown, without)
    found = compare(signals_of(trace, flight_of(flown), setup), setup)
    for r in found.residuals:
        name = f"replayed {r.quantity} {r.position} {r.statistic}"
        scores.setdefault(name, Score()).add(Estimate(r.predicted, r.low, r.high), r.measured)


def learn_campaign(count: int, *, first: int = 0, flights: int = 3, without=(), **sheet) -> dict[str, Score]:
    """Recalibrated on some flights, then the next one; then the same on skis."""
    scores: dict[str, Score] = {}
    for seed in range(first, first + count):
        rng = np.random.default_rng(seed)
        scenario = random_scenario(seed)
        sheet_ = Sheet.from_text(honest_sheet(scenario, rng, **sheet))
        past = [simulate(scenario, seed=1000 * seed + k) for k in range(flights)]
        learnt = recalibrate(sheet_, [seen(f, without) for f in past])
        new = Sheet.from_text(learnt.sheet_text())
        score_replay(scores, simulate(scenario, seed=1000 * seed + 99), new.setup(), without)
        skis: dict[str, Score] = {}
        frame = scenario.airframe
        heavy = dataclasses.replace(
            frame, mass_kg=1.05 * frame.mass_kg, drag_area_m2=1.3 * frame.drag_area_m2
        )
        other = Sheet.from_text(
            learnt.sheet_text()
            + (
                f'\n[[configurations]]\nname = "skis"\nmass_kg = {heavy.mass_kg:.3f}\ndrag_area_m2 = '
                f"{1.3 * 1.1 * frame.drag_area_m2:.4f}\n"
            )
        )
        score_replay(
            skis,
            simulate(dataclasses.replace(scenario, airframe=heavy), seed=1000 * seed + 98),
            other.setup("skis"),
            without,
        )
        for name in ("replayed current_a  mean", "replayed pack_voltage_v  mean"):
            scores.setdefault(f"skis {name}", Score()).take(skis[name])
        if "-v" in sys.argv:
            print(seed, [(p.key, round(p.new.value, 3)) for p in learnt.parameters], learnt.left_out)
    return scores


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("what", choices=("static", "flight", "learn"))
    parser.add_argument("count", type=int, nargs="?", default=30)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--normal", action="store_true")
    parser.add_argument("--bare", action="store_true")
    parser.add_argument("--barest", action="store_true")
    parser.add_argument("--without", default="")
    parser.add_argument("-v", action="store_true")
    given = parser.parse_args()
    sheet = {
        "normal": given.normal,
        "least": given.barest,
        **dict.fromkeys(("drag", "static", "resistance"), not (given.bare or given.barest)),
    }
    without = tuple(given.without.split(",")) if given.without else ()
    began = time.time()
    if given.what == "static":
        scores = static_campaign(given.count, first=given.first, **sheet)
    elif given.what == "flight":
        scores = flight_campaign(given.count, first=given.first, without=without, **sheet)
    else:
        scores = learn_campaign(given.count, first=given.first, without=without, **sheet)
    for name, score in scores.items():
        if score.errors:
            print(score.line(name))
    print(f"{time.time() - began:.0f} s")


if __name__ == "__main__":
    main()
