"""Charge drawn against time after throttle-up: this flight, the likely next ones, the reserve and the alarm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dashboard.drawings.axes import linear, snug
from dashboard.drawings.marks import Band, Dimension, Dot, Drawing, Label, Limit, Line, Margins, Mark, Rule
from dashboard.figures import clock, number
from dashboard.words import say
from telemetry.history import PastFlight
from telemetry.season.timer import Timer
from telemetry.trace import Samples


def futures(timer: Timer, flown: Samples | None, *, start_s: float = 0.0, past: Sequence[PastFlight] = (), narrow: bool = False) -> Drawing:
    """The fan of likely futures with reserve, alarm and landing.

    Parameters
    ----------
    flown : charge drawn in this flight, or None. [s since power on, mAh]
    start_s : throttle-up on that clock. [s]
    past : earlier flights, a dot each.
    """
    empty_mah = timer.usable_mah / (1 - timer.reserve_fraction)
    rate = timer.rate_mah_per_min.value
    latest = max(
        [timer.usable_mah / max(timer.rate_mah_per_min.low, 1e-6), (timer.alarm_s + timer.landing_allowance_s) / 60, *(f.duration_s / 60 for f in past)]
    )
    if flown is not None and flown.time_s.size:
        latest = max(latest, (float(flown.time_s[-1]) - start_s) / 60)
    x = linear([0.0, min(latest, 3 * empty_mah / max(rate, 1e-6))], title=say("draw.since_throttle_up"), at_most=4 if narrow else 10)
    y = snug([empty_mah], title=say("draw.mah_drawn"), at_most=6, headroom=0.0)
    marks: list[Mark] = [*_fan(timer, x.high, timer.usable_mah), Limit(timer.usable_mah, 0.0, x.high, "above", until=empty_mah)]
    if flown is not None and flown.time_s.size > 1:
        minutes = (flown.time_s - start_s) / 60
        marks += [
            Line(minutes, flown.values, "bold", say("draw.this_flight")),
            Dot(float(minutes[-1]), float(flown.values[-1]), "dot", 4.5, say("draw.this_flight")),
        ]
        crossed = 0 <= timer.alarm_s / 60 - float(minutes[-1]) < 0.16 * x.high
        where = ("end", -6.0, -12.0) if crossed else ("start", 9.0, 14.0)
        marks.append(Label(float(minutes[-1]), float(flown.values[-1]), say("draw.this_flight"), "strong", *where))
    marks += [
        Dot(f.duration_s / 60, f.consumed_mah, "hollow", 2.6, f.date or say("draw.earlier_flight"))
        for f in past
        if f.duration_s / 60 <= x.high and f.consumed_mah <= empty_mah
    ]
    marks += _alarm(timer, x.high, narrow=narrow)
    if narrow:
        marks.append(Label(0.0, timer.usable_mah, say("draw.reserve_begins_at", mah=number(timer.usable_mah)), "label", dx=6, dy=16))
    else:
        marks += [
            Label(x.high, empty_mah, say("draw.empty", mah=number(empty_mah)), "quiet", dx=6, dy=6),
            Label(x.high, timer.usable_mah, say("draw.reserve_begins"), "label", dx=6, dy=4),
            Label(x.high, timer.usable_mah, say("draw.mah", mah=number(timer.usable_mah)), "quiet", dx=6, dy=18),
        ]
    size = (358.0, 350.0, Margins(44, 30, 14, 38)) if narrow else (740.0, 380.0, Margins(50, 34, 118, 38))
    described = say("draw.futures_said", alarm=clock(timer.alarm_s), landed=clock(timer.alarm_s + timer.landing_allowance_s), mah=number(timer.usable_mah))
    return Drawing(f"futures{'-narrow' if narrow else ''}", say("draw.futures_title"), described, x, y, tuple(marks), *size)


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
    marks.append(Label(alarm, foot, say("draw.alarm", at=clock(timer.alarm_s)), "strong", "end" if left else "start", dx=-7 if left else 7, dy=-9))
    if timer.landing_allowance_s > 0:
        marks += [Rule(landed, 0.0, min(top, timer.rate_mah_per_min.value * landed * 1.12), role="leader"), Dimension(alarm, foot, landed, foot)]
        marks.append(Label(landed, foot, say("draw.landed", at=clock(60 * landed)), "label", dx=6, dy=4))
    if timer.limited_by != "charge" and not narrow:
        marks.append(Label(alarm, timer.rate_mah_per_min.value * alarm * 1.22, say(f"draw.limited_{timer.limited_by}"), "label", "middle", dy=-8))
    return marks
