"""Cells as small multiples: loaded and open-circuit voltage, the floor, and the sag between."""

from __future__ import annotations

import numpy as np

from dashboard.drawings.axes import step_for, timeline
from dashboard.drawings.marks import (
    Axis,
    Band,
    Bar,
    Dimension,
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
from dashboard.figures import clock, number
from dashboard.texts import say
from telemetry.analysis.pack import Cell, CellCurve, Pack
from telemetry.estimate import Estimate, Undecided, value_of
from telemetry.limits import LOADED_CELL_FLOOR_V, WEAK_CELL_RATIO


def small_multiples(
    pack: Pack, *, narrow: bool = False, floor_v: float = LOADED_CELL_FLOOR_V.value
) -> tuple[Drawing, ...]:
    """One drawing a cell on shared scales, the first with the voltage axis. Empty when no cell was logged."""
    curves = [c for c in pack.curves if c.cell > 0 and c.time_s.size > 1]
    if not curves:
        return ()
    y = _volts(curves, floor_v)
    x = timeline(
        min(float(c.time_s[0]) for c in curves),
        max(float(c.time_s[-1]) for c in curves),
        at_most=6 if narrow else 3,
    )
    cells = {c.cell: c for c in pack.cells}
    weak = {w.cell for w in pack.weak_cells}
    return tuple(
        _one(c, cells.get(c.cell), x, y, floor_v, weak=c.cell in weak, first=i == 0 or narrow, narrow=narrow)
        for i, c in enumerate(curves)
    )


def _volts(curves: list[CellCurve], floor_v: float) -> Axis:
    seen = [
        f(v)
        for c in curves
        for v in (c.loaded_v, c.open_circuit_v)
        if v is not None and v.size
        for f in (np.nanmin, np.nanmax)
    ]
    lowest, highest = min(seen), max(seen)
    step = next(s for s in (0.1, 0.2, 0.3, 0.5, 1.0, 2.0) if 4 * s >= highest - min(lowest, floor_v) - 0.05)
    low = floor_v - step * max(0, np.ceil((floor_v - lowest) / step))
    marks = tuple(Tick(v, number(v, 1)) for v in np.arange(low, highest + 0.06, step).tolist())
    return Axis(low, max(highest + 0.02, floor_v + step, marks[-1].at), marks, say("unit.V"))


def _one(
    curve: CellCurve,
    cell: Cell | None,
    x: Axis,
    y: Axis,
    floor_v: float,
    *,
    weak: bool,
    first: bool,
    narrow: bool,
) -> Drawing:
    marks: list[Mark] = []
    if curve.open_circuit_v is not None:
        marks += [Band(curve.time_s, curve.loaded_v, curve.open_circuit_v, "sag_red" if weak else "sag")]
    marks += [LimitLine(floor_v, x.low, x.high, "below", until=None)]
    if curve.open_circuit_v is not None:
        marks += [Line(curve.time_s, curve.open_circuit_v, "pencil")]
    marks += [Line(curve.time_s, curve.loaded_v, "ink")]
    marks += _sag(curve, cell, x, y, weak=weak, narrow=narrow)
    marks += _lowest(cell, x, y, weak=weak, narrow=narrow)
    if first and not narrow:
        marks += [Label(x.low, floor_v, say("draw.floor_unit", v=f"{floor_v:.2f}"), "label", dx=4, dy=21)]
    name = say("draw.cell_weak" if weak else "draw.cell_title", cell=curve.cell)
    lowest = value_of(cell.min_loaded_v) if cell else None
    said = say(
        "draw.cell_said",
        lowest=f"{lowest:.3f}" if lowest is not None else say("page.undecided"),
        sag=_sag_text(cell),
    )
    size = (
        (358.0, 138.0, Margins(34, 24, 66, 32))
        if narrow
        else (242.0, 226.0, Margins(34, 34, 8, 47))
        if first
        else (216.0, 226.0, Margins(8, 34, 8, 47))
    )
    axis = y if first else Axis(y.low, y.high, drawn=False)
    key = f"cell-{curve.cell}{'-narrow' if narrow else ''}"
    return Drawing(
        key,
        say("draw.cell_voltage", cell=curve.cell),
        said,
        x,
        axis,
        tuple(marks),
        *size,
        heading=name,
        heading_role="red" if weak else "strong",
        axis_gap=11.0 if narrow else 25.0,
    )


def _sag_text(cell: Cell | None) -> str:
    return (
        say("draw.sag", v=number(cell.sag_v.value, 2))
        if cell and isinstance(cell.sag_v, Estimate)
        else say("draw.sag_undecided")
    )


def _sag(curve: CellCurve, cell: Cell | None, x: Axis, y: Axis, *, weak: bool, narrow: bool) -> list[Mark]:
    """The dimension at the place where the space between the lines is widest."""
    if curve.open_circuit_v is None or cell is None or not isinstance(cell.sag_v, Estimate):
        return []
    gap = curve.open_circuit_v - curve.loaded_v
    if not np.isfinite(gap).any():
        return []
    at = int(np.nanargmax(gap))
    t, top, bottom = float(curve.time_s[at]), float(curve.open_circuit_v[at]), float(curve.loaded_v[at])
    found: list[Mark] = [Dimension(t, top, t, bottom, "red" if weak else "dim")]
    role = "red" if weak else "strong"
    if narrow:
        return [*found, Label(x.high, y.high, _sag_text(cell), role, dx=5, dy=22)]
    late = t > (x.low + x.high) / 2
    return [
        *found,
        Label(
            t,
            top - 0.5 * (top - bottom),
            _sag_text(cell),
            role,
            "end" if late else "start",
            dx=-8 if late else 8,
            dy=-6,
        ),
    ]


def _lowest(cell: Cell | None, x: Axis, y: Axis, *, weak: bool, narrow: bool) -> list[Mark]:
    """The lowest reading, ringed on a weak cell."""
    if cell is None or isinstance(cell.min_loaded_v, Undecided) or isinstance(cell.min_at_s, Undecided):
        return []
    t, v = cell.min_at_s, cell.min_loaded_v
    found: list[Mark] = [
        Dot(t, v, "ring" if weak else "dot", 4.5 if weak else 2.8, say("draw.at_time", at=clock(t)))
    ]
    role = "red" if weak else "label"
    if narrow:
        return [
            *found,
            Label(x.high, min(max(v, y.low + 0.03), y.high - 0.35), f"{v:.2f} V", role, dx=5, dy=4),
        ]
    share = (t - x.low) / (x.high - x.low)
    anchor = "end" if share > 0.72 else "start" if share < 0.28 else "middle"
    words = Label(t, y.high, say("draw.lowest", v=f"{v:.2f}"), role, anchor, dx=0, dy=-6)
    return [Rule(t, v + 0.03 * (y.high - y.low), y.high, role="leader"), *found, words]


def against_neighbours(pack: Pack, *, narrow: bool = False) -> Drawing | None:
    """Each cell's 1 s resistance against the mean of its neighbours', with intervals, and the ground that
    calls for action; None without any.
    """
    known = [(c.cell, c.resistance_ratio) for c in pack.cells if isinstance(c.resistance_ratio, Estimate)]
    if not known:
        return None
    weak = {w.cell for w in pack.weak_cells if w.kind == "resistance"}
    ratios = [r for _, r in known]
    low = min(0.94, *(r.low for r in ratios)) - 0.01
    high = max(WEAK_CELL_RATIO.value + 0.06, *(r.high for r in ratios)) + 0.03
    step = step_for(low, high, at_most=4 if narrow else 6)
    first = int(np.ceil(low / step))
    x = Axis(
        low,
        high,
        tuple(Tick(i * step, number(i * step, 2)) for i in range(first, int(high / step) + 1)),
        say("draw.ratio"),
    )
    y = Axis(-len(known) + 0.5, 0.5, drawn=False)
    marks: list[Mark] = [
        LimitLine(WEAK_CELL_RATIO.value, y.low, y.high, "right", until=high),
        Rule(1.0, y.low, y.high),
    ]
    for i, (cell, r) in enumerate(known):
        bad = cell in weak
        marks += [
            Bar(r.low, r.high, -i, "red" if bad else "pencil"),
            Dot(r.value, -i, "red" if bad else "dot", 3.4),
        ]
        marks.append(
            Label(low, -i, say("draw.cell", cell=cell), "red" if bad else "label", "end", dx=-10, dy=4)
        )
    worst = max(known, key=lambda k: k[1].value)
    described = say(
        "draw.neighbours_said",
        cell=worst[0],
        ratio=number(worst[1].value, 2),
        low=number(worst[1].low, 2),
        high=number(worst[1].high, 2),
    )
    height = 44.0 + 22.0 * len(known)
    key, width = ("neighbours-narrow", 358.0) if narrow else ("neighbours", 544.0)
    return Drawing(
        key, say("draw.neighbours"), described, x, y, tuple(marks), width, height, Margins(62, 6, 10, 38)
    )
