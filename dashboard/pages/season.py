"""The season of one aircraft: what changed from flight to flight, and what is too early to tell."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.drawings.season import flown_by_one
from dashboard.pages import compare
from dashboard.pages.flights import empty
from dashboard.plots import ScreenPlots
from dashboard.sections import season
from dashboard.sections.parts import row
from dashboard.texts import say
from dashboard.workspace import workspace


def layout(aircraft: str | None = None, **_: str) -> Component:
    """The page; of the aircraft flown last unless another is named in the address."""
    kept = workspace().flights()
    names = list(dict.fromkeys(f.aircraft for f in kept if f.kind == "flight"))
    flown = flown_by_one(kept, aircraft if aircraft in names else None)
    if not flown:
        title = html.Div(
            html.H1([html.Span(say("page.season"), className="over"), say("season.none")]),
            className="opening",
        )
        return html.Main([title, row("season", say("page.season"), "", [empty()])], id="main")
    name = flown[0].flight.aircraft
    found, plots = workspace().trends(name), ScreenPlots()
    dates = [p.flight.date[:10] for p in flown if p.flight.date]
    when = f"{dates[0]} – {dates[-1]}" if dates and dates[0] != dates[-1] else dates[0] if dates else ""
    count = say("list.count_flights_one" if len(flown) == 1 else "list.count_flights_many", count=len(flown))
    over = "\u00a0· ".join(x for x in (say("page.season"), name, count, when) if x)
    title = html.H1([html.Span(over, className="over"), season.headline(flown, found)])
    sections = [
        season.packs(flown, found, plots),
        season.consumption(flown, found, plots),
        season.pair(flown, found, plots),
        season.timer(flown, plots),
    ]
    return html.Main(
        [
            html.Div([title, *_others(names, name), compare.link()], className="opening"),
            *[s for s in sections if s is not None],
        ],
        id="main",
    )


def _others(names: list[str], shown: str) -> list[Component]:
    """The other aircraft of the logbook."""
    if len(names) < 2:
        return []
    links = [
        html.Li(html.B(_named(n)) if n == shown else dcc.Link(_named(n), href=f"/season?aircraft={n}"))
        for n in names
    ]
    return [html.Nav(html.Ul(links), className="siblings", **{"aria-label": say("season.aircraft")})]


def _named(name: str) -> str:
    return name or say("block.no_sheet")
