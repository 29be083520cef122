"""The known truth of a run, in the definitions of the contract, and what a fault obliges an analyser to
say.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .cells import resistance_after
from .plan import Plan
from .run import STEP_S

Floats = NDArray[np.float64]


@dataclass
class Expectation:
    """What must, may and must not be said of a log.

    decisions: the allowed decisions of the flight. keys_any: at least one of these finding keys is there
    (empty: nothing is asked). keys_none: none of these is. events_any: at least one motor event is of these
    kinds. side, cell: whom it concerns. at_s, at_tolerance_s: when, on the first log's clock from its first
    row. weak_kinds: allowed kinds of the weak cell; None: there must be no weak cell; ("any",): not asked.
    verdicts, causes: allowed for the pair (empty: not asked). open_any: `what` of the open entries.
    border: the fault is at the edge of what the log can show; the decision alone is asked.
    """

    decisions: tuple[str, ...] = ("clear",)
    keys_any: tuple[str, ...] = ()
    keys_none: tuple[str, ...] = ()
    events_any: tuple[str, ...] = ()
    side: str = ""
    cell: int | None = None
    at_s: float | None = None
    at_tolerance_s: float = 2.0
    weak_kinds: tuple[str, ...] | None = None
    verdicts: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    open_any: tuple[str, ...] = ()
    exit_codes: tuple[int, ...] = (0, 3)
    figures_off: tuple[str, ...] = ()
    border: bool = False
    note: str = ""


@dataclass
class Truth:
    """Known figures of a run. `figures` are SI or in the unit of their name; `tolerances` are what an honest
    analysis of such a log can reach: relative for keys ending in `_rel`, else absolute."""

    scenario: str
    seed: int
    kind: str
    faults: tuple[str, ...]
    figures: dict[str, Any] = field(default_factory=dict)
    tolerances: dict[str, float] = field(default_factory=dict)
    expected: list[Expectation] = field(default_factory=list)
    events: list[dict[str, Any]] = field(default_factory=list)
    clock: dict[str, float] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        return asdict(self)


def _span(table: dict[str, Any]) -> slice:
    """First throttle-up to the last motor stop."""
    turning = np.nonzero(
        ((np.abs(table["motor_command"]) > 0.02) & (np.abs(table["motor_omega"]) > 10)).any(axis=1)
    )[0]
    return slice(int(turning[0]), int(turning[-1]) + 1) if len(turning) else slice(0, 1)


def _flying(table: dict[str, Any]) -> tuple[float | None, float | None]:
    up = np.nonzero(table["flying"] > 0.5)[0]
    if not len(up):
        return None, None
    last = int(up[-1]) + 1
    start = float(table["time"][up[0]]) if up[0] > 0 else None
    return start, float(table["time"][last]) if last < len(table["time"]) - 1 else None


def pair_figures(plan: Plan, table: dict[str, Any], since_s: float = 0.0) -> dict[str, Any]:
    """Of each pair, over straight powered samples at equal command: right against left."""
    places = [d.position for d in plan.drives]
    power = table["motor_torque"] * table["motor_omega"]
    found = {}
    for left, right in (("left", "right"), ("left_inner", "right_inner"), ("left_outer", "right_outer")):
        if left not in places or right not in places:
            continue
        i, j = places.index(left), places.index(right)
        command = table["motor_command"][:, [i, j]]
        ask = (command.min(axis=1) > 0.25) & (np.abs(command[:, 0] - command[:, 1]) < 0.02)
        ask &= table["time"] >= since_s
        if plan.kind != "bench":
            ask &= table["straight"] > 0.5
        for event in plan.events:
            if event.began_s is not None and event.kind in (
                "cut",
                "stall",
                "out_of_step",
                "reverse",
                "limit",
            ):
                ask &= (table["time"] < event.began_s - 0.5) | (table["time"] > (event.ended_s or 1e9) + 1.0)
        if ask.sum() < 100:
            continue
        means = {
            name: col[ask].mean(axis=0)
            for name, col in (
                ("power", power),
                ("current", table["motor_current"]),
                ("rpm", np.abs(table["motor_omega"])),
            )
        }
        a, b = means["power"][i], means["power"][j]
        found[f"{left}/{right}"] = {
            "imbalance_fraction": float((b - a) / ((a + b) / 2)),
            "current_ratio": float(means["current"][j] / means["current"][i]),
            "rpm_ratio": float(means["rpm"][j] / means["rpm"][i]),
        }
    return found


def _cells(plan: Plan, table: dict[str, Any], span: slice) -> list[dict[str, float]]:
    pack = plan.pack
    drawn, warm, amps = (
        table["drawn"][span][::50],
        table["pack_c"][span][::50],
        float(table["current"][span].mean()),
    )
    ohmic = resistance_after(pack, 0.0, amps, drawn, warm)
    early = resistance_after(pack, 0.10, amps, drawn, warm)
    one, ten = (resistance_after(pack, s, amps, drawn, warm) for s in (1.0, 10.0))
    low = table["cells"].argmin(axis=0)
    rest = pack.resting_v(table["drawn"][:1])[0]
    return [
        {
            "cell": c + 1,
            "rest_before_v": float(rest[c]),
            "ohmic_ohm": float(ohmic[c]),
            "ohmic_as_seen_at_100ms_ohm": float(early[c]),
            "resistance_1s_ohm": float(one[c]),
            "resistance_10s_ohm": float(ten[c]),
            "min_loaded_v": float(table["cells"][low[c], c]),
            "min_at_s": float(table["time"][low[c]]),
            "capacity_mah": float(pack.capacity_mah[c]),
            "start_charge_fraction": float(pack.start_charge[c]),
            "charge_left_fraction": float(pack.charge(table["drawn"][-1:])[0, c]),
        }
        for c in range(pack.cells)
    ]


def figures(plan: Plan, table: dict[str, Any], since_s: float = 0.0) -> dict[str, Any]:
    """Everything known, on the run's own time from power-on."""
    span, amps = _span(table), table["current"]
    takeoff, landing = _flying(table)
    mean_a = float(amps[span].mean())
    capacity = float(plan.pack.capacity_mah.mean())
    cells = _cells(plan, table, span)
    extra = plan.pack.plug_ohm
    peak = int(amps.argmax())
    sensor = plan.recorder["used_sensors"].get("current")
    return {
        "consumed_mah": float(table["drawn"][-1] - table["drawn"][0]),
        "consumed_as_sensed_mah": float(table["drawn"][-1] - table["drawn"][0])
        * (sensor.gain if sensor else 1.0),
        "energy_wh": float((table["pack_v"] * amps).sum() * STEP_S / 3600),
        "capacity_mah": capacity,
        "mean_current_a": mean_a,
        "powered_start_s": float(table["time"][span.start]),
        "powered_end_s": float(table["time"][span.stop - 1]),
        "takeoff_s": takeoff,
        "landing_s": landing,
        "end_s": float(table["time"][-1]),
        "start_charge_fraction": float(plan.pack.charge(table["drawn"][:1]).mean()),
        "charge_left_fraction": float(plan.pack.charge(table["drawn"][-1:]).mean()),
        "median_charge_left_fraction": float(np.median(plan.pack.charge(table["drawn"][-1:]))),
        "weakest_charge_left_fraction": float(plan.pack.charge(table["drawn"][-1:]).min()),
        "peak_a": float(amps[peak]),
        "peak_at_s": float(table["time"][peak]),
        "start_voltage_v": float(table["pack_v"][0]),
        "min_voltage_v": float(table["pack_v"].min()),
        "resistance_ohm": sum(c["ohmic_ohm"] for c in cells) + extra,
        "resistance_as_seen_at_100ms_ohm": sum(c["ohmic_as_seen_at_100ms_ohm"] for c in cells) + extra,
        "resistance_1s_ohm": sum(c["resistance_1s_ohm"] for c in cells) + extra,
        "resistance_10s_ohm": sum(c["resistance_10s_ohm"] for c in cells) + extra,
        "cells": cells,
        "pairs": pair_figures(plan, table, since_s),
        "rate_mah_per_min": mean_a * 1000 / 60,
        "safe_flying_s": 0.8 * float(plan.pack.capacity_mah.min()) * 3.6 / mean_a if mean_a > 0 else None,
        "motor_temperature_max_c": table["motor_case_c"].max(axis=0).tolist(),
        "controller_temperature_max_c": table["motor_controller_c"].max(axis=0).tolist(),
    }


