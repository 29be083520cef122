"""What was expected: bands over the measured flight, current against stick, the plan, load against ratings."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

import numpy as np

from dashboard.drawings.axes import apart, linear, snug, timeline
from dashboard.drawings.marks import Axis, Band, Bar, Dot, Drawing, Floats, Label, Limit, Line, Margins, Mark, Rule, Tick, Window
from dashboard.figures import number
from dashboard.words import said, say
from telemetry.prediction.results import PredictedLeg, PredictedMargin, Replay, Static


def replay(found: Replay, *, narrow: bool = False, window: Window | None = None) -> Drawing:
    """The measured line over the band that the measured throttle leads one to expect."""
    x = timeline(*(window or (float(found.measured_time_s[0]), float(found.measured_time_s[-1]))), title=say("draw.since_power_on"), at_most=4 if narrow else 9)
    inside = (found.time_s >= found.measured_time_s[0]) & (found.time_s <= found.measured_time_s[-1])
    seen = [float(f(a)) for a in (found.low[inside], found.high[inside], found.measured) for f in (np.nanmin, np.nanmax) if np.isfinite(a).any()]
    unit = said(f"unit.{found.quantity}", "")
    y = snug(seen, at_most=3, title=unit) if min(seen) < 0.35 * max(seen) else linear(seen, at_most=4, title=unit)
    side = f"{found.position.replace('_', ' ')} " if found.position else say("draw.pack_side") if found.quantity == "current_a" else ""
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
    key = f"replay-{found.quantity}{'-' + found.position if found.position else ''}{'-narrow' if narrow else ''}"
    return Drawing(key, say("draw.replay_title", what=heading), say("draw.replay_said"), x, y, tuple(marks), *size, heading=heading)


def against_stick(static: Sequence[Static]) -> Drawing:
    """Pack current held still, over the stick, with its band."""
    ordered = sorted((s for s in static if s.throttle_fraction > 0), key=lambda s: s.throttle_fraction)
    stick = np.array([100 * s.throttle_fraction for s in ordered])
    value, low, high = _band([s.current_a for s in ordered])
    x = linear([0.0, 100.0], title=say("draw.stick"), at_most=4)
    y = snug([float(high.max())], title=say("unit.A"))
    marks: list[Mark] = [Band(stick, low, high, "band"), Line(stick, value, "pencil")]
    for s, at in zip(ordered, stick, strict=True):
        marks.append(Dot(float(at), s.current_a.value, "hollow", 3.2, say("draw.amperes", a=number(s.current_a.value, 1))))
    last = ordered[-1]
    marks.append(Label(float(stick[-1]), last.current_a.value, say("draw.amperes", a=number(last.current_a.value)), "strong", "end", dx=-10, dy=-4))
    said_ = say("draw.stick_said", a=number(last.current_a.value), t=number(float(stick[-1])))
    return Drawing("stick", say("draw.stick_title"), said_, x, y, tuple(marks), 400.0, 274.0, Margins(42, 34, 14, 42), say("draw.stick_heading"))


def _band(estimates: Sequence[object]) -> tuple[Floats, Floats, Floats]:
    from telemetry.estimate import Estimate

    found = [e for e in estimates if isinstance(e, Estimate)]
    return np.array([e.value for e in found]), np.array([e.low for e in found]), np.array([e.high for e in found])


def plan(legs: Sequence[PredictedLeg]) -> Drawing | None:
    """Predicted current along the plan, leg by leg; None without legs."""
    if not legs:
        return None
    ends = list(accumulate(leg.seconds for leg in legs))
    starts = [0.0, *ends[:-1]]
    edges = np.array([t for pair in zip(starts, ends, strict=True) for t in pair])
    value, low, high = (np.repeat(a, 2) for a in _band([leg.current_a for leg in legs]))
    x = timeline(0.0, ends[-1], title=say("draw.along_plan"), at_most=5)
    y = snug([float(high.max())], title=say("unit.A"))
    marks: list[Mark] = [Band(edges, low, high, "band"), Line(edges, value, "pencil")]
    for leg, start, end in zip(legs, starts, ends, strict=True):
        words = f"{said(f'phase.{leg.phase}', leg.phase)} {number(leg.current_a.value)}"
        if (end - start) / ends[-1] * 340 > 6.2 * len(words):
            marks.append(Label((start + end) / 2, leg.current_a.high, words, "label", "middle", dy=-8))
        elif leg is max(legs, key=lambda one: one.current_a.value):
            marks.append(Label(end, leg.current_a.value, words, "strong", dx=7, dy=8))
    return Drawing(
        "plan",
        say("draw.plan_title"),
        say("draw.plan_said", count=len(legs)),
        x,
        y,
        tuple(marks),
        400.0,
        274.0,
        Margins(42, 34, 14, 42),
        say("draw.plan_heading"),
    )


def ratings(limits: Sequence[PredictedMargin], *, narrow: bool = False) -> Drawing | None:
    """Predicted load as a share of each rating; None when the sheet has no ratings."""
    if not limits:
        return None
    ordered = sorted(limits, key=lambda m: m.margin_fraction)
    shares = [m.predicted_a.scaled(100 / m.rating_a) for m in ordered]
    high = max(112.0, max(s.high for s in shares) + 8)
    x = Axis(0.0, high, tuple(Tick(t, say("draw.of_rating") if t == 100 else number(t)) for t in range(0, 101, 20 if not narrow else 50)))
    y = Axis(-len(ordered) + 0.5, 0.5, drawn=False)
    marks: list[Mark] = [Limit(100.0, y.low, y.high, "right", until=high)]
    for i, (m, s) in enumerate(zip(ordered, shares, strict=True)):
        over = s.high > 100
        marks += [Rule(-i, 0.0, s.low, upright=False), Bar(s.low, s.high, -i, "red" if over else "pencil"), Dot(s.value, -i, "red" if over else "dot", 3.2)]
        name = say("draw.rating", part=m.part, a=number(m.rating_a))
        if narrow:
            marks.append(Label(0.0, -i, name, "label", dx=0, dy=-6))
        else:
            marks.append(Label(0.0, -i, name, "strong" if i == 0 else "label", "end", dx=-10, dy=4))
    worst = ordered[0]
    described = say("draw.ratings_said", part=worst.part, share=number(shares[0].value), low=number(shares[0].low), high=number(shares[0].high))
    row = 34.0 if narrow else 24.0
    size = (358.0, 46.0 + row * len(ordered), Margins(8, 10, 14, 26)) if narrow else (740.0, 46.0 + row * len(ordered), Margins(230, 10, 14, 26))
    return Drawing(f"ratings{'-narrow' if narrow else ''}", say("draw.ratings_title"), described, x, y, tuple(marks), *size)
