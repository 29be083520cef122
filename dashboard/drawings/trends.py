"""A season in full: what each flight measured, by pack and by configuration, with its interval."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import numpy as np

from dashboard.drawings.axes import linear
from dashboard.drawings.marks import (
    Axis,
    Band,
    Dot,
    Drawing,
    Label,
    LimitLine,
    Line,
    Margins,
    Mark,
    Rule,
    Tick,
)
from dashboard.drawings.season import Placed, by_flight, changes, runs
from dashboard.figures import clock, number
from dashboard.texts import say
from telemetry.estimate import Estimate
from telemetry.limits import EVEN_SHAFT_POWER_FRACTION, WEAK_CELL_RATIO

Kind = Literal["25c", "own"]
_DODGE = 0.11
"""Cells of one flight stand this far apart, so that their intervals can be told from each other. [flights]"""


@dataclass(frozen=True, slots=True)
class Point:
    """One flight's figure; a figure without an interval has none to draw."""

    placed: Placed
    value: float
    bounds: tuple[float, float] | None = None

    @property
    def at(self) -> float:
        """Its place in the season."""
        return self.placed.at


def _point(placed: Placed, found: Estimate, factor: float) -> Point:
    return Point(placed, factor * found.value, (factor * found.low, factor * found.high))


def kind_of(flown: Sequence[Placed]) -> Kind:
    """Whether resistances can be compared at 25 °C, or stand at whatever temperature each pack had."""
    return "25c" if sum(p.flight.pack_25c_ohm is not None for p in flown) > 1 else "own"


def left_out(flown: Sequence[Placed]) -> list[int]:
    """Numbers of the flights that tell no resistance of the kind that is drawn."""
    return [p.flight.id for p in flown if _pack_ohm(p, kind_of(flown)) is None]


def _pack_ohm(placed: Placed, kind: Kind) -> Estimate | None:
    return placed.flight.pack_25c_ohm if kind == "25c" else placed.flight.pack_ohm


def pack_resistance(flown: Sequence[Placed], *, narrow: bool = False) -> Drawing | None:
    """Each pack's resistance at 1 s by flight, one line a pack. [mΩ]"""
    kind = kind_of(flown)
    points = {p.at: _point(p, e, 1000.0) for p in flown if (e := _pack_ohm(p, kind)) is not None}
    if not points:
        return None
    y = linear([v for one in points.values() for v in _ends(one)], title=say("unit.mohm"), at_most=4)
    packs = list(dict.fromkeys(one.placed.flight.pack_called for one in points.values()))
    marks: list[Mark] = [*_configurations(flown, y)]
    for run in runs([one.placed for one in points.values()]):
        role: Literal["dot", "hollow"] = "hollow" if packs.index(run[0].flight.pack_called) % 2 else "dot"
        marks += _trail([points[p.at] for p in run], role)
    last = {one.placed.flight.pack_called: one for one in points.values()}
    if len(last) > 1:
        marks += [_end(one, _pack_name(pack), narrow=narrow) for pack, one in last.items()]
    latest = list(points.values())[-1]
    return _drawing(f"season-pack-{kind}", flown, y, marks, number(latest.value, 1), narrow=narrow)


def _pack_name(pack: str) -> str:
    return say("draw.pack_named", name=pack) if pack else say("draw.pack_unnamed")


def _cells_mohm(own: Sequence[Placed]) -> tuple[Kind, dict[float, list[float]]]:
    """The cells' resistances by each flight's place: at 25 °C where two flights know all of them so. [mΩ]"""
    carried = {
        p.at: [1000 * e.value for e in p.flight.cells_25c_ohm if e]
        for p in own
        if p.flight.cells_25c_ohm and all(p.flight.cells_25c_ohm)
    }
    if len(carried) > 1:
        return "25c", carried
    known = [p for p in own if p.flight.cell_resistances_ohm]
    return "own", {p.at: [1000 * r for r in p.flight.cell_resistances_ohm] for p in known}


def cells_of_pack(flown: Sequence[Placed], pack: str, marked: Sequence[int]) -> Drawing | None:
    """Resistance at 1 s of each cell of one pack by flight, at 25 °C where each flight knows it. [mΩ]"""
    own = [p for p in flown if p.flight.pack_called == pack]
    kind, table = _cells_mohm(own)
    if not table:
        return None
    y = linear([v for row in table.values() for v in row], title=say("unit.mohm"), at_most=4)
    marks: list[Mark] = [*changes(flown, y)]
    for run in runs([p for p in own if p.at in table]):
        for cell in range(min(len(table[p.at]) for p in run)):
            marks += _cell_line([Point(p, table[p.at][cell]) for p in run], marked=cell + 1 in marked)
    at, row = list(table.items())[-1]
    marks += [_cell_name(at, row[c - 1], c, flown) for c in marked if c <= len(row)]
    return _small(f"season-cells-{kind}", pack, flown, y, marks, number(max(row), 1))


