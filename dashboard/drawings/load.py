"""What the pack and the motors were asked for: current over the flight, and its largest mean over every
window.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dashboard.drawings.axes import apart, decades, snug, timeline
from dashboard.drawings.marks import (
    Axis,
    Dot,
    Drawing,
    Label,
    LimitLine,
    Line,
    Margins,
    Mark,
    Role,
    Rule,
    Window,
)
from dashboard.figures import clock, number
from dashboard.texts import said, say
from telemetry.analysis.current import Current, Margin, Sustained
from telemetry.estimate import Undecided, value_of
from telemetry.sentences import rating_words
from telemetry.trace import Flight, Samples


def over_time(
    samples: Samples,
    flight: Flight,
    current: Current,
    *,
    packs: int = 1,
    narrow: bool = False,
    window: Window | None = None,
) -> Drawing:
    """Current of all `packs` over the flight, its phases, its peak and the steady ratings of the whole."""
    x = timeline(
        *(window or (flight.start_s, flight.end_s)),
        title=say("draw.since_power_on"),
        at_most=4 if narrow else 9,
    )
    steady = _lowest_rating([m for m in current.limits if m.position == ""])
    highest = float(np.max(samples.values)) if samples.values.size else 1.0
    tops = [highest, steady.rating_a] if steady and steady.rating_a < 1.6 * highest else [highest]
    y = snug([float(np.min(samples.values, initial=0.0)), *tops], title=say("unit.A"))
    marks: list[Mark] = [*_phases(flight, x, y, narrow=narrow)]
    if steady and steady.rating_a <= y.high:
        marks += _rating_line(steady, x, narrow=narrow)
    name = say("draw.pack_current") if packs < 2 else _whole(packs).lower()
    marks.append(Line(samples.time_s, samples.values, "ink", name))
    if not isinstance(current.peak_a, Undecided) and not isinstance(current.peak_at_s, Undecided):
        late = current.peak_at_s > x.low + 0.75 * (x.high - x.low)
        marks += [
            Dot(current.peak_at_s, current.peak_a, "dot", 3.0),
            Label(
                current.peak_at_s,
                current.peak_a,
                say("draw.amperes", a=number(current.peak_a, 1)),
                "strong",
                "end" if late else "start",
                -8 if late else 8,
                2,
            ),
        ]
    peak = value_of(current.peak_a)
    described = say("draw.current_said", peak=number(peak, 1) if peak is not None else say("page.undecided"))
    size = (358.0, 220.0, Margins(44, 38, 14, 38)) if narrow else (740.0, 250.0, Margins(44, 38, 98, 38))
    return Drawing(
        f"current{'-narrow' if narrow else ''}",
        say("draw.current_title"),
        described,
        x,
        y,
        tuple(marks),
        *size,
    )


def _lowest_rating(limits: Sequence[Margin]) -> Margin | None:
    """The rating that allows least for longest."""
    steady = [m for m in limits if m.window_s >= 30] or list(limits)
    return min(steady, key=lambda m: m.rating_a, default=None)


def _rating_line(m: Margin, x: Axis, *, narrow: bool) -> list[Mark]:
    line = LimitLine(m.rating_a, x.low, x.high, "above")
    part = m.part.rsplit(",", 1)[0]
    if narrow:
        return [
            line,
            Label(
                x.high,
                m.rating_a,
                say("draw.rating_over", part=part, a=number(m.rating_a), s=number(m.window_s)),
                "label",
                "end",
                dy=-10,
            ),
        ]
    return [
        line,
        Label(x.high, m.rating_a, say("draw.rating", part=part, a=number(m.rating_a)), "label", dx=6, dy=1),
        Label(x.high, m.rating_a, say("draw.over_seconds", s=number(m.window_s)), "quiet", dx=6, dy=15),
    ]


def _phases(flight: Flight, x: Axis, y: Axis, *, narrow: bool) -> list[Mark]:
    """A thin line at each change of phase, its name above where there is room."""
    marks: list[Mark] = []
    span_s, px = x.high - x.low, 300 if narrow else 598
    lines: list[float] = []
    for phase in flight.phases:
        if phase.end_s <= x.low or phase.start_s >= x.high:
            continue
        if x.low < phase.start_s < x.high:
            marks.append(Rule(phase.start_s, y.low, y.high))
            lines.append(phase.start_s)
        name = said(f"phase.{phase.name}", phase.name)
        width = (min(phase.end_s, x.high) - max(phase.start_s, x.low)) / span_s * px
        middle = (max(phase.start_s, x.low) + min(phase.end_s, x.high)) / 2
        if width > 6.2 * len(name) + 6:
            marks.append(Label(middle, y.high, name, "quiet", "middle", dy=-10))
        elif phase.name in ("takeoff", "go_around"):
            marks.append(Label(middle, y.high, name, "quiet", "middle", dy=-24))
    return marks


def _whole(packs: int) -> str:
    """What the sum of all packs' currents is called."""
    return say("draw.whole_pack" if packs < 2 else "draw.both_packs" if packs == 2 else "draw.all_packs")


def windows_of_pack(current: Current, *, packs: int = 1, narrow: bool = False) -> Drawing | None:
    """Largest mean current of all `packs` over every window, against the ratings that speak of it."""
    limits = [m for m in current.limits if m.position == ""]
    return (
        _windows("pack", _whole(packs), {"": current.sustained}, limits, narrow=narrow)
        if current.sustained
        else None
    )


