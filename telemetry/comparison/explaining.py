"""Why a flight was not as predicted, where its data tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from telemetry.comparison.fitting import KEYS, Belief, doubts_beforehand, evidence_of, told_by
from telemetry.comparison.results import PhaseResidual, Residual
from telemetry.prediction.assumptions import complete
from telemetry.prediction.replay import Conditions
from telemetry.sentences import say
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals

_ORDER = {
    "pack_voltage_v": ("pack_resistance", "propeller_power", "drive_gain", "drag"),
    "current_a": ("propeller_power", "drive_gain", "drag", "pack_resistance"),
    "rpm": ("drive_gain", "propeller_power", "pack_resistance", "drag"),
}
"""Which factor is asked first for a quantity."""

_RAISES = {
    "pack_voltage_v": {"pack_resistance": -1, "propeller_power": -1, "drive_gain": -1, "drag": -1},
    "current_a": {"pack_resistance": -1, "propeller_power": 1, "drive_gain": 1, "drag": 1},
    "rpm": {"pack_resistance": -1, "propeller_power": -1, "drive_gain": 1, "drag": -1},
}
"""Whether more of a factor raises a quantity."""


@dataclass(frozen=True, slots=True)
class _Shift:
    """A factor found off by this much, as a fraction."""

    fraction: float


def explain(
    residuals: tuple[Residual, ...],
    phases: tuple[PhaseResidual, ...],
    signals: Signals,
    setup: Setup,
    conditions: Conditions,
) -> tuple[tuple[Residual, ...], tuple[PhaseResidual, ...]]:
    """The residuals with `explained_by` where one flight's fit finds a cause.

    Residuals inside their interval need no explanation, and what the flight can't tell apart gets none.
    """
    if all(r.kept for r in residuals) and all(p.residual.kept for p in phases if p.end_s - p.start_s > 20.0):
        return residuals, phases
    shifts = _shifts(signals, setup, conditions)
    unloads = _unloads_more(phases)

    def said(r: Residual) -> Residual:
        return r if r.kept else replace(r, explained_by=_why(r, shifts, setup, unloads))

    return tuple(said(r) for r in residuals), tuple(replace(p, residual=said(p.residual)) for p in phases)


def _shifts(
    signals: Signals, setup: Setup, conditions: Conditions, *, sure: float = 1.96
) -> Mapping[str, _Shift]:
    """The factors that this flight alone puts beyond the sheet's doubts.

    `sure` is in standard deviations of where the fit would put the factor if the sheet were right.
    """
    evidence = evidence_of(signals, setup, conditions)
    if evidence is None:
        return {}
    known = complete(setup)
    before = Belief(np.zeros(len(KEYS)), np.diag(doubts_beforehand(known) ** 2))
    told = told_by(evidence, known, before, rounds=1, with_speed=False)
    beyond = np.abs(before.surprise(told, least=0.3)) > sure
    found = before.after(told)
    return {key: _Shift(float(np.exp(found.mean[k]) - 1.0)) for k, key in enumerate(KEYS) if beyond[k]}


def _unloads_more(phases: tuple[PhaseResidual, ...], *, apart: float = 0.06) -> bool:
    """Whether the current is as predicted at take-off, where the propeller works hardest, and falls short in
    cruise.
    """
    by_phase: dict[str, list[float]] = {}
    for one in phases:
        if one.residual.quantity == "current_a" and not one.residual.position:
            by_phase.setdefault(one.phase, []).append(one.residual.residual_fraction)
    if "takeoff" not in by_phase or "cruise" not in by_phase:
        return False
    start, cruise = float(np.mean(by_phase["takeoff"])), float(np.mean(by_phase["cruise"]))
    return abs(start) < 2.0 * apart and cruise < start - apart


def _why(residual: Residual, shifts: Mapping[str, _Shift], setup: Setup, unloads_more: bool) -> str:
    for key in _ORDER[residual.quantity]:
        shift = shifts.get(key)
        if (
            shift is None
            or shift.fraction * residual.residual_fraction * _RAISES[residual.quantity][key] <= 0.0
        ):
            continue
        return _said(key, shift.fraction, setup, unloads_more)
    if residual.quantity == "current_a" and residual.residual_fraction < 0 and unloads_more:
        return say("explanations", "unloads")
    return ""


def _said(key: str, fraction: float, setup: Setup, unloads_more: bool) -> str:
    name = key
    if key == "propeller_power":
        pointed = any(d.propeller.static_points for d in setup.drives)
        name = "propeller_static" if pointed else "propeller_size"
        if fraction < 0 and unloads_more:
            return say("explanations", "unloads_by", much=abs(fraction))
    return say("explanations", f"{name}_{'more' if fraction > 0 else 'less'}", much=abs(fraction))