def _cell_line(points: Sequence[Point], *, marked: bool) -> list[Mark]:
    line = Line(
        np.array([p.at for p in points]), np.array([p.value for p in points]), "red" if marked else "thin"
    )
    dots: list[Mark] = [
        Dot(p.at, p.value, "red" if marked else "dot", 3.2 if marked else 2.2) for p in points
    ]
    return [line, *dots] if len(points) > 1 else dots


def ratios_of_pack(flown: Sequence[Placed], pack: str, marked: Sequence[int]) -> Drawing | None:
    """Each cell's resistance against its neighbours' by flight, with intervals and the ground that calls for
    action.
    """
    own = [p for p in flown if p.flight.pack_called == pack and any(p.flight.cell_ratios)]
    found = [
        (p, cell, e) for p in own for cell, e in enumerate(p.flight.cell_ratios, start=1) if e is not None
    ]
    if not found:
        return None
    weak = WEAK_CELL_RATIO.value
    y = linear([v for _, _, e in found for v in (e.low, e.high)], include=(1.0, weak + 0.05), at_most=5)
    x = by_flight(flown)
    marks: list[Mark] = [
        LimitLine(weak, x.low, x.high, "above"),
        Rule(1.0, x.low, x.high, upright=False),
        *changes(flown, y),
    ]
    for p, cell, e in found:
        at = p.at + _DODGE * (cell - (len(p.flight.cell_ratios) + 1) / 2)
        bad = cell in marked
        marks += [
            Rule(at, e.low, e.high, role="leader"),
            Dot(at, e.value, "red" if bad else "dot", 3.2 if bad else 2.2, say("draw.cell", cell=cell)),
        ]
    last = max(p.at for p in own)
    marks += [
        _cell_name(last, e.value, cell, flown) for p, cell, e in found if p.at == last and cell in marked
    ]
    return _small(
        "season-ratios", pack, flown, y, marks, number(max(e.value for p, _, e in found if p.at == last), 2)
    )


def _cell_name(at: float, value: float, cell: int, flown: Sequence[Placed]) -> Label:
    """The name of a cell over its last figure, inside the frame."""
    late = at > len(flown) / 2
    return Label(
        at,
        value,
        say("draw.cell", cell=cell),
        "red",
        "end" if late else "start",
        dx=4 if late else -4,
        dy=-10,
    )


def rates(flown: Sequence[Placed], *, narrow: bool = False) -> Drawing | None:
    """Charge a minute of each flight, the configurations told apart by name. [mAh/min]"""
    points = [one for p in flown if (one := _rate(p)) is not None]
    if not points:
        return None
    y = linear([v for one in points for v in _ends(one)], title=say("unit.mah_per_min"), at_most=4)
    names = list(dict.fromkeys(one.placed.flight.configuration for one in points))
    marks: list[Mark] = [*changes(flown, y)]
    for one in points:
        marks += _trail([one], "hollow" if names.index(one.placed.flight.configuration) % 2 else "dot")
    last = {one.placed.flight.configuration: one for one in points}
    if len(last) > 1:
        marks += [_end(one, name or say("block.as_sheet"), narrow=narrow) for name, one in last.items()]
    return _drawing("season-rates", flown, y, marks, number(points[-1].value), narrow=narrow)


def _rate(placed: Placed) -> Point | None:
    """Charge ÷ powered time, as the logbook's history has it."""
    past, drawn = placed.flight.past, placed.flight.consumed
    if past is None:
        return None
    share = past.rate_mah_per_min / past.consumed_mah
    return Point(
        placed, past.rate_mah_per_min, (share * drawn.low, share * drawn.high) if drawn is not None else None
    )


