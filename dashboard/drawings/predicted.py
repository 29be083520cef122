"""What was expected: bands over the measured flight, current against stick, the plan, load against
ratings.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

import numpy as np

from dashboard.drawings.axes import apart, linear, snug, timeline
from dashboard.drawings.marks import (
    Axis,
    Band,
    Bar,
    Dot,
    Drawing,
    Floats,
    Label,
    LimitLine,
    Line,
    Margins,
    Mark,
    Rule,
    Tick,
    Window,
)
from dashboard.figures import number
from dashboard.texts import said, say
from telemetry.estimate import Estimate
from telemetry.prediction.results import PredictedLeg, PredictedMargin, Replay, Static
from telemetry.sentences import rating_words


def replay(found: Replay, *, narrow: bool = False, window: Window | None = None) -> Drawing:
    """The measured line over the band that the measured throttle leads one to expect."""
    x = timeline(
        *(window or (float(found.measured_time_s[0]), float(found.measured_time_s[-1]))),
        title=say("draw.since_power_on"),
        at_most=4 if narrow else 9,
    )
    inside = (found.time_s >= found.measured_time_s[0]) & (found.time_s <= found.measured_time_s[-1])
    seen = [
        float(f(a))
        for a in (found.low[inside], found.high[inside], found.measured)
        for f in (np.nanmin, np.nanmax)
        if np.isfinite(a).any()
    ]
    unit = said(f"unit.{found.quantity}", "")
    y = (
        snug(seen, at_most=3, title=unit)
        if min(seen) < 0.35 * max(seen)
        else linear(seen, at_most=4, title=unit)
    )
    side = (
        f"{found.position.replace('_', ' ')} "
        if found.position
        else say("draw.pack_side")
        if found.quantity == "current_a"
        else ""
    )
    what = (side + say(f"quantity.{found.quantity}")).strip()
    heading = what[0].upper() + what[1:]
    marks: list[Mark] = [
        Band(found.time_s[inside], found.low[inside], found.high[inside], "core", say("draw.predicted")),
        Line(found.time_s[inside], found.predicted[inside], "pencil", say("draw.predicted")),
        Line(found.measured_time_s, found.measured, "fine", say("draw.measured")),
    ]
    if not narrow:
        ends = [float(found.measured[-1]), float(found.predicted[inside][-1])]
        spots = apart(ends, 0.14 * (y.high - y.low))
        lift = max(0.0, y.low + 0.03 * (y.high - y.low) - min(spots))
        marks += [
            Label(x.high, spots[0] + lift, say("draw.measured"), "strong", dx=6, dy=4),
            Label(x.high, spots[1] + lift, say("draw.predicted"), "quiet", dx=6, dy=4),
        ]
    size = (358.0, 190.0, Margins(44, 32, 14, 38)) if narrow else (740.0, 190.0, Margins(44, 32, 84, 38))
    side = f"-{found.position}" if found.position else ""
    key = f"replay-{found.quantity}{side}{'-narrow' if narrow else ''}"
    return Drawing(
        key,
        say("draw.replay_title", what=heading),
        say("draw.replay_said"),
        x,
        y,
        tuple(marks),
        *size,
        heading=heading,
    )


def against_stick(
    static: Sequence[Static], limits: Sequence[PredictedMargin] = (), *, narrow: bool = False
) -> Drawing:
    """Static pack current over the stick, with its band and the pack's rating that comes first."""
    ordered = sorted((s for s in static if s.throttle_fraction > 0), key=lambda s: s.throttle_fraction)
    stick = np.array([100 * s.throttle_fraction for s in ordered])
    value, low, high = _band([s.current_a for s in ordered])
    x = linear([0.0, 100.0], title=say("draw.stick"), at_most=4)
    rating = _first_rating(limits, float(high.max()))
    y = snug([float(high.max()), rating.rating_a if rating else 0.0], title=say("unit.A"))
    marks: list[Mark] = [Band(stick, low, high, "band"), Line(stick, value, "pencil")]
    if rating is not None:
        words = say("draw.rating", part=rating_words(rating.part), a=number(rating.rating_a))
        marks += [
            LimitLine(rating.rating_a, x.low, x.high, "above"),
            Label(x.low, rating.rating_a, words, "label", dx=4, dy=-9),
        ]
    for s, at in zip(ordered, stick, strict=True):
        words = say("draw.amperes", a=number(s.current_a.value))
        marks += [
            Dot(
                float(at),
                s.current_a.value,
                "hollow",
                3.2,
                say("draw.amperes", a=number(s.current_a.value, 1)),
            ),
            Label(
                float(at),
                s.current_a.value,
                words,
                "strong" if s is ordered[-1] else "label",
                "end",
                dx=-8,
                dy=-6,
            ),
        ]
    last = ordered[-1]
    said_ = say("draw.stick_said", a=number(last.current_a.value), t=number(float(stick[-1])))
    return Drawing(
        f"stick{'-narrow' if narrow else ''}",
        say("draw.stick_title"),
        said_,
        x,
        y,
        tuple(marks),
        *_size(narrow),
        say("draw.stick_heading"),
    )


def _size(narrow: bool) -> tuple[float, float, Margins]:
    return (358.0, 250.0, Margins(36, 34, 14, 42)) if narrow else (400.0, 274.0, Margins(42, 34, 14, 42))


def _first_rating(
    limits: Sequence[PredictedMargin], highest_a: float, *, near: float = 1.15
) -> PredictedMargin | None:
    """The rating of the whole pack's current that full stick comes closest to; None when it stays far
    below.
    """
    whole = [m for m in limits if m.part.startswith("pack") and m.rating_a < near * highest_a]
    return min(whole, key=lambda m: m.margin_fraction, default=None)


