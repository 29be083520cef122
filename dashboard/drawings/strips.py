"""The five answers, each as one strip beside its sentence."""

from __future__ import annotations

import numpy as np

from dashboard.drawings.axes import apart, linear, span, ticks
from dashboard.drawings.marks import (
    Anchor,
    Axis,
    Band,
    Bar,
    Dimension,
    Dot,
    Drawing,
    Floats,
    Label,
    LimitLine,
    Margins,
    Mark,
    Rule,
    Tick,
)
from dashboard.figures import clock, number
from dashboard.texts import say
from telemetry.analysis.current import Current
from telemetry.analysis.motors import Pair
from telemetry.analysis.pack import Pack
from telemetry.comparison.results import Comparison
from telemetry.estimate import Undecided, value_of
from telemetry.limits import EVEN_SHAFT_POWER_FRACTION, LOADED_CELL_FLOOR_V
from telemetry.season.timer import Timer
from telemetry.sentences import rating_words

_FLAT = Axis(0.0, 1.0, drawn=False)
_MARGINS = Margins(8, 6, 8, 18)
_DOTS = 0.25
"""Height at which dots sit in a strip, of 1."""


def _strip(key: str, title: str, description: str, x: Axis, marks: list[Mark], *, narrow: bool) -> Drawing:
    return Drawing(
        f"strip-{key}{'-narrow' if narrow else ''}",
        title,
        description,
        x,
        _FLAT,
        tuple(marks),
        _width(narrow),
        54.0,
        _MARGINS,
        axis_gap=0.0,
    )


def _width(narrow: bool) -> float:
    return 358.0 if narrow else 432.0


def _pair_of(low: float, high: float) -> Floats:
    return np.array([low, high])


def cells(pack: Pack, *, floor_v: float = LOADED_CELL_FLOOR_V.value, narrow: bool = False) -> Drawing | None:
    """Lowest loaded voltage of each cell against the floor; None when no cell was logged."""
    lowest = [(c.cell, value_of(c.min_loaded_v)) for c in pack.cells]
    found = [(cell, v) for cell, v in lowest if v is not None]
    if not found:
        return None
    weak = {w.cell for w in pack.weak_cells}
    volts = [v for _, v in found]
    _, high, step = span(volts, at_most=3, include=(floor_v,))
    low = min(floor_v, *volts)
    reach = high - low
    axis = Axis(
        low - 0.15 * reach,
        high + 0.12 * reach,
        _with_unit(ticks(floor_v + 0.4 * step, high, step), "V", floor_v, step),
        "",
    )
    marks: list[Mark] = [
        LimitLine(floor_v, 0.0, 1.0, "left", until=axis.low),
        Label(floor_v, 0.0, say("draw.floor", v=f"{floor_v:.2f}"), "quiet", "middle", dy=16),
    ]
    names = apart(volts, (0.07 if weak else 0.045) * (432.0 / _width(narrow)) * (axis.high - axis.low))
    for (cell, v), at in zip(found, names, strict=True):
        bad = cell in weak
        marks.append(
            Dot(
                v,
                _DOTS,
                "red" if bad else "dot",
                4.2 if bad else 3.4,
                say("draw.cell_lowest", cell=cell, v=f"{v:.3f}"),
            )
        )
        marks.append(
            Label(
                at,
                _DOTS,
                say("draw.cell", cell=cell) if bad else str(cell),
                "red" if bad else "label",
                "middle",
                dy=-14,
            )
        )
    described = say(
        "draw.strip_cells_said", low=f"{min(volts):.3f}", high=f"{max(volts):.3f}", floor=f"{floor_v:.2f}"
    )
    return _strip("cells", say("draw.strip_cells"), described, axis, marks, narrow=narrow)


def _with_unit(marks: tuple[Tick, ...], unit: str, besides: float, step: float) -> tuple[Tick, ...]:
    """The last tick carries the unit; ticks too near to another label are left out."""
    kept = [t for t in marks if abs(t.at - besides) > 0.45 * step]
    return tuple(Tick(t.at, f"{t.text} {unit}" if t is kept[-1] else t.text) for t in kept)


