"""Faults of a run-up on the bench."""

from __future__ import annotations

from random import Random

import numpy as np

from .faults import CHECK, fault, need, side_of
from .plan import Event, Plan
from .recording import Recording
from .truth import Expectation

BENCH = ("twin_bench",)


def _full_step_s(plan: Plan, throttle: float) -> float:
    """When the step of that throttle begins."""
    at = 0.0
    for leg in plan.legs:
        if leg.kind == "step" and leg.throttle == throttle:
            return at
        at += leg.seconds
    return at


@fault("bench_receiver_sag", "bench", BENCH)
def _sag(plan: Plan, chance: Random) -> Expectation:
    after = _full_step_s(plan, 1.0) + 1.0
    plan.receiver_dips.append((after, 4.0, 3.5))
    return Expectation(("stop",), ("receiver_low",), at_s=after, note="bench.ready is false")


@fault("bench_half_pack", "bench", BENCH)
def _half(plan: Plan, chance: Random) -> Expectation:
    plan.pack.start_charge -= 0.5
    return Expectation((*CHECK, "open"), ("not_full",), note="bench.ready is not true")


@fault("bench_drop_out", "bench", BENCH, event=True)
def _drop(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    plan.recorder["rate_hz"] = 10.0
    need(plan, *(k + d.position for k in ("current.", "rpm.") for d in plan.drives))
    plan.events.append(Event("cut", i, _full_step_s(plan, 0.75) + 3.0, 0.3, airborne=False))
    return Expectation(
        CHECK, events_any=("cut", "out_of_step", "stall"), side=side, note="0.3 s without drive"
    )


@fault("bench_moved_off", "bench", BENCH)
def _moved(plan: Plan, chance: Random) -> Expectation:
    after = _full_step_s(plan, 1.0) + 1.0
    need(plan, "ground")

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        log.columns["ground"].values += (
            9.0 * np.clip((log.true_s - after) / 1.5, 0, 1) * (log.true_s < after + 4.5)
        )

    plan.edits.append(edit)
    return Expectation(
        (*CHECK, "open"),
        at_s=after,
        note="speed over ground to 9 m/s at full throttle; bench.ready is not true",
    )


@fault("bench_motor_hot", "bench", BENCH)
def _hot(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    parts = plan.drives[i]
    parts.case_w_per_k *= 0.1
    parts.extra_heat_w = 3.0 * parts.case_j_per_k
    need(plan, *("motor_c." + d.position for d in plan.drives))
    return Expectation(CHECK, events_any=("overheating",), side=side, note="over 90 °C")


@fault("bench_loose_plug", "bench", BENCH)
def _plug(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    plan.drives[i].lead_ohm += 0.008
    need(plan, *(k + d.position for k in ("current.", "rpm.") for d in plan.drives))
    return Expectation(
        CHECK,
        side=side,
        verdicts=("uneven",),
        note="8 mΩ more in one lead: weaker the more current it carries",
    )


@fault("bench_wrong_way", "bench", BENCH)
def _wrong_way(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    plan.drives[i].turns_wrong_way = True
    plan.drives[i].thrust_scale *= 0.6
    plan.drives[i].torque_scale *= 1.08
    return Expectation(CHECK, side=side, note="its thrust reads negative; bench.ready is false")
