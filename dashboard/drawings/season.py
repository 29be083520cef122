"""The season at a glance: one small plot a question, by flight number."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from dashboard.drawings.axes import linear
from dashboard.drawings.marks import Axis, Band, Dot, Drawing, Label, Limit, Line, Margins, Mark, Rule, Tick
from dashboard.figures import number
from dashboard.words import say
from telemetry.limits import EVEN_SHAFT_POWER_FRACTION, LOADED_CELL_FLOOR_V
from telemetry.logbook import KeptFlight

LEAST = 2
"""Flights below which a season is not drawn."""


def season(kept: Sequence[KeptFlight]) -> tuple[Drawing, ...]:
    """Resistance, consumption, imbalance and lowest cell of each flight; those without two known values are left out."""
    flown = sorted((f for f in kept if f.kind == "flight"), key=lambda f: f.id)
    return tuple(d for d in (_resistance(flown), _rate(flown), _surplus(flown), _lowest(flown)) if d is not None)


def _x(flown: Sequence[KeptFlight]) -> Axis:
    ids = [f.id for f in flown]
    low, high = min(ids), max(ids)
    step = max(1, -(-(high - low) // 5))
    return Axis(low - 0.4, high + 0.4, tuple(Tick(i, str(i)) for i in range(low, high + 1, step)), say("draw.by_flight"))


def _drawing(key: str, x: Axis, y: Axis, marks: list[Mark], latest: str) -> Drawing:
    title = say(f"draw.season_{key}")
    return Drawing(f"season-{key}", title, say("draw.season_said", value=latest), x, y, tuple(marks), 270.0, 176.0, Margins(38, 34, 14, 38), title)


def _changes(flown: Sequence[KeptFlight], y: Axis) -> list[Mark]:
    """A thin line where the configuration changed."""
    pairs = pairwise(flown)
    return [Rule((a.id + b.id) / 2, y.low, y.high) for a, b in pairs if a.configuration != b.configuration]


def _resistance(flown: Sequence[KeptFlight]) -> Drawing | None:
    known = [f for f in flown if f.cell_resistances_ohm]
    if len(known) < LEAST:
        return None
    x = _x(flown)
    cells = min(len(f.cell_resistances_ohm) for f in known)
    table = 1000 * np.array([f.cell_resistances_ohm[:cells] for f in known])
    y = linear([float(table.min()), float(table.max())], at_most=3)
    ids = np.array([float(f.id) for f in known])
    worst = int(table[-1].argmax())
    stands_out = table[-1, worst] > 1.06 * float(np.median(table[-1]))
    marks: list[Mark] = [*_changes(flown, y)]
    marks += [Line(ids, table[:, c], "red" if stands_out and c == worst else "thin") for c in range(cells)]
    weak = [i for i, f in enumerate(known) if f.verdicts.get("cells") == "weak"]
    marks += [Dot(float(ids[i]), float(table[i].max()), "red", 3.4) for i in weak]
    if stands_out:
        marks += [
            Dot(float(ids[-1]), float(table[-1, worst]), "red", 3.4),
            Label(float(ids[-1]), float(table[-1, worst]), say("draw.cell", cell=worst + 1), "red", "end", dx=-8, dy=-4),
        ]
    return _drawing("resistance", x, y, marks, number(float(table[-1, worst]), 1))


def _rate(flown: Sequence[KeptFlight]) -> Drawing | None:
    known = [(f, past.rate_mah_per_min) for f in flown if (past := f.past) is not None]
    if len(known) < LEAST:
        return None
    y = linear([r for _, r in known], at_most=3)
    named = sorted({f.configuration for f, _ in known})
    marks: list[Mark] = [*_changes(flown, y)]
    marks += [Dot(f.id, r, "dot" if f.configuration == named[-1] else "hollow", 3.2, f.configuration) for f, r in known]
    last = known[-1]
    if len(named) > 1 and last[0].configuration:
        marks.append(Label(last[0].id, last[1], last[0].configuration, "label", "end", dx=-2, dy=-10))
    return _drawing("rate", _x(flown), y, marks, number(last[1]))


def _surplus(flown: Sequence[KeptFlight]) -> Drawing | None:
    known = [(f, f.imbalance_fraction.scaled(100)) for f in flown if f.imbalance_fraction is not None]
    if len(known) < LEAST:
        return None
    even = 100 * EVEN_SHAFT_POWER_FRACTION.value
    x = _x(flown)
    y = linear([e.low for _, e in known] + [e.high for _, e in known], include=(-even, even), at_most=4)
    edge = np.array([x.low, x.high])
    marks: list[Mark] = [
        Band(edge, np.full(2, -even), np.full(2, even), "band"),
        Label(x.high, even, say("draw.even"), "quiet", "end", dx=-2, dy=-4),
        *_changes(flown, y),
    ]
    for f, e in known:
        marks += [Rule(f.id, e.low, e.high, role="leader"), Dot(f.id, e.value, "dot", 3.0)]
    return _drawing("pair", x, y, marks, number(known[-1][1].value, 1))


def _lowest(flown: Sequence[KeptFlight]) -> Drawing | None:
    known = [(f, f.lowest_cell_v) for f in flown if f.lowest_cell_v is not None]
    if len(known) < LEAST:
        return None
    floor_v = LOADED_CELL_FLOOR_V.value
    x = _x(flown)
    y = linear([v for _, v in known], include=(floor_v - 0.02,), at_most=4)
    marks: list[Mark] = [Limit(floor_v, x.low, x.high, "below"), *_changes(flown, y)]
    for f, v in known:
        under = v < floor_v
        marks.append(Dot(f.id, v, "red" if under else "dot", 3.6 if under else 3.0))
        if under:
            late = f.id > (x.low + x.high) / 2
            marks.append(Label(f.id, v, say("flight.number", n=f.id), "red", "end" if late else "start", dx=-8 if late else 8, dy=4))
    return _drawing("lowest", x, y, marks, number(known[-1][1], 2))


def spark(currents_a: Sequence[float]) -> str:
    """Current over a flight as a tiny line, 110 by 26, no axis."""
    if len(currents_a) < 2:
        return ""
    top = max(*currents_a, 1e-9)
    places = " ".join(f"{110 * i / (len(currents_a) - 1):.1f},{24 - 22 * max(0.0, a) / top:.1f}" for i, a in enumerate(currents_a))
    return f'<svg class="plot" viewBox="0 0 110 26" width="110" height="26" aria-hidden="true"><polyline class="inkf" points="{places}"/></svg>'
