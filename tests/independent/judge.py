"""Hold a review's JSON object against the truth of a recording, by the contract's keys alone."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from .truth import Expectation, Truth

# figure of the truth: where the review has it, below a flight
PLACES: dict[str, tuple[str, ...]] = {
    "consumed_as_sensed_mah": ("capacity", "consumed_mah"),
    "energy_wh": ("capacity", "energy_wh"),
    "mean_current_a": ("capacity", "mean_current_a"),
    "takeoff_s": ("takeoff_s",),
    "landing_s": ("landing_s",),
    "start_charge_fraction": ("pack", "start_charge_fraction"),
    "charge_left_fraction": ("pack", "charge_left_fraction"),
    "peak_a": ("current", "peak_a"),
    "resistance_1s_ohm": ("pack", "resistance_1s_ohm"),
    "resistance_10s_ohm": ("pack", "resistance_10s_ohm"),
    "min_voltage_v": ("pack", "min_voltage_v"),
}


@dataclass
class Judgement:
    """wrong: what contradicts the truth. silent: figures that the review leaves null. loose: intervals that
    miss.
    """

    wrong: list[str] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)
    loose: list[str] = field(default_factory=list)


def judge(truth: Truth, review: dict[str, Any]) -> Judgement:
    """Every contradiction between a `sagline.review/1` object and the truth of the recording it was given."""
    verdict, flights = Judgement(), review["flights"]
    if len(flights) != 1:
        verdict.wrong.append(f"{len(flights)} flights instead of one")
    if flights:
        off = {name for e in truth.expected for name in e.figures_off}
        for expectation in truth.expected:
            _said(expectation, flights[0], verdict)
        _decision(truth.expected, flights[0], verdict)
        _figures(truth, flights[0], off, verdict)
        _cells(truth, flights[0], off, verdict)
        _pairs(truth, flights[0], off, verdict)
    return verdict


def _decision(expected: list[Expectation], flight: dict[str, Any], verdict: Judgement) -> None:
    """With several faults any one's decision is allowed if it is at least as grave as the gravest least
    one.
    """
    order = ("clear", "check", "open", "stop")
    allowed = {d for e in expected for d in e.decisions}
    least = max(min(order.index(d) for d in e.decisions) for e in expected)
    said = flight.get("decision", "not given")
    if said not in allowed or said not in order or order.index(said) < least:
        verdict.wrong.append(f"decision {said}, allowed {sorted(allowed)}")
    wanted = {w for e in expected for w in e.open_any}
    if wanted and not wanted & {o["what"] for o in flight.get("open", [])}:
        verdict.wrong.append(f"nothing open of {sorted(wanted)}")


def _said(expectation: Expectation, flight: dict[str, Any], verdict: Judgement) -> None:
    keys = {f["key"] for f in flight["findings"]}
    if not expectation.border and expectation.keys_any and not keys & set(expectation.keys_any):
        verdict.wrong.append(f"no finding of {expectation.keys_any}, has {sorted(keys)}")
    if keys & set(expectation.keys_none):
        verdict.wrong.append(f"findings {sorted(keys & set(expectation.keys_none))} are false")
    events = (flight.get("motors") or {}).get("events") or []
    hits = [e for e in events if e["kind"] in expectation.events_any]
    if expectation.events_any and not hits:
        verdict.wrong.append(f"no event of {expectation.events_any}, has {[e['kind'] for e in events]}")
    if hits and expectation.side and all(e["motor"] != expectation.side for e in hits):
        verdict.wrong.append(f"event on {hits[0]['motor']}, is on {expectation.side}")
    if hits and expectation.at_s is not None:
        away = min(abs(e["start_s"] - expectation.at_s) for e in hits)
        if away > expectation.at_tolerance_s:
            verdict.wrong.append(f"event {away:.1f} s away from {expectation.at_s:.1f} s")
    _weak(expectation, flight["pack"], verdict)


def _weak(expectation: Expectation, pack: dict[str, Any] | None, verdict: Judgement) -> None:
    if expectation.weak_kinds == ("any",) or pack is None:
        return
    cell, kind = pack["weak_cell"], pack.get("weak_cell_kind")
    if expectation.weak_kinds is None:
        if cell is not None:
            verdict.wrong.append(f"weak cell {cell} ({kind}), there is none")
    elif cell != expectation.cell:
        verdict.wrong.append(f"weak cell {cell}, is {expectation.cell} ({expectation.weak_kinds[0]})")
    elif kind not in expectation.weak_kinds:
        verdict.wrong.append(f"weak cell of kind {kind}, is {expectation.weak_kinds}")


def _value(found: Any) -> Any:
    return found["value"] if isinstance(found, dict) else found


def _compare(name: str, true: float | None, found: Any, truth: Truth, verdict: Judgement) -> None:
    said = _value(found)
    if true is None or said is None:
        if true is None and said is not None:
            verdict.wrong.append(f"{name} {said:.4g}, was not to be seen")
        elif true is not None:
            verdict.silent.append(name)
        return
    stem = name.split("@")[0]
    room = truth.tolerances.get(stem)
    room = abs(true) * truth.tolerances[stem + "_rel"] if room is None else room
    if abs(said - true) > room:
        verdict.wrong.append(f"{name} {said:.5g}, is {true:.5g} within {room:.3g}")
    if isinstance(found, dict) and found.get("low") is not None and not found["low"] <= true <= found["high"]:
        verdict.loose.append(f"{name} {found['low']:.5g}–{found['high']:.5g} without {true:.5g}")


def _figures(truth: Truth, flight: dict[str, Any], off: set[str], verdict: Judgement) -> None:
    for name, path in PLACES.items():
        found: Any = flight
        for step in path:
            found = found.get(step) if isinstance(found, dict) else None
        if name not in off:
            _compare(name, truth.figures[name], found, truth, verdict)


def _cells(truth: Truth, flight: dict[str, Any], off: set[str], verdict: Judgement) -> None:
    said = {c["cell"]: c for c in (flight["pack"] or {}).get("cells") or []}
    for cell in truth.figures["cells"] if "cells" not in off else ():
        found = said.get(cell["cell"], {})
        for name in ("rest_before_v", "min_loaded_v", "resistance_1s_ohm"):
            if name not in off:
                _compare(f"{name}@{cell['cell']}", cell[name], found.get(name), truth, verdict)


def _pairs(truth: Truth, flight: dict[str, Any], off: set[str], verdict: Judgement) -> None:
    said = {f"{p['left']}/{p['right']}": p for p in (flight.get("motors") or {}).get("pairs") or []}
    for names, figures in truth.figures["pairs"].items():
        for name, true in figures.items():
            if name not in off:
                _compare(f"{name}@{names}", true, said.get(names, {}).get(name), truth, verdict)
    for expectation in truth.expected:
        concerned = [p for n, p in said.items() if not expectation.side or expectation.side in n]
        if (
            expectation.verdicts
            and concerned
            and all(p["verdict"] not in expectation.verdicts for p in concerned)
        ):
            verdict.wrong.append(f"pair {concerned[0]['verdict']}, allowed {expectation.verdicts}")
        if (
            expectation.causes
            and concerned
            and all(p.get("cause") not in expectation.causes for p in concerned)
        ):
            verdict.wrong.append(f"cause {concerned[0].get('cause')}, allowed {expectation.causes}")
