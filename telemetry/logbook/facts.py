"""The facts of a review that the logbook lists."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, astuple, replace
from typing import Any

import numpy as np
from pydantic import TypeAdapter

from telemetry.analysis.pack import Pack
from telemetry.debrief import FlightReview, Review, raised_by
from telemetry.debrief.timing import drawn_by_pack, facts_after, limiting_pack
from telemetry.estimate import Estimate, Undecided, plain, value_of
from telemetry.finding_table import FORMER_KEYS
from telemetry.findings import Open
from telemetry.history import FlownDrive
from telemetry.logbook.fingerprint import fingerprint
from telemetry.logbook.folder import Edits, Entry
from telemetry.logbook.records import KeptFlight
from telemetry.made import MadeBy
from telemetry.physics.charge import AS_PER_MAH
from telemetry.season.open_checks import Raised
from telemetry.season.timer import PackFacts
from telemetry.sheet.writing import TEMPLATE_NAME
from telemetry.signals import Signals
from telemetry.trace import Flight, Trace

SPARK_POINTS = 60
_PACK_FACTS = TypeAdapter(PackFacts)


def facts_of(review: Review, place: int, trace: Trace, entry: Entry) -> dict[str, Any]:
    """The columns of one flight's row.

    Parameters
    ----------
    review : of its log.
    place : of the flight in it, from 0.
    trace : of its log, as read.
    entry : what was said of the log and of its flights; it goes before what the log tells.

    Returns
    -------
    By the names of the table `flights`; `facts` gathers those that are only read back.
    """
    one = review.flights[place]
    flight, powered = one.flight, one.flight.powered
    takeoff_s, landing_s = value_of(flight.takeoff_s), value_of(flight.landing_s)
    counts = one.signals.counts_the_pack
    capacity = (limiting_pack(one) or one).capacity
    edits = entry.edits_of(place)
    alone = sum(kind_of(f.flight) == "flight" for f in review.flights) == 1 and kind_of(flight) == "flight"
    return {
        "place": place,
        "date": edits.date or one.signals.date.text,
        "kind": kind_of(flight),
        "aircraft": review.setup.name if review.setup else "",
        "duration_s": None if isinstance(powered, Undecided) else powered.end_s - powered.start_s,
        "airborne_s": None if takeoff_s is None or landing_s is None else landing_s - takeoff_s,
        "consumed_mah": value_of(capacity.consumed_mah) if counts else None,
        "temperature_c": _temperature_c(one.signals) if edits.temperature_c is None else edits.temperature_c,
        "put_back_mah": (entry.put_back_mah if alone else None)
        if edits.put_back_mah is None
        else edits.put_back_mah,
        "configuration": entry.configuration,
        "pack": entry.pack,
        "headline": one.headline,
        "made_by": plain(review.made_by)[0],
        "fingerprint": fingerprint(trace, flight).astype("<u4").tobytes(),
        "facts": {**_only_read_back(review, one), "edits": asdict(edits)},
    }


def _only_read_back(review: Review, one: FlightReview) -> dict[str, Any]:
    lowest_v, lowest_cell = min(
        (_lowest_cell(each.pack) for each in one.packs or (one,)),
        key=lambda found: 99.0 if found[0] is None else found[0],
    )
    own = limiting_pack(one) or one
    pack = own.pack
    margin = min(
        (m for m in one.current.limits if not isinstance(m.margin_fraction, Undecided)),
        key=lambda m: value_of(m.margin_fraction) or 0.0,
        default=None,
    )
    pair = one.motors.pairs[0].imbalance_fraction if one.motors.pairs else None
    standing = [f for f in one.findings if not f.settled]
    first = standing[0] if standing else None
    return {
        "verdicts": {a.question: a.verdict for a in one.answers},
        "severities": dict(Counter(f.severity for f in standing)),
        "decision": one.decision,
        "open": [[o.what, o.reason] for o in one.open],
        "cut_off": one.flight.cut_off,
        "start_charge_fraction": value_of(pack.start_charge_fraction),
        "first": [first.severity, first.key, first.message] if first else ["", "", ""],
        "lowest_cell_v": lowest_v,
        "lowest_cell": lowest_cell,
        "least_margin": [value_of(margin.margin_fraction), margin.part] if margin else [None, ""],
        "imbalance": _bounds([pair])[0] if pair is not None else None,
        "alarm_s": None if isinstance(one.timer, Undecided) else one.timer.alarm_s,
        "cell_resistances_ohm": _cell_resistances(pack),
        "cells_25c_ohm": _bounds([c.resistance_1s_25c_ohm for c in pack.cells]),
        "cell_ratios": _bounds([c.resistance_ratio for c in pack.cells]),
        "pack_25c_ohm": _bounds([pack.resistance_1s_25c_ohm])[0],
        "pack_ohm": _bounds([pack.resistance_1s_ohm])[0],
        "consumed_mah": _bounds([own.capacity.consumed_mah])[0],
        "mean_current_a": value_of(one.capacity.mean_current_a) if one.signals.counts_the_pack else None,
        "pack_name": pack.name,
        "raised": [astuple(check.raised) for check in raised_by(one)],
        "judged": list(one.judged),
        "by_pack": [list(each) for each in drawn_by_pack(one)],
        "pack_names": {each.place: each.pack.name for each in one.packs},
        "pack_facts": _pack_facts(review, one),
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


def _pack_facts(review: Review, one: FlightReview) -> Any:
    """What the next timer is told of the pack, but for the charge left in it: it may be charged by then."""
    if review.setup is None:
        return None
    found = facts_after(review, one)
    packs = {place: replace(own, charge_left=None) for place, own in found.packs.items()}
    return _PACK_FACTS.dump_python(replace(found, charge_left=None, packs=packs), mode="json")


def kept_flight(row: Mapping[str, Any], files: Sequence[str], drive: FlownDrive | None = None) -> KeptFlight:
    """A row of the database as the logbook shows it.

    Parameters
    ----------
    row : a flight's, by the names of the table.
    files : names of the logs it came from.
    drive : what it was flown with, None where no sheet tells.

    Raises
    ------
    KeyError, TypeError, ValueError, AttributeError : the row is damaged.
    """
    facts = row["facts"]
    severity, key, message = facts["first"]
    margin, part = facts["least_margin"]
    edits = Edits.from_plain(facts.get("edits", {}))
    pack_facts = facts.get("pack_facts")
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
        by_pack=tuple((place, mah) for place, mah in facts.get("by_pack", ())),
        pack_names=dict(facts.get("pack_names", {})),
        consumed=_estimate(facts.get("consumed_mah")) if row["consumed_mah"] is not None else None,
        mean_current_a=facts.get("mean_current_a"),
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
        start_charge_fraction=facts.get("start_charge_fraction"),
        made_by=MadeBy.from_plain(row["made_by"]) if row["made_by"] else None,
        kept_at=row["kept_at"],
        note=edits.note,
        removed=edits.removed,
        tags=edits.tags,
        cleared=edits.cleared,
        again=edits.again,
        drive=drive or _drive_of_old(row["aircraft"], len(facts["cell_resistances_ohm"])),
        pack_facts=_PACK_FACTS.validate_python(pack_facts) if pack_facts else PackFacts(),
    )


def _decision_of(severities: Mapping[str, int]) -> str | None:
    """The decision that findings alone allow, for facts made before decisions were: what was left open is not
    known.
    """
    return next((s for s in ("stop", "check") if severities.get(s)), None)


def _drive_of_old(aircraft: str, cells: int) -> FlownDrive:
    """What is known of a flight whose sheet was not kept merged."""
    return FlownDrive(cells=cells or None, is_named=aircraft != TEMPLATE_NAME)


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


def _lowest_cell(pack: Pack) -> tuple[float | None, int | None]:
    cells = [(c.min_loaded_v, c.cell) for c in pack.cells if not isinstance(c.min_loaded_v, Undecided)]
    if cells:
        return min(cells)
    lowest_v, count = value_of(pack.min_voltage_v), value_of(pack.cell_count)
    return (lowest_v / count, 0) if lowest_v is not None and count else (None, None)


def _bounds(found: Sequence[Estimate | Undecided]) -> list[list[float] | None]:
    """Estimates as the database holds them: value, low, high."""
    return [[e.value, e.low, e.high] if isinstance(e, Estimate) else None for e in found]


def _estimate(bounds: Sequence[float] | None) -> Estimate | None:
    if not bounds:
        return None
    value, low, high = bounds
    return Estimate(value, low, high)


def _cell_resistances(pack: Pack) -> list[float]:
    found = [c.resistance_1s_ohm for c in pack.cells]
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
