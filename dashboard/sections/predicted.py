"""Section Prediction: measured over predicted, number by number."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from dash import html
from dash.development.base_component import Component

from dashboard.chosen import Chosen
from dashboard.drawings import predicted as drawn
from dashboard.drawings.marks import Drawing
from dashboard.drawings.strips import residual_name
from dashboard.figures import clock, number, signed, unit
from dashboard.plots import PaperPlots, Plots, View
from dashboard.sections.parts import Piece, note, of_drive, row, sentence, table, toleranced
from dashboard.texts import said, say
from telemetry.comparison.results import PhaseResidual, Residual
from telemetry.debrief import FlightReview, Review
from telemetry.estimate import Estimate, Undecided
from telemetry.prediction.results import Replay
from telemetry.sheet.setup import Setup

DECIMALS = {"rpm": 0, "consumed_mah": 0, "pack_voltage_v": 2, "cell_voltage_v": 3}


def section(review: Review, flight: FlightReview, plots: Plots) -> Component:
    """Whether it did what the sheet said."""
    residuals = flight.comparison.residuals
    answer = next((a for a in flight.answers if a.question == "prediction"), None)
    verdict = said(f"verdict.{answer.verdict}", answer.verdict) if answer else ""
    if isinstance(residuals, Undecided) or not residuals:
        reason = residuals.reason if isinstance(residuals, Undecided) else ""
        return row(
            "predicted",
            say("place.prediction"),
            verdict,
            [html.H2(say("predicted.heading_undecided")), html.P(sentence(reason))],
        )
    kept = sum(r.kept for r in residuals)
    which = "kept" if kept == len(residuals) else "some"
    heading = say(f"predicted.heading_{which}", kept=kept, count=len(residuals))
    figure, sides = _replays(flight.comparison.replays, plots)
    head = [say(f"predicted.{k}") for k in ("quantity", "predicted", "measured", "off", "explained")]
    rows = table(head, [_row(r) for r in residuals], say("predicted.table"), right=(1, 2, 3), spaced=True)
    how = of_drive(review.setup, say("predicted.how_1"))
    notes = [note("how-pred", say("predicted.how"), [how])]
    if not isinstance(plots, PaperPlots):
        address = _fitted(review.setup).address("/prediction")
        notes.append(html.P(html.A(say("predicted.link"), href=address), className="fine"))
    return row(
        "predicted",
        say("place.prediction"),
        verdict,
        [
            html.H2(heading),
            html.P(say("predicted.lead")),
            figure,
            sides,
            rows,
            _by_phase(flight.comparison.phases),
        ],
        notes=notes,
    )


def _replays(replays: Sequence[Replay], plots: Plots) -> tuple[Component | None, Component | None]:
    """The bands of the whole aircraft, and each motor's, folded away."""
    usable = [r for r in replays if r.measured.size > 1 and r.time_s.size > 1]
    bands = [
        plots.moving(f"replay-{i}", partial(_replay, r))
        for i, r in enumerate(r for r in usable if not r.position)
    ]
    caption = html.Figcaption(say("predicted.caption"), className="fine")
    figure = html.Figure([*bands, caption]) if bands else None
    return figure, _fold([plots.still(partial(_replay, r)) for r in usable if r.position])


def _replay(found: Replay, view: View) -> Drawing:
    return drawn.replay(found, narrow=view.narrow, window=view.window)


def _fold(sides: Sequence[Component | None]) -> Component | None:
    """Each motor's bands, folded away until asked for."""
    shown = [s for s in sides if s is not None]
    return (
        html.Details([html.Summary(say("predicted.each_motor")), *shown], className="data") if shown else None
    )


def _by_phase(phases: Sequence[PhaseResidual], *, least_s: float = 3.0) -> Component | None:
    """Pack current and voltage in each phase, measured over predicted; None where the phases weren't told
    apart.
    """
    kept = [
        p
        for p in phases
        if p.end_s - p.start_s >= least_s
        and not p.residual.position
        and p.residual.quantity in ("current_a", "pack_voltage_v")
    ]
    found: dict[tuple[str, float, float], dict[str, Residual]] = {}
    for p in kept:
        found.setdefault((p.phase, p.start_s, p.end_s), {})[p.residual.quantity] = p.residual
    if len(found) < 2:
        return None
    rows: list[list[Piece]] = []
    for (phase, start_s, end_s), both in found.items():
        why = "; ".join(dict.fromkeys(r.explained_by for r in both.values() if r.explained_by))
        cells = [cell for q in ("current_a", "pack_voltage_v") for cell in _pair(both.get(q))]
        rows.append([say(f"phase.{phase}"), f"{clock(start_s)}–{clock(end_s)}", *cells, why])
    explained = any(row[-1] for row in rows)
    head = [
        say(f"predicted.{k}")
        for k in ("phase", "when", "current", "off", "voltage", "off", *(["explained"] if explained else []))
    ]
    rows = rows if explained else [row[:-1] for row in rows]
    caption = say("predicted.by_phase")
    return html.Div(
        [html.P(caption, className="fine readme"), table(head, rows, caption, right=range(1, 6), spaced=True)]
    )


def _pair(r: Residual | None) -> tuple[Piece, Piece]:
    """What was measured, and how far off; bold outside its interval."""
    if r is None:
        return "", ""
    measured = unit(number(r.measured, DECIMALS.get(r.quantity, 1)), said(f"unit.{r.quantity}", ""))
    off = unit(signed(100 * r.residual_fraction, 1), "%")
    return measured, off if r.kept else html.B(off)


def _row(r: Residual) -> list[Piece]:
    of = said(f"unit.{r.quantity}", "")
    places = DECIMALS.get(r.quantity, 1)
    measured: Piece = f"{number(r.measured, places)} {of}".strip()
    name = residual_name(r.quantity, r.position, r.statistic, r.throttle_fraction)
    predicted = toleranced(
        Estimate(min(max(r.predicted, r.low), r.high), r.low, r.high), "how-pred", decimals=places, of=of
    )
    return [
        name,
        predicted,
        measured if r.kept else html.B(measured),
        f"{signed(100 * r.residual_fraction, 1)} %",
        r.explained_by,
    ]


def bench(flight: FlightReview, setup: Setup | None) -> Component | None:
    """Section Bench: the run-up item by item; None for a flight."""
    found = flight.bench
    if found is None:
        return None
    heading = say(
        "bench.heading_ready"
        if found.ready
        else "bench.heading_open"
        if found.ready is None
        else "bench.heading_not"
    )
    rows: list[list[Piece]] = []
    for item in found.items:
        verdict = said(f"verdict.{item.verdict}", item.verdict)
        shown = (
            html.B(verdict)
            if item.verdict == "not_ready"
            else html.Span(verdict, className="undecided")
            if item.verdict == "undecided"
            else verdict
        )
        rows.append([item.check.replace("_", " "), shown, item.sentence])
    verdict = said(
        f"verdict.{'ready' if found.ready else 'undecided' if found.ready is None else 'not_ready'}", ""
    )
    caution = html.P(of_drive(setup, say("pair.caution")), className="fine caution")
    return row(
        "bench",
        say("place.bench"),
        verdict,
        [
            html.H2(heading),
            table([say("bench.check"), say("bench.verdict"), say("bench.why")], rows, say("bench.table")),
        ],
        notes=[caution],
    )


def _fitted(setup: Setup | None) -> Chosen:
    """What the flight was flown with."""
    if setup is None:
        return Chosen()
    return Chosen(
        setup.name, setup.configuration, "" if setup.packs or setup.pack.is_first else setup.pack.name
    )
