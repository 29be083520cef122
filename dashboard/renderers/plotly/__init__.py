"""Drawing → a plotly figure as plain data: the same marks, for a screen on which one may zoom.

Plotly takes no CSS variable as a colour, so each trace, shape and annotation carries the
variable's name, and the page's script sets the colours, again on each change of theme.
The colours here are those of light paper.
"""

from __future__ import annotations

import math

from dashboard.drawings.marks import Axis, Drawing
from dashboard.renderers.plotly.colours import CLEAR, FONT, LIGHT
from dashboard.renderers.plotly.marks import Parts, PlotlyMarks


def figure(drawing: Drawing, *, points: int = 2000) -> Parts:
    """The figure as plotly's JSON has it.

    Parameters
    ----------
    points : about how many points a curve keeps within the drawing's span.
    """
    marks = PlotlyMarks(drawing, points)
    for mark in drawing.marks:
        marks.mark(mark)
    marks.axis_titles()
    return {"data": marks.traces, "layout": _layout(drawing, marks)}


def _layout(drawing: Drawing, marks: PlotlyMarks) -> Parts:
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
        "shapes": marks.shapes,
        "annotations": marks.annotations,
        "meta": {"key": drawing.key},
        "uirevision": drawing.key,
    }


def _ticks(axis: Axis) -> Parts:
    ends = [math.log10(axis.low), math.log10(axis.high)] if axis.logarithmic else [axis.low, axis.high]
    return {"range": ends, "tickvals": [t.at for t in axis.ticks], "ticktext": [t.text for t in axis.ticks]}
