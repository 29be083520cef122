"""How full the pack began and landed, and whether what measures charge and current agrees."""

from __future__ import annotations

from typing import Any

from telemetry.analysis.capacity import Capacity
from telemetry.estimate import Estimate, Undecided, value_of
from telemetry.findings.types import Finding, Results
from telemetry.findings.words import finding
from telemetry.limits import (
    COUNTER_AGREES_FRACTION,
    CURRENT_AGREES_FRACTION,
    FAR_OVER_FULL_CELL_V,
    FULL_CELL_V,
    FULL_CHARGE_FRACTION,
    OVER_FULL_CELL_V,
    RECEIVER_DRAW_A,
)
from telemetry.physics.charge import AS_PER_MAH
from telemetry.physics.chemistry import CHEMISTRIES
from telemetry.sentences import say, sentence


def find_charge(results: Results) -> list[Finding]:
    """A pack begun too full or not full, landed too empty, and sensors that contradict one another."""
    parts = (_chemistry, _reserve, _not_full, _overcharged, _charge_disagrees, _currents_disagree, _offset)
    return [found for part in parts for found in part(results)]


def _chemistry(results: Results, *, as_full_v: float = 0.05) -> list[Finding]:
    """Cells that are of another chemistry than the sheet says: a stop where a charger set by the sheet ends
    `as_full_v` and more from their full voltage.
    """
    likely, setup = CHEMISTRIES.get(results.pack.likely_chemistry), results.setup
    if likely is None or setup is None:
        return []
    pack = setup.pack
    apart_v = abs(likely.curve.full_cell_v - pack.full_cell_v)
    return [
        finding(
            "chemistry_disagrees",
            "pack",
            "stop" if apart_v > as_full_v else "check",
            likely=say("chemistry", likely.key),
            stated=say("chemistry", pack.chemistry.key),
            how=say("chemistry", "stated" if pack.chemistry_stated else "taken"),
            key=likely.key,
            full_v=likely.curve.full_cell_v,
            sheet_full_v=pack.full_cell_v,
        )
    ]


def _reserve(results: Results) -> list[Finding]:
    """Landed below the reserve, by the charge left."""
    pack = results.pack
    left = pack.charge_left_fraction
    if results.setup is None or isinstance(left, Undecided) or results.flight.is_bench:
        return []
    reserve = results.setup.reserve.fraction
    if left.value >= reserve:
        return []
    severity = "stop" if left.value < reserve / 2 else "check"
    values: dict[str, Any] = {"left": left.value, "low": left.low, "high": left.high, "reserve": reserve}
    began = pack.start_charge_fraction
    values["began"] = say("charge", "began", began=began.value) if isinstance(began, Estimate) else ""
    consumed = results.capacity.consumed_mah
    if isinstance(consumed, Estimate):
        values["began"] += say(
            "charge",
            "drawn",
            consumed_mah=consumed.value,
            capacity_mah=results.setup.pack.capacity_mah,
        )
    return [finding("reserve_used", "pack", severity, how=sentence(left.method), **values)]


def _not_full(results: Results) -> list[Finding]:
    """Begun well below full. A run-up then shows less current than a full pack gives: a check."""
    began = results.pack.start_charge_fraction
    if isinstance(began, Undecided) or began.value >= FULL_CHARGE_FRACTION.value:
        return []
    bench = results.flight.is_bench
    values = {"began": began.value, "low": max(began.low, 0.0), "high": min(began.high, 1.0)}
    action = say("actions", "not_full_bench" if bench else "not_full")
    return [
        finding(
            "not_full",
            "pack",
            "check" if bench else "note",
            action=action,
            how=sentence(began.method),
            limit=FULL_CHARGE_FRACTION.value,
            **values,
        )
    ]


