"""What the model was doing at every moment: one path of states, scored over the whole log.

Each kind of evidence is one column of log-likelihoods a state; what was not logged, or is silent, is flat.
The path is the likeliest one under these columns and the usual length of each state (Viterbi 1967, from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from scipy.ndimage import binary_erosion

from telemetry.analysis.flights.evidence import Evidence
from telemetry.trace import Floats, runs


class State(IntEnum):
    """What a model does, in the order of a flight."""

    REST = 0
    TAXI = 1
    ROLL = 2
    POWER = 3
    GLIDE = 4
    ROLL_OUT = 5


_MEAN_S = np.array([60.0, 20.0, 1.0, 120.0, 3.0, 1.5])
"""How long each state lasts on the whole. A glide is short where nothing speaks for it: motors stop for the
landing. Common practice, no source."""
_CHANGES = np.array(
    [  # to: rest, taxi, roll, power, glide, roll-out
        [0.00, 0.60, 0.38, 0.02, 0.00, 0.00],
        [0.70, 0.00, 0.29, 0.01, 0.00, 0.00],
        [0.00, 0.00, 0.00, 0.90, 0.00, 0.10],
        [0.02, 0.00, 0.00, 0.00, 0.50, 0.48],
        [0.02, 0.00, 0.00, 0.50, 0.00, 0.48],
        [0.60, 0.20, 0.20, 0.00, 0.00, 0.00],
    ]
)
"""What follows a state when it ends. A hand launch goes from rest to power, a belly landing from a glide to
rest; both are rarer than wheels."""
_BEGINS = np.array([0.0, -1.0, -8.0, -4.0, -8.0, -8.0])
"""How a log begins: at rest as a rule. Motors that stand still at its start stand on the ground where nothing
speaks for a glide."""
_FLYING = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 0.0])


@dataclass(frozen=True, slots=True)
class Height:
    """Height above the ground on the even clock.

    metres : (m,) altitude less the ground's, which may creep from one rest to the next. [m]
    clear_m : above it the model flies.
    """

    metres: Floats
    clear_m: float


class Aloft(NamedTuple):
    """One stretch in the air, points of the even clock [first, last); roll the start of its take-off roll."""

    roll: int
    first: int
    last: int


class Path(NamedTuple):
    """The likeliest path and what it was read from.

    states : (m,) a `State` each, on the even clock.
    aloft : from take-off to the full stop after it.
    height : None where no altitude was logged.
    """

    states: np.ndarray
    aloft: tuple[Aloft, ...]
    height: Height | None


def find_path(evidence: Evidence) -> Path:
    """The likeliest states of a whole log.

    Parameters
    ----------
    evidence : on the even clock.

    Notes
    -----
    A barometer creeps by metres in a few minutes: the ground is first sought among the log's lowest, then
    taken anew wherever the first path has the model at rest.
    """
    scores = _by_motors(evidence) + _by_speed(evidence) + _by_climb(evidence)
    height = _lowest_as_ground(evidence)
    states = _likeliest(evidence, scores + _by_height(evidence, height))
    if height is not None:
        height = _rests_as_ground(evidence, states, height)
        states = _likeliest(evidence, scores + _by_height(evidence, height))
    gone = np.ones(states.size, dtype=bool)
    for first, last in runs(states <= State.TAXI):
        at_an_end = first == 0 or last == states.size
        gone[first:last] = not (at_an_end or _is_full_stop(evidence, states[first:last]))
    found = (_aloft(evidence, states, first, last) for first, last in runs(gone))
    return Path(states, tuple(aloft for aloft in found if aloft is not None), height)


def _aloft(
    evidence: Evidence,
    states: np.ndarray,
    first: int,
    last: int,
    *,
    least_s: float = 2.0,
    work: float = 0.4,
    work_s: float = 8.0,
) -> Aloft | None:
    """What of a stretch between two stops is in the air, None where that is too little.

    Parameters
    ----------
    least_s : a shorter stretch is a bump.
    work, work_s : where the motors alone tell, they held this mean effort for so long: a share of the log's
        highest above taxiing and a short run-up.
    """
    flying = first + np.flatnonzero(_FLYING[states[first:last]])
    worked = evidence.smooth(evidence.effort, work_s)[first:last]
    if flying.size * evidence.step_s < least_s or (evidence.is_blind and float(np.max(worked)) < work):
        return None
    return Aloft(first, int(flying[0]), int(flying[-1]) + 1)


def _is_full_stop(
    evidence: Evidence, states: np.ndarray, *, stopped_s: float = 1.5, taxied_s: float = 8.0
) -> bool:
    """Whether a stretch on the ground ends a flight; a touch-and-go rolls on within a few seconds, whoever
    stops has to taxi, turn and line up.

    Parameters
    ----------
    stopped_s : for so long the wheels stand, where a speed shows it.
    taxied_s : else, so long on the ground.
    """
    stands_s = int(np.count_nonzero(states == State.REST)) * evidence.step_s
    wheels_stood = evidence.rolling is not None and stands_s >= stopped_s
    return bool(states.size * evidence.step_s >= taxied_s or wheels_stood)


def _likeliest(evidence: Evidence, scores: Floats, *, grid_s: float = 0.5) -> np.ndarray:
    """The best path, (m,), found on steps of `grid_s` or the clock's own if that is longer: instants are
    refined afterwards.
    """
    every = max(round(grid_s / evidence.step_s), 1)
    step_s = every * evidence.step_s
    each = np.add.reduceat(scores * evidence.step_s, np.arange(0, len(scores), every), axis=0)
    leave = np.minimum(step_s / _MEAN_S, 0.5)
    with np.errstate(divide="ignore"):
        change = np.log(_CHANGES * leave[:, None] + np.diag(1.0 - leave))
    best = _BEGINS + each[0]
    came = np.zeros(each.shape, dtype=np.intp)
    for k in range(1, len(each)):
        ways = best[:, None] + change
        came[k] = np.argmax(ways, axis=0)
        best = np.max(ways, axis=0) + each[k]
    path = np.empty(len(each), dtype=np.intp)
    path[-1] = int(np.argmax(best))
    for k in range(len(each) - 1, 0, -1):
        path[k - 1] = came[k, path[k]]
    return np.repeat(path, every)[: len(scores)]


def _column(**by_state: Floats | float) -> Floats:
    """(m, states) from what each state scores; silence, and what is left out, is flat. [1/s]"""
    size = max(np.size(score) for score in by_state.values())
    column = np.zeros((size, len(State)))
    for name, score in by_state.items():
        column[:, State[name]] = score
    column[np.any(np.isnan(column), axis=1)] = 0.0
    return column


def _over(values: Floats, first: float, full: float) -> Floats:
    """0 up to `first`, 1 from `full` on, straight in between."""
    return np.clip((values - first) / (full - first), 0.0, 1.0)


def _by_motors(evidence: Evidence) -> Floats:
    """Models taxi at a tenth to a quarter of the throttle's travel, roll for a take-off at over a half, and
    stop or idle their motors for the landing; common practice, no source.
    """
    effort = np.where(evidence.heard, evidence.smooth(evidence.effort, 0.5), np.nan)
    runs_on = evidence.running.astype(float)
    pulls = 6.0 * _over(effort, 0.22, 0.5)
    return _column(
        REST=-2.0 * runs_on - pulls,
        TAXI=-0.1 * (1.0 - runs_on) - pulls,
        ROLL=-3.0 * _over(-effort, -0.5, -0.2),
        POWER=-(1.6 - 1.1 * runs_on) * _over(-effort, -0.2, -0.05),
        GLIDE=-3.0 * _over(effort, 0.25, 0.4) - 0.5 * runs_on,
        ROLL_OUT=-3.0 * runs_on - 4.0 * _over(effort, 0.1, 0.3),
    )


def _by_height(evidence: Evidence, height: Height | None) -> Floats:
    if height is None:
        return np.zeros((evidence.time_s.size, len(State)))
    high = evidence.smooth(height.metres, 0.6) / height.clear_m
    flies = 7.0 * _over(high, 0.0, 1.5) - 4.0
    return _column(POWER=flies, GLIDE=flies)


def _by_climb(evidence: Evidence) -> Floats:
    """What stands neither climbs nor sinks; what flies is level now and then."""
    climb = evidence.climb
    if climb is None:
        if evidence.altitude is None:
            return np.zeros((evidence.time_s.size, len(State)))
        climb = np.gradient(evidence.smooth(evidence.altitude, 2.0), evidence.step_s)
    moves = -3.0 * _over(np.abs(evidence.smooth(climb, 2.0)), 0.4, 1.5)
    return _column(REST=moves, TAXI=moves, ROLL=moves, ROLL_OUT=moves, POWER=-0.3, GLIDE=-0.3)


def _by_speed(evidence: Evidence, *, walks_mps: float = 4.0, flies_mps: float = 9.0) -> Floats:
    """A model lifts off a fifth above its stall and cruises at about twice it; what taxies walks; common
    practice, no source.

    Parameters
    ----------
    walks_mps, flies_mps : nothing that leaves the ground is usually slower, and little on it faster.
    """
    if evidence.rolling is None:
        return np.zeros((evidence.time_s.size, len(State)))
    rolling = evidence.smooth(evidence.rolling, 1.0)
    moving = rolling[rolling > max(0.35 * float(np.nanpercentile(rolling, 95)), walks_mps)]
    usual = float(np.median(moving)) if moving.size else walks_mps
    fast = _over(rolling / usual, 0.3, 0.7) * _over(np.asarray(usual), walks_mps, flies_mps)
    flies = 6.0 * fast - 3.0 if evidence.airspeed else 4.5 * fast - 1.5
    rolls = -3.0 * _over(rolling, walks_mps, flies_mps)
    return _column(REST=-3.0 * _over(rolling, 1.0, 2.5) + rolls, TAXI=rolls, POWER=flies, GLIDE=flies)


def _lowest_as_ground(evidence: Evidence, *, low_share: float = 0.1) -> Height | None:
    """Height over the log's lowest, clear of the ground only where a creeping barometer can't be the
    cause.
    """
    if evidence.altitude is None:
        return None
    smooth = evidence.smooth(evidence.altitude, 2.0)
    low, span = float(np.nanpercentile(smooth, 1)), float(np.ptp(smooth[np.isfinite(smooth)]))
    return Height(evidence.altitude - low, max(6.0, low_share * span))


def _rests_as_ground(
    evidence: Evidence, states: np.ndarray, height: Height, *, edge_s: float = 1.5, level_mps: float = 0.4
) -> Height:
    """Height over a ground that is found again at every rest.

    Parameters
    ----------
    edge_s : left out at both ends of a rest: there the path may be late.
    level_mps : what rises or sinks faster is no ground.
    """
    altitude = height.metres
    jumps = np.diff(altitude[np.isfinite(altitude)], 2)
    noise_m = 1.48 * float(np.median(np.abs(jumps - np.median(jumps)))) / np.sqrt(6.0)
    slope = np.gradient(evidence.smooth(altitude, 3.0), evidence.step_s)
    still = (states <= State.TAXI) & (np.abs(slope) < level_mps)
    inner = binary_erosion(still, iterations=max(round(edge_s / evidence.step_s), 1), border_value=True)
    rests = runs(inner if np.any(inner) else still)
    if rests:
        knots = np.concatenate([np.arange(a, b, max((b - a) // 8, 1)) for a, b in rests])
        level = np.interp(np.arange(altitude.size), knots, evidence.smooth(altitude, 3.0)[knots])
        noise_m = max(noise_m, float(np.median([np.std(altitude[a:b] - level[a:b]) for a, b in rests])))
    else:
        level = np.full(altitude.size, float(np.nanmin(evidence.smooth(altitude, 1.0))))
    return Height(altitude - level, max(2.0, 4.0 * noise_m, 2.0 * evidence.altitude_step_m))
