"""Temperatures of motors and controllers: over a limit, and hotter than the twin's, two facts apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.analysis.motors.results import Event
from telemetry.analysis.motors.rows import stretches
from telemetry.sentences import say
from telemetry.sheet.setup import Drive
from telemetry.signals import Signals
from telemetry.trace import Floats, Samples, Span, Stretch

PARTS = ("motor", "controller")


@dataclass(frozen=True, slots=True)
class OverTemperature:
    """A temperature over its limit: the hottest reading, and when it was over. [°C, s]"""

    hottest_c: float
    limit_c: float
    spans: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class PartTemperature:
    """What was logged of one motor's or controller's temperature, and the sheet's limit. [°C]

    `part` is "motor" or "controller"; `limit_c` None where the sheet gives none.
    """

    position: str
    part: str
    samples: Samples
    limit_c: float | None

    @property
    def name(self) -> str:
        """The part in words: "left outer motor"."""
        return f"{self.position.replace('_', ' ')} {self.part}"

    @property
    def over(self) -> OverTemperature | None:
        """When it was over the sheet's limit; None when it was not, or where there is no limit."""
        return None if self.limit_c is None else over_temperature(self.samples, self.limit_c)


def part_temperatures(
    signals: Signals, drives: Sequence[Drive], *, within: Span | None = None
) -> tuple[PartTemperature, ...]:
    """Every logged temperature of a motor or controller, left first.

    Parameters
    ----------
    drives : what the sheet says of each motor; may be empty.
    within : the flight by default.
    """
    limits_c = {(d.position, part): getattr(d, part).max_temperature_c for d in drives for part in PARTS}
    found: list[PartTemperature] = []
    for position in signals.motors:
        for part in PARTS:
            span = within or signals.flight
            samples = signals.trace.fresh(f"{part}_temperature_c", position, within=span)
            if samples is not None and samples.values.size:
                found.append(PartTemperature(position, part, samples, limits_c.get((position, part))))
    return tuple(found)


def over_temperature(samples: Samples, limit_c: float, *, bridge_s: float = 20.0) -> OverTemperature | None:
    """When a temperature was above a limit; None when it never was.

    Parameters
    ----------
    bridge_s : a part that cools for less is still the same hot part.
    """
    if not samples.values.size or float(samples.values.max()) <= limit_c:
        return None
    spans = stretches(samples.time_s, samples.values > limit_c, shortest_s=0.0, bridge_s=bridge_s)
    return OverTemperature(float(samples.values.max()), limit_c, spans)


def heat_events(temperatures: Sequence[PartTemperature], pairs: Sequence[tuple[str, str]]) -> list[Event]:
    """Every stretch over a limit (`against` "limit"), and every one hotter than the twin ("twin")."""
    by_place = {(t.position, t.part): t for t in temperatures}
    found = [event for one in temperatures for event in _over_limit(one)]
    for left, right in pairs:
        for part in PARTS:
            one, two = by_place.get((left, part)), by_place.get((right, part))
            if one is not None and two is not None:
                found += _apart(one, two)
    return _joined(found)


def _over_limit(one: PartTemperature) -> list[Event]:
    over = one.over
    if over is None:
        return []
    shown = say("events", "over_limit", part=one.part, hottest_c=over.hottest_c, limit_c=over.limit_c)
    return [
        Event("overheating", one.position, s.start_s, s.end_s, against="limit", evidence=shown)
        for s in over.spans
    ]


def _apart(
    left: PartTemperature, right: PartTemperature, *, least_c: float = 12.0, share: float = 0.35
) -> list[Event]:
    """A temperature that runs away from its twin's.

    Parameters
    ----------
    least_c : like motors stay within some degrees of each other.
    share : of the twin's own rise; cooling and propellers of one batch explain less.
    """
    time = left.samples.time_s
    if min(time.size, right.samples.time_s.size) < 3:
        return []
    one, two = left.samples.values, np.interp(time, *right.samples)
    early = time <= time[0] + max(10.0, 0.05 * (time[-1] - time[0]))
    apart = (one - np.median(one[early])) - (two - np.median(two[early]))
    found = []
    for sign, side, own, twin in ((1.0, left, one, two), (-1.0, right, two, one)):
        allowed = np.maximum(least_c, share * np.maximum(twin - np.median(twin[early]), 0.0))
        calm = time[sign * apart < 0.25 * allowed]
        for span in stretches(time, sign * apart > allowed, shortest_s=3.0, bridge_s=20.0):
            inside = (time >= span.start_s) & (time <= span.end_s)
            at = int(np.argmax(np.where(inside, sign * apart, -np.inf)))
            shown = say("events", "over_twin", part=side.part, own_c=own[at], twin_c=twin[at])
            start_s = _since(calm, span.start_s)
            found.append(
                Event("overheating", side.position, start_s, span.end_s, against="twin", evidence=shown)
            )
    return found


def _since(calm_s: Floats, at_s: float) -> float:
    """The last calm moment before, where the running away began."""
    before = calm_s[calm_s <= at_s]
    return float(before[-1]) if before.size else at_s


def _joined(events: Sequence[Event]) -> list[Event]:
    """Overlapping events of one motor and its controller as one, each kind of comparison apart."""
    kept: list[Event] = []
    for event in sorted(events, key=lambda e: (e.motor, e.against, e.start_s)):
        last = kept[-1] if kept else None
        if last is None or (last.motor, last.against) != (event.motor, event.against):
            kept.append(event)
        elif event.start_s <= last.end_s:
            end_s = max(last.end_s, event.end_s)
            kept[-1] = replace(last, end_s=end_s, evidence=f"{last.evidence}; {event.evidence}")
        else:
            kept.append(event)
    return kept