def imbalance(flown: Sequence[Placed], *, narrow: bool = False) -> Drawing | None:
    """Right against left in shaft power, around what counts as even. [%]"""
    points = [
        _point(p, p.flight.imbalance_fraction, 100.0)
        for p in flown
        if p.flight.imbalance_fraction is not None
    ]
    if not points:
        return None
    even = 100 * EVEN_SHAFT_POWER_FRACTION.value
    y = linear(
        [v for one in points for v in _ends(one)], include=(-even, even), title=say("unit.percent"), at_most=4
    )
    x = by_flight(flown)
    edge = np.array([x.low, x.high])
    marks: list[Mark] = [
        Band(edge, np.full(2, -even), np.full(2, even), "band"),
        Label(x.low, even, say("draw.even"), "quiet", dx=4, dy=-5),
    ]
    marks += [*_configurations(flown, y), *(m for one in points for m in _trail([one], "dot"))]
    return _drawing("season-imbalance", flown, y, marks, number(points[-1].value, 1), narrow=narrow)


def timers(flown: Sequence[Placed], *, narrow: bool = False) -> Drawing | None:
    """The alarm that each flight left for the next one, a line a configuration, and how long was flown.
    [min]
    """
    points = [Point(p, p.flight.alarm_s / 60) for p in flown if p.flight.alarm_s is not None]
    if not points:
        return None
    lengths = [Dot(p.at, p.flight.duration_s / 60, "hollow", 3.2) for p in flown if p.flight.duration_s]
    scale = linear(
        [*(one.value for one in points), *(d.y for d in lengths)], title=say("draw.min_s"), at_most=4
    )
    y = Axis(scale.low, scale.high, tuple(Tick(t.at, clock(60 * t.at)) for t in scale.ticks), scale.title)
    marks: list[Mark] = [*_configurations(flown, y), *lengths]
    for _, run in groupby(
        sorted(points, key=lambda one: one.placed.flight.configuration),
        key=lambda one: one.placed.flight.configuration,
    ):
        marks += _trail(list(run), "dot")
    last = {one.placed.flight.configuration: one for one in points}
    if len(last) > 1:
        marks += [_end(one, name or say("block.as_sheet"), narrow=narrow) for name, one in last.items()]
    return _drawing("season-timers", flown, y, marks, clock(60 * points[-1].value), narrow=narrow)


def _ends(one: Point) -> Iterable[float]:
    return one.bounds or (one.value,)


def _trail(points: Sequence[Point], role: Literal["dot", "hollow"]) -> list[Mark]:
    """Points in a row: a thin line through them, their intervals, the dots on top."""
    line: list[Mark] = (
        [Line(np.array([p.at for p in points]), np.array([p.value for p in points]), "thin")]
        if len(points) > 1
        else []
    )
    bars: list[Mark] = [Rule(p.at, p.bounds[0], p.bounds[1], role="leader") for p in points if p.bounds]
    return [*line, *bars, *(Dot(p.at, p.value, role, 3.4) for p in points)]


def _end(one: Point, name: str, *, narrow: bool) -> Label:
    """A name beside the last figure: to its right on paper, above it on a phone."""
    return (
        Label(one.at, one.value, name, "label", "end", dx=-8, dy=-8)
        if narrow
        else Label(one.at, one.value, name, "label", dx=9, dy=4)
    )


def _configurations(flown: Sequence[Placed], y: Axis) -> list[Mark]:
    """Where something else was fitted, and what, over the frame."""
    marks = changes(flown, y)
    if not marks:
        return []
    for name, group in groupby(flown, key=lambda p: p.flight.configuration):
        places = [p.at for p in group]
        marks.append(
            Label(
                (places[0] + places[-1]) / 2, y.high, name or say("draw.as_sheet"), "quiet", "middle", dy=-10
            )
        )
    return marks


def _drawing(
    key: str, flown: Sequence[Placed], y: Axis, marks: Sequence[Mark], latest: str, *, narrow: bool
) -> Drawing:
    name = key.removeprefix("season-").replace("-", "_")
    size = (358.0, 220.0, Margins(46, 40, 14, 42)) if narrow else (740.0, 240.0, Margins(46, 40, 128, 42))
    said = say("draw.season_said", value=latest)
    x = by_flight(flown, at_most=8 if narrow else 16)
    return Drawing(
        f"{key}{'-narrow' if narrow else ''}", say(f"draw.trend_{name}"), said, x, y, tuple(marks), *size
    )


def _small(
    key: str, pack: str, flown: Sequence[Placed], y: Axis, marks: Sequence[Mark], latest: str
) -> Drawing:
    title = say(f"draw.trend_{key.removeprefix('season-').replace('-', '_')}")
    ident = "".join(c if c.isalnum() else "-" for c in pack)
    said = say("draw.season_said", value=latest)
    return Drawing(
        f"{key}-of-{ident}",
        title,
        said,
        by_flight(flown, at_most=10),
        y,
        tuple(marks),
        358.0,
        250.0,
        Margins(46, 46, 14, 42),
        title,
    )
