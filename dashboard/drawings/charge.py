"""Charge drawn against time after throttle-up: this flight, the likely next ones, the reserve and the
alarm.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dashboard.drawings.axes import linear, snug
from dashboard.drawings.marks import (
    Band,
    Dimension,
    Dot,
    Drawing,
    Label,
    LimitLine,
    Line,
    Margins,
    Mark,
    Rule,
)
from dashboard.figures import clock, number
from dashboard.texts import say
from telemetry.history import PastFlight
from telemetry.season.timer import Timer
from telemetry.trace import Samples


def futures(
    timer: Timer,
    flown: Samples | None,
    *,
    start_s: float = 0.0,
    past: Sequence[PastFlight] = (),
    narrow: bool = False,
) -> Drawing:
    """The fan of likely futures with reserve, alarm and landing.

    Parameters
    ----------
    flown : charge drawn in this flight, or None. [s since power on, mAh]
    start_s : throttle-up on that clock. [s]
    past : earlier flights, a dot each.
    """
    empty_mah = timer.usable_mah / (1 - timer.reserve_fraction)
    x = linear(
        [0.0, _latest(timer, flown, start_s, past, empty_mah)],
        title=say("draw.since_throttle_up"),
        at_most=4 if narrow else 10,
    )
    y = snug([empty_mah], title=say("draw.mah_drawn"), at_most=6, headroom=0.0)
    marks: list[Mark] = [
        *_fan(timer, x.high, timer.usable_mah),
        LimitLine(timer.usable_mah, 0.0, x.high, "above", until=empty_mah),
    ]
    if flown is not None and flown.time_s.size > 1:
        marks += _flown(flown, start_s, timer, x.high)
    marks += [
        Dot(f.duration_s / 60, f.consumed_mah, "hollow", 2.6, f.date or say("draw.earlier_flight"))
        for f in past
        if f.duration_s / 60 <= x.high and f.consumed_mah <= empty_mah
    ]
    marks += [*_alarm(timer, x.high, narrow=narrow), *_edges(timer, x.high, empty_mah, narrow=narrow)]
    size = (358.0, 350.0, Margins(44, 30, 14, 38)) if narrow else (740.0, 380.0, Margins(50, 34, 118, 38))
    landed = clock(timer.alarm_s + timer.landing_allowance_s)
    described = say(
        "draw.futures_said", alarm=clock(timer.alarm_s), landed=landed, mah=number(timer.usable_mah)
    )
    return Drawing(
        f"futures{'-narrow' if narrow else ''}",
        say("draw.futures_title"),
        described,
        x,
        y,
        tuple(marks),
        *size,
    )


def _latest(
    timer: Timer, flown: Samples | None, start_s: float, past: Sequence[PastFlight], empty_mah: float
) -> float:
    """How far the time axis has to reach. [min]"""
    slowest, likely = max(timer.rate_mah_per_min.low, 1e-6), max(timer.rate_mah_per_min.value, 1e-6)
    ends = [
        timer.usable_mah / slowest,
        (timer.alarm_s + timer.landing_allowance_s) / 60,
        *(f.duration_s / 60 for f in past),
    ]
    if flown is not None and flown.time_s.size:
        ends.append((float(flown.time_s[-1]) - start_s) / 60)
    return min(max(ends), 2 * empty_mah / likely)


def _flown(flown: Samples, start_s: float, timer: Timer, end_min: float) -> list[Mark]:
    """This flight's own line and where it ended."""
    minutes = (flown.time_s - start_s) / 60
    last, drawn = float(minutes[-1]), float(flown.values[-1])
    crossed = 0 <= timer.alarm_s / 60 - last < 0.16 * end_min
    name = say("draw.this_flight")
    words = (
        Label(last, drawn, name, "strong", "end", -6, -12)
        if crossed
        else Label(last, drawn, name, "strong", "start", 9, 14)
    )
    return [Line(minutes, flown.values, "bold", name), Dot(last, drawn, "dot", 4.5, name), words]


def _edges(timer: Timer, end_min: float, empty_mah: float, *, narrow: bool) -> list[Mark]:
    """Where the reserve begins and where the pack is empty, in words."""
    if narrow:
        return [
            Label(
                0.0,
                timer.usable_mah,
                say("draw.reserve_begins_at", mah=number(timer.usable_mah)),
                "label",
                dx=6,
                dy=16,
            )
        ]
    return [
        Label(end_min, empty_mah, say("draw.empty", mah=number(empty_mah)), "quiet", dx=6, dy=6),
        Label(end_min, timer.usable_mah, say("draw.reserve_begins"), "label", dx=6, dy=4),
        Label(end_min, timer.usable_mah, say("draw.mah", mah=number(timer.usable_mah)), "quiet", dx=6, dy=18),
    ]


def _fan(timer: Timer, end_min: float, ceiling_mah: float) -> list[Mark]:
    """Likely next flights: 95 % in the light band, half in the dark one."""
    minutes = np.linspace(0.0, end_min, 60)
    if timer.fan is None or len(timer.fan.rate_mah_per_min) < 5:
        e = timer.rate_mah_per_min
        outer, inner, middle = (e.low, e.high), None, e.value
    else:
        lowest, low, mid, high, highest = timer.fan.rate_mah_per_min[:5]
        outer, inner, middle = (lowest, highest), (low, high), mid

    def up_to(rate: float) -> np.ndarray:
        return np.minimum(rate * minutes, ceiling_mah)

    marks: list[Mark] = [Band(minutes, up_to(outer[0]), up_to(outer[1]), "band", say("draw.next_95"))]
    if inner:
        marks.append(Band(minutes, up_to(inner[0]), up_to(inner[1]), "core", say("draw.next_half")))
    inside = middle * minutes <= ceiling_mah
    return [*marks, Line(minutes[inside], middle * minutes[inside], "pencil", say("draw.next_likely"))]


def _alarm(timer: Timer, end_min: float, *, narrow: bool) -> list[Mark]:
    alarm, landed = timer.alarm_s / 60, (timer.alarm_s + timer.landing_allowance_s) / 60
    foot, top = 0.045 * timer.usable_mah, timer.usable_mah
    marks: list[Mark] = [Rule(alarm, 0.0, min(top, timer.rate_mah_per_min.value * alarm * 1.22), role="ink")]
    left = alarm / end_min > 0.28
    marks.append(
        Label(
            alarm,
            foot,
            say("draw.alarm", at=clock(timer.alarm_s)),
            "strong",
            "end" if left else "start",
            dx=-7 if left else 7,
            dy=-9,
        )
    )
    if timer.landing_allowance_s > 0:
        marks += [
            Rule(landed, 0.0, min(top, timer.rate_mah_per_min.value * landed * 1.12), role="leader"),
            Dimension(alarm, foot, landed, foot),
        ]
        marks.append(Label(landed, foot, say("draw.landed", at=clock(60 * landed)), "label", dx=6, dy=4))
    if timer.limited_by != "charge" and not narrow:
        marks.append(
            Label(
                alarm,
                timer.rate_mah_per_min.value * alarm * 1.22,
                say(f"draw.limited_{timer.limited_by}"),
                "label",
                "middle",
                dy=-8,
            )
        )
    return marks
