"""Each kind of mark as plotly's traces, shapes and annotations."""

from __future__ import annotations

import math
import re
from html import escape
from typing import Any

import numpy as np

from dashboard.drawings.marks import (
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
from dashboard.renderers.plotly.colours import BAR, BOLD, CLEAR, DOT, FILL, LIGHT, LINE, RULE, WORD
from dashboard.renderers.svg import PLAN, STRIP
from dashboard.thinning import keep, window

Parts = dict[str, Any]


class PlotlyMarks:
    """One drawing on its way to plotly: gathers traces, shapes and annotations."""

    def __init__(self, drawing: Drawing, points: int) -> None:
        self.drawing = drawing
        self.points = points
        self.traces: list[Parts] = []
        self.shapes: list[Parts] = []
        self.annotations: list[Parts] = []
        left, top, right, bottom = drawing.frame
        self.x_per_px = (drawing.x.high - drawing.x.low) / (right - left)
        self.y_per_px = (drawing.y.high - drawing.y.low) / (bottom - top)

    def mark(self, mark: Mark) -> None:
        """Any mark, by its kind."""
        {
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
        }[type(mark)](mark)  # type: ignore[operator]

    def _trace(self, x: Floats, y: Floats, meta: Parts, **more: Any) -> None:
        self.traces.append(
            {
                "type": "scatter",
                "x": x.tolist(),
                "y": [None if not math.isfinite(v) else v for v in y.tolist()],
                "hoverinfo": "skip",
                "meta": meta,
                **more,
            }
        )

    def _shown(self, x: Floats) -> slice:
        return (
            window(x, self.drawing.x.low, self.drawing.x.high)
            if x.size and bool(np.all(np.diff(x) >= 0))
            else slice(None)
        )

    def _line(self, line: Line) -> None:
        here = self._shown(line.x)
        x, y = line.x[here], line.y[here]
        kept = keep(x, y, self.points)
        role, width, dash = LINE[line.role]
        measured = {"hoverinfo": "none"} if line.name and line.role != "pencil" else {}
        self._trace(
            x[kept],
            np.round(y[kept], 6),
            {"line": role, "name": line.name},
            mode="lines",
            name=line.name,
            line={"color": LIGHT[role], "width": width, "dash": dash},
            **measured,
        )

    def _band(self, band: Band) -> None:
        here = self._shown(band.x)
        x, low, high = band.x[here], band.low[here], band.high[here]
        kept = np.union1d(keep(x, low, self.points // 2), keep(x, high, self.points // 2))
        role = FILL[band.role]
        around = np.concatenate([x[kept], x[kept][::-1]])
        self._trace(
            around,
            np.concatenate([high[kept], low[kept][::-1]]),
            {"fill": role},
            mode="lines",
            fill="toself",
            fillcolor=LIGHT[role],
            line={"width": 0},
        )

    def _limit(self, limit: LimitLine) -> None:
        upright = limit.side in ("left", "right")
        strip = STRIP * (self.x_per_px if upright else self.y_per_px)
        until = (
            limit.until
            if limit.until is not None
            else limit.at + strip * (1 if limit.side in ("above", "right") else -1)
        )
        along = np.array([limit.start, limit.end, limit.end, limit.start])
        across = np.array([limit.at, limit.at, until, until])
        x, y = (across, along) if upright else (along, across)
        pattern = {
            "shape": "/",
            "size": 7,
            "solidity": 0.14,
            "fgcolor": LIGHT["--hatch"],
            "bgcolor": CLEAR,
            "fgopacity": 1,
        }
        self._trace(
            x, y, {"hatch": "--hatch"}, mode="lines", fill="toself", fillpattern=pattern, line={"width": 0}
        )
        ends = (
            (limit.at, limit.start, limit.at, limit.end)
            if upright
            else (limit.start, limit.at, limit.end, limit.at)
        )
        self._shape(*ends, "--ink", 1.5)

    def _shape(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        role: str,
        width: float,
        dash: str = "solid",
        layer: str = "above",
    ) -> None:
        self.shapes.append(
            {
                "type": "line",
                "x0": x0,
                "y0": y0,
                "x1": x1,
                "y1": y1,
                "layer": layer,
                "name": role,
                "line": {"color": LIGHT[role], "width": width, "dash": dash},
            }
        )

    def _dimension(self, dim: Dimension) -> None:
        role = "--red" if dim.role == "red" else "--ink"
        self._shape(dim.x0, dim.y0, dim.x1, dim.y1, role, 1.0)
        marker = {"symbol": "line-ne", "size": 8, "line": {"color": LIGHT[role], "width": 1.2}}
        self._trace(
            np.array([dim.x0, dim.x1]),
            np.array([dim.y0, dim.y1]),
            {"marker": role},
            mode="markers",
            marker=marker,
            cliponaxis=False,
        )

    def _bar(self, bar: Bar) -> None:
        self._shape(bar.x0, bar.y, bar.x1, bar.y, BAR[bar.role], 5.0)

    def _dot(self, dot: Dot) -> None:
        role, symbol = DOT[dot.role]
        width = 0.0 if symbol == "circle" else 1.8
        marker = {
            "symbol": symbol,
            "size": 2 * dot.radius,
            "color": LIGHT[role],
            "line": {"color": LIGHT[role], "width": width},
        }
        self._trace(
            np.array([dot.x]),
            np.array([dot.y]),
            {"marker": role},
            mode="markers",
            marker=marker,
            cliponaxis=False,
        )

    def _cloud(self, cloud: Cloud) -> None:
        role = BAR[cloud.role]
        whole = np.flatnonzero(np.isfinite(cloud.x) & np.isfinite(cloud.y))
        chosen = whole[:: max(1, whole.size // self.points)]
        self._trace(
            cloud.x[chosen],
            cloud.y[chosen],
            {"marker": role},
            mode="markers",
            name=cloud.name,
            marker=_cloud_marker(cloud),
        )

    def _plan(self, plan: Plan) -> None:
        moved = _moved(PLAN, plan.from_left - self.drawing.margins.left)
        at = {"xref": "paper", "xsizemode": "pixel", "xanchor": 0, "ysizemode": "pixel", "yanchor": plan.y}
        self.shapes.append(
            {
                "type": "path",
                "path": moved,
                **at,
                "layer": "above",
                "name": "--ink-2",
                "line": {"color": LIGHT["--ink-2"], "width": 1.1},
            }
        )

    def _rule(self, rule: Rule) -> None:
        role, width, dash = RULE[rule.role]
        ends = (
            (rule.at, rule.start, rule.at, rule.end)
            if rule.upright
            else (rule.start, rule.at, rule.end, rule.at)
        )
        self._shape(*ends, role, width, dash, "below" if rule.role == "grid" else "above")

    def _label(self, label: Label) -> None:
        anchor = {"start": "left", "middle": "center", "end": "right"}[label.anchor]
        where = {
            "x": math.log10(label.x) if self.drawing.x.logarithmic else label.x,
            "y": label.y,
            "xanchor": anchor,
            "yanchor": "middle",
            "xshift": label.dx,
            "yshift": -(label.dy - 4),
        }
        self._write(label.text, WORD[label.role], where, bold=label.role in BOLD)
        if label.leader:
            self._shape(
                label.x,
                label.y,
                label.x + 0.8 * label.dx * self.x_per_px,
                label.y - (label.dy - 10) * self.y_per_px,
                "--ink-3",
                0.8,
            )

    def _write(self, text: str, role: str, where: Parts, *, bold: bool = False, size: int = 13) -> None:
        safe = escape(text, quote=False)
        font = {"color": LIGHT[role], "size": size}
        self.annotations.append(
            {
                "text": f"<b>{safe}</b>" if bold else safe,
                "showarrow": False,
                "name": role,
                "font": font,
                **where,
            }
        )

    def axis_titles(self) -> None:
        """Heading, unit at the axis head, x title right-aligned below."""
        d = self.drawing
        if d.heading:
            self._write(
                d.heading,
                WORD[d.heading_role],
                {
                    "xref": "paper",
                    "yref": "paper",
                    "x": 0,
                    "y": 1,
                    "xanchor": "left",
                    "yanchor": "middle",
                    "yshift": d.margins.top - 10,
                },
                bold=True,
            )
        if d.y.drawn and d.y.title:
            up = d.margins.top - 10 if d.heading else 16
            self._write(
                d.y.title,
                "--ink-2",
                {
                    "xref": "paper",
                    "yref": "paper",
                    "x": 0,
                    "y": 1,
                    "xanchor": "left",
                    "yanchor": "middle",
                    "xshift": -d.margins.left,
                    "yshift": up,
                },
            )
        if d.x.drawn and d.x.title:
            self._write(
                d.x.title,
                "--ink-2",
                {
                    "xref": "paper",
                    "yref": "paper",
                    "x": 1,
                    "y": 0,
                    "xanchor": "right",
                    "yanchor": "middle",
                    "yshift": -30,
                },
            )


def _cloud_marker(cloud: Cloud) -> Parts:
    """Upright on the left, level on the right, so that neither cloud hides the other."""
    colour = LIGHT[BAR[cloud.role]]
    if cloud.role == "ink":
        return {"size": 3, "color": colour, "opacity": 0.8}
    return {
        "size": 6,
        "symbol": "line-ns" if cloud.role == "left" else "line-ew",
        "color": colour,
        "line": {"color": colour, "width": 1.2},
    }


def _moved(path: str, by: float) -> str:
    """A path of absolute commands, moved to the right. [px]"""
    parts: list[str] = []
    for command, numbers in re.findall(r"([MLCHVZ])([^MLCHVZ]*)", path):
        values = [float(n) for n in numbers.split()]
        moved = [
            v + by if command == "H" or (command in "MLC" and i % 2 == 0) else v for i, v in enumerate(values)
        ]
        parts.append(command + " ".join(f"{v:g}" for v in moved))
    return "".join(parts)
