"""A review as one self-contained page to keep or print: no script, no foreign address, every drawing by the
SVG pen.
"""

from __future__ import annotations

import json
from html import escape
from importlib.resources import files

from dash import html
from dash.development.base_component import Component

from dashboard.figures import HARD
from dashboard.paper import html_text, with_own_ids
from dashboard.plots import PaperPlots
from dashboard.sections import cells, load, log, opening, pair, predicted, timer
from dashboard.texts import say
from telemetry.debrief import Review
from telemetry.estimate import plain
from telemetry.made import MadeBy
from telemetry.signals.dates import shown_date

MARK = (
    '<svg width="34" height="20" viewBox="0 0 34 20" aria-hidden="true"><path d="M0 5.5H34" '
    'stroke="currentColor" stroke-width="1.6" fill="none"/>'
    '<path d="M1 5.5C11 13.5 23 13.5 33 5.5" stroke="currentColor" stroke-width="1.6" fill="none"/></svg>'
)
"""Our mark: a line under load."""
SHORT = 12
"""Digits of a hash that are printed: enough to tell any two logs of one owner apart."""


def page(review: Review, *, flight: int | None = None, number: str = "", date: str = "") -> str:
    """A review as HTML text.

    Parameters
    ----------
    flight : which of the review's flights, from 0; all of them without it, each on paper of its own.
    number, date : what the logbook calls it, when it is kept.

    Raises
    ------
    IndexError : no such flight.
    """
    wanted = range(len(review.flights)) if flight is None else [flight]
    titles = [over_title(review, k, number=number, date=date) for k in wanted]
    parts = [
        html_text(html.Div(_sections(review, k, over), className="flight"))
        for k, over in zip(wanted, titles, strict=True)
    ]
    parts = [part if k == 0 else with_own_ids(part, f"f{k + 1}-") for k, part in enumerate(parts)]
    return _document(
        titles[0] if len(titles) == 1 else over_title(review, None, number=number, date=date),
        f'<main id="main">{"".join(parts)}</main>',
        review.made_by,
    )


def _sections(review: Review, flight: int, over: str) -> list[Component]:
    """One flight: what to do, five answers, then each part."""
    found = review.flights[flight]
    plots = PaperPlots()
    bench = predicted.bench(found, review.setup)
    return [
        opening.opening(review, found, plots, over=over),
        *([bench] if bench is not None else []),
        cells.section(review, found, plots),
        load.section(review, found, plots),
        pair.section(review, found, plots),
        predicted.section(review, found, plots),
        timer.section(review, found, plots),
        log.section(review),
    ]


def over_title(review: Review, flight: int | None, *, number: str = "", date: str = "") -> str:
    """The small line over the headline: which flight, None for all of them, which model, when."""
    several = len(review.flights) > 1
    names = [
        number
        or (
            say("report.flight_of", n=flight + 1, count=len(review.flights))
            if several and flight is not None
            else ""
        )
    ]
    if review.setup:
        names.append(
            review.setup.name
            + (
                f" {say('report.on', configuration=review.setup.configuration)}"
                if review.setup.configuration
                else ""
            )
        )
    else:
        names.append(", ".join(s.file for s in review.trace.sources))
    return f"{HARD}· ".join(n for n in (*names, shown_date(date)) if n)


def made_words(made: MadeBy) -> str:
    """What made a page, for its foot; the page's head holds the same whole."""
    given = [say("made.log", file=log.file, sha256=log.sha256[:SHORT]) for log in made.logs]
    if made.sheet:
        given.append(say("made.sheet", file=made.sheet, sha256=made.sheet_sha256[:SHORT]))
    given += [say("made.answers", file=file, count=len(said)) for file, said in made.answers.items()]
    history = made.options.get("history")
    if history:
        given.append(say("made.history", count=history["flights"], sha256=history["sha256"][:SHORT]))
    given += [f"{name} {value}" for name, value in made.options.items() if name != "history"]
    if not given:
        return say("made.by", version=made.version)
    return say("made.by_from", version=made.version, given=", ".join(given))


def document(title: str, main: Component, made: MadeBy, *, body_class: str = "") -> str:
    """A whole HTML document around a tree, the style sheets and what made it inside."""
    return _document(title, html_text(main), made, body_class=body_class)


def _document(title: str, main: str, made: MadeBy, *, body_class: str = "") -> str:
    style = "\n".join(
        files("dashboard").joinpath("assets", name).read_text(encoding="utf-8")
        for name in ("look.css", "sagline.css")
    )
    style += f"\n@page {{ @bottom-left {{ content: {_css_string(title)}; }} }}" if not body_class else ""
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        f'<meta name="made-by" content="{escape(json.dumps(plain(made)[0], ensure_ascii=False))}">'
    )
    top = f'<header class="top"><span class="mark">{MARK}Sagline</span></header>'
    words = f"{say('page.intervals')} {made_words(made)} {say('page.made_by')}"
    foot = f"<footer><p>{escape(words)}</p></footer>"
    return (
        f'<!doctype html>\n<html lang="en"><head>{head}<title>{escape(title)} · '
        f"Sagline</title><style>{style}</style></head>"
        f'<body class="{body_class}"><div class="sheet">{top}{main}{foot}</div></body></html>\n'
    )


def _css_string(text: str) -> str:
    """A text for the style sheet's own `content`, whatever a file or a model is called."""
    return '"' + "".join(c if c.isalnum() and c.isascii() else f"\\{ord(c):x} " for c in text) + '"'
