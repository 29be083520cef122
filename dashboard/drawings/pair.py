"""Left against right: mirrored around one centre line, and against command."""

from __future__ import annotations

from typing import Literal

import numpy as np

from dashboard.drawings.axes import linear, snug, timeline
from dashboard.drawings.marks import (
    Axis,
    Band,
    Bar,
    Cloud,
    Drawing,
    Floats,
    Label,
    LimitLine,
    Line,
    Margins,
    Mark,
    Plan,
    Rule,
    Tick,
    Window,
)
from dashboard.figures import number
from dashboard.texts import said, say
from telemetry.analysis.current import Current, Margin
from telemetry.analysis.motors import Event, Pair, SideCurve
from telemetry.estimate import Undecided
from telemetry.sentences import rating_words
from telemetry.sentences.fans import fan_words
from telemetry.trace import Flight

Quantity = Literal["current_a", "rpm"]


def mirrored(
    pair: Pair,
    flight: Flight,
    current: Current,
    events: tuple[Event, ...] | Undecided,
    *,
    narrow: bool = False,
    window: Window | None = None,
) -> Drawing | None:
    """Left above, right below one shared axis: current, or rpm where no motor current was logged. None
    without either.
    """
    sides = _sides(pair)
    quantity = _logged_of_both(sides)
    if sides is None or quantity is None:
        return None
    left, right = (np.asarray(_values(c, quantity)) for c in sides)
    top = float(max(np.nanmax(np.abs(left)), np.nanmax(np.abs(right))))
    rating = _rating(pair, current, top) if quantity == "current_a" else None
    half = snug([top, rating.rating_a] if rating else [top], at_most=3)
    ticks = tuple(Tick(s * t.at, t.text) for s in (-1, 1) for t in half.ticks if t.at > 0 or s > 0)
    y = Axis(-half.high, half.high, ticks, say(f"unit.{quantity}"))
    x = timeline(
        *(window or (flight.start_s, flight.end_s)),
        title=say("draw.since_power_on"),
        at_most=4 if narrow else 9,
    )
    marks: list[Mark] = [
        Band(sides[0].time_s, np.zeros(left.size), left, "left"),
        Band(sides[1].time_s, -right, np.zeros(right.size), "right"),
    ]
    marks += _rating_marks(rating, x) if rating else []
    marks += [
        Line(sides[0].time_s, left, "left", _name(pair.left)),
        Line(sides[1].time_s, -right, "right", _name(pair.right)),
        Rule(0.0, x.low, x.high, upright=False, role="centre"),
    ]
    marks += _event_marks(events, pair, x, y)
    at = x.low + 0.3 * (x.high - x.low)
    marks += [Label(at, 0, _name(pair.left), "left", dy=-8), Label(at, 0, _name(pair.right), "right", dy=18)]
    if not narrow:
        marks.append(Plan(-0.0, 42.0))
    size = (358.0, 320.0, Margins(44, 30, 14, 38)) if narrow else (740.0, 330.0, Margins(112, 30, 14, 38))
    described = say("draw.mirrored_said", left=_name(pair.left), right=_name(pair.right))
    return Drawing(
        f"pair{'-narrow' if narrow else ''}",
        say(f"draw.mirrored_{quantity}"),
        described,
        x,
        y,
        tuple(marks),
        *size,
    )


def _logged_of_both(sides: tuple[SideCurve, SideCurve] | None) -> Quantity | None:
    quantities: tuple[Quantity, ...] = ("current_a", "rpm")
    return next((q for q in quantities if sides and all(_values(c, q) is not None for c in sides)), None)


def _rating(pair: Pair, current: Current, top_a: float) -> Margin | None:
    """The lowest continuous rating of either side, where the current comes near it."""
    ratings = [m for m in current.limits if m.position in (pair.left, pair.right) and m.window_s >= 30]
    lowest = min(ratings, key=lambda m: m.rating_a, default=None)
    return lowest if lowest is not None and lowest.rating_a < 1.4 * top_a else None


def _rating_marks(rating: Margin, x: Axis) -> list[Mark]:
    part = rating.part.removeprefix(rating.position.replace("_", " ")).strip()
    text = say("draw.rating", part=rating_words(part), a=number(rating.rating_a))
    return [
        LimitLine(rating.rating_a, x.low, x.high, "above"),
        LimitLine(-rating.rating_a, x.low, x.high, "below"),
        Label(x.high, rating.rating_a, text, "label", "end", dy=-10),
    ]


def _sides(pair: Pair) -> tuple[SideCurve, SideCurve] | None:
    found = {c.position: c for c in pair.curves if c.time_s.size > 1}
    return (found[pair.left], found[pair.right]) if pair.left in found and pair.right in found else None