def without_faults(plan: Plan, known: dict[str, Any]) -> Expectation:
    """What may be said of a sound aircraft: nothing against it. A pair that wear has put at the edge may be
    either.
    """
    if plan.kind == "bench":
        return Expectation(("clear", "open"), verdicts=("even", "undecided"), keys_none=NEVER)
    most = max((abs(p["imbalance_fraction"]) for p in known["pairs"].values()), default=0.0)
    verdicts = () if len(plan.drives) < 2 or plan.kind == "taxi" else ("even", "undecided")
    return Expectation(
        ("clear",) if most < 0.010 else ("clear", "check"),
        verdicts=verdicts if most < 0.010 else (),
        keys_none=NEVER,
    )


def allow_for_size(expectation: Expectation, known: dict[str, Any]) -> None:
    """An uneven pair whose true figures lie near the contract's bounds may also be undecided, or called
    even.
    """
    pairs = known["pairs"].values()
    if expectation.verdicts != ("uneven",) or not pairs:
        return
    power = max(abs(p["imbalance_fraction"]) for p in pairs)
    current = max(abs(p["current_ratio"] - 1) for p in pairs)
    if power < 0.024 and current < 0.035:
        expectation.verdicts, expectation.border = ("uneven", "undecided"), True
        expectation.decisions, expectation.keys_any = ("clear", *expectation.decisions), ()
    if power < 0.014 and current < 0.022:
        expectation.verdicts = ("uneven", "undecided", "even")


