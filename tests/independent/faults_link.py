"""Faults of the receiver's supply and the radio link, and loads over the sheet's ratings."""

from __future__ import annotations

from random import Random
from typing import Any

import numpy as np

from .faults import FLYERS, fault, need
from .plan import Plan
from .recording import Recording
from .run import STEP_S
from .truth import Expectation


@fault("receiver_dip", "receiver", FLYERS)
def _dip(plan: Plan, chance: Random) -> Expectation:
    after = chance.uniform(60, 140)
    need(plan, "receiver_v")
    plan.receiver_dips.append((after, 0.7, 2.6))
    return Expectation(("stop",), ("receiver_low",), at_s=after)


@fault("link_lost", "receiver", FLYERS)
def _link(plan: Plan, chance: Random) -> Expectation:
    after = chance.uniform(60, 140)
    need(plan, "link")

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        values = log.columns["link"].values
        values[(log.true_s >= after) & (log.true_s < after + 2.5)] = 0.0

    plan.edits.append(edit)
    return Expectation(
        ("stop",), ("link_lost",), at_s=after, note="the recorder goes on aboard; the link reads 0 for 2.5 s"
    )


@fault("link_dropout_short", "receiver", FLYERS)
def _short(plan: Plan, chance: Random) -> Expectation:
    after = chance.uniform(60, 140)
    plan.recorder["rate_hz"] = 10.0
    plan.recorder["sensors"]["link"] = {"refresh_s": 0.0}
    need(plan, "link")

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        log.columns["link"].values[(log.true_s >= after) & (log.true_s < after + 0.4)] = 0.0

    plan.edits.append(edit)
    return Expectation(("clear", "check"), keys_none=("link_lost",), at_s=after)


def largest_mean(current: Any, seconds: float) -> float:
    """Largest mean over any window of that length."""
    window = round(seconds / STEP_S)
    total = np.r_[0.0, np.cumsum(current)]
    return float((total[window:] - total[:-window]).max() / window)


@fault("over_burst", "rating", ("twin_5s", "trainer_3s", "aerobatic_4s", "big_12s"))
def _burst(plan: Plan, chance: Random) -> Expectation:
    def edit(recording: Recording) -> None:
        pack = recording.sheet["pack"]
        rated = 0.80 * largest_mean(recording.table["current"], 5) / (pack["capacity_mah"] / 1000)
        steady = 1.15 * largest_mean(recording.table["current"], 30) / (pack["capacity_mah"] / 1000)
        pack["ratings"] = [
            {"c_rate": round(min(steady, rated), 1)},
            {"c_rate": round(rated, 1), "seconds": 5},
        ]

    plan.edits.append(edit)
    return Expectation(
        ("stop",), ("over_rating",), note="the pack's burst C over its 5 s is passed by a quarter"
    )


@fault("over_continuous", "rating", ("twin_5s", "trainer_3s", "four_6s", "big_12s"))
def _continuous(plan: Plan, chance: Random) -> Expectation:
    need(plan, *("current." + d.position for d in plan.drives))

    def edit(recording: Recording) -> None:
        steady = 0.82 * max(largest_mean(column, 30) for column in recording.table["motor_current"].T)
        peak = float(recording.table["motor_current"].max())
        recording.sheet["controller"]["ratings"] = [
            {"current_a": round(steady, 1)},
            {"current_a": round(1.2 * peak, 1), "seconds": 10},
        ]

    plan.edits.append(edit)
    return Expectation(
        ("stop",),
        ("over_rating",),
        note="a controller's steady rating, judged over 30 s, is passed by a fifth",
    )
