"""Flights where altitude or speed was logged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.flights.signals import Signals
from telemetry.estimate import Undecided
from telemetry.trace import Floats, runs

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
    if signals.altitude is None or signals.altitude.size < 4:
        return None
    altitude = signals.altitude
    jumps = np.diff(altitude, 2)
    noise = 1.48 * float(np.median(np.abs(jumps - np.median(jumps)))) / np.sqrt(6.0)
    rests = _rests(signals, altitude)
    if rests:
        knots = np.concatenate([np.arange(first, last, max((last - first) // 8, 1)) for first, last in rests])
        ground = np.interp(np.arange(altitude.size), knots, signals.smooth(altitude, 3.0)[knots])
        noise = max(
            noise,
            float(np.median([np.std(altitude[first:last] - ground[first:last]) for first, last in rests])),
        )
    else:
        ground = np.full(altitude.size, float(np.min(signals.smooth(altitude, 1.0))))
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
            takeoff = _leaves_ground(signals.time_s, height, earliest, first)
        if last < smooth.size:
            reversed_height = Height(height.metres[::-1], height.noise_m, height.clear_m)
            mirrored = _leaves_ground(
                -signals.time_s[::-1], reversed_height, smooth.size - latest, smooth.size - last
            )
            landing = -mirrored
        hops.append(Hop(takeoff, landing))
    return hops


def hops_by_speed(
    signals: Signals, *, takeoff_share: float = 0.55, landing_share: float = 0.5, slowest_mps: float = 4.0
) -> list[Hop]:
    """Every hop from the speed alone.

    Parameters
    ----------
    takeoff_share, landing_share : speed over the wheels as a share of the median speed in flight. A model
        lifts off a fifth above its stall and cruises at about twice it (common practice, no source); it gains
        and loses speed so fast there that a quarter more or less is a second.
    """
    if signals.speed is None:
        return []
    speed = signals.smooth(signals.speed, 1.0)
    rolling = speed if signals.rolling is None else signals.smooth(signals.rolling, 1.0)
    moving = speed[(speed > 0.35 * float(np.percentile(speed, 95))) & (rolling > slowest_mps)]
    if moving.size * signals.step_s < 4.0:
        return []
    usual = float(np.median(moving))
    flying = runs(
        speed > landing_share * usual, join=round(3.0 / signals.step_s), least=round(5.0 / signals.step_s)
    )
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


def _brakes(
    signals: Signals,
    speed: Floats,
    slow: int,
    usual: float,
    *,
    before_s: float = 12.0,
    after_s: float = 6.0,
    float_s: float = 2.0,
) -> float:
    """When the wheels touch: a little after one straight line of speed turns into a steeper fall, by least
    squares.

    Parameters
    ----------
    float_s : from the close of the throttle, where the fall begins, or from the touch itself: half the time a
        model floats over the ground; common practice, no source.
    """
    step_s = signals.step_s
    first = max(slow - round(before_s / step_s), 0)
    stopped = np.flatnonzero(speed[slow:] < 0.2 * usual)
    last = min(
        slow + round(after_s / step_s), slow + (int(stopped[0]) if stopped.size else speed.size), speed.size
    )
    t, v = signals.time_s[first:last] - signals.time_s[first], speed[first:last]
    if t.size < 12:
        return float(signals.time_s[slow])
    flat = np.column_stack((np.ones_like(t), t))
    basis, _ = np.linalg.qr(flat)
    bends = np.maximum(t[None, :] - t[4:-4, None], 0.0)
    bends = bends - (bends @ basis) @ basis.T
    rest = v - basis @ (basis.T @ v)
    along = np.minimum(bends @ rest, 0.0)
    bend = first + 4 + int(np.argmax(along**2 / np.maximum(np.sum(bends**2, axis=1), 1e-12)))
    return float(min(signals.time_s[bend] + float_s, signals.time_s[-1]))


def _rests(
    signals: Signals,
    altitude: Floats,
    *,
    idle: float = 0.3,
    level_mps: float = 0.4,
    slow_mps: float = 4.0,
    least_s: float = 4.0,
    low_share: float = 0.25,
) -> list[tuple[int, int]]:
    """Where the model stood on the ground: motors at little, height level, speed low, and near the lowest of
    the log.

    A barometer creeps by metres in a few minutes, so the ground has to be found again at each rest.
    """
    half = max(round(1.5 / signals.step_s), 1)
    smooth = signals.smooth(altitude, 2.0)
    points = np.arange(smooth.size)
    later, earlier = np.minimum(points + half, smooth.size - 1), np.maximum(points - half, 0)
    rate = np.abs(smooth[later] - smooth[earlier]) / (2.0 * half * signals.step_s)
    low = smooth < float(np.percentile(smooth, 1)) + max(6.0, low_share * float(np.ptp(smooth)))
    still = (signals.smooth(signals.effort, 1.0) < idle) & (rate < level_mps) & low
    if signals.rolling is not None:
        still &= signals.smooth(signals.rolling, 1.0) < slow_mps
    found = runs(still, join=round(1.0 / signals.step_s), least=round(least_s / signals.step_s))
    return found or runs(still, least=round(1.0 / signals.step_s))


def _full_stop(
    signals: Signals,
    first: int,
    last: int,
    *,
    stopped_mps: float = 1.5,
    idle: float = 0.3,
    idle_s: float = 8.0,
) -> bool:
    """Whether the model came to rest between two points on the ground: its wheels stopped, or its motors did
    no work for a while.

    A touch-and-go rolls on within a few seconds; whoever stops has to taxi, turn and line up. A pitot can't
    tell alone: the wind it reads at rest turns with the model and changes from one landing to the next.
    """
    if last - first < 3:
        return False
    if signals.rolling is not None and runs(
        signals.smooth(signals.rolling, 0.5)[first:last] < stopped_mps,
        join=1,
        least=round(1.5 / signals.step_s),
    ):
        return True
    return bool(runs(signals.effort[first:last] < idle, join=1, least=round(idle_s / signals.step_s)))


def _leaves_ground(
    time_s: Floats, height: Height, earliest: int, clear: int, *, back_s: float = 14.0
) -> float:
    """When a level line turns into a climb: least squares over the turning point, the level and three shapes
    of climb.

    A straight climb, or one that builds up over the first seconds, whichever fits best. The level is free: it
    is the ground of that minute.
    """
    high_m = min(max(2.5 * height.clear_m, 5.0), 0.6 * float(np.max(height.metres)))
    above = np.flatnonzero(height.metres[clear:] > high_m)
    stop = min(clear + (int(above[0]) if above.size else 5) + 2, time_s.size)
    first = max(earliest, int(np.searchsorted(time_s, time_s[stop - 1] - back_s)))
    t, h = time_s[first:stop], height.metres[first:stop]
    if t.size < 6:
        return float(time_s[clear])
    turns = t[1:-2]
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