NEVER = (
    "thrust_lost",
    "cell_under_floor",
    "over_rating",
    "receiver_low",
    "link_lost",
    "flight_ended_hard",
    "reserve_used",
    "overcharged",
    "chemistry_disagrees",
    "weak_cell_resistance",
    "weak_cell_capacity",
    "weak_cell_unbalanced",
    "log_cut_off",
    "current_disagrees",
    "charge_disagrees",
    "cell_sensor",
    "clock_jump",
    "controller_limited",
    "rpm_scale",
)
TOLERANCES = {
    "consumed_as_sensed_mah_rel": 0.01,
    "consumed_mah_rel": 0.025,
    "energy_wh_rel": 0.02,
    "mean_current_a_rel": 0.02,
    "takeoff_s": 2.0,
    "landing_s": 3.0,
    "start_charge_fraction": 0.04,
    "charge_left_fraction": 0.05,
    "peak_a_rel": 0.08,
    "resistance_1s_ohm_rel": 0.15,
    "resistance_10s_ohm_rel": 0.20,
    "min_loaded_v": 0.03,
    "min_voltage_v_rel": 0.012,
    "imbalance_fraction": 0.012,
    "current_ratio": 0.02,
    "rpm_ratio": 0.006,
    "rest_before_v": 0.012,
    "safe_flying_s_rel": 0.12,
}


def tolerances(plan: Plan, known: dict[str, Any]) -> dict[str, float]:
    """The usual ones, widened by what a current sensor's small reading at rest adds up to."""
    room, sensor = dict(TOLERANCES), plan.recorder["used_sensors"].get("current")
    if sensor is not None and known["consumed_mah"] > 0:
        drift = abs(sensor.offset) * known["end_s"] / 3.6 / known["consumed_mah"]
        for name in ("consumed_as_sensed_mah_rel", "consumed_mah_rel", "energy_wh_rel", "mean_current_a_rel"):
            room[name] += min(drift, 0.03)
    return room


def on_log_clock(truth: Truth, plan: Plan, first_true_s: float) -> None:
    """Carry every moment to seconds from the first row, as the first recorder counts them."""
    pace = 1 + plan.recorder["drift_ppm"] * 1e-6

    def carry(value: Any) -> Any:
        return None if value is None else (value - first_true_s) / pace

    for key in ("powered_start_s", "powered_end_s", "takeoff_s", "landing_s", "end_s", "peak_at_s"):
        truth.figures[key] = carry(truth.figures[key])
    for cell in truth.figures["cells"]:
        cell["min_at_s"] = carry(cell["min_at_s"])
    for event in truth.events:
        event["began_s"], event["ended_s"] = carry(event["began_s"]), carry(event["ended_s"])
    for expectation in truth.expected:
        expectation.at_s = carry(expectation.at_s)
