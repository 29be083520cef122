"""An independent simulator of electric scale model flights, to test the analyser against what it did not
make.

It shares no code and no model with the product. Use:

    from tests.independent import FAULTS, SCENARIOS, fly, scenario

    recording = fly("twin_5s", seed=3, faults=("weak_cell_60",))
    files = recording.write(folder)         # files.logs, files.sheet, files.truth (JSON)
    recording.truth.figures["consumed_mah"]
    recording.truth.expected                # a list of Expectation: without faults, one that asks for `clear`

    judge(recording.truth, review)          # a review's JSON object: .wrong, .silent, .loose

`scenario(name, seed)` gives the Plan (aircraft, weather, pilot, recorder) before it is flown; `fly` takes a
name or a Plan. `FAULTS[name].scenarios` lists the scenarios a fault makes sense in (the first is its usual
one), `FAULTS[name].group` its group. Truth: see `truth.Truth` and `truth.Expectation`. Every moment in the
truth counts from the first row of the first log, on that recorder's clock.
"""

from __future__ import annotations

import copy
from dataclasses import replace
from random import Random
from typing import Any

import numpy as np

from . import faults_bench, faults_link, faults_log, faults_motor, faults_pack, faults_sensor
from .faults import FAULTS, Fault
from .judge import judge
from .plan import Plan
from .recorder import record
from .recording import Files, Recording
from .run import STEP_S, Run
from .scenarios import SCENARIOS, scenario
from .sheet import own_figures
from .truth import Expectation, Truth, allow_for_size, figures, on_log_clock, tolerances, without_faults

__all__ = [
    "FAULTS",
    "SCENARIOS",
    "Expectation",
    "Fault",
    "Files",
    "Plan",
    "Recording",
    "Truth",
    "fly",
    "judge",
    "scenario",
]
GROUPS = (faults_pack, faults_motor, faults_sensor, faults_link, faults_log, faults_bench)


def fly(plan: Plan | str, *, seed: int | None = None, faults: tuple[str, ...] = ()) -> Recording:
    """Fly a scenario with faults and record it.

    Parameters: plan, a scenario's name or a Plan; seed, of the run (a Plan's own when left out); faults,
    names out of FAULTS. Returns: the Recording. Raises: KeyError for an unknown scenario or fault.
    """
    plan = scenario(plan, seed or 0) if isinstance(plan, str) else copy.deepcopy(plan)
    seed = plan.seed if seed is None else seed
    chosen = [FAULTS[name] for name in faults]
    chance = Random(f"{seed}/{faults}")
    sheet = own_figures(plan)
    expected = [fault.alter(plan, chance) for fault in chosen]
    table = Run(plan, seed).go()
    shed_s = _shed(plan, table)
    logs = [record(plan, table)]
    seen = _seen(table, float(logs[0].true_s[0]), float(logs[0].true_s[-1]))
    known = figures(plan, seen, shed_s)
    truth = Truth(plan.name, seed, plan.kind, faults, known, tolerances(plan, known))
    truth.expected = [replace(e) for e in expected] or [without_faults(plan, truth.figures)]
    truth.events = [
        {"kind": e.kind, "motor": plan.drives[e.motor].position, "began_s": e.began_s, "ended_s": e.ended_s}
        for e in plan.events
        if e.began_s is not None
    ]
    for expectation in truth.expected:
        allow_for_size(expectation, truth.figures)
    for expectation, fault in zip(truth.expected, chosen, strict=False):
        if fault.event and expectation.at_s is None and truth.events:
            expectation.at_s = truth.events[0]["began_s"]
    recording = Recording(plan, table, logs, truth, sheet)
    for edit in plan.edits:
        edit(recording)
    on_log_clock(truth, plan, float(logs[0].true_s[0]))
    for name, changes in plan.sheet.get("changes", {}).items():
        sheet[name] = {**sheet.get(name, {}), **changes}
    return recording


def _shed(plan: Plan, table: dict[str, Any]) -> float:
    """Note which propeller lacks a blade at which step; return since when the pair is what it is."""
    table["motor_shed"], since = np.zeros_like(table["motor_omega"]), 0.0
    for event in plan.events:
        if event.kind == "shed" and event.began_s is not None:
            table["motor_shed"][:, event.motor] = table["time"] >= event.began_s
            since = event.began_s + 1.0
    return since


def _seen(table: dict[str, Any], start_s: float, end_s: float) -> dict[str, Any]:
    """The part of the run that the log covers."""
    part = slice(max(0, round(start_s / STEP_S) - 1), round(end_s / STEP_S) + 1)
    return {name: column[part] for name, column in table.items()}
