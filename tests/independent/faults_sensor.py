"""Faults of sensors and of how they are logged."""

from __future__ import annotations

from random import Random

import numpy as np

from .faults import FLYERS, QUIET, TWINS, fault, need
from .plan import Plan
from .recorder import Column
from .recording import Recording
from .truth import Expectation

WITH_MOTORS = (*TWINS, "trainer_3s")


def _when(plan: Plan, chance: Random) -> float:
    return chance.uniform(80, 140)


@fault("current_stuck_30s", "sensor", FLYERS)
def _stuck(plan: Plan, chance: Random) -> Expectation:
    after = _when(plan, chance)

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        inside = (log.true_s >= after) & (log.true_s < after + 30)
        values = log.columns["current"].values
        values[inside] = values[inside][0]
        recording.truth.tolerances["consumed_as_sensed_mah_rel"] = 0.04

    plan.edits.append(edit)
    return Expectation(QUIET, at_s=after, figures_off=("peak_a",))


@fault("current_spikes", "sensor", FLYERS)
def _spikes(plan: Plan, chance: Random) -> Expectation:
    draw = np.random.default_rng(chance.randrange(1 << 30))

    def edit(recording: Recording) -> None:
        values = recording.logs[0].columns["current"].values
        rows = draw.choice(np.arange(20, len(values) - 20), 4, replace=False)
        values[rows] = np.round(values.max() * draw.uniform(4, 9, 4), 1)

    plan.edits.append(edit)
    return Expectation(
        QUIET, keys_none=("over_rating",), note="four single rows far above what the drive can draw"
    )


@fault("current_silent_60s", "sensor", FLYERS)
def _silent(plan: Plan, chance: Random) -> Expectation:
    after = _when(plan, chance)
    need(plan, "used")

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        log.columns["current"].values[(log.true_s >= after) & (log.true_s < after + 60)] = np.nan

    plan.edits.append(edit)
    return Expectation(QUIET, at_s=after, note="the counter goes on and bridges it")


@fault("current_offset_3a", "sensor", ("twin_5s", "four_6s", "big_12s"))
def _offset(plan: Plan, chance: Random) -> Expectation:
    plan.recorder["sensors"]["current"] = {"offset": 3.0}
    plan.recorder["channels"] = [k for k in plan.recorder["channels"] if k != "used"]
    return Expectation(QUIET, ("current_offset", "current_disagrees"), note="3 A at rest")


@fault("current_gain_90", "sensor", ("twin_5s", "big_12s"))
def _gain(plan: Plan, chance: Random) -> Expectation:
    plan.recorder["sensors"]["current"] = {"gain": 0.90}
    need(plan, *("current." + d.position for d in plan.drives))
    return Expectation(("check",), ("current_disagrees",))


@fault("counter_restarts", "sensor", FLYERS)
def _restart(plan: Plan, chance: Random) -> Expectation:
    after = _when(plan, chance)
    need(plan, "used")

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        values, late = log.columns["used"].values, log.true_s >= after
        values[late] -= values[late][0]

    plan.edits.append(edit)
    return Expectation(QUIET, at_s=after, note="capacity.counter_restarts is 1, consumed as without it")


@fault("counter_scaled", "sensor", FLYERS)
def _scaled(plan: Plan, chance: Random) -> Expectation:
    need(plan, "used")
    plan.recorder["sensors"]["used"] = {"gain": chance.choice((0.85, 1.18))}
    return Expectation(
        ("check",),
        ("charge_disagrees",),
        note="current is right, the counter is not",
        figures_off=("consumed_mah", "consumed_as_sensed_mah"),
    )


@fault("voltage_stuck", "sensor", FLYERS)
def _voltage_stuck(plan: Plan, chance: Random) -> Expectation:
    after = _when(plan, chance)

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        values, late = log.columns["pack_v"].values, log.true_s >= after
        values[late] = values[late][0]

    plan.edits.append(edit)
    return Expectation(
        (*QUIET, "open"), at_s=after, figures_off=("min_voltage_v", "energy_wh"), note="the cells go on"
    )


@fault("current_smoothed", "sensor", FLYERS)
def _smoothed(plan: Plan, chance: Random) -> Expectation:
    plan.recorder["sensors"]["current"] = {"lag_s": 0.1}
    plan.recorder["rate_hz"] = 20.0
    return Expectation(("clear",), keys_none=("weak_cell_resistance",))


@fault("throttle_in_us", "sensor", FLYERS)
def _microseconds(plan: Plan, chance: Random) -> Expectation:
    def edit(recording: Recording) -> None:
        column = recording.logs[0].columns["throttle"]
        recording.logs[0].columns["throttle"] = Column("Throttle pulse (µs)", 1000 + 10 * column.values, 0)

    plan.edits.append(edit)
    return Expectation(("clear",))


@fault("current_not_fresh", "sensor", FLYERS)
def _slow(plan: Plan, chance: Random) -> Expectation:
    plan.recorder["rate_hz"] = 20.0
    plan.recorder["sensors"]["current"] = {"refresh_s": 0.5, "blank_between": chance.random() < 0.5}
    return Expectation(("clear",), note="the current is measured twice a second and held or blank between")