def load(current: Current, *, narrow: bool = False) -> Drawing | None:
    """Every rating as a share of itself; None when the sheet has no ratings."""
    shares = [
        (rating_words(m.part), 100 * (1 - m.margin_fraction))
        for m in current.limits
        if not isinstance(m.margin_fraction, Undecided)
    ]
    if not shares:
        return None
    worst_part, worst = max(shares, key=lambda s: s[1])
    low = min(60.0, 20 * (min(s for _, s in shares) // 20))
    high = max(115.0, worst + 10)
    axis = Axis(
        low - 4,
        high,
        tuple(
            Tick(t, say("draw.of_rating") if t == 100 else number(t))
            for t in range(int(low), 101, 20 if high - low < 120 else 50)
        ),
    )
    marks: list[Mark] = [LimitLine(100.0, 0.0, 1.0, "right", until=high)]
    marks += [Dot(s, _DOTS, "hollow", 3.2, part) for part, s in shares if part != worst_part]
    marks += [Dot(worst, _DOTS, "red" if worst > 100 else "dot", 4.0, worst_part)]
    marks += [
        Label(
            worst,
            _DOTS,
            worst_part,
            "red" if worst > 100 else "label",
            "end" if worst < 97 else "start",
            dx=4 if worst < 97 else -4,
            dy=-12,
        )
    ]
    described = say("draw.strip_load_said", count=len(shares), part=worst_part, share=number(worst))
    return _strip("load", say("draw.strip_load"), described, axis, marks, narrow=narrow)


def pair(found: Pair, *, narrow: bool = False) -> Drawing | None:
    """Imbalance of shaft power around the even zone; None while it is undecided."""
    if isinstance(found.imbalance_fraction, Undecided):
        return None
    e = found.imbalance_fraction.scaled(100)
    even = 100 * EVEN_SHAFT_POWER_FRACTION.value
    reach = max(8.0, 1.15 * abs(e.low), 1.15 * abs(e.high))
    inside = [t.at for t in linear([-reach, reach], at_most=5).ticks if abs(t.at) <= reach]
    axis = Axis(
        -reach * 1.08,
        reach * 1.08,
        tuple(Tick(at, number(abs(at)) + (" %" if at in (inside[0], inside[-1]) else "")) for at in inside),
    )
    marks: list[Mark] = [
        Band(_pair_of(-even, even), _pair_of(0, 0), _pair_of(1, 1), "band"),
        Label(0, 1, say("draw.even"), "quiet", "middle", dy=11),
        Rule(0, 0.0, 0.5, role="centre"),
        Bar(e.low, e.high, _DOTS),
        Dot(e.value, _DOTS, "dot", 4.5),
        Label(
            axis.low,
            1,
            say("draw.pulls_more", side=_side(found.left)),
            "quiet" if e.value > 0 else "label",
            dy=10,
        ),
        Label(
            axis.high,
            1,
            say("draw.pulls_more", side=_side(found.right)),
            "label" if e.value > 0 else "quiet",
            "end",
            dy=10,
        ),
    ]
    described = say(
        "draw.strip_pair_said",
        value=number(e.value, 1),
        low=number(e.low, 1),
        high=number(e.high, 1),
        even=f"{even:g}",
    )
    return _strip("pair", say("draw.strip_pair"), described, axis, marks, narrow=narrow)


def _side(position: str) -> str:
    return position.replace("_", " ")


def predicted(comparison: Comparison, *, narrow: bool = False) -> Drawing | None:
    """Each measured headline inside or outside its predicted interval; None without a prediction."""
    if isinstance(comparison.residuals, Undecided) or not comparison.residuals:
        return None
    places = []
    for r in comparison.residuals:
        half = max((r.high - r.low) / 2, 1e-9)
        places.append(max(-2.6, min(2.6, (r.measured - (r.high + r.low) / 2) / half)))
    axis = Axis(-3.0, 3.0, ())
    marks: list[Mark] = [
        Band(_pair_of(-1, 1), _pair_of(0, 0), _pair_of(1, 1), "band"),
        Rule(0, 0.0, 1.0, role="leader"),
    ]
    outside = [(r, p) for r, p in zip(comparison.residuals, places, strict=True) if not r.kept]
    marks += [
        Dot(p, _DOTS, "hollow", 3.6, residual_name(r.quantity, r.position, r.statistic, r.throttle_fraction))
        for r, p in zip(comparison.residuals, places, strict=True)
        if r.kept
    ]
    for r, p in outside:
        name = residual_name(r.quantity, r.position, r.statistic, r.throttle_fraction)
        marks += [Dot(p, _DOTS, "dot", 4.2, name)]
    for side in (-1, 1):
        here = [(r, p) for r, p in outside if p * side > 0]
        if here:
            r, p = max(here, key=lambda rp: abs(rp[1]))
            more = say("draw.and_more", count=len(here) - 1) if len(here) > 1 else ""
            name = residual_name(r.quantity, r.position, r.statistic, r.throttle_fraction) + more
            marks.append(Label(p, _DOTS, name, "label", _inward(p, axis, name, _width(narrow)), dy=-12))
    marks += [
        Label(-1, 0, say("draw.below"), "quiet", "end", -4, 16),
        Label(0, 0, say("draw.predicted_interval"), "quiet", "middle", 0, 16),
        Label(1, 0, say("draw.above"), "quiet", "start", 4, 16),
    ]
    kept = sum(r.kept for r in comparison.residuals)
    return _strip(
        "predicted",
        say("draw.strip_predicted"),
        say("draw.strip_predicted_said", kept=kept, count=len(places)),
        axis,
        marks,
        narrow=narrow,
    )


def _inward(at: float, axis: Axis, text: str, width: float) -> Anchor:
    """The side on which words beside a point stay inside the strip, away from the middle where they fit."""
    px_per_unit, needed = (width - 16.0) / (axis.high - axis.low), 5.7 * len(text)
    if at >= (axis.low + axis.high) / 2:
        return "start" if (axis.high - at) * px_per_unit > needed else "end"
    return "end" if (at - axis.low) * px_per_unit > needed else "start"


def residual_name(quantity: str, position: str, statistic: str, throttle_fraction: float | None) -> str:
    """What was predicted, in words: 'mean right current', 'current at 75 %'."""
    what = say(f"quantity.{quantity}")
    side = f"{_side(position)} " if position else say("draw.pack_side") if quantity == "current_a" else ""
    if statistic == "at" and throttle_fraction is not None:
        return say("residual.at", what=side + what, throttle=number(100 * throttle_fraction))
    return say(f"residual.{statistic}", what=side + what)


def timer(found: Timer, *, narrow: bool = False) -> Drawing:
    """Alarm, the landing after it, and the ground beyond."""
    alarm, landed = found.alarm_s / 60, (found.alarm_s + found.landing_allowance_s) / 60
    high = max(landed * 1.35, landed + 1)
    axis = linear([0, high], at_most=5)
    axis = Axis(
        0,
        1.03 * axis.high,
        tuple(
            Tick(t.at, f"{t.text} {say('unit.min')}" if t is axis.ticks[-1] else t.text) for t in axis.ticks
        ),
    )
    marks: list[Mark] = [
        Bar(0, alarm, _DOTS),
        Rule(alarm, 0.0, 1.0, role="ink"),
        LimitLine(landed, 0.0, 1.0, "right", until=axis.high),
    ]
    roomy = alarm / axis.high > 0.3
    marks += [
        Label(
            alarm,
            1,
            say("draw.alarm", at=clock(found.alarm_s)),
            "strong",
            "end" if roomy else "start",
            -5 if roomy else 5,
            11,
        )
    ]
    if found.landing_allowance_s > 0:
        marks.append(Dimension(alarm, _DOTS, landed, _DOTS))
        if (landed - alarm) / axis.high > 0.13:
            marks.append(Label((alarm + landed) / 2, 1, say("draw.landing"), "quiet", "middle", 0, 14))
    described = say("draw.strip_timer_said", alarm=clock(found.alarm_s), landed=clock(60 * landed))
    return _strip("timer", say("draw.strip_timer"), described, axis, marks, narrow=narrow)
