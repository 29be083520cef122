"""Section The log: what was read, what was left out, how clocks were joined."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from dashboard.figures import interval, number, signed
from dashboard.sections.parts import Piece, asked, figure, note, row
from dashboard.texts import pieces, say
from telemetry.account import column_account, log_account
from telemetry.debrief import Review
from telemetry.estimate import Estimate
from telemetry.signals.dates import clock_text
from telemetry.trace import Source

LONGEST_ON_S = 3 * 3600.0
"""No recorder of a model was on for longer before its flight."""


def section(review: Review, *, actions: Sequence[Component] = ()) -> Component:
    """Whether the log was read whole."""
    sources = review.trace.sources
    doubtful = [c for s in sources for c in s.columns if c.status == "doubtful"]
    if doubtful:
        heading = say(
            "log.heading_doubt",
            count=say("log.doubt_column")
            if len(doubtful) == 1
            else say("log.doubt_columns", count=len(doubtful)),
        )
    else:
        heading = say("log.heading_one") if len(sources) < 2 else say("log.heading_many", count=len(sources))
    main: list[Piece] = [
        html.H2(heading),
        *(html.P(_sentence(s, sources[0])) for s in sources),
        html.P(_gaps(review)),
        *_account(sources),
    ]
    if doubtful:
        main.append(html.Ul([html.Li([html.B(c.header), f": {c.reason}"]) for c in doubtful]))
    if actions:
        main.append(html.Div(list(actions), className="actions noprint"))
    return row(
        "read",
        say("place.log"),
        say("log.side_doubt" if doubtful else "log.side_whole"),
        main,
        notes=_notes(sources, review.trace.duration_s),
    )


def _account(sources: Sequence[Source]) -> list[Piece]:
    """What became of the cells of each log, and of those used columns that were not read whole; nothing of a
    log kept before this was noted.
    """
    found: list[Piece] = []
    for s in sources:
        if not any(c.cells_read for c in s.columns):
            continue
        name = [html.B(s.file), ": "] if len(sources) > 1 else []
        found.append(html.P([*name, log_account(s)], className="fine"))
        torn = [c for c in s.columns if c.status == "used" and c.cells_unreadable + c.cells_left_out]
        if torn:
            lines = [html.Li([html.B(c.header), f": {column_account(c)}; {c.reason}"]) for c in torn]
            found.append(html.Ul(lines, className="fine"))
    return found


def _sentence(source: Source, first: Source) -> list[Piece]:
    """How much of a log was read, and how its clock stood to the first log's."""
    read = say(
        "log.rows", file=source.file, rows=number(source.rows_read), rejected=number(source.rows_rejected)
    )
    mine, theirs = source.clock.offset_s, first.clock.offset_s
    if source is first or not isinstance(mine, Estimate):
        return pieces("log.alone", read=read)
    key, apart_s = _apart(mine, theirs.value if isinstance(theirs, Estimate) else 0.0)
    ident = _note_id(source)
    long_ago = key == "clock_read" and isinstance(apart_s, Estimate) and apart_s.value > LONGEST_ON_S
    apart = (
        [asked(clock_text(apart_s.value, source.clock.zone), ident)]
        if long_ago and isinstance(apart_s, Estimate)
        else figure(apart_s, "s", ident, decimals=2)
    )
    return pieces(f"log.{key}", read=read, first=first.file, apart=apart)


def _apart(mine: Estimate, theirs_s: float) -> tuple[str, Estimate | float]:
    """How two clocks stood to each other, in words that need no sign, and by how much. [s]

    Clocks hours apart do not count from the same event: one knows the time of day, the other when it was
    switched on. Then what the other one showed as the first log began says more.
    """
    ahead = Estimate(theirs_s - mine.value, theirs_s - mine.high, theirs_s - mine.low, mine.method)
    if abs(ahead.value) < LONGEST_ON_S:
        if ahead.low <= 0.0 <= ahead.high:
            return "clock_same", max(-ahead.low, ahead.high)
        return ("clock_ahead", ahead) if ahead.value > 0 else ("clock_behind", ahead.scaled(-1.0))
    return ("clock_read", mine.scaled(-1.0)) if mine.value <= 0 else ("clock_later", mine)


def _note_id(source: Source) -> str:
    return f"how-clock-{source.sha256[:8]}"


def _gaps(review: Review) -> str:
    lengths = [g.end_s - g.start_s for g in review.trace.gaps]
    if not lengths:
        return say("log.gaps_none")
    return say(
        "log.gap" if len(lengths) == 1 else "log.gaps", count=len(lengths), longest=number(max(lengths), 1)
    )


def _notes(sources: Sequence[Source], duration_s: float) -> list[Component]:
    found: list[Component] = []
    for s in sources[1:]:
        drift = s.clock.drift_ppm
        if isinstance(s.clock.offset_s, Estimate) and isinstance(drift, Estimate):
            words = say("log.how_clock_1", ran=_ran(drift, duration_s))
            found.append(note(_note_id(s), say("log.how_clock", file=s.file), [words]))
    return found


def _ran(drift: Estimate, duration_s: float) -> str:
    """Whether a clock ran fast or slow: t_first = offset + (1 + drift)·t_own, so one that counts too few
    seconds has a drift above zero.
    """
    if drift.low <= 0.0 <= drift.high:
        return say("log.ran_even", drift=signed(drift.value), interval=interval(drift, 0))
    size = drift if drift.value > 0 else drift.scaled(-1.0)
    over = number(size.value * 1e-6 * duration_s, 2)
    return say(
        "log.ran_slow" if drift.value > 0 else "log.ran_fast",
        drift=number(size.value),
        interval=interval(size, 0),
        over=over,
    )
