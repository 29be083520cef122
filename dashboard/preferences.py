"""What a reader may choose about the pages: the paper, and whether single keys act.

Kept by the browser, applied by the page's script before anything is drawn. Units are those of the
log's own world (V, A, mAh, min:s, rpm, °C) on every page and plot; there is one language, so there is no
choice of one.
"""

from __future__ import annotations

from html import escape

from dashboard.components import Markup
from dashboard.texts import say

PAPERS = ("auto", "light", "dark")
"""As the device has it, or always one of the two."""


def panel() -> Markup:
    """The choices at the foot of every page; the script fills in what was chosen before."""
    papers = "".join(_radio(paper) for paper in PAPERS)
    keys = (
        f'<label class="choice"><input type="checkbox" id="single-keys" '
        f"checked>{escape(say('page.single_keys'))}</label>"
    )
    return Markup(
        f"<fieldset><legend>{escape(say('page.paper'))}</legend>{papers}</fieldset>{keys}",
        className="choices",
    )


def _radio(paper: str) -> str:
    return (
        f'<label class="choice"><input type="radio" name="paper" '
        f'value="{paper}">{escape(say(f"page.paper_{paper}"))}</label>'
    )
