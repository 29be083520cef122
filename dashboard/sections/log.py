"""Section The log: what was read, what was left out, how clocks were joined."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from dashboard.figures import interval, number
from dashboard.sections.parts import Piece, figure, note, row
from dashboard.words import pieces, say
from telemetry.debrief import Review
from telemetry.estimate import Estimate
from telemetry.trace import Source


def section(review: Review, *, actions: Sequence[Component] = ()) -> Component:
    """Whether the log was read whole."""
    sources = review.trace.sources
    doubtful = [c for s in sources for c in s.columns if c.status == "doubtful"]
    if doubtful:
        heading = say("log.heading_doubt", count=say("log.doubt_column") if len(doubtful) == 1 else say("log.doubt_columns", count=len(doubtful)))
    else:
        heading = say("log.heading_one") if len(sources) < 2 else say("log.heading_many", count=len(sources))
    main: list[Piece] = [html.H2(heading), *(html.P(_sentence(s, first=i == 0)) for i, s in enumerate(sources)), html.P(_gaps(review))]
    if doubtful:
        main.append(html.Ul([html.Li([html.B(c.header), f": {c.reason}"]) for c in doubtful]))
    if actions:
        main.append(html.Div(list(actions), className="actions noprint"))
    return row("read", say("place.log"), say("log.side_doubt" if doubtful else "log.side_whole"), main, notes=_notes(sources))


def _sentence(source: Source, *, first: bool) -> list[Piece]:
    read = say("log.rows", file=source.file, rows=number(source.rows_read), rejected=number(source.rows_rejected))
    if first or not isinstance(source.clock.offset_s, Estimate):
        return pieces("log.alone", read=read)
    return pieces("log.clock", read=read, offset=figure(source.clock.offset_s, "s", "how-clock", decimals=2))


def _gaps(review: Review) -> str:
    lengths = [g.end_s - g.start_s for g in review.trace.gaps]
    if not lengths:
        return say("log.gaps_none")
    return say("log.gap" if len(lengths) == 1 else "log.gaps", count=len(lengths), longest=number(max(lengths), 1))


def _notes(sources: Sequence[Source]) -> list[Component]:
    found: list[Component] = []
    for s in sources[1:]:
        if isinstance(s.clock.offset_s, Estimate) and isinstance(s.clock.drift_ppm, Estimate):
            o, d = s.clock.offset_s, s.clock.drift_ppm
            words = say("log.how_clock_1", offset=number(o.value, 2), interval=interval(o, 2), drift=number(d.value), drift_interval=interval(d, 0))
            found.append(note("how-clock" if not found else f"how-clock-{len(found)}", say("log.how_clock"), [words]))
    return found
