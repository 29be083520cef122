"""Drawing → a plotly figure as plain data: the same marks, for a screen on which one may zoom.

Plotly takes no CSS variable as a colour, so each trace, shape and annotation carries the
variable's name, and the page's script sets the colours, again on each change of theme.
The colours here are those of light paper.
"""

from __future__ import annotations

import math
import re
from html import escape
from typing import Any

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
from dashboard.renderers.svg import PLAN, STRIP
from dashboard.thinning import keep, window

Parts = dict[str, Any]

LIGHT = {
    "--ink": "#15191c",
    "--ink-2": "#454d53",
    "--ink-3": "#5d666c",
    "--pencil": "#6b757b",
    "--band": "#e3e7e8",
    "--band-2": "#cfd6d8",
    "--hair": "#dde1df",
    "--left": "#0a5f9e",
    "--right": "#a35200",
    "--left-wash": "#d9e8f3",
    "--right-wash": "#faecde",
    "--red": "#b0202a",
    "--red-wash": "#fbeceb",
    "--hatch": "#565e63",
    "--control": "#6d767b",
    "--paper": "#fdfdfb",
}
FONT = (
    'Bahnschrift, "Avenir Next Condensed", "Roboto Condensed", "Liberation Sans Narrow", "Arial Narrow", '
    '"DejaVu Sans Condensed", sans-serif'
)
CLEAR = "rgba(0,0,0,0)"

_LINE: dict[str, tuple[str, float, str]] = {
    "ink": ("--ink", 1.5, "solid"),
    "bold": ("--ink", 2.25, "solid"),
    "fine": ("--ink", 1.1, "solid"),
    "pencil": ("--pencil", 1.5, "5px,3.5px"),
    "left": ("--left", 1.6, "solid"),
    "right": ("--right", 1.6, "solid"),
    "red": ("--red", 2.25, "solid"),
    "thin": ("--ink-3", 1.0, "solid"),
    "dotted": ("--ink-2", 1.5, "2px,3px"),
}
_FILL = {
    "band": "--band",
    "core": "--band-2",
    "sag": "--band",
    "sag_red": "--red-wash",
    "left": "--left-wash",
    "right": "--right-wash",
}
_WORD = {
    "label": "--ink",
    "quiet": "--ink-2",
    "strong": "--ink",
    "red": "--red",
    "left": "--left",
    "right": "--right",
}
_BOLD = {"strong", "red", "left", "right"}
_DOT = {
    "dot": ("--ink", "circle"),
    "hollow": ("--ink", "circle-open"),
    "ring": ("--red", "circle-open"),
    "red": ("--red", "circle"),
    "left": ("--left", "circle"),
    "right": ("--right", "circle"),
}
_BAR = {"ink": "--ink", "red": "--red", "left": "--left", "right": "--right", "pencil": "--pencil"}
_RULE = {
    "grid": ("--hair", 1.0, "solid"),
    "centre": ("--ink", 1.0, "16px,3.5px,3px,3.5px"),
    "ink": ("--ink", 2.25, "solid"),
    "leader": ("--ink-3", 0.8, "solid"),
}


def figure(drawing: Drawing, *, points: int = 2000) -> Parts:
    """The figure as plotly's JSON has it.

    Parameters
    ----------
    points : about how many points a curve keeps within the drawing's span.
    """
    sheet = _Sheet(drawing, points)
    for mark in drawing.marks:
        sheet.mark(mark)
    sheet.words_of_axes()
    return {"data": sheet.traces, "layout": _layout(drawing, sheet)}


def _layout(drawing: Drawing, sheet: _Sheet) -> Parts:
    m = drawing.margins
    control, second = LIGHT["--control"], LIGHT["--ink-2"]
    axis = {
        "showgrid": False,
        "zeroline": False,
        "linecolor": control,
        "tickcolor": control,
        "ticks": "outside",
        "ticklen": 4,
        "tickfont": {"size": 13, "color": second},
    }
    cursor = {
        "showspikes": True,
        "spikemode": "across",
        "spikesnap": "hovered data",
        "spikethickness": 1,
        "spikedash": "solid",
        "spikecolor": LIGHT["--ink-3"],
    }
    return {
        "margin": {"l": m.left, "t": m.top, "r": m.right, "b": m.bottom, "pad": 0},
        "height": drawing.height,
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "showlegend": False,
        "hovermode": "x",
        "dragmode": "zoom",
        "font": {"family": FONT, "size": 13, "color": second},
        "xaxis": axis
        | cursor
        | _ticks(drawing.x)
        | {"type": "log" if drawing.x.logarithmic else "linear", "showline": True},
        "yaxis": axis
        | _ticks(drawing.y)
        | {"fixedrange": True, "showline": False, "ticklabelstandoff": 4, "visible": drawing.y.drawn},
        "shapes": sheet.shapes,
        "annotations": sheet.words,
        "meta": {"key": drawing.key},
        "uirevision": drawing.key,
    }


def _ticks(axis: Axis) -> Parts:
    ends = [math.log10(axis.low), math.log10(axis.high)] if axis.logarithmic else [axis.low, axis.high]
    return {"range": ends, "tickvals": [t.at for t in axis.ticks], "ticktext": [t.text for t in axis.ticks]}


class _Sheet:
    """One drawing on its way to plotly: gathers traces, shapes and words."""

    def __init__(self, drawing: Drawing, points: int) -> None:
        self.drawing = drawing
        self.points = points
        self.traces: list[Parts] = []
        self.shapes: list[Parts] = []
        self.words: list[Parts] = []
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
        role, width, dash = _LINE[line.role]
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
        role = _FILL[band.role]
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
        self._shape(bar.x0, bar.y, bar.x1, bar.y, _BAR[bar.role], 5.0)

    def _dot(self, dot: Dot) -> None:
        role, symbol = _DOT[dot.role]
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
        role = _BAR[cloud.role]
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
        role, width, dash = _RULE[rule.role]
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
        self._write(label.text, _WORD[label.role], where, bold=label.role in _BOLD)
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
        self.words.append(
            {
                "text": f"<b>{safe}</b>" if bold else safe,
                "showarrow": False,
                "name": role,
                "font": font,
                **where,
            }
        )

    def words_of_axes(self) -> None:
        """Heading, unit at the axis head, x title right-aligned below."""
        d = self.drawing
        if d.heading:
            self._write(
                d.heading,
                _WORD[d.heading_role],
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
    colour = LIGHT[_BAR[cloud.role]]
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
