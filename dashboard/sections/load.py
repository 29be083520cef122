"""Section Load: current over the flight, its largest means against the ratings."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard.drawings import load as drawn
from dashboard.figures import clock, number, spoken, unit
from dashboard.plots import Plots
from dashboard.sections.parts import (
    Piece,
    asked,
    figure,
    note,
    plain,
    plot,
    row,
    sentence,
    table,
    toleranced,
    undecided,
)
from dashboard.texts import pieces, said, say
from telemetry.analysis.current import Current
from telemetry.debrief import FlightReview, Review
from telemetry.estimate import Undecided, value_of
from telemetry.sentences import rating_words


def section(
    review: Review, flight: FlightReview, plots: Plots, *, controls: Component | None = None
) -> Component:
    """Whether anything carried more than it may."""
    current = flight.current
    answer = next((a for a in flight.answers if a.question == "load"), None)
    verdict = said(f"verdict.{answer.verdict}", answer.verdict) if answer else ""
    flow, packs = flight.signals.current, max(len(flight.packs), 1)
    over_time = None
    if not isinstance(flow, Undecided):
        over_time = plots.moving(
            "current",
            lambda view: drawn.over_time(
                flow.samples,
                flight.flight,
                current,
                packs=packs,
                narrow=view.narrow,
                window=view.window,
            ),
        )
    pack = plots.still(lambda view: drawn.windows_of_pack(current, packs=packs))
    motors = plots.still(lambda view: drawn.windows_of_motors(current))
    both = [html.Figure(p) for p in (pack, motors) if p is not None]
    main = [
        html.H2(_heading(current)),
        html.P(_sentence(current)),
        plot(over_time),
        controls if over_time is not None else None,
        html.Div(both, className="pair2") if both else None,
    ]
    if both:
        main.append(html.P(say("load.readme"), className="fine readme"))
    if current.limits:
        main.append(
            html.Details([html.Summary(say("page.same_in_figures")), _ratings(current)], className="data")
        )
    return row("load", say("place.load"), verdict, main, notes=_notes(review, flight))


def _heading(current: Current) -> str:
    over = [m for m in current.limits if (value_of(m.margin_fraction) or 0.0) < 0]
    if over:
        worst = min(over, key=lambda m: value_of(m.margin_fraction) or 0.0)
        return say("load.heading_over", part=sentence(rating_words(worst.part)).rstrip("."))
    if any(not isinstance(m.margin_fraction, Undecided) for m in current.limits):
        return say("load.heading_within")
    return say(
        "load.heading_undecided" if isinstance(current.peak_a, Undecided) else "load.heading_no_ratings"
    )


def _sentence(current: Current) -> list[Piece]:
    if isinstance(current.peak_a, Undecided):
        return [undecided(current.peak_a)]
    at = "" if isinstance(current.peak_at_s, Undecided) else say("load.peak_at", at=clock(current.peak_at_s))
    half_minute = next((s for s in current.sustained if s.window_s == 30.0), None)
    steady: list[Piece] = []
    if half_minute is not None:
        steady = pieces(
            "load.steady",
            seconds=spoken(30.0),
            a=asked(unit(number(half_minute.max_mean_a, 1), "A"), "how-rat"),
        )
    rms = (
        "" if isinstance(current.rms_a, Undecided) else say("load.rms", a=unit(number(current.rms_a, 1), "A"))
    )
    return pieces(
        "load.peak", peak=figure(current.peak_a, "A", "how-peak", decimals=1), at=at, steady=steady, rms=rms
    )


def _ratings(current: Current) -> Component:
    def left(margin: float | Undecided) -> Piece:
        if isinstance(margin, Undecided):
            return plain(margin)
        return html.B(number(100 * margin)) if margin < 0 else number(100 * margin)

    ordered = sorted(
        current.limits, key=lambda m: v if (v := value_of(m.margin_fraction)) is not None else 9.0
    )
    rows = [
        [
            rating_words(m.part),
            number(m.rating_a, 1 if m.rating_a % 1 else 0),
            f"{m.window_s:g}",
            toleranced(m.measured_a, "how-rat", decimals=1),
            left(m.margin_fraction),
            plain(m.start_s) if isinstance(m.start_s, Undecided) else clock(m.start_s),
        ]
        for m in ordered
    ]
    return table(
        [say(f"load.{k}") for k in ("part", "rating", "window", "measured", "left", "when")],
        rows,
        say("load.table"),
        right=range(1, 6),
    )


def _notes(review: Review, flight: FlightReview) -> list[Component]:
    channel = review.trace.channels.get(("current_a", ""))
    interval = f"{channel.refresh_interval_s:.2g}" if channel else f"{review.trace.sample_interval_s:.2g}"
    return [
        note(
            "how-peak",
            say("load.how_peak"),
            [say("load.how_peak_1", interval=interval), sentence(flight.current.how)],
        ),
        note("how-rat", say("load.how_rat"), [say("load.how_rat_1"), say("load.how_rat_2")]),
    ]