def _band(estimates: Sequence[Estimate]) -> tuple[Floats, Floats, Floats]:
    return (
        np.array([e.value for e in estimates]),
        np.array([e.low for e in estimates]),
        np.array([e.high for e in estimates]),
    )


def plan(legs: Sequence[PredictedLeg], *, narrow: bool = False) -> Drawing | None:
    """Predicted current along the plan, each leg by itself; None without legs."""
    if not legs:
        return None
    ends = list(accumulate(leg.seconds for leg in legs))
    starts = [0.0, *ends[:-1]]
    currents = [leg.current_a for leg in legs]
    x = timeline(0.0, ends[-1], title=say("draw.along_plan"), at_most=5)
    y = snug([max(e.high for e in currents)], title=say("unit.A"))
    width, height, margins = _size(narrow)
    words = [
        f"{said(f'phase.{leg.phase}', leg.phase)} {say('draw.amperes', a=number(e.value))}"
        for leg, e in zip(legs, currents, strict=True)
    ]
    marks: list[Mark] = [Rule(start, y.low, y.high) for start in starts[1:]]
    for e, start, end in zip(currents, starts, ends, strict=True):
        over = np.array([start, end])
        marks += [
            Band(over, np.full(2, e.low), np.full(2, e.high), "band"),
            Line(over, np.full(2, e.value), "pencil"),
        ]
    across = (width - margins.left - margins.right) / (x.high - x.low)
    up = (height - margins.top - margins.bottom) / (y.high - y.low)
    boxes = [
        (start * across, e.low * up, end * across, e.high * up)
        for e, start, end in zip(currents, starts, ends, strict=True)
    ]
    for text, e, at in zip(
        words, currents, _spots(words, boxes, width - margins.left - margins.right), strict=True
    ):
        if at is not None:
            strong = e is max(currents, key=lambda one: one.value)
            marks.append(Label(at[0] / across, at[1] / up, text, "strong" if strong else "label"))
    said_ = say("draw.plan_said", count=len(legs))
    key = f"plan{'-narrow' if narrow else ''}"
    return Drawing(
        key,
        say("draw.plan_title"),
        said_,
        x,
        y,
        tuple(marks),
        width,
        height,
        margins,
        say("draw.plan_heading"),
    )


_Box = tuple[float, float, float, float]
"""Left, bottom, right, top in pixels from the plot's lower left corner."""


def _spots(
    words: Sequence[str], legs: Sequence[_Box], width: float, *, letter: float = 5.8, tall: float = 12.0
) -> list[tuple[float, float] | None]:
    """Where each leg's words start, (x, y): over its middle, else beside it, else over its end, free of legs
    and of other words.
    """
    taken = list(legs)
    found: list[tuple[float, float] | None] = []
    for text, (left, low, right, high) in zip(words, legs, strict=True):
        long = letter * len(text)
        tries = [
            (0.5 * (left + right - long), high + 5.0),
            (right + 5.0, 0.5 * (low + high) - 4.0),
            (right - long, high + 5.0),
            (left - long - 5.0, 0.5 * (low + high) - 4.0),
        ]
        spots = [(x, y, x + long, y + tall) for x, y in tries if x >= 0.0 and x + long <= width]
        free = next(
            (
                s
                for s in spots
                if not any(s[0] < b[2] and b[0] < s[2] and s[1] < b[3] and b[1] < s[3] for b in taken)
            ),
            None,
        )
        found.append(None if free is None else (free[0], free[1]))
        taken += [free] if free else []
    return found


def ratings(limits: Sequence[PredictedMargin], *, narrow: bool = False) -> Drawing | None:
    """Predicted load as a share of each rating; None when the sheet has no ratings."""
    if not limits:
        return None
    ordered = sorted(limits, key=lambda m: m.margin_fraction)
    shares = [m.predicted_a.scaled(100 / m.rating_a) for m in ordered]
    high = max(112.0, max(s.high for s in shares) + 8)
    x = Axis(
        0.0,
        high,
        tuple(
            Tick(t, say("draw.of_rating") if t == 100 else number(t))
            for t in range(0, 101, 20 if not narrow else 50)
        ),
    )
    y = Axis(-len(ordered) + 0.5, 0.5, drawn=False)
    marks: list[Mark] = [LimitLine(100.0, y.low, y.high, "right", until=high)]
    for i, (m, s) in enumerate(zip(ordered, shares, strict=True)):
        over = s.high > 100
        marks += [
            Rule(-i, 0.0, s.low, upright=False),
            Bar(s.low, s.high, -i, "red" if over else "pencil"),
            Dot(s.value, -i, "red" if over else "dot", 3.2),
        ]
        name = say("draw.rating", part=rating_words(m.part), a=number(m.rating_a))
        if narrow:
            marks.append(Label(0.0, -i, name, "label", dx=0, dy=-6))
        else:
            marks.append(Label(0.0, -i, name, "strong" if i == 0 else "label", "end", dx=-10, dy=4))
    worst = ordered[0]
    described = say(
        "draw.ratings_said",
        part=rating_words(worst.part),
        share=number(shares[0].value),
        low=number(shares[0].low),
        high=number(shares[0].high),
    )
    row = 34.0 if narrow else 24.0
    size = (
        (358.0, 46.0 + row * len(ordered), Margins(8, 10, 14, 26))
        if narrow
        else (740.0, 46.0 + row * len(ordered), Margins(230, 10, 14, 26))
    )
    return Drawing(
        f"ratings{'-narrow' if narrow else ''}",
        say("draw.ratings_title"),
        described,
        x,
        y,
        tuple(marks),
        *size,
    )
