"""The phases of one flight."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.flights.evidence import Evidence
from telemetry.analysis.flights.instants import Instants
from telemetry.analysis.flights.states import Height, Path, State
from telemetry.estimate import Estimate
from telemetry.trace import Floats, Phase, Span, runs


def phases_of(evidence: Evidence, path: Path, span: Span, one: Instants) -> tuple[Phase, ...]:
    """Ground, take-off, the flight itself, landing, ground.

    Parameters
    ----------
    evidence, path : on the even clock.
    span : the flight's start and end.
    one : its take-off and landing.

    Returns
    -------
    In order, without overlap; with altitude the flight itself is named by its height, else by its states.
    """
    begins = one.takeoff.value if isinstance(one.takeoff, Estimate) else span.start_s
    ends = one.landing.value if isinstance(one.landing, Estimate) else span.end_s
    parts: list[Phase] = []
    if isinstance(one.takeoff, Estimate):
        rolls = _roll_starts(evidence, path, span, begins)
        clear = _clear_of_ground(evidence, path.height, begins, ends)
        parts = [Phase("ground", span.start_s, rolls), Phase("takeoff", rolls, clear)]
        begins = clear
    parts += _in_the_air(evidence, path, begins, ends)
    if isinstance(one.landing, Estimate):
        stops = _roll_ends(evidence, ends, span.end_s)
        parts += [Phase("landing", ends, stops), Phase("ground", stops, span.end_s)]
    return tuple(p for p in parts if p.end_s > p.start_s)


def _roll_starts(
    evidence: Evidence, path: Path, span: Span, takeoff_s: float, *, longest_s: float = 15.0
) -> float:
    """The end of the last rest or taxi before the take-off: the take-off itself where the model was
    thrown.
    """
    before = evidence.within(max(span.start_s, takeoff_s - longest_s), takeoff_s)
    grounded = evidence.time_s[before & (path.states <= State.TAXI)]
    return float(grounded[-1]) if grounded.size else max(span.start_s, takeoff_s - 3.0)


def _clear_of_ground(
    evidence: Evidence, height: Height | None, takeoff_s: float, ends_s: float, *, clear_m: float = 10.0
) -> float:
    """Clear of trees, eight seconds later at most; three where no height tells."""
    if height is None:
        return min(takeoff_s + 3.0, ends_s)
    high = evidence.time_s[evidence.within(takeoff_s, takeoff_s + 8.0) & (height.metres > clear_m)]
    return min(float(high[0]) if high.size else takeoff_s + 8.0, ends_s)


def _roll_ends(evidence: Evidence, landing_s: float, ends_s: float, *, stopped_mps: float = 1.0) -> float:
    """Where the wheels stand, six seconds later where no speed tells."""
    if evidence.rolling is not None:
        slow = evidence.smooth(evidence.rolling, 0.5) < stopped_mps
        stopped = evidence.time_s[evidence.within(landing_s, ends_s) & slow]
        if stopped.size:
            return float(stopped[0])
    return min(landing_s + 6.0, ends_s)


def _in_the_air(evidence: Evidence, path: Path, begins_s: float, ends_s: float) -> list[Phase]:
    inside = evidence.within(begins_s, ends_s)
    if np.count_nonzero(inside) * evidence.step_s < 6.0:
        return [Phase("cruise", begins_s, ends_s)]
    time_s = evidence.time_s[inside]
    if path.height is None:
        names = _by_state(evidence.smooth(evidence.effort, 1.0)[inside], path.states[inside], evidence.step_s)
    else:
        names = _by_height(evidence.smooth(path.height.metres, 2.0)[inside], evidence.step_s)
    cuts = np.concatenate(([0], np.flatnonzero(names[1:] != names[:-1]) + 1, [names.size]))
    edges = np.concatenate(([begins_s], time_s[cuts[1:-1]], [ends_s]))
    return [Phase(str(names[cuts[k]]), float(edges[k]), float(edges[k + 1])) for k in range(cuts.size - 1)]


def _by_state(
    effort: Floats,
    states: np.ndarray,
    step_s: float,
    *,
    full: float = 0.85,
    least_s: float = 3.0,
    low: float = 0.4,
) -> np.ndarray:
    """Without altitude: motors near their fullest for a while climb or race, a glide descends, and the last
    stretch at little is the approach; the rest is cruise.
    """
    names = np.full(states.size, "cruise", dtype="<U9")
    least = round(least_s / step_s)
    for name, flags in (("climb", effort > full), ("descent", states == State.GLIDE)):
        for first, last in runs(flags, join=round(1.0 / step_s), least=least):
            names[first:last] = name
    strong = np.flatnonzero(effort > low)
    names[strong[-1] + 1 if strong.size else states.size :] = "approach"
    return names


def _by_height(metres: Floats, step_s: float) -> np.ndarray:
    """With altitude: by how steeply it changes, and how near the ground it is."""
    points, heard = np.arange(metres.size), np.isfinite(metres)
    if np.count_nonzero(heard) < 4:
        return np.full(metres.size, "cruise", dtype="<U9")
    metres = np.interp(points, points[heard], metres[heard])
    names = _steep(metres, step_s)
    usual_m = float(np.median(metres))
    _mark_approach(names, metres, usual_m)
    _mark_go_arounds(names, metres, usual_m, step_s)
    return names


def _steep(metres: Floats, step_s: float, *, rate_mps: float = 1.0, least_m: float = 8.0) -> np.ndarray:
    """Climb and descent where height changes steadily by enough to notice, else cruise."""
    names = np.full(metres.size, "cruise", dtype="<U9")
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
