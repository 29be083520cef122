"""What a flight could judge: the topics on which its silence clears an earlier stop or check."""

from __future__ import annotations

from collections.abc import Iterable

from telemetry.analysis.motors import part_temperatures
from telemetry.estimate import Undecided
from telemetry.finding_table import KINDS
from telemetry.findings.load import hot_subject
from telemetry.findings.types import Results
from telemetry.season.pack_places import subject_of

OF_A_PACK = ("floor", "weak", "charge", "reserve", "chemistry", "overcharged", "currents", "offset", "hot")
"""Topics that each pack is judged on, where each motor has one of its own."""


def judged(one: Results) -> tuple[str, ...]:
    """Every topic that this flight's log was enough to judge, with its subject, as `FindingKind.topic_of`
    writes it.
    """
    subjects = dict(judged_subjects(one))
    for place, own in one.packs.items():
        theirs = judged_subjects(own)
        for topic in OF_A_PACK:
            subjects[topic] = (*subjects[topic], *(subject_of(place, s) for s in theirs[topic]))
    return tuple(sorted({kind.topic_of(s) for kind in KINDS.values() for s in subjects.get(kind.topic, ())}))


def judged_subjects(one: Results) -> dict[str, tuple[str, ...]]:
    """Of every topic in `finding_table`: what this flight's log was enough to judge, such as each cell."""
    pack, current, motors, setup = one.pack, one.current, one.motors, one.setup
    heats = part_temperatures(one.signals, setup.drives if setup else ())
    items = one.bench.items if one.bench is not None else ()
    residuals = one.comparison.residuals
    weak = () if isinstance(pack.weak_cell, Undecided) else tuple(f"cell {c.cell}" for c in pack.cells)
    floor = [f"cell {c.cell}" for c in pack.cells if not isinstance(c.min_loaded_v, Undecided)]
    hot = [hot_subject(h) for h in heats if h.limit_c is not None]
    rested = [f"cell {c.cell}" for c in pack.cells if not isinstance(c.rest_before_v, Undecided)]
    whole = ("pack",)
    flew = not isinstance(one.flight.landing_s, Undecided)
    return {
        "floor": (*floor, *_known(whole, pack.min_voltage_v, pack.cell_count)),
        "weak": weak,
        "charge": (
            *_known(whole, pack.charge_left_by_rest_fraction, pack.charge_left_by_charge_fraction),
            *_known(("counter",), one.capacity.logged_ratio),
        ),
        "reserve": () if setup is None else _known(whole, pack.charge_left_fraction),
        "chemistry": _known(whole, pack.start_charge_fraction, pack.charge_left_by_charge_fraction),
        "overcharged": (*rested, *_known(whole, pack.start_voltage_v, pack.cell_count)),
        "currents": _known(("pack current",), one.signals.agreement.slope),
        "offset": _known(("pack current",), one.signals.agreement.rest_a),
        "receiver": ("receiver",) if one.signals.fresh("receiver_voltage_v") is not None else (),
        "link": ("link",) if flew and one.signals.fresh("link_fraction") is not None else (),
        "ending": ("flight",) if flew and one.flight.cut_off == "none" else (),
        "hot": (*hot, *_known(whole, pack.temperature_c)),
        "rating": tuple(m.part for m in current.limits if not isinstance(m.margin_fraction, Undecided)),
        "lead": tuple(
            f"{lead.position} leads"
            for lead in current.leads
            if not isinstance(lead.margin_fraction, Undecided)
        ),
        "pair": tuple(f"{p.left} and {p.right}" for p in motors.pairs if p.verdict != "undecided"),
        "thrust_lost": tuple(
            f"{side} motor" for p in motors.pairs if p.verdict == "even" for side in (p.left, p.right)
        ),
        "bench": tuple(item.check for item in items if item.verdict != "undecided"),
        "prediction": () if isinstance(residuals, Undecided) or not residuals else ("",),
        **_events(one, {h.position for h in heats}),
    }


def _known(subjects: tuple[str, ...], *figures: object) -> tuple[str, ...]:
    """The subjects, where every figure that judges them is known."""
    return () if any(isinstance(f, Undecided) for f in figures) else subjects


def _events(one: Results, measured: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Of each kind of event: the motors that would have shown it."""
    if isinstance(one.motors.events, Undecided):
        return {}
    topics = [k.topic for k in KINDS.values() if k.key.startswith("motor_event_") and k.topic] + ["limited"]
    every = one.motors.positions
    heat = set(measured)
    shown = {
        t: tuple(p for p in every if t != "overheating" or (p in heat and len(heat) > 1)) for t in topics
    }
    return {
        topic: tuple(f"{p} motor" for p in (*seen, *(("both",) if len(seen) > 1 else ())))
        for topic, seen in shown.items()
    }
