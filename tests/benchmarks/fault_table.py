"""The fault table: what is decided of each injected fault, on flights of a simulator that the analyses do
not know and on the logs of the sample scenarios. `python tests/benchmarks/fault_table.py [SEEDS] [--write]`
prints it; with --write it stands in DEVELOPERS.md. A fault is answered when decision, finding, side, cell and
figures are what its truth says.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from random import Random

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.sample_faults import SAMPLE_FAULTS, SAMPLES, SampleLog, wrong_in  # noqa: E402
from tests.benchmarks.sample_faults import SCENARIOS as SAMPLE_SCENARIOS  # noqa: E402
from tests.independent import FAULTS, SCENARIOS, fly, judge  # noqa: E402

HEADER = "| fault | flights | decided | found by | wrong in decision or finding | wrong in a figure |"
BORDERS = ("<!-- faults -->", "<!-- /faults -->")
CLEAR, STOPPED = "clear", ("stop", "open")


@dataclass(frozen=True, slots=True)
class Case:
    """One flight with one fault, or none, and how it was answered."""

    fault: str
    scenario: str
    seed: int
    decision: str
    keys: tuple[str, ...]
    wrong: tuple[str, ...]
    figures: tuple[str, ...]


def answered(fault: str, scenario: str, seed: int) -> Case:
    """Fly, write, read and review one case; a crash is an answer of its own."""
    import telemetry

    flown = fly(scenario, seed=seed, faults=(fault,) if fault else ())
    with tempfile.TemporaryDirectory() as folder:
        files = flown.write(Path(folder))
        try:
            traces = [telemetry.read_log(log) for log in files.logs]
            bench = flown.truth.kind == "bench"
            found = telemetry.review(traces, telemetry.Sheet.read(files.sheet), bench=bench).to_dict()
        except Exception as error:  # the table must show it, whatever it is
            return Case(fault, scenario, seed, "crashed", (), (f"{type(error).__name__}: {error}",), ())
    flight = found["flights"][0]
    verdict = judge(flown.truth, found)
    figures = tuple(w for w in verdict.wrong if " within " in w)
    wrong = tuple(w for w in verdict.wrong if w not in figures)
    keys = tuple(f["key"] for f in flight["findings"] if f["severity"] != "note")
    return Case(fault, scenario, seed, flight.get("decision", "none"), keys, wrong, figures)


def answered_sample(fault: str, scenario: str, seed: int) -> Case:
    """Put one fault, or none, into a sample log, and review it."""
    import telemetry

    log, one = SampleLog.read(scenario), SAMPLE_FAULTS.get(fault)
    if one is not None:
        one.edit(log, Random(f"{seed}/{fault}"))
    named = f"sample, {fault}" if fault else ""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{scenario}.csv"
        path.write_text(log.text(), encoding="utf-8")
        sheet = telemetry.Sheet.read(SAMPLES / "saltmarsh_mail.toml")
        fitted = "skis" if scenario == "on_skis" else None
        try:
            found = telemetry.review(telemetry.read_log(path), sheet, configuration=fitted).to_dict()
        except Exception as error:  # the table must show it, whatever it is
            wrong = (f"{type(error).__name__}: {error}",)
            return Case(named, f"sample {scenario}", seed, "crashed", (), wrong, ())
    flight = found["flights"][0]
    keys = tuple(f["key"] for f in flight["findings"] if f["severity"] != "note")
    return Case(named, f"sample {scenario}", seed, flight["decision"], keys, wrong_in(flight, one), ())


def sample_cases(seeds: int) -> Iterator[tuple[str, str, int]]:
    """Both sample flights as they are, and every fault in one or the other."""
    yield from (("", name, 0) for name in SAMPLE_SCENARIOS)
    for k, name in enumerate(SAMPLE_FAULTS):
        yield from ((name, SAMPLE_SCENARIOS[(k + seed) % 2], 100 + seed) for seed in range(seeds))


def cases(seeds: int) -> Iterator[tuple[str, str, int]]:
    """Every scenario without a fault, and every fault in the scenarios where it makes sense, in turn."""
    yield from (("", name, seed) for name in SCENARIOS for seed in range(seeds))
    for name, fault in FAULTS.items():
        places = tuple(fault.scenarios)
        yield from ((name, places[seed % len(places)], 100 + seed) for seed in range(seeds))


def run(seeds: int, *, workers: int = 2) -> list[Case]:
    """All cases, answered."""
    with ProcessPoolExecutor(workers) as pool:
        invented = pool.map(answered, *zip(*cases(seeds), strict=True), chunksize=2)
        samples = pool.map(answered_sample, *zip(*sample_cases(seeds), strict=True), chunksize=2)
        return [*invented, *samples]


def dangerous(case: Case) -> bool:
    """Nothing said where something must be: the answer that could hurt."""
    return bool(case.fault) and any(w.startswith("decision clear") for w in case.wrong)


def false_alarm(case: Case) -> bool:
    """A healthy flight that is not clear."""
    return not case.fault and any(w.startswith("decision") for w in case.wrong)


def rows(found: list[Case]) -> list[str]:
    """A row a fault, healthy flights by scenario first."""
    names = dict.fromkeys((c.fault or f"none: {c.scenario}") for c in found)
    lines = [HEADER, "|---|---|---|---|---|---|"]
    for name in names:
        mine = [c for c in found if (c.fault or f"none: {c.scenario}") == name]
        decided = ", ".join(f"{d} {n}" for d, n in Counter(c.decision for c in mine).most_common())
        keys = ", ".join(f"`{k}`" for k, _ in Counter(k for c in mine for k in set(c.keys)).most_common(3))
        wrong, figures = sum(bool(c.wrong) for c in mine), sum(bool(c.figures) for c in mine)
        lines.append(f"| {name.replace('_', ' ')} | {len(mine)} | {decided} | {keys} | {wrong} | {figures} |")
    return lines


def summary(found: list[Case]) -> str:
    """The whole in one line."""
    right = sum(not c.wrong for c in found)
    return (
        f"{len(found)} flights: {right} answered right ({100 * right / len(found):.0f} %), "
        f"{sum(map(dangerous, found))} dangerous, {sum(map(false_alarm, found))} healthy not clear, "
        f"{sum(c.decision == 'crashed' for c in found)} crashed, "
        f"{sum(bool(c.figures) for c in found)} with a figure off."
    )


def main() -> None:
    """Print the table, and what was wrong."""
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    found = run(numbers[0] if numbers else 2)
    lines = [*rows(found), "", summary(found)]
    print("\n".join(lines))
    for case in found:
        if case.wrong:
            print(case.fault or "none", case.scenario, case.seed, case.decision, *case.wrong, sep=" | ")
    if "--write" in sys.argv:
        page = ROOT / "DEVELOPERS.md"
        text = page.read_text(encoding="utf-8")
        before, rest = text.split(BORDERS[0])
        after = rest.split(BORDERS[1])[1]
        page.write_text(f"{before}{BORDERS[0]}\n{chr(10).join(lines)}\n{BORDERS[1]}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
