"""The phases of one flight."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.flights.airborne import Height
from telemetry.analysis.flights.signals import Signals
from telemetry.estimate import Undecided
from telemetry.trace import Floats, Phase, Span, runs


def phases_of(
    signals: Signals,
    height: Height | None,
    span: Span,
    takeoff_s: float | Undecided,
    landing_s: float | Undecided,
) -> tuple[Phase, ...]:
    """Ground, take-off, the flight itself, landing, ground; without altitude the flight itself is all
    cruise.
    """
    begins = span.start_s if isinstance(takeoff_s, Undecided) else takeoff_s
    ends = span.end_s if isinstance(landing_s, Undecided) else landing_s
    parts: list[Phase] = []
    if not isinstance(takeoff_s, Undecided):
        rolls = _roll_starts(signals, span, takeoff_s)
        parts = [
            Phase("ground", span.start_s, rolls),
            Phase("takeoff", rolls, _clear_of_ground(signals, height, takeoff_s, ends)),
        ]
        begins = parts[-1].end_s
    parts += _in_the_air(signals, height, begins, ends)
    if not isinstance(landing_s, Undecided):
        stops = _roll_ends(signals, span, landing_s)
        parts += [Phase("landing", landing_s, stops), Phase("ground", stops, span.end_s)]
    return tuple(p for p in parts if p.end_s > p.start_s)


def _roll_starts(signals: Signals, span: Span, takeoff_s: float, *, longest_s: float = 15.0) -> float:
    """The last moment before the take-off at which the motors did little."""
    before = (signals.time_s >= max(span.start_s, takeoff_s - longest_s)) & (signals.time_s <= takeoff_s)
    idle = signals.time_s[before][signals.effort[before] < 0.3]
    return float(idle[-1]) if idle.size else max(span.start_s, takeoff_s - 3.0)


def _clear_of_ground(
    signals: Signals,
    height: Height | None,
    takeoff_s: float,
    ends_s: float,
    *,
    clear_m: float = 10.0,
    longest_s: float = 8.0,
) -> float:
    if height is None:
        return min(takeoff_s + 3.0, ends_s)
    after = (signals.time_s > takeoff_s) & (signals.time_s < min(takeoff_s + longest_s, ends_s))
    high = signals.time_s[after][height.metres[after] > clear_m]
    return float(high[0]) if high.size else min(takeoff_s + longest_s, ends_s)


def _roll_ends(
    signals: Signals, span: Span, landing_s: float, *, stopped_mps: float = 1.0, usual_s: float = 6.0
) -> float:
    if signals.rolling is not None:
        after = (signals.time_s > landing_s) & (signals.time_s <= span.end_s)
        stopped = signals.time_s[after][signals.smooth(signals.rolling, 0.5)[after] < stopped_mps]
        if stopped.size:
            return float(stopped[0])
    return min(landing_s + usual_s, span.end_s)


def _in_the_air(signals: Signals, height: Height | None, begins_s: float, ends_s: float) -> list[Phase]:
    inside = (signals.time_s >= begins_s) & (signals.time_s <= ends_s)
    if height is None or np.count_nonzero(inside) * signals.step_s < 6.0:
        return [Phase("cruise", begins_s, ends_s)]
    time_s, metres = signals.time_s[inside], signals.smooth(height.metres, 2.0)[inside]
    names = _steep(time_s, metres, signals.step_s)
    usual_m = float(np.median(metres))
    _mark_approach(names, metres, usual_m)
    _mark_go_arounds(names, metres, usual_m, signals.step_s)
    cuts = np.concatenate(([0], np.flatnonzero(names[1:] != names[:-1]) + 1, [names.size]))
    edges = np.concatenate(([begins_s], time_s[cuts[1:-1]], [ends_s]))
    return [Phase(str(names[cuts[k]]), float(edges[k]), float(edges[k + 1])) for k in range(cuts.size - 1)]


def _steep(
    time_s: Floats, metres: Floats, step_s: float, *, rate_mps: float = 1.0, least_m: float = 8.0
) -> np.ndarray:
    """Climb and descent where height changes steadily by enough to notice, else cruise."""
    names = np.full(time_s.size, "cruise", dtype="<U9")
    width = max(round(2.0 / step_s), 1)
    rate = (np.roll(metres, -width) - np.roll(metres, width)) / (2.0 * width * step_s)
    rate[:width], rate[-width:] = rate[min(width, rate.size - 1)], rate[max(-width - 1, -rate.size)]
    for name, steep in (("climb", rate > rate_mps), ("descent", rate < -rate_mps)):
        for first, last in runs(steep, join=round(1.5 / step_s)):
            if abs(metres[last - 1] - metres[first]) >= least_m:
                names[first:last] = name
    return names


def _mark_approach(names: np.ndarray, metres: Floats, usual_m: float) -> None:
    """From the last time at half the usual height to the ground, when the ground is reached."""
    if metres[-1] > 0.3 * usual_m:
        return
    high = np.flatnonzero(metres > 0.5 * usual_m)
    names[high[-1] if high.size else 0 :] = "approach"


def _mark_go_arounds(
    names: np.ndarray,
    metres: Floats,
    usual_m: float,
    step_s: float,
    *,
    low_share: float = 0.25,
    low_m: float = 6.0,
) -> None:
    """A pass close to the ground, or a touch, with a climb after it: approach down to the lowest point,
    go-around up to half the usual height.
    """
    low = metres < min(low_share * usual_m, low_m)
    for first, last in runs(low, join=round(2.0 / step_s)):
        lowest = first + int(np.argmin(metres[first:last]))
        before = np.flatnonzero(metres[:first] > 0.5 * usual_m)
        after = np.flatnonzero(metres[last:] > 0.5 * usual_m)
        if before.size and after.size:
            names[before[-1] : lowest] = "approach"
            names[lowest : last + after[0]] = "go_around"
