"""How a section puts a drawing on its page: on paper all are still, on screen those over time can be
zoomed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.drawings.marks import Drawing
from dashboard.renderers.svg import svg


@dataclass(frozen=True, slots=True)
class View:
    """How a drawing is looked at: redrawn for a phone or not, and the part of the time axis shown. [s]"""

    narrow: bool = False
    window: tuple[float, float] | None = None


WIDE = View()
NARROW = View(narrow=True)
Draw = Callable[[View], Drawing | None]


class Plots(Protocol):
    """What a section may ask for."""

    def still(self, draw: Draw) -> Component | None:
        """A drawing that stays as it is; None when there is nothing to draw."""

    def moving(self, name: str, draw: Draw, *, timed: bool = True) -> Component | None:
        """A drawing that may be redrawn under this name; `timed` ones share one time axis and zoom together.
        None when there is nothing to draw.
        """


@dataclass(frozen=True, slots=True)
class PaperPlots:
    """Everything by the SVG pen, at full width."""

    def still(self, draw: Draw) -> Component | None:
        """As it is printed."""
        wide = draw(WIDE)
        return None if wide is None else Markup(svg(wide))

    def moving(self, name: str, draw: Draw, *, timed: bool = True) -> Component | None:
        """The same: paper does not move."""
        return self.still(draw)


@dataclass(frozen=True, slots=True)
class ScreenPlots:
    """SVG for what stands still, redrawn for phones; plotly for what can be zoomed."""

    def still(self, draw: Draw) -> Component | None:
        """Both widths; the style sheet shows the one that fits."""
        wide = draw(WIDE)
        if wide is None:
            return None
        narrow = draw(NARROW)
        if narrow is None or narrow.key == wide.key:
            return Markup(svg(wide))
        return Markup(svg(wide, css_class="only-wide") + svg(narrow, css_class="only-narrow"))

    def moving(self, name: str, draw: Draw, *, timed: bool = True) -> Component | None:
        """A graph that keeps its frame; `pages.flight` redraws it on zoom and on a narrow screen."""
        from dashboard.renderers.plotly import figure

        wide = draw(WIDE)
        if wide is None:
            return None
        graph = dcc.Graph(
            id={"plot": name} if timed else name,
            figure=figure(wide),
            responsive=True,
            config={"displayModeBar": False, "scrollZoom": False, "doubleClick": "reset"},
            style={"height": f"{wide.height:g}px"},
        )
        return html.Div(
            graph,
            className="moving",
            tabIndex=0,
            role="group",
            **{"data-plot": name, "aria-label": f"{wide.title}. {wide.description}"},
        )
