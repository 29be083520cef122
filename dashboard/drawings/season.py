"""The season at a glance: one small plot a question, by flight number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from dashboard.drawings.axes import linear
from dashboard.drawings.marks import (
    Anchor,
    Axis,
    Band,
    Dot,
    Drawing,
    Floats,
    Label,
    LimitLine,
    Line,
    Margins,
    Mark,
    Rule,
    Tick,
)
from dashboard.figures import number
from dashboard.texts import say
from telemetry.limits import EVEN_SHAFT_POWER_FRACTION, LOADED_CELL_FLOOR_V
from telemetry.logbook import KeptFlight, in_order_flown

LEAST = 2
"""Flights below which a season is not drawn."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A flight and its place in the season, 1 for the first."""

    at: float
    flight: KeptFlight


def season(kept: Sequence[KeptFlight]) -> tuple[Drawing, ...]:
    """Resistance, consumption, imbalance and lowest cell of each flight, in the order flown; those without
    two known values are left out.

    Of several aircraft only that flown last is drawn.
    """
    flown = flown_by_one(kept)
    return tuple(
        d for d in (_resistance(flown), _rate(flown), _surplus(flown), _lowest(flown)) if d is not None
    )


def flown_by_one(kept: Sequence[KeptFlight], aircraft: str | None = None) -> tuple[Placed, ...]:
    """Whole flights of one aircraft, of that flown last without a name, each at its place in the season."""
    flown = [f for f in in_order_flown(kept) if f.kind == "flight"]
    wanted = flown[-1].aircraft if aircraft is None and flown else aircraft
    return tuple(
        Placed(float(place), f) for place, f in enumerate([f for f in flown if f.aircraft == wanted], start=1)
    )


def runs(known: Sequence[Placed]) -> list[list[Placed]]:
    """Stretches that one line may join: one pack's flights in one configuration, with no other configuration
    of that pack between.
    """
    found: list[list[Placed]] = []
    for pack in dict.fromkeys(p.flight.pack_called for p in known):
        own = [p for p in known if p.flight.pack_called == pack]
        found += [list(group) for _, group in groupby(own, key=lambda p: p.flight.configuration)]
    return found


