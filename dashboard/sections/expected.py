"""What a sheet leads one to expect: the opening, static and in the air, the ratings, what was assumed."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from dashboard.drawings import predicted as drawn
from dashboard.figures import HARD, clock, hard, number, spoken, unit
from dashboard.plots import Plots
from dashboard.sections.parts import (
    Piece,
    asked,
    caution,
    note,
    of_drive,
    plot,
    row,
    sentence,
    table,
    toleranced,
    undecided,
)
from dashboard.texts import said, say
from telemetry.estimate import Estimate, Undecided
from telemetry.prediction.results import Assumed, PredictedMargin, Prediction, Static
from telemetry.season.open_checks import OpenCheck
from telemetry.season.timer import Timer
from telemetry.sentences import rating_words
from telemetry.sheet.setup import Setup


def opening(
    prediction: Prediction,
    setup: Setup,
    timer: Timer | Undecided,
    standing: Sequence[OpenCheck],
    actions: list[Component],
) -> Component:
    """The expectation in one sentence, then what to look at first: what earlier flights left open on top."""
    return html.Div(
        [
            html.H1([html.Span(_over(prediction, setup), className="over"), _headline(prediction, timer)]),
            _todo(prediction, timer, standing),
            html.Div(actions, className="actions noprint"),
        ],
        className="opening",
    )


def _over(prediction: Prediction, setup: Setup) -> str:
    name = setup.name + (
        f" {say('report.on', configuration=setup.configuration)}" if setup.configuration else ""
    )
    place = [
        f"{setup.site.temperature_c:g}{HARD}°C" if setup.site.temperature_c is not None else "",
        say("expected.above_sea", m=f"{setup.site.elevation_m:g}")
        if setup.site.elevation_m is not None
        else "",
        f"{prediction.air_density_kgm3:.2f}{HARD}kg/m³",
    ]
    return f"{name}{HARD}· {', '.join(p for p in place if p)}"


def _headline(prediction: Prediction, timer: Timer | Undecided) -> str:
    current = prediction.flight.mean_current_a if unplanned(prediction) else prediction.flight.level_current_a
    words = "expected.mean" if unplanned(prediction) else "expected.level"
    first = (
        say(words, a=number(current.value)) if isinstance(current, Estimate) else say("expected.level_open")
    )
    second = (
        say("expected.timer_open")
        if isinstance(timer, Undecided)
        else say("expected.timer", alarm=spoken(timer.alarm_s))
    )
    return hard(f"{first}, {second}")


def unplanned(prediction: Prediction) -> bool:
    """Whether no cruise with an airspeed was planned; level flight then stands at the speed of least power,
    which nobody flies.
    """
    return any(a.key == "plan.legs.airspeed_mps" for a in prediction.assumed)


def _todo(prediction: Prediction, timer: Timer | Undecided, standing: Sequence[OpenCheck]) -> Component:
    items = [
        _item(c.raised.severity, say("list.open_since", title=c.raised.title, flight=c.flight))
        for c in standing
    ]
    if isinstance(timer, Undecided):
        items.append(_item("note", sentence(timer.reason)))
    over = [m for m in prediction.limits if m.margin_fraction < 0]
    if over:
        worst = min(over, key=lambda m: m.margin_fraction)
        words = [
            html.B(say("expected.over", part=worst.part.rsplit(",", 1)[0])),
            " ",
            say("expected.over_do"),
        ]
        items.append(_item("check", *words))
    if prediction.assumed:
        count = len(prediction.assumed)
        words = [
            html.B(say("expected.assumed_one" if count == 1 else "expected.assumed_many", count=count)),
            " ",
            html.A(_measure(prediction), href="#assumed"),
        ]
        items.append(_item("check", *words))
    if prediction.limits and not over:
        least = min(prediction.limits, key=lambda m: m.margin_fraction)
        share = least.predicted_a.scaled(100 / least.rating_a)
        words = [
            say("expected.closest", part=rating_words(least.part)),
            asked(unit(number(share.value), "%"), "how-lim"),
            " ",
            html.Span(f"({number(share.low)}–{number(share.high)})", className="iv"),
            ".",
        ]
        items.append(_item("note", *words))
    if isinstance(timer, Timer):
        count = timer.flights_used
        words = say(
            "expected.timer_none"
            if count == 0
            else "expected.timer_one"
            if count == 1
            else "expected.timer_many",
            count=count,
        )
        items.append(_item("note", words))
    return html.Ol(items, className="todo")


def _item(severity: str, *words: object) -> Component:
    """A line of what to look at."""
    return html.Li(
        [html.Span(say(f"severity.{severity}"), className="sev"), " ", *words], className=f"is-{severity}"
    )


def _measure(prediction: Prediction) -> str:
    """What to find out first, and what it would bring."""
    first = prediction.widest
    what = said(f"measure.{first.key.replace('.', '_')}", "") if first else ""
    if first is None or not what:
        return say("expected.see_assumed")
    return hard(say("expected.measure_first", what=what, share=number(100 * first.narrower_fraction)))


def expect(prediction: Prediction, setup: Setup, plots: Plots) -> Component:
    """Static and in the air."""
    full = max(prediction.static, key=lambda s: s.throttle_fraction)
    against = plots.still(
        lambda view: drawn.against_stick(prediction.static, prediction.limits, narrow=view.narrow)
    )
    plan = plots.still(lambda view: drawn.plan(prediction.flight.legs, narrow=view.narrow))
    figures = html.Div([html.Figure(f) for f in (against, plan) if f is not None], className="pair2")
    notes = [
        html.P(say("expected.lead"), className="lead"),
        note("how-static", say("expected.how_static"), [of_drive(setup, say("expected.how_static_1"))]),
        note("how-air", say("expected.how_air"), [say("expected.how_air_1")]),
        caution(of_drive(setup, say("pair.caution"))),
    ]
    heading = html.H2(
        hard(say("expected.full", a=number(full.current_a.value), t=number(100 * full.throttle_fraction)))
    )
    return row(
        "expect",
        say("expected.place"),
        say("expected.side"),
        [heading, figures, _static(prediction.static, setup), _air(prediction)],
        notes=notes,
    )


def stick(s: Static) -> str:
    """The stick position in words."""
    return f"{number(100 * s.throttle_fraction)}{HARD}%"


def _static(found: tuple[Static, ...], setup: Setup) -> Component:
    def of_motors(s: Static, field: str, decimals: int) -> Piece:
        values = [getattr(m, field) for m in s.motors]
        return toleranced(values[0], "how-static", decimals=decimals) if values else ""

    rows = [
        [
            stick(s),
            toleranced(s.pack_voltage_v, "how-static", decimals=1),
            toleranced(s.current_a, "how-static", decimals=1),
            of_motors(s, "current_a", 1),
            of_motors(s, "rpm", 0),
            toleranced(s.thrust_n, "how-static", decimals=1),
        ]
        for s in found
    ]
    columns = ("stick", "pack_v", "pack_a", "motor_a", "rpm", "thrust")
    head = [of_drive(setup, say(f"expected.{k}")) for k in columns]
    return html.Div(
        [
            html.P(say("expected.static_caption"), className="fine readme"),
            table(head, rows, say("expected.static_caption"), right=range(1, 6)),
        ],
        className="stacked",
    )


def _air(prediction: Prediction) -> Component:
    f = prediction.flight
    rows: list[list[Piece]] = []
    for key, found, decimals, of in (
        ("level_current", f.level_current_a, 1, "A"),
        ("mean_current", f.mean_current_a, 1, "A"),
        ("charge", f.consumed_mah, 0, "mAh"),
        ("lowest", f.min_pack_voltage_v, 1, "V"),
    ):
        rows.append(
            [
                say(f"expected.{key}"),
                undecided(found)
                if isinstance(found, Undecided)
                else toleranced(found, "how-air", decimals=decimals, of=of),
            ]
        )
    rows.append([say("expected.to_reserve"), _time(f.time_to_reserve_s)])
    caption = say("expected.air_caption")
    return html.Div(
        [
            html.P(caption, className="fine readme"),
            table([say("predicted.quantity"), say("expected.expected")], rows, caption, right=(1,)),
        ]
    )


def _time(found: Estimate | Undecided) -> Piece:
    if isinstance(found, Undecided):
        return undecided(found)
    limits = html.Span(
        [html.Span(clock(found.high)), html.Span(clock(found.low))],
        className="tol",
        **{"aria-hidden": "true"},
    )
    spoken_limits = html.Span(
        say("page.between", low=clock(found.low), high=clock(found.high)), className="vh"
    )
    return html.Span(
        [asked(clock(found.value), "how-air"), limits, spoken_limits, html.Span(say("expected.min_s"))],
        className="tv",
    )


def ratings(limits: tuple[PredictedMargin, ...], plots: Plots) -> Component | None:
    """Predicted load as a share of each rating; None without ratings."""
    if not limits:
        return None
    over = any(m.margin_fraction < 0 for m in limits)
    shown = plots.still(lambda view: drawn.ratings(limits, narrow=view.narrow))
    notes = [note("how-lim", say("load.how_rat"), [say("expected.how_lim_1"), say("load.how_rat_2")])]
    heading = html.H2(say("expected.some_over" if over else "expected.none_over"))
    return row(
        "ratings",
        say("expected.ratings"),
        say("verdict.over" if over else "expected.inside"),
        [heading, plot(shown, say("expected.ratings_caption"))],
        notes=notes,
    )


def assumed(found: tuple[Assumed, ...]) -> Component | None:
    """What the sheet left open and what was taken instead; None when nothing was."""
    if not found:
        return None
    rows: list[list[Piece]] = [
        [assumed_name(a.key), assumed_value(a), _adds(a), hard(a.reason)] for a in found
    ]
    return row(
        "assumed",
        say("expected.assumed"),
        str(len(found)),
        [
            html.H2(say("expected.assumed_heading")),
            table(
                [say(f"expected.{k}") for k in ("left_open", "taken_as", "adds", "because")],
                rows,
                say("expected.assumed_heading"),
                right=(1, 2),
            ),
        ],
    )


def _adds(a: Assumed) -> str:
    """Its share of the interval; a dash below one in a hundred."""
    share = 100 * (a.interval_share or 0.0)
    return unit(number(share), "%") if share >= 1.0 else "–"


def assumed_name(key: str) -> str:
    """A key of the sheet in words."""
    return said(f"sheet.{key.replace('.', '_')}", key)


def assumed_value(a: Assumed) -> str:
    """What was taken, with the unit that ends its key."""
    if isinstance(a.value, bool) or not isinstance(a.value, int | float):
        return str(a.value)
    for ending, of in (
        ("_mohm", "mΩ"),
        ("_kg", "kg"),
        ("_mm2", "mm²"),
        ("_m2", "m²"),
        ("_m", "m"),
        ("_in", "in"),
        ("_c", "°C"),
        ("_mps", "m/s"),
        ("_rpm_per_v", "rpm/V"),
        ("_mah", "mAh"),
        ("_v", "V"),
    ):
        if a.key.endswith(ending):
            return unit(f"{a.value:g}", of)
    return f"{a.value:g}"
