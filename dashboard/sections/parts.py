"""What every section is built of: numbers that can be asked, rows of the sheet, tables, notes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.figures import HARD, decimals_for, hard, interval, number, signed, unit
from dashboard.texts import say
from telemetry.estimate import Estimate, Undecided
from telemetry.sentences.fans import fan_words
from telemetry.sheet.setup import Setup

Piece = Any
"""Anything Dash takes as a child: text, a component, a list of both."""


def of_drive(setup: Setup | None, text: str) -> str:
    """Words about propellers, said of fans where the sheet's are ducted."""
    return fan_words(text) if setup is not None and setup.ducted else text


def asked(text: str, note: str) -> Component:
    """A number that can be asked: a plain link to its note."""
    return html.A(text, href=f"#{note}", className="n")


def undecided(why: Undecided | str) -> Component:
    """The word that stands where the number would, and the reason."""
    reason = why.reason if isinstance(why, Undecided) else why
    return html.Span([html.Span(say("page.undecided"), className="undecided"), f" ({reason})"])


def figure(
    found: Estimate | Undecided | float | None,
    of: str,
    note: str,
    *,
    decimals: int | None = None,
    plus: bool = False,
) -> list[Piece]:
    """A number in a sentence with its interval, or why there is none."""
    if found is None or isinstance(found, Undecided):
        return (
            [undecided(found or "")] if found else [html.Span(say("page.undecided"), className="undecided")]
        )
    write = signed if plus else number
    if isinstance(found, Estimate):
        places = decimals_for(found) if decimals is None else decimals
        return [
            asked(unit(write(found.value, places), of), note),
            " ",
            html.Span(interval(found, places, plus=plus), className="iv"),
        ]
    return [asked(unit(write(found, 1 if decimals is None else decimals), of), note)]


def toleranced(
    found: Estimate | Undecided | float, note: str, *, decimals: int | None = None, of: str = ""
) -> Piece:
    """A number in a table with its limits beside it, high above low."""
    if isinstance(found, Undecided):
        return html.Span(say("page.undecided"), className="undecided", title=found.reason)
    if not isinstance(found, Estimate):
        return number(found, 3 if decimals is None else decimals)
    places = decimals_for(found) if decimals is None else decimals
    low, high = number(found.low, places), number(found.high, places)
    limits = html.Span([html.Span(high), html.Span(low)], className="tol", **{"aria-hidden": "true"})
    spoken = html.Span(say("page.between", low=low, high=high), className="vh")
    return html.Span(
        [asked(number(found.value, places), note), limits, spoken, *([html.Span(of)] if of else [])],
        className="tv",
    )


def plain(found: float | Undecided | None, decimals: int = 3) -> Piece:
    """A bare number in a table, or the word that stands for it with its reason behind."""
    if found is None:
        return ""
    if isinstance(found, Undecided):
        return html.Span(say("page.undecided"), className="undecided", title=found.reason)
    return number(found, decimals)


def note(ident: str, summary: str, paragraphs: Sequence[Piece], *, opened: bool = False) -> Component:
    """A note in the margin. It opens when its number is asked, and works without script."""
    return html.Details(
        [html.Summary(summary), html.Div([html.P(p) for p in paragraphs if p], id=ident)],
        className="how",
        open=opened,
    )


def row(
    ident: str,
    place: str,
    verdict: str,
    main: Sequence[Piece],
    *,
    notes: Sequence[Component] = (),
    wide: Sequence[Piece] = (),
) -> Component:
    """A section across the sheet's three columns."""
    side = html.P([place, html.Span(verdict, className="verdict")] if verdict else place, className="side")
    parts = [side, html.Div([m for m in main if m is not None], className="main")]
    if wide:
        parts.append(html.Div([w for w in wide if w is not None], className="wide"))
    if notes:
        parts.append(html.Div(list(notes), className="notes"))
    return html.Section(parts, id=ident, className="row")


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[Piece]],
    label: str,
    *,
    right: Sequence[int] = (),
    spaced: bool = False,
) -> Component:
    """A table in a frame of its own that scrolls inside itself; `right` names the columns of figures."""

    def cell(kind: type[Component], text: Piece, column: int, **more: str) -> Component:
        return kind(text, className="r" if column in right else "", **more)

    top = html.Thead(html.Tr([cell(html.Th, _kept_together(h), i, scope="col") for i, h in enumerate(head)]))
    body = html.Tbody(
        [
            html.Tr(
                [html.Th(r[0], scope="row"), *(cell(html.Td, c, i) for i, c in enumerate(r[1:], start=1))]
            )
            for r in rows
        ]
    )
    return html.Div(
        html.Table([top, body]),
        className="scroll spaced" if spaced else "scroll",
        tabIndex=0,
        role="region",
        **{"aria-label": label},
    )


def _kept_together(heading: str) -> str:
    """A heading whose unit stays with the word before it, and that is not parted at all when it is short."""
    return heading.replace(" ", HARD) if len(heading) < 9 else hard(heading).replace(" rpm", f"{HARD}rpm")


def plot(shown: Component | None, caption: str = "") -> Component | None:
    """A drawing with its caption."""
    if shown is None:
        return None
    return html.Figure([shown, *([html.Figcaption(caption, className="fine")] if caption else [])])


def caution(text: str) -> Component:
    """What can hurt, beside the place it speaks of."""
    return html.P(text, className="fine caution")


def sentence(clause: str) -> str:
    """A clause as a sentence: a capital, one full stop."""
    text = clause.strip()
    return hard((text[:1].upper() + text[1:]).rstrip(".") + ".") if text else ""