def by_flight(flown: Sequence[Placed], *, at_most: int = 6) -> Axis:
    """An axis of flights in the order flown, some of them numbered."""
    step = max(1, -(-len(flown) // at_most))
    chosen = [p for p in flown if (len(flown) - p.at) % step == 0]
    return Axis(
        0.6, len(flown) + 0.4, tuple(Tick(p.at, str(p.flight.id)) for p in chosen), say("draw.by_flight")
    )


def changes(flown: Sequence[Placed], y: Axis) -> list[Mark]:
    """A thin line where the configuration changed."""
    return [
        Rule((a.at + b.at) / 2, y.low, y.high)
        for a, b in pairwise(flown)
        if a.flight.configuration != b.flight.configuration
    ]


def _drawing(key: str, x: Axis, y: Axis, marks: list[Mark], latest: str) -> Drawing:
    title = say(f"draw.season_{key}")
    return Drawing(
        f"season-{key}",
        title,
        say("draw.season_said", value=latest),
        x,
        y,
        tuple(marks),
        270.0,
        176.0,
        Margins(38, 34, 14, 38),
        title,
    )


def _resistance(flown: Sequence[Placed]) -> Drawing | None:
    """A line a cell, a bundle of lines a pack; bundles of two packs are named."""
    known = [p for p in flown if p.flight.cell_resistances_ohm]
    if len(known) < LEAST:
        return None
    ohm = {p.at: 1000 * np.array(p.flight.cell_resistances_ohm) for p in known}
    y = linear([float(v) for values in ohm.values() for v in values], at_most=3)
    marks: list[Mark] = [*changes(flown, y)]
    for run in runs(known):
        marks += _cells_of_run(run, ohm)
    marks += _weak(known, ohm)
    last = {p.flight.pack_called: p for p in known}
    if len(last) > 1:
        marks += [
            Label(p.at, float(ohm[p.at].min()), pack, "quiet", "middle", dy=16)
            for pack, p in last.items()
            if pack
        ]
    return _drawing("resistance", by_flight(flown), y, marks, number(float(ohm[known[-1].at].max()), 1))


def _cells_of_run(run: Sequence[Placed], ohm: dict[float, Floats]) -> list[Mark]:
    """A line a cell over flights in a row, a dot a cell for a flight by itself."""
    if len(run) == 1:
        return [Dot(run[0].at, float(v), "hollow", 2.2) for v in ohm[run[0].at]]
    at = np.array([p.at for p in run])
    weak = {cell for p in run for pack, cell in called_weak(p) if pack == p.flight.pack_called}
    cells = zip(*(ohm[p.at] for p in run), strict=False)
    return [Line(at, np.array(cell), "red" if c in weak else "thin") for c, cell in enumerate(cells, start=1)]


def called_weak(placed: Placed) -> list[tuple[str, int]]:
    """The cells that a flight called weak for their resistance, with the name of their pack."""
    return [
        (placed.flight.pack_of(r.subject), int(r.subject.split()[-1]))
        for r in placed.flight.raised
        if r.key == "weak_cell_resistance"
    ]


def _weak(known: Sequence[Placed], ohm: dict[float, Floats]) -> list[Mark]:
    """A dot on each cell that was called weak for its resistance, and its name on the latest."""
    found = [
        (p.at, float(ohm[p.at][cell - 1]), cell)
        for p in known
        for pack, cell in called_weak(p)
        if pack == p.flight.pack_called and cell <= ohm[p.at].size
    ]
    marks: list[Mark] = [Dot(at, value, "red", 3.4) for at, value, _ in found]
    if found:
        at, value, cell = found[-1]
        early = at < (known[0].at + known[-1].at) / 2
        marks.append(
            Label(
                at,
                value,
                say("draw.cell", cell=cell),
                "red",
                "start" if early else "end",
                dx=-2 if early else 2,
                dy=-8,
            )
        )
    return marks


def _rate(flown: Sequence[Placed]) -> Drawing | None:
    known = [(p, past.rate_mah_per_min) for p in flown if (past := p.flight.past) is not None]
    if len(known) < LEAST:
        return None
    y = linear([r for _, r in known], at_most=3)
    named = sorted({p.flight.configuration for p, _ in known})
    marks: list[Mark] = [*changes(flown, y)]
    marks += [
        Dot(p.at, r, "dot" if p.flight.configuration == named[-1] else "hollow", 3.2, p.flight.configuration)
        for p, r in known
    ]
    last = {p.flight.configuration: (p, r) for p, r in known}
    if len(named) > 1:
        side: dict[float, Anchor] = {1.0: "start", float(len(flown)): "end"}
        marks += [
            Label(p.at, r, name, "label", side.get(p.at, "middle"), dy=-10)
            for name, (p, r) in last.items()
            if name
        ]
    return _drawing("rate", by_flight(flown), y, marks, number(known[-1][1]))


def _surplus(flown: Sequence[Placed]) -> Drawing | None:
    known = [
        (p.at, p.flight.imbalance_fraction.scaled(100))
        for p in flown
        if p.flight.imbalance_fraction is not None
    ]
    if len(known) < LEAST:
        return None
    even = 100 * EVEN_SHAFT_POWER_FRACTION.value
    x = by_flight(flown)
    y = linear([e.low for _, e in known] + [e.high for _, e in known], include=(-even, even), at_most=4)
    edge = np.array([x.low, x.high])
    marks: list[Mark] = [
        Band(edge, np.full(2, -even), np.full(2, even), "band"),
        Label(x.high, even, say("draw.even"), "quiet", "end", dx=-2, dy=-4),
        *changes(flown, y),
    ]
    for at, e in known:
        marks += [Rule(at, e.low, e.high, role="leader"), Dot(at, e.value, "dot", 3.0)]
    return _drawing("pair", x, y, marks, number(known[-1][1].value, 1))


def _lowest(flown: Sequence[Placed]) -> Drawing | None:
    known = [(p, p.flight.lowest_cell_v) for p in flown if p.flight.lowest_cell_v is not None]
    if len(known) < LEAST:
        return None
    floor_v = LOADED_CELL_FLOOR_V.value
    x = by_flight(flown)
    y = linear([v for _, v in known], include=(floor_v - 0.02,), at_most=4)
    marks: list[Mark] = [LimitLine(floor_v, x.low, x.high, "below"), *changes(flown, y)]
    worst = min(known, key=lambda one: one[1])
    for p, v in known:
        under = v < floor_v
        marks.append(Dot(p.at, v, "red" if under else "dot", 3.6 if under else 3.0))
        if under and p is worst[0]:
            late = p.at > (x.low + x.high) / 2
            marks.append(
                Label(
                    p.at,
                    v,
                    say("flight.number", n=p.flight.id),
                    "red",
                    "end" if late else "start",
                    dx=-8 if late else 8,
                    dy=4,
                )
            )
    return _drawing("lowest", x, y, marks, number(known[-1][1], 2))


def spark(currents_a: Sequence[float]) -> str:
    """Current over a flight as a tiny line, 110 by 26, no axis."""
    if len(currents_a) < 2:
        return ""
    top = max(*currents_a, 1e-9)
    places = " ".join(
        f"{110 * i / (len(currents_a) - 1):.1f},{24 - 22 * max(0.0, a) / top:.1f}"
        for i, a in enumerate(currents_a)
    )
    return (
        f'<svg class="plot" viewBox="0 0 110 26" width="110" height="26" aria-hidden="true"><polyline '
        f'class="inkf" points="{places}"/></svg>'
    )
