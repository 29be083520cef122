"""The analyses on flights of `telemetry.simulate`, whose physics none of them shares.

    python tests/benchmarks/whole_line.py healthy 40
    python tests/benchmarks/whole_line.py cells 40
    python tests/benchmarks/whole_line.py pairs 42
    python tests/benchmarks/whole_line.py events 35
    python tests/benchmarks/whole_line.py plans 36

Each analysis' own campaign goes deeper; this one is the second opinion. Prints errors, coverage and every
miss by seed.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace

import numpy as np

from telemetry.analysis import capacity, flights, motors, pack
from telemetry.estimate import Estimate
from telemetry.signals import signals_of
from telemetry.simulate import (
    Happening,
    Sensor,
    random_scenario,
    several,
    simulate,
    taxi_only,
    touch_and_go,
    with_cell,
    with_channels,
    with_fault,
    with_motors,
    with_record,
)
from telemetry.trace import Flight, Stretch

CELL_FAULTS = (
    ("resistance", {"resistance": 1.25}),
    ("resistance", {"resistance": 1.12}),
    ("capacity", {"capacity": 0.92}),
    ("unbalanced", {"start_shift": -0.05}),
    ("sensor", {"sensor_v": 0.025}),
)
PAIR_FAULTS = (
    ("propeller", {"propeller_power": 1.06, "propeller_thrust": 1.03}),
    ("propeller", {"propeller_power": 0.94, "propeller_thrust": 0.97}),
    ("kv", {"kv": 1.02}),
    ("winding", {"winding": 1.25}),
    ("endpoint", {"full_shift": 0.05}),
    ("drag", {"drag_nm": 0.0}),
    ("sensor", {"sensor_gain": 1.07}),
)
EVENTS = (
    Happening("cut", "right", 70.0, 4.0),
    Happening("stall", "left", 0.0, 2.0, 12.0),
    Happening("reverse_ground", "both", 6.0, 1.5, -0.25),
    Happening("reverse_air", "right", 75.0, 1.2, -0.3),
    Happening("out_of_step", "left", 80.0, 1.5),
    Happening("late_start", "right", 0.0, 1.5),
    Happening("overheating", "left", 40.0, size=-1.0),
)


def known_flight(truth) -> Flight:
    powered = truth.powered_s
    return Flight(truth.start_s, truth.end_s, truth.takeoff_s, truth.landing_s, Stretch(*powered))


def summed(name, errors, covered=(), widths=()):
    text = (
        f"{name:28s} n {len(errors):4d}  median {100 * np.median(np.abs(errors)):6.2f} %  90th "
        f"{100 * np.quantile(np.abs(errors), 0.9):6.2f} %"
    )
    text += f"  bias {100 * np.median(errors):+6.2f} %"
    if len(covered):
        text += f"  covered {100 * np.mean(covered):5.1f} %  half-width {100 * np.median(widths):5.2f} %"
    print(text)


class Tally:
    def __init__(self):
        self.errors, self.covered, self.widths, self.undecided = [], [], [], []

    def add(self, found, true, seed):
        if not isinstance(found, Estimate):
            self.undecided.append((seed, found.reason))
            return
        self.errors.append(found.value / true - 1.0)
        self.covered.append(found.low <= true <= found.high)
        self.widths.append((found.high - found.low) / 2.0 / true)

    def show(self, name):
        if self.errors:
            summed(name, self.errors, self.covered, self.widths)
        for reason, count in Counter(r for _, r in self.undecided).items():
            print(f"{'':28s} undecided {count}: {reason}")


CELL_FIGURES = ("resistance_ohm", "resistance_1s_ohm", "resistance_10s_ohm", "sag_v")


def _flight_times(label, found, truth, seed, errors):
    """Note how far take-off and landing are off, where exactly one flight is found."""
    if len(found) != 1 or not isinstance(found[0].takeoff_s, float):
        print("seed", seed, label, "flights:", [(f.start_s, f.takeoff_s, f.landing_s) for f in found])
        return
    down = found[0].landing_s
    errors["take-off" + label].append(found[0].takeoff_s - truth.takeoff_s)
    errors["landing" + label].append(down - truth.landing_s if isinstance(down, float) else np.nan)


def _pack_figures(seen, truth, seed, tallies):
    for cell, true in zip(seen.cells, truth.cells, strict=True):
        for name in CELL_FIGURES:
            tallies[name].add(getattr(cell, name), getattr(true, name), seed)
    tallies["pack 1 s"].add(seen.resistance_1s_ohm, truth.pack.resistance_1s_ohm, seed)
    tallies["charge left"].add(seen.charge_left_fraction, truth.charge_left_fraction, seed)
    if seen.weak_cells:
        print("seed", seed, "false alarm", seen.weak_cell, seen.weak_cell_reason)


def _false_motors(seen, seed):
    pair = seen.pairs[0]
    if pair.verdict != "even":
        print("seed", seed, "even pair called", pair.verdict, pair.cause, pair.reason)
    for event in seen.events if isinstance(seen.events, tuple) else ():
        print("seed", seed, "false event", event)


def healthy(count):
    tallies = {name: Tally() for name in (*CELL_FIGURES, "pack 1 s", "consumed_mah", "charge left")}
    errors = {"take-off": [], "landing": [], "take-off, blind": [], "landing, blind": []}
    spent = []
    for seed in range(count):
        flown = simulate(random_scenario(seed), seed=seed)
        trace, truth = flown.trace(), flown.truth
        begun = time.process_time()
        found = flights.find(trace)
        _flight_times("", found, truth, seed, errors)
        _flight_times(", blind", flights.find(with_channels_of(flown)), truth, seed, errors)
        flight = found[0] if found else known_flight(truth)
        capacity_mah = flown.scenario.pack.cells[0].capacity_mah
        seen = pack.analyse(signals_of(trace, flight), cell_count=len(truth.cells), capacity_mah=capacity_mah)
        _pack_figures(seen, truth, seed, tallies)
        tallies["consumed_mah"].add(
            capacity.analyse(signals_of(trace, flight)).consumed_mah, truth.consumed_mah, seed
        )
        _false_motors(motors.analyse(signals_of(trace, flight)), seed)
        spent.append(time.process_time() - begun)
    for name, tally in tallies.items():
        tally.show(name)
    for name, each in errors.items():
        good = np.abs(np.array(each)[np.isfinite(each)])
        print(
            f"{name:28s} median {np.median(good):.2f} s, 90th {np.quantile(good, 0.9):.2f} s, worst "
            f"{np.max(good):.1f} s, missing {len(each) - good.size}"
        )
    print(f"processor time a flight: median {np.median(spent):.2f} s")


def with_channels_of(flown):
    """The log without height and airspeed."""
    trace = flown.trace()
    return replace(
        trace,
        channels={k: c for k, c in trace.channels.items() if k[0] not in ("altitude_m", "airspeed_mps")},
    )


def cells(count):
    outcome = Counter()
    for seed in range(count):
        kind, fault = CELL_FAULTS[seed % len(CELL_FAULTS)]
        label = f"{kind} {fault}"
        scenario = random_scenario(seed + 500)
        number = 1 + seed % len(scenario.pack.cells)
        flown = simulate(with_cell(scenario, number, **fault), seed=seed)
        trace, truth = flown.trace(), flown.truth
        seen = pack.analyse(
            signals_of(trace, known_flight(truth)),
            cell_count=len(truth.cells),
            capacity_mah=scenario.pack.cells[0].capacity_mah,
        )
        weak = [(w.cell, w.kind) for w in seen.weak_cells]
        odd = [s.cell for s in seen.odd_sensors]
        right = weak == [(number, kind)] if kind != "sensor" else (not weak and odd == [number])
        outcome[label, "right" if right else "wrong" if weak or odd else "missed"] += 1
        if not right:
            print(
                "seed",
                seed + 500,
                label,
                "cell",
                number,
                "of",
                len(truth.cells),
                "found",
                weak,
                "odd sensors",
                odd,
                "rate",
                1 / trace.sample_interval_s,
            )
    for (label, how), n in sorted(outcome.items()):
        print(f"{label:45s} {how:8s} {n}")


def pairs(count):
    outcome, size, covered = Counter(), [], []
    for seed in range(count):
        cause, fault = PAIR_FAULTS[seed % len(PAIR_FAULTS)]
        scenario = random_scenario(seed + 900)
        motor = scenario.drives[0].motor
        if cause == "drag":
            fault = {"drag_nm": 2.5 * motor.friction_a * motor.torque_nmpa}
        flown = simulate(with_fault(scenario, "right", **fault), seed=seed)
        truth = flown.truth
        true = truth.pairs[0].imbalance_fraction
        pair = motors.analyse(signals_of(flown.trace(), known_flight(truth))).pairs[0]
        outcome[cause, pair.verdict, pair.cause] += 1
        if isinstance(pair.imbalance_fraction, Estimate):
            size.append(abs(pair.imbalance_fraction.value - true) <= max(0.015, 0.3 * abs(true)))
            covered.append(pair.imbalance_fraction.low <= true <= pair.imbalance_fraction.high)
        if pair.cause not in (cause, "undecided"):
            print(
                "seed",
                seed + 900,
                cause,
                f"true {100 * true:+.1f} %",
                pair.verdict,
                pair.cause,
                pair.imbalance_fraction,
            )
    for (cause, verdict, named), n in sorted(outcome.items()):
        print(f"{cause:12s} {verdict:10s} {named:12s} {n}")
    print(
        f"size within max(0.015, 30 %): {100 * np.mean(size):.0f} %, covered {100 * np.mean(covered):.0f} %, "
        f"of {len(size)}"
    )


def events(count):
    outcome = Counter()
    for seed in range(count):
        happening = EVENTS[seed % len(EVENTS)]
        scenario = random_scenario(seed + 1300)
        if happening.kind == "overheating":
            happening = replace(happening, size=0.9 * scenario.drives[0].motor.heat_capacity_jpk)
        if happening.kind == "reverse_air":
            # one motor alone turns backwards: only its own command shows it
            commands = tuple(Sensor("throttle_fraction", p, step=0.01) for p in scenario.positions)
            scenario = replace(
                scenario,
                recorders=tuple(replace(r, sensors=r.sensors + commands) for r in scenario.recorders),
            )
        flown = simulate(replace(scenario, happenings=(happening,)), seed=seed)
        found = motors.analyse(signals_of(flown.trace(), known_flight(flown.truth))).events
        true = flown.truth.happenings[0]
        seen = [(e.kind, e.motor) for e in found] if isinstance(found, tuple) else []
        right = (happening.kind, happening.motor) in seen
        outcome[
            happening.kind, "found" if right else "missed", "alone" if len(seen) <= 1 else "with others"
        ] += 1
        if not right or len(seen) > 1:
            print(
                "seed", seed + 1300, happening.kind, happening.motor, round(true.start_s, 1), "found", found
            )
    for key, n in sorted(outcome.items()):
        print(*key, n)


PLANS = {
    "touch and go": (lambda s: replace(s, legs=touch_and_go(120.0)), 1),
    "two flights": (lambda s: replace(s, legs=several(2, 70.0)), 2),
    "three flights": (lambda s: replace(s, legs=several(3, 50.0, idle_s=25.0)), 3),
    "taxi only": (lambda s: replace(s, legs=taxi_only()), 1),
    "starts in the air": (lambda s: with_record(s, from_s=70.0), 1),
    "ends under load": (lambda s: with_record(s, until_s=140.0), 1),
    "silent twice": (lambda s: with_record(s, gaps_s=((60.0, 9.0), (110.0, 18.0))), 1),
    "single motor": (lambda s: with_motors(s, ("centre",)), 1),
    "four motors": (lambda s: with_motors(s, ("left_outer", "left_inner", "right_inner", "right_outer")), 1),
}


def plans(count):
    names, errors = list(PLANS), Counter()
    for seed in range(count):
        name = names[seed % len(names)]
        change, flights_true = PLANS[name]
        scenario = change(random_scenario(seed + 1700))
        if name == "silent twice" and seed // len(names) % 2:
            scenario = with_channels(scenario, without=("charge_mah",))
        flown = simulate(scenario, seed=seed)
        trace, truth = flown.trace(), flown.truth
        for label, log in (("height", trace), ("blind", with_channels_of(flown))):
            found = flights.find(log)
            said = [
                (
                    f.takeoff_s if isinstance(f.takeoff_s, float) else None,
                    f.landing_s if isinstance(f.landing_s, float) else None,
                )
                for f in found
            ]
            good = len(found) == flights_true and (said[0][0] is None) == (truth.takeoff_s is None)
            if good and truth.takeoff_s is not None:
                good = (
                    abs(said[0][0] - truth.takeoff_s) < 3.0
                    if label == "height"
                    else abs(said[0][0] - truth.takeoff_s) < 8.0
                )
            errors[name, label, "right" if good else "WRONG"] += 1
            if not good:
                print(
                    "seed",
                    seed + 1700,
                    name,
                    label,
                    "found",
                    said,
                    "true",
                    truth.takeoffs_s,
                    truth.landings_s,
                    "of",
                    round(truth.end_s),
                )
        charge = sum(
            c.value
            for f in flights.find(trace)
            if isinstance(c := capacity.analyse(signals_of(trace, f)).consumed_mah, Estimate)
        )
        errors[
            name,
            "charge",
            "within 0.6 %"
            if abs(charge / truth.consumed_mah - 1.0) < 0.006
            else f"{100 * (charge / truth.consumed_mah - 1.0):+.2f} %",
        ] += 1
        for flight in flights.find(trace):
            pulled = motors.analyse(signals_of(trace, flight))
            for event in pulled.events if isinstance(pulled.events, tuple) else ():
                print("seed", seed + 1700, name, "false event", event.kind, event.motor, event.start_s)
    for key, n in sorted(errors.items()):
        print(*key, n)


if __name__ == "__main__":
    {"healthy": healthy, "cells": cells, "pairs": pairs, "events": events, "plans": plans}[sys.argv[1]](
        int(sys.argv[2])
    )