def windows_of_motors(current: Current, *, narrow: bool = False) -> Drawing | None:
    """The same for each motor, against motor and controller ratings; None when motors were not logged
    apart.
    """
    curves = {p: c for p, c in current.by_motor.items() if c}
    limits = [m for m in current.limits if m.position in curves]
    return _windows("motors", say("draw.each_motor"), curves, limits, narrow=narrow) if curves else None


def _windows(
    key: str, heading: str, curves: dict[str, tuple[Sustained, ...]], limits: list[Margin], *, narrow: bool
) -> Drawing:
    seconds = [s.window_s for c in curves.values() for s in c]
    low, high = min(seconds), max(max(seconds), min(seconds) * 10)
    x = decades(low, high, title=say("draw.window_length"), also=(30.0,))
    ratings = _distinct(limits)
    largest = max(s.max_mean_a for c in curves.values() for s in c)
    shown = [m for m in ratings if m.rating_a <= 3.2 * largest]
    y = snug([largest, *(m.rating_a for m in shown)], title=say("unit.A"))
    marks: list[Mark] = []
    room = 22 / 218 * (y.high - y.low)
    for m in shown:
        crowded = any(
            o is not m and 0 <= o.rating_a - m.rating_a < room and (o.window_s >= 30) == (m.window_s >= 30)
            for o in shown
        )
        marks += _rating_stretch(m, ratings, low, high, several=len(curves) > 1, below=crowded)
    for position, curve in curves.items():
        marks.append(
            Line(
                np.array([s.window_s for s in curve]),
                np.array([s.max_mean_a for s in curve]),
                _curve_role(position),
                position or heading,
            )
        )
    marks += _curve_names(curves, y) + _closest(limits, y)
    margins = Margins(42, 34, 14, 42)
    return Drawing(
        f"windows-{key}{'-narrow' if narrow else ''}",
        say(f"draw.windows_{key}"),
        say("draw.windows_said", a=number(largest, 1)),
        x,
        y,
        tuple(marks),
        358.0,
        294.0,
        margins,
        heading,
    )


def _curve_role(position: str) -> Role:
    return (
        "left"
        if position.startswith("left") or position == "1"
        else "right"
        if position.startswith("right") or position == "2"
        else "bold"
    )


def _distinct(limits: list[Margin]) -> list[Margin]:
    """One of each rating: both motors usually carry the same."""
    found: dict[tuple[str, float, float], Margin] = {}
    for m in limits:
        part = m.part.removeprefix(m.position.replace("_", " ")).strip() if m.position else m.part
        found.setdefault((part, m.rating_a, m.window_s), m)
    return list(found.values())


def _rating_stretch(
    m: Margin, all_of_them: list[Margin], low: float, high: float, *, several: bool, below: bool
) -> list[Mark]:
    """A rating is drawn only over the lengths it speaks of: from its window up, or up to it for a burst."""
    part = m.part.removeprefix(m.position.replace("_", " ")).strip() if m.position and several else m.part
    steady = m.window_s >= 30 or not any(o.window_s > m.window_s for o in all_of_them)
    start, end = (max(m.window_s, low), high) if steady else (low, min(m.window_s, high))
    if start >= end:
        return []
    text = say("draw.rating", part=rating_words(part), a=number(m.rating_a))
    return [
        LimitLine(m.rating_a, start, end, "above", ends=True),
        Label(
            end if steady else start,
            m.rating_a,
            text,
            "label",
            "end" if steady else "start",
            dy=15 if below else -9,
        ),
    ]


def _curve_names(curves: dict[str, tuple[Sustained, ...]], y: Axis) -> list[Mark]:
    if len(curves) == 1:
        (curve,) = curves.values()
        first, last = curve[0], curve[-1]
        whole = say("draw.whole_flight", a=number(last.max_mean_a, 1))
        return [
            Label(
                first.window_s,
                first.max_mean_a,
                say("draw.amperes", a=number(first.max_mean_a, 1)),
                "strong",
                dx=5,
                dy=-9,
            ),
            Label(last.window_s, last.max_mean_a, whole, "label", "end", dy=18),
        ]
    firsts = [c[0].max_mean_a for c in curves.values()]
    spots = apart(firsts, 0.075 * (y.high - y.low))
    roles = {"left": "left", "right": "right", "bold": "strong"}
    return [
        Label(
            c[0].window_s,
            at,
            p.replace("_", " "),
            roles[_curve_role(p)],
            dx=8,
            dy=-8 if at >= max(spots) else 14,
        )  # type: ignore[arg-type]
        for (p, c), at in zip(curves.items(), spots, strict=True)
    ]


def _closest(limits: list[Margin], y: Axis) -> list[Mark]:
    """A dot where the least is left to a rating, and how much."""
    known = [
        m
        for m in limits
        if not isinstance(m.margin_fraction, Undecided) and value_of(m.measured_a) is not None
    ]
    if not known:
        return []
    worst = min(known, key=lambda m: value_of(m.margin_fraction) or 0.0)
    left = 100 * float(value_of(worst.margin_fraction) or 0.0)
    over = left < 0
    text = say("draw.percent_over", n=number(-left)) if over else say("draw.percent_left", n=number(left))
    a = float(value_of(worst.measured_a) or 0.0)
    room_px = 218 * (a - y.low) / (y.high - y.low)
    return [
        Dot(worst.window_s, a, "ring" if over else "dot", 4.0, rating_words(worst.part)),
        Label(
            worst.window_s,
            a,
            text,
            "red" if over else "strong",
            "end",
            dx=-8,
            dy=max(16.0, min(44.0, room_px - 5)),
            leader=True,
        ),
    ]


def when(at_s: float | Undecided) -> str:
    """min:s, or the word that stands for it."""
    return say("page.undecided") if isinstance(at_s, Undecided) else clock(at_s)
