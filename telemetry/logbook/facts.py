"""The facts of a review that the logbook lists."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from telemetry.debrief import FlightReview, Review
from telemetry.estimate import Estimate, Undecided, plain, value_of
from telemetry.finding_table import FORMER_KEYS
from telemetry.findings import Open
from telemetry.logbook.judged import judged, raised
from telemetry.logbook.records import KeptFlight
from telemetry.made import MadeBy
from telemetry.physics.charge import AS_PER_MAH
from telemetry.season.open_checks import Raised
from telemetry.signals import Signals
from telemetry.trace import Flight

SPARK_POINTS = 60


def facts_of(review: Review, place: int) -> dict[str, Any]:
    """The columns of one flight's row.

    Parameters
    ----------
    review : of its log.
    place : of the flight in it, from 0.

    Returns
    -------
    By the names of the table `flights`; `facts` gathers those that are only read back.
    """
    one = review.flights[place]
    flight, powered = one.flight, one.flight.powered
    takeoff_s, landing_s = value_of(flight.takeoff_s), value_of(flight.landing_s)
    counts = one.signals.counts_the_pack
    return {
        "place": place,
        "date": one.signals.date.text,
        "kind": kind_of(flight),
        "aircraft": review.setup.name if review.setup else "",
        "duration_s": None if isinstance(powered, Undecided) else powered.end_s - powered.start_s,
        "airborne_s": None if takeoff_s is None or landing_s is None else landing_s - takeoff_s,
        "consumed_mah": value_of(one.capacity.consumed_mah) if counts else None,
        "temperature_c": _temperature_c(one.signals),
        "headline": one.headline,
        "made_by": plain(review.made_by)[0],
        "facts": _only_read_back(review, one),
    }


def _only_read_back(review: Review, one: FlightReview) -> dict[str, Any]:
    lowest_v, lowest_cell = _lowest_cell(one)
    margin = min(
        (m for m in one.current.limits if not isinstance(m.margin_fraction, Undecided)),
        key=lambda m: value_of(m.margin_fraction) or 0.0,
        default=None,
    )
    pair = one.motors.pairs[0].imbalance_fraction if one.motors.pairs else None
    first = one.findings[0] if one.findings else None
    return {
        "verdicts": {a.question: a.verdict for a in one.answers},
        "severities": dict(Counter(f.severity for f in one.findings)),
        "decision": one.decision,
        "open": [[o.what, o.reason] for o in one.open],
        "cut_off": one.flight.cut_off,
        "first": [first.severity, first.key, first.message] if first else ["", "", ""],
        "lowest_cell_v": lowest_v,
        "lowest_cell": lowest_cell,
        "least_margin": [value_of(margin.margin_fraction), margin.part] if margin else [None, ""],
        "imbalance": _bounds([pair])[0] if pair is not None else None,
        "alarm_s": None if isinstance(one.timer, Undecided) else one.timer.alarm_s,
        "cell_resistances_ohm": _cell_resistances(one),
        "cells_25c_ohm": _bounds([c.resistance_1s_25c_ohm for c in one.pack.cells]),
        "cell_ratios": _bounds([c.resistance_ratio for c in one.pack.cells]),
        "pack_25c_ohm": _bounds([one.pack.resistance_1s_25c_ohm])[0],
        "pack_ohm": _bounds([one.pack.resistance_1s_ohm])[0],
        "consumed_mah": _bounds([one.capacity.consumed_mah])[0],
        "pack_name": one.pack.name,
        "raised": raised(one.findings),
        "judged": judged(review, one),
        "spark_a": _spark(one.signals),
    }


AS_THEY_STAND = (
    "id",
    "date",
    "kind",
    "aircraft",
    "configuration",
    "pack",
    "duration_s",
    "airborne_s",
    "consumed_mah",
    "headline",
    "put_back_mah",
    "temperature_c",
)
"""Columns of the table that a kept flight has under the same name."""


def kept_flight(row: Mapping[str, Any], files: Sequence[str]) -> KeptFlight:
    """A row of the database as the logbook shows it.

    Parameters
    ----------
    row : a flight's, by the names of the table.
    files : names of the logs it came from.

    Raises
    ------
    KeyError, TypeError, ValueError, AttributeError : the row is damaged.
    """
    facts = row["facts"]
    severity, key, message = facts["first"]
    margin, part = facts["least_margin"]
    return KeptFlight(
        **{name: row[name] for name in AS_THEY_STAND},
        verdicts=facts["verdicts"],
        severities=facts["severities"],
        first_severity=severity,
        first_key=key,
        first_finding=message,
        lowest_cell_v=facts["lowest_cell_v"],
        lowest_cell=facts["lowest_cell"],
        least_margin_fraction=margin,
        least_margin_part=part,
        imbalance_fraction=_estimate(facts["imbalance"]),
        alarm_s=facts["alarm_s"],
        cell_resistances_ohm=tuple(facts["cell_resistances_ohm"]),
        spark_a=tuple(facts["spark_a"]),
        files=tuple(files),
        pack_name=facts.get("pack_name", ""),
        consumed=_estimate(facts.get("consumed_mah")) if row["consumed_mah"] is not None else None,
        pack_ohm=_estimate(facts.get("pack_ohm")),
        pack_25c_ohm=_estimate(facts.get("pack_25c_ohm")),
        cells_25c_ohm=tuple(_estimate(e) for e in facts.get("cells_25c_ohm", ())),
        cell_ratios=tuple(_estimate(e) for e in facts.get("cell_ratios", ())),
        raised=tuple(
            Raised(severity, FORMER_KEYS.get(key, key), *rest)
            for severity, key, *rest in facts.get("raised", ())
        ),
        judged=tuple(facts.get("judged", ())),
        decision=facts.get("decision") or _decision_of(facts["severities"]),
        open=tuple(Open(what, reason) for what, reason in facts.get("open", ())),
        cut_off=facts.get("cut_off", "none"),
        made_by=MadeBy.from_plain(row["made_by"]) if row["made_by"] else None,
    )


def _decision_of(severities: Mapping[str, int]) -> str | None:
    """The decision that findings alone allow, for facts made before decisions were: what was left open is not
    known.
    """
    return next((s for s in ("stop", "check") if severities.get(s)), None)


def kind_of(flight: Flight) -> str:
    """What it was: a flight, a taxi run, or a bench run."""
    if flight.is_bench:
        return "bench"
    flew = (
        flight.phases
        or not isinstance(flight.takeoff_s, Undecided)
        or not isinstance(flight.landing_s, Undecided)
    )
    return "flight" if flew else "taxi"


def _lowest_cell(one: FlightReview) -> tuple[float | None, int | None]:
    cells = [(c.min_loaded_v, c.cell) for c in one.pack.cells if not isinstance(c.min_loaded_v, Undecided)]
    if cells:
        return min(cells)
    lowest_v, count = value_of(one.pack.min_voltage_v), value_of(one.pack.cell_count)
    return (lowest_v / count, 0) if lowest_v is not None and count else (None, None)


def _bounds(found: Sequence[Estimate | Undecided]) -> list[list[float] | None]:
    """Estimates as the database holds them: value, low, high."""
    return [[e.value, e.low, e.high] if isinstance(e, Estimate) else None for e in found]


def _estimate(bounds: Sequence[float] | None) -> Estimate | None:
    if not bounds:
        return None
    value, low, high = bounds
    return Estimate(value, low, high)


def _cell_resistances(one: FlightReview) -> list[float]:
    found = [c.resistance_1s_ohm for c in one.pack.cells]
    return (
        [r.value for r in found if isinstance(r, Estimate)]
        if all(isinstance(r, Estimate) for r in found)
        else []
    )


def _temperature_c(signals: Signals) -> float | None:
    """Mean temperature of the pack, else of the air. [°C]"""
    for quantity in ("pack_temperature_c", "air_temperature_c"):
        samples = signals.fresh(quantity)
        if samples is not None:
            return float(samples.values.mean())
    return None


def _spark(signals: Signals) -> list[float]:
    """Mean current in each of some equal parts of the flight. [A]"""
    flow, flight = signals.current, signals.flight
    if isinstance(flow, Undecided) or flight.end_s <= flight.start_s:
        return []
    edges_s = np.linspace(flight.start_s, flight.end_s, SPARK_POINTS + 1)
    means = np.diff(flow.charge_at(edges_s)) * AS_PER_MAH / np.diff(edges_s)
    return [round(float(mean), 2) for mean in means]
