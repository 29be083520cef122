"""How good a review's figures are on flights of `tests/independent`, and how many were answered right: every
chemistry, its sheet saying which, current sensors that smooth by 0 to 0.1 s (the cells' do by 0.03 s).

    python tests/benchmarks/chemistry_campaign.py 0 40              every chemistry, seeds 0 to 39
    python tests/benchmarks/chemistry_campaign.py 0 40 lipo li_ion  some
    python tests/benchmarks/chemistry_campaign.py 0 40 --unstated   their sheets not saying which
    python tests/benchmarks/chemistry_campaign.py 0 40 --bare       without a sheet

The ohmic part is held against the drop 0.1 s after a step: these cells' charge transfer takes 0.045 s, and
between two readings of a log at 10 Hz it is over. Resistances are the cells' own, the gain of the current
sensor (0.5 % one sd) not taken out. Charge and energy are held against what the sensors saw, as they are
defined. Right is a flight that is clear; where the sheet says another chemistry, or none and the cells are
not those it is then taken to have, one that names the cells and tells no charge; without a sheet a pack of
4.35 V a cell is over full for any other, a check. Forty flights of one chemistry take about two minutes.
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

import telemetry  # noqa: E402
from telemetry.analysis.pack import Pack  # noqa: E402
from telemetry.debrief import FlightReview  # noqa: E402
from telemetry.estimate import Estimate, Undecided  # noqa: E402
from tests.independent import fly, judge, scenario  # noqa: E402
from tests.independent.recording import Recording  # noqa: E402
from tests.independent.run import STEP_S  # noqa: E402

CHEMISTRIES = ("lipo", "lihv", "li_ion", "lifepo4")
FLOWN = (
    "twin_5s",
    "trainer_3s",
    "four_6s",
    "aerobatic_4s",
    "glider_3s",
    "big_12s",
    "small_2s",
    "twin_trainer",
)
CELL_FIGURES = {
    "resistance_ohm": "ohmic_as_seen_at_100ms_ohm",
    "resistance_1s_ohm": "resistance_1s_ohm",
    "resistance_10s_ohm": "resistance_10s_ohm",
}
PACK_FIGURES = {**CELL_FIGURES, "resistance_ohm": "resistance_as_seen_at_100ms_ohm"}
CHARGES = ("start_charge_fraction", "charge_left_fraction")
RATIOS = ("current_ratio", "rpm_ratio", "imbalance_fraction")
STATED, UNSTATED, BARE = "stated", "unstated", "bare"


@dataclass(frozen=True, slots=True)
class Held:
    """One interval against the truth: error and half-width (charges in fractions of the full one, all else
    relative), and whether it holds the truth.
    """

    error: float
    half: float
    holds: bool


@dataclass
class Seen:
    """What a campaign has gathered: intervals by figure, how often one was left open, and false alarms."""

    held: dict[str, list[Held]] = field(default_factory=lambda: defaultdict(list))
    silent: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    flights: int = 0
    weak: list[str] = field(default_factory=list)
    not_right: list[str] = field(default_factory=list)

    def add(self, figure: str, said: Estimate | Undecided, true: float, *, of: float) -> None:
        """An interval against the truth, in parts `of` something."""
        if isinstance(said, Undecided):
            self.silent[figure] += 1
            return
        error, half = (said.value - true) / of, (said.high - said.low) / 2 / of
        self.held[figure].append(Held(error, half, said.low <= true <= said.high))

    def coverage(self, figure: str) -> float:
        """Share of the figure's intervals that hold the truth."""
        return float(np.mean([one.holds for one in self.held[figure]]))

    def half_width(self, figure: str) -> float:
        """Their median half-width."""
        return float(np.median([one.half for one in self.held[figure]]))


def flown(chemistry: str, seed: int) -> Recording:
    """A sound flight of one of the aircraft in turn, its current smoothed by 0 to 0.1 s."""
    plan = scenario(FLOWN[seed % len(FLOWN)], seed, chemistry)
    plan.recorder["sensors"]["current"] = {"lag_s": Random(f"filter/{seed}").uniform(0.0, 0.1)}
    return fly(plan, seed=seed)


