"""How close flights, charge and peaks come on simulated flights, gaps included.

python tests/benchmarks/charge_campaign.py [flights] [first seed]
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from telemetry.analysis import capacity, current, flights
from telemetry.estimate import Undecided
from telemetry.physics.charge import largest_mean
from telemetry.sheet.setup import Rating
from telemetry.signals import signals_of
from telemetry.simulate import Simulated, random_scenario, simulate

WINDOWS_S = (0.3, 1.0, 10.0, 30.0)
WITHOUT = {
    "altitude": ("airspeed_mps",),
    "airspeed": ("altitude_m",),
    "throttle": ("altitude_m", "airspeed_mps", "rpm", "current_a"),
}
RATINGS = [Rating("pack", "", 40.0, w) for w in WINDOWS_S]


def flown(seed: int, *, without: tuple[str, ...] = (), gaps: int = 0) -> Simulated:
    """One flight, some columns left out, some rows of 20 s missing."""
    scenario = random_scenario(seed)
    recorder = scenario.recorders[0]
    sensors = tuple(s for s in recorder.sensors if s.quantity not in without)
    starts = np.random.default_rng(seed).uniform(40.0, 120.0, gaps)
    recorder = replace(recorder, sensors=sensors, gaps_s=tuple((float(s), 20.0) for s in starts))
    return simulate(replace(scenario, recorders=(recorder,)), seed=seed)


def instants(seeds: range) -> None:
    """Take-off and landing, by what was logged."""
    for name, without in {"everything": (), **WITHOUT}.items():
        off = []
        for seed in seeds:
            run = flown(seed, without=without)
            found = flights.find(run.trace())
            if (
                len(found) != 1
                or isinstance(found[0].takeoff_s, Undecided)
                or isinstance(found[0].landing_s, Undecided)
            ):
                print(
                    f"  {name}: seed {seed} found {len(found)} flights, {found[0].takeoff_s}, "
                    f"{found[0].landing_s}"
                )
                continue
            off.append((found[0].takeoff_s - run.truth.takeoff_s, found[0].landing_s - run.truth.landing_s))
        print(
            f"instants, {name:10s} 50/90/100 %: take-off {spread(np.abs(off)[:, 0])} s, landing "
            f"{spread(np.abs(off)[:, 1])} s"
        )


def charges(seeds: range) -> None:
    """Charge and energy, with and without gaps and counter."""
    cases = {
        "no gap": {},
        "two 20 s gaps": {"gaps": 2},
        "one 20 s gap, no counter": {"gaps": 1, "without": ("charge_mah",)},
    }
    for name, choices in cases.items():
        off, held, energy = [], [], []
        for seed in seeds:
            run = flown(seed, **choices)
            trace, truth = run.trace(), run.truth
            found = capacity.analyse(signals_of(trace, flights.find(trace)[0]))
            off.append(abs(found.consumed_mah.value / truth.consumed_mah - 1.0))
            held.append(found.consumed_mah.low <= truth.consumed_mah <= found.consumed_mah.high)
            energy.append(abs(found.energy_wh.value / truth.energy_wh - 1.0))
        print(
            f"charge, {name}: 50/90/100 % {spread(100 * np.array(off))} %, intervals hold "
            f"{np.mean(held):.0%}, energy {spread(100 * np.array(energy))} %"
        )


def peaks(seeds: range) -> None:
    """Largest means over windows, and what was missed."""
    off: dict[float, list[float]] = {w: [] for w in WINDOWS_S}
    held: dict[float, list[bool]] = {w: [] for w in WINDOWS_S}
    unseen = []
    for seed in seeds:
        run = flown(seed)
        trace, truth = run.trace(), run.truth
        found = current.analyse(signals_of(trace, flights.find(trace)[0]), ratings=RATINGS)
        inside = (truth.time_s >= truth.start_s) & (truth.time_s <= truth.end_s)
        true_a = truth.at("current_a")[inside]
        for limit in found.limits:
            true = largest_mean(truth.time_s[inside], true_a, limit.window_s).mean
            off[limit.window_s].append(abs(limit.measured_a.value / true - 1.0))
            held[limit.window_s].append(limit.measured_a.low <= true <= limit.measured_a.high)
        unseen.append(float(np.max(true_a)) <= found.peak_a + found.missed.above_peak_a)
    for w in WINDOWS_S:
        print(
            f"largest mean over {w:g} s: 50/90/100 % {spread(100 * np.array(off[w]))} %, intervals hold "
            f"{np.mean(held[w]):.0%}"
        )
    print(f"true peak within what the log is said to miss: {np.mean(unseen):.0%}")


def spread(values: np.ndarray) -> str:
    """Median, 90th percentile and worst."""
    return "/".join(f"{v:.2f}" if v >= 1 else f"{v:.3f}" for v in np.percentile(values, [50, 90, 100]))


if __name__ == "__main__":
    count, first = (int(a) for a in (sys.argv[1:] + ["30", "0"][len(sys.argv) - 1 :])[:2])
    for campaign in (instants, charges, peaks):
        campaign(range(first, first + count))
