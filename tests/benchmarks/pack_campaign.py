"""How good the pack's figures are, on two truths: `pack_truth.py` beside this file, and `telemetry.simulate`.

    python tests/benchmarks/pack_campaign.py own 0 60          figures against truth, with coverage
    python tests/benchmarks/pack_campaign.py simulate 0 60 10  the same on simulated flights logged at 10 Hz
    python tests/benchmarks/pack_campaign.py own 0 60 weak     weak cells found, and false alarms

Seeds are the two numbers, the second not included. A campaign of 60 takes about a minute on one core. The
current sensor of `pack_truth` smooths by 0 to 0.1 s here. `chemistry_campaign.py` holds the same figures
against cells of other physics.
"""

from __future__ import annotations

import dataclasses
import importlib.util
import sys
from collections import defaultdict
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from telemetry.analysis.pack import Pack, analyse
from telemetry.estimate import Estimate, Undecided
from telemetry.signals import signals_of
from telemetry.simulate import random_scenario, simulate, with_cell
from telemetry.trace import Flight, Stretch, Trace

FIGURES = ("resistance_ohm", "resistance_1s_ohm", "resistance_10s_ohm", "sag_v")
FAULTS: dict[str, dict[str, float]] = {
    "healthy": {},
    "resistance +25 %": {"resistance": 1.25},
    "resistance +12 %": {"resistance": 1.12},
    "capacity -8 %": {"capacity": 0.92},
    "capacity -5 %": {"capacity": 0.95},
    "start -4 %": {"start": -0.04},
}
KINDS = {"resistance": "resistance", "capacity": "capacity", "start": "unbalanced"}


def _generator() -> Any:
    path = Path(__file__).with_name("pack_truth.py")
    spec = importlib.util.spec_from_file_location("pack_truth", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["pack_truth"] = module
    spec.loader.exec_module(module)
    return module


TRUTH = _generator()


@dataclasses.dataclass(frozen=True)
class Flown:
    """A log, its flight, and the truth of each cell by figure."""

    trace: Trace
    flight: Flight
    capacity_mah: float
    cells: dict[str, np.ndarray]


def own(seed: int, number: int = 0, **fault: float) -> Flown:
    """A flight of `pack_truth`, one cell unlike the others."""
    scenario = TRUTH.vary(seed, current_filter_s=Random(f"filter/{seed}").uniform(0.0, 0.1))
    if fault:
        k = number % scenario.cells
        resistance, capacity, start = (
            np.array(x)
            for x in (scenario.resistance_factor, scenario.capacity_factor, scenario.start_fraction)
        )
        resistance[k] = fault.get("resistance", resistance[k])
        capacity[k] = fault.get("capacity", capacity[k])
        start[k] += fault.get("start", 0.0)
        scenario = dataclasses.replace(
            scenario, resistance_factor=resistance, capacity_factor=capacity, start_fraction=start
        )
    trace, flight, known = TRUTH.invent(scenario)
    return Flown(trace, flight, scenario.capacity_mah, {name: getattr(known, name) for name in FIGURES})


def simulated(seed: int, number: int = 0, *, rate_hz: float | None = None, **fault: float) -> Flown:
    """A flight of `telemetry.simulate`, one cell unlike the others."""
    scenario = random_scenario(seed, rate_hz=rate_hz)
    if fault:
        k = number % len(scenario.pack.cells) + 1
        scenario = with_cell(
            scenario,
            k,
            resistance=fault.get("resistance", 1.0),
            capacity=fault.get("capacity", 1.0),
            start_shift=fault.get("start", 0.0),
        )
    flown = simulate(scenario, seed=seed)
    truth = flown.truth
    assert truth.powered_s is not None
    flight = Flight(
        truth.start_s,
        truth.end_s,
        Undecided("not needed"),
        Undecided("not needed"),
        Stretch(*truth.powered_s),
    )
    cells = {name: np.array([getattr(c, name) for c in truth.cells]) for name in FIGURES}
    return Flown(flown.trace(), flight, scenario.pack.cells[0].capacity_mah, cells)


def _gather(found: dict[str, list[tuple[float, float, bool]]], pack: Pack, flown: Flown) -> None:
    one_s = flown.cells["resistance_1s_ohm"]
    for k, cell in enumerate(pack.cells):
        true = {name: float(flown.cells[name][k]) for name in FIGURES}
        true["resistance_ratio"] = float(one_s[k] / np.median(np.delete(one_s, k)))
        for name, value in true.items():
            said = getattr(cell, name)
            if isinstance(said, Estimate):
                found[name].append(
                    (
                        said.value / value - 1,
                        (said.high - said.low) / 2 / value,
                        said.low <= value <= said.high,
                    )
                )


def figures(make: Any, first: int, last: int) -> None:
    """Errors, half-widths and coverage."""
    found: dict[str, list[tuple[float, float, bool]]] = defaultdict(list)
    for seed in range(first, last):
        flown = make(seed)
        _gather(found, analyse(signals_of(flown.trace, flown.flight), capacity_mah=flown.capacity_mah), flown)
    for name, rows in found.items():
        error, half, held = np.array(rows, dtype=float).T
        size = np.abs(error)
        print(
            f"{name:20s} {size.size:4d} cells  error median {100 * np.median(size):5.2f} % 90th "
            f"{100 * np.quantile(size, 0.9):5.2f} %"
            f"  half-width {100 * np.median(half):5.2f} %  covered {100 * held.mean():5.1f} %"
        )


def weak(make: Any, first: int, last: int) -> None:
    """Weak cells found, and packs with a false alarm."""
    for name, fault in FAULTS.items():
        hits = false = 0
        for seed in range(first, last):
            flown = make(seed, seed, **fault)
            planted = seed % flown.cells["sag_v"].size + 1
            named = {
                (w.cell, w.kind)
                for w in analyse(
                    signals_of(flown.trace, flown.flight), capacity_mah=flown.capacity_mah
                ).weak_cells
            }
            right = {(planted, KINDS[k]) for k in fault}
            hits += bool(named & right)
            false += bool({cell for cell, _ in named} - {cell for cell, _ in right})
        print(
            f"{name:18s} found {hits} of {last - first if fault else 0}, packs with another cell named "
            f"{false} of {last - first}"
        )


if __name__ == "__main__":
    source, first, last, *rest = sys.argv[1:]
    rates = [float(x) for x in rest if x != "weak"]

    def make(seed: int, number: int = 0, **fault: float) -> Flown:
        """A flight of the chosen truth."""
        return (
            own(seed, number, **fault)
            if source == "own"
            else simulated(seed, number, rate_hz=rates[0] if rates else None, **fault)
        )

    (weak if "weak" in rest else figures)(make, int(first), int(last))
