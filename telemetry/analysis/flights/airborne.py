"""Flights where altitude or speed was logged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.flights.signals import Signals, runs
from telemetry.estimate import Undecided
from telemetry.trace import Floats

STARTS_IN_THE_AIR = "the log starts in the air"
ENDS_IN_THE_AIR = "the log ends in the air"


@dataclass(frozen=True, slots=True)
class Hop:
    """From one take-off to the full stop after it. [s]"""

    takeoff_s: float | Undecided
    landing_s: float | Undecided


@dataclass(frozen=True, slots=True)
class Height:
    """Height above the ground on the even clock.

    metres : (m,) altitude less the ground's, which may creep from the first rest to the last. [m]
    noise_m : standard deviation of one point.
    clear_m : above it the model flies.
    """

    metres: Floats
    noise_m: float
    clear_m: float


def read_height(signals: Signals, altitude_step_m: float) -> Height | None:
    """Height above the ground, or None when altitude was not logged."""
    if signals.altitude is None:
        return None
    altitude = signals.altitude
    noise = 1.48 * float(np.median(np.abs(np.diff(altitude, 2) - np.median(np.diff(altitude, 2))))) / np.sqrt(6.0)
    first, last = _rest_before(signals), _rest_after(signals)
    if first is None and last is None:
        ground = np.full(altitude.size, float(np.min(signals.smooth(altitude, 1.0))))
    else:
        points = [p for p in (first, last) if p is not None]
        ground = np.interp(signals.time_s, [p[0] for p in points], [p[1] for p in points])
        noise = max(noise, *(p[2] for p in points))
    clear = max(2.0, 4.0 * noise, 2.0 * altitude_step_m)
    return Height(altitude - ground, noise, clear)


def hops_by_height(signals: Signals, height: Height) -> list[Hop]:
    """Every hop, its instants where the height leaves the ground's level and meets it again."""
    step_s = signals.step_s
    smooth = signals.smooth(height.metres, 0.6)
    up = runs(smooth > height.clear_m, join=round(1.0 / step_s), least=round(2.0 / step_s))
    up = [run for run in up if float(np.max(smooth[run[0] : run[1]])) > 1.5 * height.clear_m]
    groups: list[list[tuple[int, int]]] = []
    for run in up:
        if groups and not _full_stop(signals, groups[-1][-1][1], run[0]):
            groups[-1].append(run)
        else:
            groups.append([run])
    hops = []
    for k, group in enumerate(groups):
        earliest = groups[k - 1][-1][1] if k else 0
        latest = groups[k + 1][0][0] if k + 1 < len(groups) else smooth.size
        first, last = group[0][0], group[-1][1]
        takeoff: float | Undecided = Undecided(STARTS_IN_THE_AIR)
        landing: float | Undecided = Undecided(ENDS_IN_THE_AIR)
        if first > 0:
            takeoff = _leaves_ground(signals.time_s, height, max(first - round(8.0 / step_s), earliest), first)
        if last < smooth.size:
            reversed_height = Height(height.metres[::-1], height.noise_m, height.clear_m)
            mirrored = _leaves_ground(-signals.time_s[::-1], reversed_height, smooth.size - min(last + round(10.0 / step_s), latest), smooth.size - last)
            landing = -mirrored
        hops.append(Hop(takeoff, landing))
    return hops


def hops_by_speed(signals: Signals, *, takeoff_share: float = 0.55, landing_share: float = 0.5, slowest_mps: float = 4.0) -> list[Hop]:
    """Every hop from the speed alone.

    Parameters
    ----------
    takeoff_share, landing_share : speed over the wheels as a share of the median speed in flight. A model lifts off a
        fifth above its stall and cruises at about twice it (common practice, no source); it gains and loses speed
        so fast there that a quarter more or less is a second.
    """
    if signals.speed is None:
        return []
    speed = signals.smooth(signals.speed, 1.0)
    moving = speed[speed > max(0.35 * float(np.percentile(speed, 95)), slowest_mps)]
    if moving.size * signals.step_s < 4.0:
        return []
    usual = float(np.median(moving))
    flying = runs(speed > landing_share * usual, join=round(3.0 / signals.step_s), least=round(5.0 / signals.step_s))
    groups: list[tuple[int, int]] = []
    for run in flying:
        if groups and not _full_stop(signals, groups[-1][1], run[0]):
            groups[-1] = (groups[-1][0], run[1])
        else:
            groups.append(run)
    hops = []
    for first, last in groups:
        fast = first + int(np.argmax(speed[first:last] > takeoff_share * usual))
        takeoff = Undecided(STARTS_IN_THE_AIR) if first == 0 else float(signals.time_s[fast])
        landing = Undecided(ENDS_IN_THE_AIR) if last >= speed.size else _brakes(signals, speed, last, usual)
        hops.append(Hop(takeoff, landing))
    return hops


