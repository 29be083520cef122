"""Faults of logs and clocks: cut off, leaping, several recorders, few columns."""

from __future__ import annotations

from random import Random

import numpy as np

from .faults import FLYERS, QUIET, fault, need, spare
from .plan import Leg, Plan
from .recorder import Column, Log
from .recording import Recording
from .truth import Expectation

MOVED = (
    "current.",
    "rpm.",
    "controller_c.",
    "altitude",
    "climb",
    "airspeed",
    "ground",
    "receiver_v",
    "link",
    "vibration",
)
FROM_CURRENT = (
    "consumed_mah",
    "consumed_as_sensed_mah",
    "energy_wh",
    "mean_current_a",
    "peak_a",
    "safe_flying_s",
)


@fault("ends_in_air", "log", FLYERS)
def _ends(plan: Plan, chance: Random) -> Expectation:
    plan.recorder["end_s"] = chance.uniform(150, 220)
    return Expectation(("open",), ("log_cut_off",), open_any=("flight",), note="cut_off is end, landing null")


@fault("begins_in_air", "log", FLYERS)
def _begins(plan: Plan, chance: Random) -> Expectation:
    plan.recorder["start_s"] = chance.uniform(60, 110)
    return Expectation(
        ("check", "open"),
        ("log_cut_off",),
        figures_off=("start_charge_fraction", "rest_before_v", "charge_left_fraction"),
        note="cut_off is start, take-off null",
    )


@fault("ends_hard", "log", ("twin_5s", "trainer_3s", "aerobatic_4s"))
def _hard(plan: Plan, chance: Random) -> Expectation:
    need(plan, "acceleration", "altitude", "airspeed")
    at = [leg.kind for leg in plan.legs].index("approach")
    plan.legs[at - 1].seconds = chance.uniform(120, 200)
    plan.legs[at:] = [Leg("crash", throttle=0.6)]

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        log.columns["acceleration"].values[-1] = -160.0
        recording.truth.figures["landing_s"] = None

    plan.edits.append(edit)
    return Expectation(("stop",), ("flight_ended_hard",), note="a dive into the ground, then silence")


@fault("clock_hour", "clock", FLYERS)
def _hour(plan: Plan, chance: Random) -> Expectation:
    after = chance.uniform(90, 150)

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        log.time_s = log.time_s + 3600.0 * (log.true_s >= after)

    plan.edits.append(edit)
    return Expectation(QUIET, ("clock_jump",), at_s=after)


@fault("row_of_1970", "clock", FLYERS)
def _epoch(plan: Plan, chance: Random) -> Expectation:
    plan.recorder["clock_zero_s"] = -1780000000.0 - chance.randrange(100000)
    plan.recorder.update(drift_ppm=0.0, time_scale=1.0, time_decimals=2, time_heading="Time (s)")

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        log.time_s[chance.randrange(500, 700)] = 12.0

    plan.edits.append(edit)
    return Expectation(QUIET, note="seconds since 1970, and one row that says 12")


@fault("clock_back", "clock", FLYERS)
def _back(plan: Plan, chance: Random) -> Expectation:
    after = chance.uniform(90, 150)

    def edit(recording: Recording) -> None:
        log = recording.logs[0]
        log.time_s = log.time_s - 40.0 * ((log.true_s >= after) & (log.true_s < after + 4))

    plan.edits.append(edit)
    return Expectation((*QUIET, "open"), at_s=after, note="four seconds of rows are stamped 40 s early")


def _second(name: str, *, leap_s: float = 0.0, drift_ppm: float = 60.0, late_s: float = 0.0) -> None:
    """A second recorder with a clock of its own: it keeps the controllers' figures, throttle, height, speed
    and receiver.
    """

    @fault(name, "clock", FLYERS)
    def alter(plan: Plan, chance: Random) -> Expectation:
        ahead, rate = chance.uniform(-200, 300), chance.choice((4.0, 5.0, 10.0))
        after = chance.uniform(120, 180)
        need(
            plan, "throttle", "altitude", *(k + d.position for k in ("current.", "rpm.") for d in plan.drives)
        )

        def edit(recording: Recording) -> None:
            first = recording.logs[0]
            end = float(first.true_s[-1])
            true = np.arange(late_s, end, 1 / rate)
            true += np.random.default_rng(plan.seed).uniform(0, 0.01, len(true))
            rows = np.clip(np.searchsorted(first.true_s, true, side="right") - 1, 0, len(first.true_s) - 1)
            own = (true + ahead) / (1 + drift_ppm * 1e-6)
            moved = [k for k in first.columns if k.startswith(MOVED)]
            columns = {}
            for key in [*moved, "throttle"]:
                kept = first.columns[key]
                columns[key] = Column(kept.heading, kept.values[rows], kept.decimals)
            second = Log(
                own + leap_s * (true >= after), true, columns, name="second.csv", delimiter=first.delimiter
            )
            for key in moved:
                del first.columns[key]
            recording.logs.append(second)
            recording.truth.clock = {"offset_s": -ahead, "drift_ppm": drift_ppm - plan.recorder["drift_ppm"]}

        plan.edits.append(edit)
        keys = ("clock_jump",) if leap_s else ()
        return Expectation(
            QUIET if leap_s else ("clear",),
            keys,
            note="two logs of one flight; own = (true + ahead) / (1 + drift)",
        )


_second("second_recorder")
_second("second_recorder_hour", leap_s=3600.0)
_second("second_recorder_drifts", drift_ppm=2000.0)
_second("second_recorder_late", late_s=70.0)


@fault("pack_voltage_alone", "log", ("twin_5s", "trainer_3s"))
def _alone(plan: Plan, chance: Random) -> Expectation:
    plan.recorder["channels"] = ["pack_v"]
    return Expectation(
        ("open",),
        figures_off=(
            "consumed_mah",
            "consumed_as_sensed_mah",
            "energy_wh",
            "mean_current_a",
            "takeoff_s",
            "landing_s",
            "safe_flying_s",
        ),
    )


@fault("no_current", "log", ("twin_5s", "trainer_3s", "aerobatic_4s"))
def _no_current(plan: Plan, chance: Random) -> Expectation:
    spare(plan, "current", "used")
    return Expectation(("open",), open_any=("load",), figures_off=FROM_CURRENT)
