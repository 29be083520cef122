"""What a flight could judge: the topics on which its silence clears an earlier stop or check."""

from __future__ import annotations

from telemetry.debrief import FlightReview, Review
from telemetry.estimate import Undecided
from telemetry.findings import Finding
from telemetry.findings.pair import EVENT_SEVERITY

_PARTS = ("motor", "controller")


def raised(findings: tuple[Finding, ...]) -> list[list[str]]:
    """Stops and checks as the database holds them: severity, key, subject and what happened."""
    return [
        [f.severity, f.key, f.subject, f.title or f.message]
        for f in findings
        if f.severity in ("stop", "check")
    ]


def judged(review: Review, one: FlightReview) -> list[str]:
    """Every topic that this flight's log was enough to judge, in the words of `season.open_checks.topic`."""
    return sorted({*_pack(review, one), *_load(one), *_motors(review, one), *_rest(one)})


def _pack(review: Review, one: FlightReview) -> list[str]:
    pack = one.pack
    found = [f"floor:cell {c.cell}" for c in pack.cells if not isinstance(c.min_loaded_v, Undecided)]
    if not isinstance(pack.min_voltage_v, Undecided) and not isinstance(pack.cell_count, Undecided):
        found.append("floor:pack")
    if not isinstance(pack.weak_cell, Undecided):
        found += [f"weak:cell {c.cell}" for c in pack.cells]
    if not isinstance(pack.charge_left_by_rest_fraction, Undecided) and not isinstance(
        pack.charge_left_by_charge_fraction, Undecided
    ):
        found.append("charge:pack")
    if not isinstance(pack.temperature_c, Undecided):
        found.append("hot:pack")
    if review.setup is not None and not isinstance(one.capacity.consumed_mah, Undecided):
        found.append("reserve:pack")
    return found


def _load(one: FlightReview) -> list[str]:
    found = [f"rating:{m.part}" for m in one.current.limits if not isinstance(m.margin_fraction, Undecided)]
    return found + [
        f"lead:{lead.position} leads"
        for lead in one.current.leads
        if not isinstance(lead.margin_fraction, Undecided)
    ]


def _motors(review: Review, one: FlightReview) -> list[str]:
    motors = one.motors
    found = [f"pair:{p.left} and {p.right}" for p in motors.pairs if p.verdict != "undecided"]
    warm = [
        (part, p) for part in _PARTS for p in motors.positions if review.trace.has(f"{part}_temperature_c", p)
    ]
    found += [f"hot:the {p.replace('_', ' ')} {part}" for part, p in warm]
    if isinstance(motors.events, Undecided):
        return found
    measured = {p for _, p in warm}
    for kind in EVENT_SEVERITY:
        seen = [p for p in motors.positions if kind != "overheating" or p in measured]
        found += [f"{kind}:{p} motor" for p in (*seen, *(("both",) if len(seen) > 1 else ()))]
    return found


def _rest(one: FlightReview) -> list[str]:
    items = one.bench.items if one.bench is not None else ()
    found = [f"bench:{item.check}" for item in items if item.verdict != "undecided"]
    residuals = one.comparison.residuals
    return [*found, "prediction"] if not isinstance(residuals, Undecided) and residuals else found