def _overcharged(results: Results) -> list[Finding]:
    """Cells that rest above full, each that does; the pack where none was logged. A sensor that reads off is
    none. A stop far above, unless no sheet says that the cells are not full there.
    """
    pack = results.pack
    full_v = results.setup.pack.full_cell_v if results.setup else FULL_CELL_V.value
    odd = {one.cell for one in pack.odd_sensors}
    rests = [
        (say("floor", "cell", cell=c.cell), f"cell {c.cell}", c.rest_before_v)
        for c in pack.cells
        if not isinstance(c.rest_before_v, Undecided) and c.cell not in odd
    ]
    whole_v, count = pack.start_voltage_v, pack.cell_count
    if not pack.cells and not isinstance(whole_v, Undecided) and not isinstance(count, Undecided):
        rests = [(say("floor", "mean_cell"), "pack", whole_v / count)]
    over = [(who, subject, volts) for who, subject, volts in rests if volts > full_v + OVER_FULL_CELL_V.value]
    if not over:
        return []
    who, subject, volts = max(over, key=lambda one: one[2])
    every = len(over) > 1 and len(over) == len(rests)
    high = CHEMISTRIES["lihv"].curve.full_cell_v
    may_be_high = results.setup is None and volts <= high + OVER_FULL_CELL_V.value
    return [
        finding(
            "overcharged",
            "pack" if every else subject,
            "stop" if volts > full_v + FAR_OVER_FULL_CELL_V.value and not may_be_high else "check",
            who=say("floor", "every_cell") if every else who,
            rest_v=volts,
            full_v=full_v,
            over_v=OVER_FULL_CELL_V.value,
            source=OVER_FULL_CELL_V.source,
            also=say("charge", "may_be_high", high_v=high) if may_be_high else "",
        )
    ]


def _charge_disagrees(results: Results) -> list[Finding]:
    """What was drawn against the rest voltage, and the log's own counter against the integral."""
    found = []
    if results.pack.charge_left_note:
        found.append(
            finding(
                "charge_disagrees",
                "pack",
                what=say("charge", "by_rest"),
                reason=sentence(results.pack.charge_left_note),
            )
        )
    ratio = counter_off(results.capacity)
    if ratio is not None:
        reason = sentence(say("charge", "counter_off", ratio=ratio.value, low=ratio.low, high=ratio.high))
        found.append(finding("charge_disagrees", "counter", what=say("charge", "by_counter"), reason=reason))
    return found


def counter_off(capacity: Capacity) -> Estimate | None:
    """Integral ÷ counter where they surely disagree, else None."""
    ratio = capacity.logged_ratio
    if isinstance(ratio, Undecided):
        return None
    most = COUNTER_AGREES_FRACTION.value
    return ratio if ratio.low > 1.0 + most or ratio.high < 1.0 - most else None


def _currents_disagree(results: Results) -> list[Finding]:
    agreement = results.signals.agreement
    if not agreement.off_fraction or isinstance(agreement.slope, Undecided):
        return []
    slope = agreement.slope
    return [
        finding(
            "current_disagrees",
            "pack current",
            by=abs(slope.value - 1.0),
            more=say("decisions", "reads_more" if slope.value > 1.0 else "reads_less"),
            slope=slope.value,
            low=slope.low,
            high=slope.high,
            most=CURRENT_AGREES_FRACTION.value,
        )
    ]


def _offset(results: Results, *, much: float = 0.05) -> list[Finding]:
    """A current that reads something at rest: a check where it makes a good part of what was drawn."""
    offset_a = results.signals.agreement.offset_a
    flight, consumed = results.flight, results.capacity.consumed_mah
    if not offset_a:
        return []
    added_mah = offset_a * (flight.end_s - flight.start_s) / AS_PER_MAH
    drawn_mah = abs(consumed.value) if isinstance(consumed, Estimate) else 0.0
    severity = "check" if abs(added_mah) > much * drawn_mah else "note"
    return [
        finding(
            "current_offset",
            "pack current",
            severity,
            rest_a=value_of(results.signals.agreement.rest_a),
            offset_a=offset_a,
            added_mah=added_mah,
            usual_a=RECEIVER_DRAW_A.value,
            source=RECEIVER_DRAW_A.source,
        )
    ]
