"""A review as one self-contained page to keep or print: no script, no foreign address, every drawing by the SVG pen."""

from __future__ import annotations

from html import escape
from importlib.resources import files

from dash import html
from dash.development.base_component import Component

from dashboard.figures import HARD
from dashboard.paper import html_text
from dashboard.plots import PaperPlots
from dashboard.sections import cells, load, log, opening, pair, predicted, timer
from dashboard.words import say
from telemetry.debrief import Review

MARK = (
    '<svg width="34" height="20" viewBox="0 0 34 20" aria-hidden="true"><path d="M0 5.5H34" stroke="currentColor" stroke-width="1.6" fill="none"/>'
    '<path d="M1 5.5C11 13.5 23 13.5 33 5.5" stroke="currentColor" stroke-width="1.6" fill="none"/></svg>'
)
"""Our mark: a line under load."""


def page(review: Review, *, flight: int = 0, number: str = "", date: str = "") -> str:
    """One flight of a review as HTML text.

    Parameters
    ----------
    flight : which of the review's flights, from 0.
    number, date : what the logbook calls it, when it is kept.

    Raises
    ------
    IndexError : no such flight.
    """
    found = review.flights[flight]
    plots = PaperPlots()
    over = over_title(review, flight, number=number, date=date)
    bench = predicted.bench(found)
    sections = [
        opening.opening(review, found, plots, over=over),
        *([bench] if bench is not None else []),
        cells.section(review, found, plots),
        load.section(review, found, plots),
        pair.section(review, found, plots),
        predicted.section(review, found, plots),
        timer.section(review, found, plots),
        log.section(review),
    ]
    return document(over, html.Main(sections, id="main"))


def over_title(review: Review, flight: int, *, number: str = "", date: str = "") -> str:
    """The small line over the headline: which flight, which model, when."""
    names = [number or (say("report.flight_of", n=flight + 1, count=len(review.flights)) if len(review.flights) > 1 else "")]
    if review.setup:
        names.append(review.setup.name + (f" {say('report.on', configuration=review.setup.configuration)}" if review.setup.configuration else ""))
    else:
        names.append(", ".join(s.file for s in review.trace.sources))
    return f"{HARD}· ".join(n for n in (*names, date) if n)


def document(title: str, main: Component, *, body_class: str = "") -> str:
    """A whole HTML document around a tree, the style sheets inside."""
    style = "\n".join(files("dashboard").joinpath("assets", name).read_text(encoding="utf-8") for name in ("look.css", "sagline.css"))
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
    )
    top = f'<header class="top"><span class="mark">{MARK}Sagline</span></header>'
    foot = f"<footer><p>{escape(say('page.intervals'))} {escape(say('page.made_by'))}</p></footer>"
    return (
        f'<!doctype html>\n<html lang="en"><head>{head}<title>{escape(title)} · Sagline</title><style>{style}</style></head>'
        f'<body class="{body_class}"><div class="sheet">{top}{html_text(main)}{foot}</div></body></html>\n'
    )