def gather(seen: Seen, chemistry: str, seed: int, *, sheet: str = STATED) -> None:
    """Fly, review, and hold every interval against the truth."""
    recording = flown(chemistry, seed)
    with tempfile.TemporaryDirectory() as folder:
        files = recording.write(Path(folder))
        if sheet == UNSTATED:
            text = files.sheet.read_text(encoding="utf-8")
            files.sheet.write_text(re.sub(r"(chemistry|full_cell_v) = .*\n", "", text), encoding="utf-8")
        traces = [telemetry.read_log(log) for log in files.logs]
        found = telemetry.review(traces, None if sheet == BARE else telemetry.Sheet.read(files.sheet))
    one = found.flights[0]
    seen.flights += 1
    if one.pack.weak_cells:
        seen.weak.append(f"{recording.plan.name}/{seed}")
    wrong = _wrong(recording, one, found.to_dict(), chemistry, sheet)
    if wrong:
        seen.not_right.append(f"{recording.plan.name}/{seed} {one.decision}: {wrong}")
    _compare(seen, recording, one.pack)
    _compare_flight(seen, recording, one)


def _wrong(
    recording: Recording, one: FlightReview, found: dict[str, object], chemistry: str, sheet: str
) -> list[str]:
    """What was answered wrongly, figures apart from those of the charge left."""
    keys = {f.key for f in one.findings if f.severity != "note"}
    left = one.pack.charge_left_fraction
    if sheet == UNSTATED and chemistry != "lipo":
        named = "chemistry_disagrees" in keys and one.decision in ("check", "stop")
        return [] if named and isinstance(left, Undecided) else [f"{sorted(keys)}, charge left {left}"]
    if sheet == BARE and chemistry == "lihv":
        return [] if (one.decision, keys) == ("check", {"overcharged"}) else sorted(keys)
    alone = [w for w in judge(recording.truth, found).wrong if " within " not in w]
    return [*alone, *(sorted(keys) if alone else ())]


def _compare(seen: Seen, recording: Recording, pack: Pack) -> None:
    known, table = recording.truth.figures, recording.table
    sags = (recording.plan.pack.resting_v(table["drawn"]) - table["cells"]).max(axis=0)
    for cell, true, sag_v in zip(pack.cells, known["cells"], sags, strict=True):
        for name, its in CELL_FIGURES.items():
            seen.add(f"cell {name}", getattr(cell, name), true[its], of=true[its])
        seen.add("cell sag_v", cell.sag_v, float(sag_v), of=float(sag_v))
    for name, its in PACK_FIGURES.items():
        seen.add(f"pack {name}", getattr(pack, name), known[its], of=known[its])
    for name in CHARGES:
        seen.add(name, getattr(pack, name), known[name], of=1.0)


def _compare_flight(seen: Seen, recording: Recording, one: FlightReview) -> None:
    known, table = recording.truth.figures, recording.table
    sensors = recording.plan.recorder["used_sensors"]
    read_a = table["current"] * sensors["current"].gain + sensors["current"].offset
    charge_mah, volts = float(read_a.sum()) * STEP_S / 3.6, table["pack_v"] * sensors["pack_v"].gain
    energy_wh = float((read_a * volts).sum()) * STEP_S / 3600
    seen.add("consumed_mah", one.capacity.consumed_mah, charge_mah, of=charge_mah)
    seen.add("energy_wh", one.capacity.energy_wh, energy_wh, of=energy_wh)
    for pair in one.motors.pairs:
        true = known["pairs"][f"{pair.left}/{pair.right}"]
        for name in RATIOS:
            seen.add(f"pair {name}", getattr(pair, name), true[name], of=1.0)


def shown(chemistry: str, seen: Seen) -> None:
    """Print what was seen of one chemistry."""
    right = seen.flights - len(seen.not_right)
    print(f"{chemistry}: {seen.flights} flights, {right} answered right, weak cell named {seen.weak}")
    print(*(f"    {one}" for one in seen.not_right), sep="\n")
    for figure, held in seen.held.items():
        error = np.array([one.error for one in held])
        middle, ninth = 100 * np.quantile(abs(error), [0.5, 0.9])
        print(
            f"  {figure:24s} {error.size:4d}, open {seen.silent[figure]:2d}  bias "
            f"{100 * np.median(error):+5.2f} %  error {middle:5.2f} / {ninth:5.2f} %  half-width "
            f"{100 * seen.half_width(figure):5.2f} %  held {100 * seen.coverage(figure):5.1f} %",
            flush=True,
        )


def campaign(chemistry: str, seeds: range, *, sheet: str = STATED) -> Seen:
    """Every seed of one chemistry, its sheet stating it, leaving it unstated, or not there."""
    seen = Seen()
    for seed in seeds:
        gather(seen, chemistry, seed, sheet=sheet)
    return seen


if __name__ == "__main__":
    first, last = (int(x) for x in sys.argv[1:3])
    way = next((w for w in (UNSTATED, BARE) if f"--{w}" in sys.argv), STATED)
    for kind in [word for word in sys.argv[3:] if not word.startswith("--")] or CHEMISTRIES:
        shown(kind, campaign(kind, range(first, last), sheet=way))