def _brakes(signals: Signals, speed: Floats, slow: int, usual: float, *, before_s: float = 12.0, after_s: float = 6.0) -> float:
    """When the wheels began to brake: where one straight line of speed turns into a steeper fall, by least squares."""
    step_s = signals.step_s
    first = max(slow - round(before_s / step_s), 0)
    stopped = np.flatnonzero(speed[slow:] < 0.2 * usual)
    last = min(slow + round(after_s / step_s), slow + (int(stopped[0]) if stopped.size else speed.size), speed.size)
    t, v = signals.time_s[first:last] - signals.time_s[first], speed[first:last]
    if t.size < 12:
        return float(signals.time_s[slow])
    flat = np.column_stack((np.ones_like(t), t))
    basis, _ = np.linalg.qr(flat)
    bends = np.maximum(t[None, :] - t[4:-4, None], 0.0)
    bends = bends - (bends @ basis) @ basis.T
    rest = v - basis @ (basis.T @ v)
    along = np.minimum(bends @ rest, 0.0)
    return float(signals.time_s[first + 4 + int(np.argmax(along**2 / np.maximum(np.sum(bends**2, axis=1), 1e-12)))])


def _rest_before(signals: Signals, *, calm_m: float = 1.5) -> tuple[float, float, float] | None:
    """Where the log starts at rest: (time, altitude, noise) of the ground before the first throttle-up, or None."""
    busy = np.flatnonzero(signals.effort > 0.35)
    end = int(busy[0]) if busy.size else signals.effort.size
    return _calm(signals, max(end - round(8.0 / signals.step_s), 0), end, calm_m)


def _rest_after(signals: Signals, *, calm_m: float = 1.5) -> tuple[float, float, float] | None:
    """The ground at the end of the log, where it ends at rest."""
    start = signals.effort.size - round(3.0 / signals.step_s)
    busy = np.flatnonzero(signals.effort > 0.35)
    if busy.size:
        start = max(start, int(busy[-1]) + 1)
    return _calm(signals, max(start, 0), signals.effort.size, calm_m)


def _calm(signals: Signals, first: int, last: int, calm_m: float) -> tuple[float, float, float] | None:
    if signals.altitude is None or (last - first) * signals.step_s < 1.0:
        return None
    part = signals.altitude[first:last]
    if signals.speed is not None and float(np.median(signals.speed[first:last])) > 4.0:
        return None
    slope = float(np.polyfit(signals.time_s[first:last], part, 1)[0])
    if float(np.percentile(part, 90) - np.percentile(part, 10)) > calm_m or abs(slope) > 0.5:
        return None
    return float(np.mean(signals.time_s[first:last])), float(np.median(part)), float(np.std(part))


def _full_stop(signals: Signals, first: int, last: int, *, stopped_mps: float = 1.5, idle: float = 0.3, idle_s: float = 8.0) -> bool:
    """Whether the model came to rest between two points: by its speed, else by motors that did no work for a while.

    A touch-and-go rolls on within a few seconds; whoever stops has to taxi, turn and line up.
    """
    if last - first < 3:
        return False
    if signals.speed is not None:
        slow = runs(signals.smooth(signals.speed, 0.5)[first:last] < stopped_mps, join=1, least=round(1.5 / signals.step_s))
        return bool(slow)
    return bool(runs(signals.effort[first:last] < idle, join=1, least=round(idle_s / signals.step_s)))


def _leaves_ground(time_s: Floats, height: Height, first: int, clear: int) -> float:
    """When a level line turns into a climb: least squares over the turning point, the level and three shapes of climb.

    A straight climb, or one that builds up over the first seconds, whichever fits best.
    """
    stop = clear + int(np.argmax(height.metres[clear:] > 2.5 * height.clear_m)) if np.any(height.metres[clear:] > 2.5 * height.clear_m) else clear + 5
    stop = min(max(stop, clear + 3), time_s.size, clear + 60)
    t, h = time_s[first:stop], height.metres[first:stop]
    if t.size < 6:
        return float(time_s[clear])
    turns = t[: max(clear - first + 1, 2)]
    since = np.maximum(t[None, :] - turns[:, None], 0.0)
    best_misfit, best = np.inf, float(time_s[clear])
    for power in (1.0, 1.5, 2.0):
        shape = since**power
        shape_off, h_off = shape - shape.mean(axis=1, keepdims=True), h - h.mean()
        slope = np.maximum(shape_off @ h_off / np.maximum(np.sum(shape_off**2, axis=1), 1e-12), 0.0)
        misfit = np.sum((h_off[None, :] - slope[:, None] * shape_off) ** 2, axis=1)
        at = int(np.argmin(misfit))
        if misfit[at] < best_misfit:
            best_misfit, best = float(misfit[at]), float(turns[at])
    return best
