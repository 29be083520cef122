"""The moments of take-off and landing, refined where the path of states puts them, each with its interval.

Height tells both; speed and the shake of the wheels come next; the motors alone tell the least.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from telemetry.analysis.flights.evidence import Evidence
from telemetry.analysis.flights.shake import Shake, roll_ends, touches
from telemetry.analysis.flights.states import Aloft, Height, Path
from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import say, undecided
from telemetry.trace import Floats, runs

STARTS_IN_THE_AIR = undecided("flights", "starts_in_the_air")
ENDS_IN_THE_AIR = undecided("flights", "ends_in_the_air")
STARTS_UNDER_LOAD = undecided("flights", "starts_under_load")
ENDS_UNDER_LOAD = undecided("flights", "ends_under_load")
IN_THE_AIR = (STARTS_IN_THE_AIR, ENDS_IN_THE_AIR, STARTS_UNDER_LOAD, ENDS_UNDER_LOAD)


class Instants(NamedTuple):
    """Take-off and landing of one flight. [s]"""

    takeoff: Estimate | Undecided
    landing: Estimate | Undecided


def instants_of(evidence: Evidence, path: Path, shake: Shake | None) -> list[Instants]:
    """Take-off and landing of every flight on a path, in order.

    Parameters
    ----------
    evidence, path : on the even clock.
    shake : how the model was shaken, None where that was not logged or height tells more.
    """
    size = evidence.time_s.size
    found: list[Instants] = []
    for k, aloft in enumerate(path.aloft):
        earliest = path.aloft[k - 1].last if k else 0
        latest = path.aloft[k + 1].roll if k + 1 < len(path.aloft) else size
        one = Instants(
            _takeoff(evidence, path.height, aloft, earliest), _landing(evidence, path.height, aloft, latest)
        )
        if shake is not None:
            one = _shaken(
                one, shake, float(evidence.time_s[aloft.last - 1]), float(evidence.time_s[latest - 1])
            )
        if found and isinstance(found[-1].landing, Undecided):
            one = Instants(found.pop().takeoff, one.landing)
        found.append(one)
    return [one for one in found if _in_order(one)]


def _in_order(one: Instants) -> bool:
    return (
        isinstance(one.takeoff, Undecided)
        or isinstance(one.landing, Undecided)
        or one.takeoff.value < one.landing.value
    )


def _takeoff(evidence: Evidence, height: Height | None, aloft: Aloft, earliest: int) -> Estimate | Undecided:
    if aloft.first == 0 or (aloft.roll == 0 and evidence.is_blind):
        return STARTS_UNDER_LOAD if evidence.is_blind else STARTS_IN_THE_AIR
    if height is not None and (found := _leaves_ground(evidence, height, aloft, earliest)) is not None:
        return found
    return _lifts_off(evidence, aloft) or _pulls(evidence, aloft)


def _landing(evidence: Evidence, height: Height | None, aloft: Aloft, latest: int) -> Estimate | Undecided:
    size = evidence.time_s.size
    if aloft.last >= size:
        return ENDS_UNDER_LOAD if evidence.is_blind else ENDS_IN_THE_AIR
    if height is not None:
        mirrored = Aloft(size - aloft.last, size - aloft.last, size - aloft.first)
        back = Height(height.metres[::-1], height.clear_m)
        clock = replace(evidence, time_s=-evidence.time_s[::-1])
        found = _leaves_ground(clock, back, mirrored, size - latest, lag_s=-0.2)
        if found is not None:
            return Estimate(-found.value, -found.high, -found.low, found.method)
    return _brakes(evidence, aloft) or _stops(evidence, aloft, latest)


def _shaken(one: Instants, shake: Shake, ends_s: float, limit_s: float) -> Instants:
    """The instants where the wheels' shake says so, within what is known already; as they were where it says
    nothing.
    """
    if isinstance(one.takeoff, Undecided):
        return one
    until_s = one.landing.value if isinstance(one.landing, Estimate) else limit_s
    flown = (shake.time_s > one.takeoff.value + 8.0) & (shake.time_s < until_s - 15.0)
    if np.count_nonzero(flown) < 40:
        return one
    aloft = shake.level[flown]
    leaves_s = roll_ends(shake, one.takeoff, float(np.median(aloft)))
    since_s = one.landing.low if isinstance(one.landing, Estimate) else ends_s - 5.0
    until_s = (
        max(one.landing.high, one.landing.value + 45.0) if isinstance(one.landing, Estimate) else limit_s
    )
    touch_s = touches(shake, max(since_s, one.takeoff.value + 15.0), min(until_s, limit_s - 1.0), aloft)
    return Instants(
        one.takeoff if leaves_s is None else Estimate.around(leaves_s, 1.0, say("instants", "shake")),
        one.landing if touch_s is None else Estimate.around(touch_s, 1.0, say("instants", "jolt")),
    )


def _within(evidence: Evidence, at_s: float, early_s: float, late_s: float, told_by: str) -> Estimate:
    """An instant and its interval, none of them outside the log; `told_by` is a key of its words."""
    start_s, end_s = float(evidence.time_s[0]), float(evidence.time_s[-1])
    at_s = min(max(at_s, start_s), end_s)
    return Estimate(at_s, max(at_s - early_s, start_s), min(at_s + late_s, end_s), say("instants", told_by))


def _leaves_ground(
    evidence: Evidence,
    height: Height,
    aloft: Aloft,
    earliest: int,
    *,
    back_s: float = 14.0,
    least_s: float = 0.4,
    shallow: float = 0.2,
    lag_s: float = 0.2,
) -> Estimate | None:
    """When a level line turns into a climb: least squares over the turning point, the level and three shapes
    of climb; None where the height was first heard in the air.

    A straight climb, or one that builds up over the first seconds, whichever fits best. The level is free: it
    is the ground of that minute.

    Parameters
    ----------
    back_s : looked at before the model is well clear of the ground.
    least_s, shallow : half the interval is this besides what the misfit allows, and this share of the time
        the model takes to get well clear: the shapes are no model's own. Measured on flights of three
        simulators.
    lag_s : an altimeter shows a height so much late; common practice, no source.
    """
    metres, time_s = height.metres, evidence.time_s
    clear = np.flatnonzero(evidence.smooth(metres, 0.6)[aloft.roll : aloft.last] > height.clear_m)
    if not clear.size:
        return None
    first_clear = aloft.roll + int(clear[0])
    if first_clear > 0 and not np.isfinite(metres[first_clear - 1]):
        return None
    high_m = min(max(2.5 * height.clear_m, 5.0), 0.6 * float(np.nanmax(metres)))
    above = np.flatnonzero(metres[first_clear:] > high_m)
    stop = min(first_clear + (int(above[0]) if above.size else 5) + 2, time_s.size)
    first = max(earliest, int(np.searchsorted(time_s, time_s[stop - 1] - back_s)))
    heard = np.isfinite(metres[first:stop])
    t, h = time_s[first:stop][heard], metres[first:stop][heard]
    if t.size < 6:
        return None
    turns = t[1:-2]
    since = np.maximum(t[None, :] - turns[:, None], 0.0)
    misfit = np.min([_misfit(since**power, h - h.mean()) for power in (1.0, 1.5, 2.0)], axis=0)
    best = int(np.argmin(misfit))
    # Noise hangs together over half a second or so: what counts as one reading.
    free = max((t[-1] - t[0]) / 0.5, 5.0) - 3.0
    near_s = turns[misfit <= misfit[best] * (1.0 + 4.0 / free)]
    more_s = least_s + shallow * float(t[-1] - turns[best])
    early_s, late_s = turns[best] - near_s[0] + more_s, near_s[-1] - turns[best] + more_s
    return _within(evidence, float(turns[best]) - lag_s, float(early_s), float(late_s), "height")


def _misfit(shapes: Floats, heights: Floats) -> Floats:
    """What is left of heights, their mean taken out, once each row of shapes is fitted to them; none
    falls.
    """
    shapes = shapes - shapes.mean(axis=1, keepdims=True)
    slope = np.maximum(shapes @ heights / np.maximum(np.sum(shapes**2, axis=1), 1e-12), 0.0)
    return np.asarray(np.sum((heights[None, :] - slope[:, None] * shapes) ** 2, axis=1))


def _lifts_off(evidence: Evidence, aloft: Aloft, *, share: float = 0.55) -> Estimate | None:
    """When the speed over the wheels passes a share of the median speed in flight; None where no speed tells,
    or only from the air on.

    Parameters
    ----------
    share : a model lifts off a fifth above its stall and cruises at about twice it (common practice, no
        source); it gains speed so fast there that a quarter more or less is a second.
    """
    speed, usual = _speed_of(evidence, aloft.first, aloft.last)
    fast = aloft.roll + np.flatnonzero(speed[aloft.roll : aloft.last] > share * usual)
    if not fast.size or (fast[0] > 0 and not np.isfinite(speed[fast[0] - 1])):
        return None
    return _within(evidence, float(evidence.time_s[fast[0]]), 1.5, 2.5, "speed")


def _speed_of(evidence: Evidence, first: int, last: int) -> tuple[Floats, float]:
    """The smoothed speed, and its median between two points; both NaN where there is none."""
    if evidence.speed is None or not np.any(np.isfinite(evidence.speed[first:last])):
        return np.full(evidence.time_s.size, np.nan), np.nan
    speed = evidence.smooth(evidence.speed, 1.0)
    return speed, float(np.nanmedian(speed[first:last]))


def _brakes(
    evidence: Evidence, aloft: Aloft, *, before_s: float = 12.0, after_s: float = 6.0, float_s: float = 2.0
) -> Estimate | None:
    """When the wheels touch: a little after one straight line of speed turns into a steeper fall, by least
    squares; None where no speed tells.

    Parameters
    ----------
    before_s, after_s : looked at around the moment at which half the speed of the approach is lost.
    float_s : from the close of the throttle, where the fall begins, or from the touch itself: half the time a
        model floats over the ground; common practice, no source.
    """
    step_s = evidence.step_s
    late = max(aloft.last - round(before_s / step_s), aloft.first)
    speed, usual = _speed_of(evidence, late, aloft.last)
    fast = late + np.flatnonzero(speed[late : aloft.last + round(after_s / step_s)] > 0.5 * usual)
    if not fast.size:
        return None
    slow = int(fast[-1]) + 1
    first = max(slow - round(before_s / step_s), 0)
    stopped = np.flatnonzero(speed[slow:] < 0.2 * usual)
    last = min(
        slow + round(after_s / step_s), slow + (int(stopped[0]) if stopped.size else speed.size), speed.size
    )
    heard = np.isfinite(speed[first:last])
    t, v = evidence.time_s[first:last][heard], speed[first:last][heard]
    if t.size < 12:
        return _within(evidence, float(evidence.time_s[min(slow, speed.size - 1)]), 4.0, 5.0, "speed")
    t = t - t[0]
    basis, _ = np.linalg.qr(np.column_stack((np.ones_like(t), t)))
    bends = np.maximum(t[None, :] - t[4:-4, None], 0.0)
    bends = bends - (bends @ basis) @ basis.T
    rest = v - basis @ (basis.T @ v)
    along = np.minimum(bends @ rest, 0.0)
    bend = first + 4 + int(np.argmax(along**2 / np.maximum(np.sum(bends**2, axis=1), 1e-12)))
    return _within(evidence, float(evidence.time_s[bend]) + float_s, 4.0, 5.0, "speed")


def _pulls(evidence: Evidence, aloft: Aloft, *, half: float = 0.45, roll_s: float = 2.5) -> Estimate:
    """A little after the effort rose through half of its highest.

    Parameters
    ----------
    roll_s : from half throttle to the wheels off the ground; common practice, no source.
    """
    strong = np.flatnonzero(evidence.effort[aloft.roll : aloft.last] > half)
    rises = aloft.roll + (int(strong[0]) if strong.size else 0)
    return _within(evidence, float(evidence.time_s[rises]) + roll_s, 3.0, 4.0, "motors")


def _stops(
    evidence: Evidence,
    aloft: Aloft,
    latest: int,
    *,
    approaches: float = 0.4,
    cruises: float = 0.55,
    float_s: float = 3.0,
    longest_glide_s: float = 15.0,
    longest_silence_s: float = 45.0,
) -> Estimate | Undecided:
    """After the motors' last stop of the flight, by how they ran in the five seconds before it.

    Parameters
    ----------
    approaches, cruises : a throttle closed from up to the first was closed over the threshold; from up to the
        second it may have been; from more, the model glides first, and may have flown on under little power.
    float_s : from the throttle's close to the touch-down; common practice, no source.
    longest_glide_s : of the silence after cruising power half is flown, up to this; 40 m at a sink of 2 to
        3 m/s last 15 s. longest_silence_s : a longer one leaves it open, unless the model taxied after it and
        flew again.
    """
    time_s, step_s = evidence.time_s, evidence.step_s
    before = np.flatnonzero(evidence.running[aloft.first : aloft.last + round(2.0 / step_s)])
    closes = min(aloft.first + (int(before[-1]) + 1 if before.size else 0), time_s.size - 1)
    last = evidence.effort[max(closes - round(5.0 / step_s), 0) : closes]
    level = float(np.mean(last)) if last.size else 0.0
    closed_s = float(time_s[closes])
    before_next = slice(closes, latest - round(2.0 / step_s))
    again = runs(evidence.running[before_next], least=round(1.0 / step_s))
    silence_s = (again[0][0] if again else latest - closes) * step_s
    # A current near its rest may still be a motor's that turns slowly in the air.
    little = evidence.running | (evidence.smooth(evidence.effort, 3.0) > 0.1)
    held = runs(little[before_next], join=round(2.0 / step_s), least=round(8.0 / step_s))
    until_s = held[-1][1] * step_s + float_s if held else min(silence_s, longest_silence_s)
    if level < cruises:
        late_s = 4.0 if level < approaches else max(until_s - float_s, 4.0)
        return _within(evidence, closed_s + float_s, 4.0, late_s, "motors")
    if max(silence_s, until_s) > longest_silence_s and (latest >= time_s.size or not again):
        return undecided("flights", "glides")
    glide_s = min(max(float_s, 0.5 * silence_s), longest_glide_s)
    return _within(evidence, closed_s + glide_s, glide_s, max(until_s - glide_s, float_s), "motors")
