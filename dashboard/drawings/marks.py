"""The marks a drawing is made of, each in data coordinates, and the Drawing that holds them.

The roles are the plot grammar: ink is measured, pencil is predicted, hatching is
ground one must not enter. A pen knows how each role looks; a drawing never does.
Offsets (`dx`, `dy`) are pixels at the drawing's own size, x to the right and y down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Window = tuple[float, float]
"""The part of a time axis that is shown. [s]"""
Role = Literal["ink", "bold", "fine", "pencil", "left", "right", "red", "thin", "dotted"]
Fill = Literal["band", "core", "sag", "sag_red", "left", "right"]
Word = Literal["label", "quiet", "strong", "red", "left", "right"]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Line:
    """A curve. x, y : (n,)."""

    x: Floats
    y: Floats
    role: Role = "ink"
    name: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """The space between two curves over the same x, each (n,)."""

    x: Floats
    low: Floats
    high: Floats
    role: Fill = "band"
    name: str = ""


@dataclass(frozen=True, slots=True)
class LimitLine:
    """A line with hatching on the forbidden side.

    Attributes
    ----------
    at : y of a level limit, x of an upright one.
    start, end : along the line.
    side : where the forbidden ground lies; left and right make the line upright.
    until : how far the hatching reaches in data units; None is a narrow strip.
    """

    at: float
    start: float
    end: float
    side: Literal["above", "below", "left", "right"]
    until: float | None = None
    ends: bool = False


@dataclass(frozen=True, slots=True)
class Dimension:
    """A line with slashed ends between two points: sag, landing, margin."""

    x0: float
    y0: float
    x1: float
    y1: float
    role: Literal["dim", "red"] = "dim"


@dataclass(frozen=True, slots=True)
class Bar:
    """A thick stretch at one height: an interval, or time until the alarm."""

    x0: float
    x1: float
    y: float
    role: Literal["ink", "red", "left", "right", "pencil"] = "ink"


@dataclass(frozen=True, slots=True)
class Dot:
    """A single value. A hollow dot is one of many, a filled one is named, a ring is the one to look at."""

    x: float
    y: float
    role: Literal["dot", "hollow", "ring", "red", "left", "right"] = "dot"
    radius: float = 3.2
    name: str = ""


@dataclass(frozen=True, slots=True)
class Cloud:
    """Many single values, too many to name. x, y : (n,)."""

    x: Floats
    y: Floats
    role: Literal["left", "right", "ink"] = "ink"
    name: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """A small twin seen from above, its nose to the right, centred at a height and a distance from the edge
    in px.
    """

    y: float
    from_left: float


@dataclass(frozen=True, slots=True)
class Rule:
    """A thin upright or level line: a change of phase, the centre line, the end of a stretch."""

    at: float
    start: float
    end: float
    upright: bool = True
    role: Literal["grid", "centre", "ink", "leader"] = "grid"


@dataclass(frozen=True, slots=True)
class Label:
    """Words beside a point. With `leader` a thin line runs from the point to the words."""

    x: float
    y: float
    text: str
    role: Word = "label"
    anchor: Anchor = "start"
    dx: float = 0.0
    dy: float = 0.0
    leader: bool = False


Mark = Line | Band | LimitLine | Dimension | Bar | Dot | Cloud | Plan | Rule | Label


@dataclass(frozen=True, slots=True)
class Tick:
    """A value on an axis and the words beside it."""

    at: float
    text: str


@dataclass(frozen=True, slots=True)
class Axis:
    """The span of one direction, its few ticks, and whether it is drawn at all."""

    low: float
    high: float
    ticks: tuple[Tick, ...] = ()
    title: str = ""
    logarithmic: bool = False
    drawn: bool = True


@dataclass(frozen=True, slots=True)
class Margins:
    """Space around the plotting frame. [px]"""

    left: float = 44.0
    top: float = 32.0
    right: float = 98.0
    bottom: float = 36.0


@dataclass(frozen=True, slots=True)
class Drawing:
    """One plot, described once.

    Attributes
    ----------
    key : a name that stays, such as "current" or "cell-3".
    title, description : said by a screen reader; the description states the finding.
    x, y : axes.
    marks : drawn in order, the first lowest.
    width, height : the size at which lettering keeps its size. [px]
    heading : short words over the frame, or "".
    axis_gap : from the frame's lower edge to the x axis. [px]
    """

    key: str
    title: str
    description: str
    x: Axis
    y: Axis
    marks: tuple[Mark, ...]
    width: float = 740.0
    height: float = 250.0
    margins: Margins = field(default_factory=Margins)
    heading: str = ""
    heading_role: Word = "strong"
    axis_gap: float = 5.0

    @property
    def frame(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom edge of the plotting frame. [px]"""
        m = self.margins
        return m.left, m.top, self.width - m.right, self.height - m.bottom
