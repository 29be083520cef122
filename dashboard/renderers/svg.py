"""Drawing → SVG text that takes its colours from the page's own style sheet."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from html import escape

import numpy as np

from dashboard.drawings.marks import (
    Axis,
    Band,
    Bar,
    Cloud,
    Dimension,
    Dot,
    Drawing,
    Floats,
    Label,
    LimitLine,
    Line,
    Mark,
    Plan,
    Rule,
)
from dashboard.thinning import keep
from telemetry.trace import runs

STRIP = 6.0
"""Depth of a narrow strip of hatching. [px]"""
SLASH = 3.5
"""Half the width of the slash that ends a dimension. [px]"""

HATCH = (
    '<defs><pattern id="{ident}-hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)">'
    '<line class="hl" x1="0" y1="0" x2="0" y2="6"/></pattern></defs>'
)

PLAN = (
    "M-42 0C-42 -4 -34 -4 -24 -4L8 -5C16 -5 22 -3 26 0C22 3 16 5 8 5L-24 4C-34 4 -42 4 -42 0Z"
    "M-8 -5L-5 -46C-5 -50 8 -50 8 -46L7 -5M-8 5L-5 46C-5 50 8 50 8 46L7 5"
    "M-40 -3L-41 -16C-41 -18 -34 -18 -34 -16L-34 -4M-40 3L-41 16C-41 18 -34 18 -34 16L-34 4"
    "M8 -27H18V-20H8M8 27H18V20H8M19 -32V-15M19 32V15M26 0H62"
)
"""A twin seen from above, nose to the right, about 110 by 100. [px]"""


@dataclass(frozen=True, slots=True)
class CloudStroke:
    """How one value of a cloud is drawn: upright on the left, level on the right, so that neither cloud hides
    the other. [px]
    """

    dx: float
    dy: float
    path: str


_LINE = {
    "ink": "ink",
    "bold": "ink2",
    "fine": "inkf",
    "pencil": "pencil",
    "left": "left",
    "right": "right",
    "red": "red",
    "thin": "thin",
    "dotted": "dotted",
}
_FILL = {
    "band": "band",
    "core": "band2",
    "sag": "sagf",
    "sag_red": "sagfr",
    "left": "leftf",
    "right": "rightf",
}
_WORD = {
    "label": "lab",
    "quiet": "labq",
    "strong": "strong",
    "red": "redt",
    "left": "leftt",
    "right": "rightt",
}
_CLOUD = {"left": "left", "right": "right", "ink": "ink"}
_STROKE = {
    "left": CloudStroke(0.0, -2.5, "v5"),
    "right": CloudStroke(-2.5, 0.0, "h5"),
    "ink": CloudStroke(0.0, 0.0, "h0"),
}
_DOT = {"dot": "dot", "hollow": "hollow", "ring": "ring", "red": "redd", "left": "leftd", "right": "rightd"}
_BAR = {"ink": "bar", "red": "barr", "left": "barl", "right": "barright", "pencil": "barp"}
_RULE = {"grid": "grid", "centre": "centre", "ink": "ink2", "leader": "leader"}


def svg(drawing: Drawing, *, css_class: str = "", points: int = 800) -> str:
    """The drawing as one `<svg>` element.

    Parameters
    ----------
    css_class : further classes, such as "only-narrow".
    points : about how many points a curve keeps.
    """
    sheet = _Sheet(drawing, points)
    body = "".join(
        [sheet.heading(), *(sheet.mark(m) for m in drawing.marks), sheet.upright_axis(), sheet.level_axis()]
    )
    ident = escape(drawing.key, quote=True)
    needed = HATCH.format(ident=ident) if any(isinstance(m, LimitLine) for m in drawing.marks) else ""
    width, height = _px(drawing.width), _px(drawing.height)
    size = f'viewBox="0 0 {width} {height}" width="{width}" height="{height}"'
    titles = (
        f'<title id="{ident}-t">{escape(drawing.title)}</title><desc '
        f'id="{ident}-d">{escape(drawing.description)}</desc>'
    )
    said = f'role="img" aria-labelledby="{ident}-t {ident}-d">{titles}'
    return f'<svg class="plot {css_class}" {size} {said}{needed}{body}</svg>'


def _px(value: float) -> str:
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def _run(tenths: np.ndarray) -> str:
    """One unbroken run of points, (n, 2) in tenths of a pixel, as a path."""
    steps = np.diff(tenths, axis=0)
    steps = steps[np.any(steps != 0, axis=1)]
    start = f"M{tenths[0, 0] / 10:g} {tenths[0, 1] / 10:g}"
    if steps.size == 0:
        return f"{start}h0"
    return start + "l" + " ".join(f"{dx / 10:g} {dy / 10:g}" for dx, dy in steps.tolist())


def scale(axis: Axis, start: float, end: float) -> Callable[[Floats], Floats]:
    """From data to pixels along one axis."""

    def to_px(values: Floats) -> Floats:
        if axis.logarithmic:
            share = (np.log10(values) - math.log10(axis.low)) / (math.log10(axis.high) - math.log10(axis.low))
        else:
            share = (np.asarray(values, dtype=np.float64) - axis.low) / (axis.high - axis.low)
        return start + share * (end - start)

    return to_px


class _Sheet:
    """One drawing on its way to text: knows the scales, writes each kind of mark."""

    def __init__(self, drawing: Drawing, points: int) -> None:
        self.drawing = drawing
        self.points = points
        left, top, right, bottom = drawing.frame
        self.xs = scale(drawing.x, left, right)
        self.ys = scale(drawing.y, bottom, top)

    def x(self, value: float) -> float:
        return float(self.xs(np.float64(value)))

    def y(self, value: float) -> float:
        return float(self.ys(np.float64(value)))

    def mark(self, mark: Mark) -> str:
        """Any mark, by its kind."""
        writers: dict[type, Callable[..., str]] = {
            Line: self._line,
            Band: self._band,
            LimitLine: self._limit,
            Dimension: self._dimension,
            Bar: self._bar,
            Dot: self._dot,
            Cloud: self._cloud,
            Plan: self._plan,
            Rule: self._rule,
            Label: self._label,
        }
        return writers[type(mark)](mark)

    def _text(self, x: float, y: float, text: str, css_class: str, anchor: str = "start") -> str:
        where = "" if anchor == "start" else f' text-anchor="{anchor}"'
        return f'<text class="{css_class}" x="{_px(x)}" y="{_px(y)}"{where}>{escape(text)}</text>'

    def _segment(self, css_class: str, x1: float, y1: float, x2: float, y2: float) -> str:
        return f'<line class="{css_class}" x1="{_px(x1)}" y1="{_px(y1)}" x2="{_px(x2)}" y2="{_px(y2)}"/>'

    def _path(self, x: Floats, y: Floats) -> str:
        """Steps in tenths of a pixel from point to point: short text, and no rounding adds up."""
        places = np.round(np.stack([self.xs(x), self.ys(y)], axis=1) * 10)
        whole = np.isfinite(places).all(axis=1)
        return "".join(_run(places[a:b].astype(int)) for a, b in runs(whole))

    def _line(self, line: Line) -> str:
        kept = keep(line.x, line.y, self.points)
        return f'<path class="{_LINE[line.role]}" d="{self._path(line.x[kept], line.y[kept])}"/>'

    def _band(self, band: Band) -> str:
        kept = np.union1d(keep(band.x, band.low, self.points // 2), keep(band.x, band.high, self.points // 2))
        x = np.concatenate([band.x[kept], band.x[kept][::-1]])
        y = np.concatenate([band.high[kept], band.low[kept][::-1]])
        return f'<path class="{_FILL[band.role]}" d="{self._path(x, y)}Z"/>'

    def _limit(self, limit: LimitLine) -> str:
        upright = limit.side in ("left", "right")
        along, across = (self.y, self.x) if upright else (self.x, self.y)
        at = across(limit.at)
        sign = 1 if limit.side in ("below", "right") else -1
        to = at + sign * STRIP if limit.until is None else across(limit.until)
        a, b = sorted((along(limit.start), along(limit.end)))
        low, depth = min(at, to), abs(to - at)
        box = (low, a, depth, b - a) if upright else (a, low, b - a, depth)
        x, y, width, height = (_px(v) for v in box)
        fill = (
            f'<rect fill="url(#{escape(self.drawing.key, quote=True)}-hatch)" x="{x}" y="{y}" '
            f'width="{width}" height="{height}"/>'
        )
        line = self._segment("limit", at, a, at, b) if upright else self._segment("limit", a, at, b, at)
        stops = "".join(self._segment("limit", e, at - 3, e, at + 3) for e in (a, b)) if limit.ends else ""
        return fill + line + stops

    def _dimension(self, dim: Dimension) -> str:
        css = "dimr" if dim.role == "red" else "dim"
        x0, y0, x1, y1 = self.x(dim.x0), self.y(dim.y0), self.x(dim.x1), self.y(dim.y1)
        slash = "".join(
            self._segment(css, x - SLASH, y + SLASH, x + SLASH, y - SLASH) for x, y in ((x0, y0), (x1, y1))
        )
        return self._segment(css, x0, y0, x1, y1) + slash

    def _bar(self, bar: Bar) -> str:
        return self._segment(_BAR[bar.role], self.x(bar.x0), self.y(bar.y), self.x(bar.x1), self.y(bar.y))

    def _dot(self, dot: Dot) -> str:
        said = f"<title>{escape(dot.name)}</title>" if dot.name else ""
        return (
            f'<circle class="{_DOT[dot.role]}" cx="{_px(self.x(dot.x))}" cy="{_px(self.y(dot.y))}" '
            f'r="{dot.radius}">{said}</circle>'
        )

    def _cloud(self, cloud: Cloud) -> str:
        whole = np.flatnonzero(np.isfinite(cloud.x) & np.isfinite(cloud.y))
        if whole.size == 0:
            return ""
        extremes = whole[[cloud.y[whole].argmax(), cloud.y[whole].argmin()]]
        chosen = np.union1d(whole[:: max(1, whole.size // (self.points // 2))], extremes)
        px, py = self.xs(cloud.x[chosen]), self.ys(cloud.y[chosen])
        tick = _STROKE[cloud.role]
        dots = "".join(
            f"M{_px(a + tick.dx)} {_px(b + tick.dy)}{tick.path}"
            for a, b in zip(px.tolist(), py.tolist(), strict=True)
        )
        return f'<path class="cloud {_CLOUD[cloud.role]}" d="{dots}"/>'

    def _plan(self, plan: Plan) -> str:
        return (
            f'<g transform="translate({_px(plan.from_left)} {_px(self.y(plan.y))})"><path class="plan" '
            f'd="{PLAN}"/></g>'
        )

    def _rule(self, rule: Rule) -> str:
        css = _RULE[rule.role]
        if rule.upright:
            return self._segment(css, self.x(rule.at), self.y(rule.start), self.x(rule.at), self.y(rule.end))
        return self._segment(css, self.x(rule.start), self.y(rule.at), self.x(rule.end), self.y(rule.at))

    def _label(self, label: Label) -> str:
        x, y = self.x(label.x), self.y(label.y)
        lead = ""
        if label.leader:
            down = label.dy > 0
            lead = self._segment(
                "leader", x, y + (5 if down else -5), x + label.dx * 0.8, y + label.dy + (-12 if down else 4)
            )
        return lead + self._text(x + label.dx, y + label.dy, label.text, _WORD[label.role], label.anchor)

    def heading(self) -> str:
        """The words over the frame."""
        if not self.drawing.heading:
            return ""
        return self._text(
            self.drawing.margins.left, 14, self.drawing.heading, _WORD[self.drawing.heading_role]
        )

    def upright_axis(self) -> str:
        """The y axis, to the left of the frame."""
        axis = self.drawing.y
        if not axis.drawn:
            return ""
        edge = self.drawing.margins.left - 6
        ends = [self.y(t.at) for t in axis.ticks] or [self.y(axis.low), self.y(axis.high)]
        parts = [self._segment("ax", edge, max(ends), edge, min(ends))]
        for tick in axis.ticks:
            y = self.y(tick.at)
            parts += [
                self._segment("ax", edge - 4, y, edge, y),
                self._text(edge - 7, y + 4, tick.text, "tick", "end"),
            ]
        if axis.title:
            parts.append(
                self._text(
                    0,
                    14 if self.drawing.heading else max(12.0, self.drawing.margins.top - 12),
                    axis.title,
                    "axt",
                )
            )
        return "".join(parts)

    def level_axis(self) -> str:
        """The x axis, below the frame."""
        axis = self.drawing.x
        if not axis.drawn:
            return ""
        edge = self.drawing.height - self.drawing.margins.bottom + self.drawing.axis_gap
        left, right = self.x(axis.low), self.x(axis.high)
        parts = [self._segment("ax", left, edge, right, edge)]
        for tick in axis.ticks:
            x = self.x(tick.at)
            parts += [
                self._segment("ax", x, edge, x, edge + 4),
                self._text(x, edge + 16, tick.text, "tick", "middle"),
            ]
        if axis.title:
            parts.append(self._text(right, edge + 31, axis.title, "axt", "end"))
        return "".join(parts)