def _values(curve: SideCurve, quantity: Quantity) -> Floats | None:
    return curve.current_a if quantity == "current_a" else curve.rpm


def _name(position: str) -> str:
    return say("draw.motor_numbered", n=position) if position.isdigit() else position.replace("_", " ")


def event_name(event: Event) -> str:
    """What happened, in words; an overheating names what it was held against."""
    key = f"{event.kind}_{event.against}" if event.against else event.kind
    return said(f"event.{key}", event.kind)


def _event_marks(events: tuple[Event, ...] | Undecided, pair: Pair, x: Axis, y: Axis) -> list[Mark]:
    """A bar at the foot or head of the frame where something happened, with its name."""
    marks: list[Mark] = []
    for event in () if isinstance(events, Undecided) else events:
        if event.motor not in (pair.left, pair.right, "both"):
            continue
        at = 0.94 * (y.low if event.motor == pair.right else y.high)
        late = event.start_s > (x.low + x.high) / 2
        marks.append(
            Bar(event.start_s, max(event.end_s, event.start_s + 0.006 * (x.high - x.low)), at, "red")
        )
        marks.append(
            Label(
                event.end_s if not late else event.start_s,
                at,
                event_name(event),
                "red",
                "end" if late else "start",
                dx=-6 if late else 6,
                dy=4,
            )
        )
    return marks


def against_command(pair: Pair, quantity: Quantity) -> Drawing | None:
    """Each side's current or rpm over the command it was given; None when either is missing."""
    sides = _sides(pair)
    if sides is None:
        return None
    shown = [(c, _values(c, quantity)) for c in sides]
    if any(v is None or not np.isfinite(v).any() or not np.isfinite(c.command).any() for c, v in shown):
        return None
    top = max(float(np.nanmax(v)) for _, v in shown if v is not None)
    low = min(0.0, *(float(np.nanmin(c.command)) for c, _ in shown))
    x = linear([100 * low, 100.0], title=say("draw.command"))
    y = snug([top], title=say(f"unit.{quantity}"))
    marks: list[Mark] = []
    for (curve, values), role in zip(shown, ("left", "right"), strict=True):
        assert values is not None
        marks.append(Cloud(100 * curve.command, values, role, _name(curve.position)))
        best = int(np.nanargmax(np.where(np.isfinite(curve.command), values, -np.inf)))
        lift = -12 if role == ("left" if _more(pair) == pair.left else "right") else 20
        marks.append(
            Label(
                float(100 * curve.command[best]),
                float(values[best]),
                _name(curve.position),
                role,
                "end",
                dx=-8,
                dy=lift,
            )
        )
    described = say("draw.command_said", left=_name(pair.left), right=_name(pair.right))
    return Drawing(
        f"command-{quantity}",
        say(f"draw.command_{quantity}"),
        described,
        x,
        y,
        tuple(marks),
        358.0,
        274.0,
        Margins(52, 34, 14, 42),
        say(f"draw.command_{quantity}"),
    )


def _more(pair: Pair) -> str:
    """The side that takes more."""
    ratio = pair.current_ratio
    return pair.right if not isinstance(ratio, Undecided) and ratio.value >= 1 else pair.left


def causes(pair: Pair, *, ducted: bool = False) -> Drawing | None:
    """How likely each cause is; None when none was weighed. Fans that are `ducted` are no propellers."""
    if not pair.causes:
        return None
    ranked = sorted(pair.causes, key=lambda c: -c.probability)
    shown = [c for c in ranked if c.probability >= 0.01] or ranked[:1]
    x = Axis(0, 100, tuple(Tick(t, f"{t} %" if t == 100 else str(t)) for t in (0, 50, 100)))
    y = Axis(-len(shown) + 0.5, 0.5, drawn=False)
    marks: list[Mark] = []
    for i, c in enumerate(shown):
        name = said(f"cause.{c.cause}", c.cause)
        marks += [Bar(0, max(100 * c.probability, 0.6), -i, "ink" if c.cause == pair.cause else "pencil")]
        marks += [
            Label(
                0,
                -i,
                fan_words(name) if ducted else name,
                "strong" if c.cause == pair.cause else "label",
                "end",
                dx=-8,
                dy=4,
            )
        ]
        marks += [
            Label(
                max(100 * c.probability, 0.6),
                -i,
                number(100 * c.probability),
                "strong" if c.cause == pair.cause else "label",
                dx=6,
                dy=4,
            )
        ]
    described = say(
        "draw.causes_said",
        cause=said(f"cause.{ranked[0].cause}", ranked[0].cause),
        n=number(100 * ranked[0].probability),
    )
    return Drawing(
        "causes",
        say("draw.causes"),
        described,
        x,
        y,
        tuple(marks),
        358.0,
        48.0 + 24.0 * len(shown),
        Margins(128, 8, 40, 24),
    )
