"""An independent simulator of electric scale model flights, to test the analyser against what it did not make.

It shares no code and no model with the product. Use:

    from tests.independent import FAULTS, SCENARIOS, fly, scenario

    recording = fly("twin_5s", seed=3, faults=("weak_cell_60",))
    files = recording.write(folder)         # files.logs, files.sheet, files.truth (JSON)
    recording.truth.figures["consumed_mah"]
    recording.truth.expected                # a list of Expectation: without faults, one that asks for `clear`

`scenario(name, seed)` gives the Plan (aircraft, weather, pilot, recorder) before it is flown; `fly` takes a name or
a Plan. `FAULTS[name].scenarios` lists the scenarios a fault makes sense in (the first is its usual one),
`FAULTS[name].group` its group. Truth: see `truth.Truth` and `truth.Expectation`. Every moment in the truth counts
from the first row of the first log, on that recorder's clock.
"""

from __future__ import annotations

import copy
from dataclasses import replace
from random import Random

import numpy as np

from .faults import FAULTS, Fault
from .plan import Plan
from .recorder import record
from .recording import Files, Recording
from .run import Run
from .scenarios import SCENARIOS, scenario
from .sheet import own_figures
from .truth import TOLERANCES, Expectation, Truth, figures, on_log_clock

__all__ = ["FAULTS", "SCENARIOS", "Expectation", "Fault", "Files", "Plan", "Recording", "Truth", "fly", "scenario"]


def fly(plan: Plan | str, *, seed: int | None = None, faults: tuple[str, ...] = ()) -> Recording:
    """Fly a scenario with faults and record it.

    Parameters: plan, a scenario's name or a Plan; seed, of the run (a Plan's own when left out); faults, names out
    of FAULTS. Returns: the Recording. Raises: KeyError for an unknown scenario or fault.
    """
    plan = scenario(plan, seed or 0) if isinstance(plan, str) else copy.deepcopy(plan)
    seed = plan.seed if seed is None else seed
    chosen = [FAULTS[name] for name in faults]
    chance = Random(f"{seed}/{faults}")
    sheet = own_figures(plan)
    expected = [fault.alter(plan, chance) for fault in chosen] or [Expectation(weak_kinds=None, verdicts=_even(plan))]
    sheet = own_figures(plan) if any(fault.sheet for fault in chosen) else sheet
    table = Run(plan, seed).go()
    table["motor_shed"] = np.zeros_like(table["motor_omega"])
    for event in plan.events:
        if event.kind == "shed" and event.began_s is not None:
            table["motor_shed"][:, event.motor] = table["time"] >= event.began_s
    truth = Truth(plan.name, seed, plan.kind, faults)
    log = record(plan, table)
    truth.figures, truth.tolerances = figures(plan, table), dict(TOLERANCES)
    truth.expected = [replace(e) for e in expected]
    truth.events = [{"kind": e.kind, "motor": plan.drives[e.motor].position, "began_s": e.began_s, "ended_s": e.ended_s}
                    for e in plan.events if e.began_s is not None]
    for expectation, fault in zip(truth.expected, chosen, strict=False):
        if fault.event and expectation.at_s is None and truth.events:
            expectation.at_s = truth.events[0]["began_s"]
    logs = [log]
    for edit in plan.edits:
        edit(logs, truth, plan, table)
    on_log_clock(truth, plan, float(logs[0].true_s[0]))
    return Recording(plan, table, logs, truth, sheet)


def _even(plan: Plan) -> tuple[str, ...]:
    return ("even", "undecided") if len(plan.drives) > 1 and plan.kind == "flight" else ()
