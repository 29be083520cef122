"""Flights where neither altitude nor speed was logged: from what the motors did."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d

from telemetry.analysis.flights.airborne import Hop
from telemetry.analysis.flights.signals import Signals, runs
from telemetry.estimate import Undecided

STARTS_UNDER_LOAD = "the log starts under load"
ENDS_UNDER_LOAD = "the log ends under load"


def hops_by_effort(
    signals: Signals,
    *,
    work: float = 0.45,
    work_s: float = 10.0,
    rest: float = 0.12,
    rest_s: float = 20.0,
    roll_s: float = 2.5,
    float_s: float = 3.0,
) -> list[Hop]:
    """Every hop from motor effort.

    A model that flies keeps its motors at work; one that taxies gives bursts of low throttle. A hop begins where the mean
    over the next `work_s` seconds is that of work, and ends where, later, `rest_s` seconds pass without it.

    Parameters
    ----------
    work : mean effort of a take-off and climb, a share of the log's highest: above taxiing and a short run-up.
    rest : mean effort below which no model flies level.
    rest_s : a glide with the motors stopped is shorter than this, a stop with the way back to the start longer.
    roll_s : from half throttle to the wheels off the ground; common practice, no source.
    float_s : from the throttle's close to the touch-down; common practice, no source.
    """
    step_s = signals.step_s
    ahead = _mean_ahead(signals, work_s)
    near = signals.smooth(signals.effort, 5.0)
    worked = runs(near > rest, join=round(rest_s / step_s), least=round(work_s / step_s))
    hops = []
    for first, last in worked:
        strong = np.flatnonzero(ahead[first:last] > work)
        if strong.size == 0:
            continue
        hops.append(Hop(_takeoff(signals, first + int(strong[0]), work, roll_s), _landing(signals, first + int(strong[-1]), last, float_s)))
    return hops


def _takeoff(signals: Signals, begins: int, work: float, roll_s: float) -> float | Undecided:
    """A little after the effort rose through half of its highest."""
    if begins == 0 and signals.effort[0] > 0.3:
        return Undecided(STARTS_UNDER_LOAD)
    rises = begins + int(np.argmax(signals.effort[begins:] > work))
    return float(min(signals.time_s[rises] + roll_s, signals.time_s[-1]))


def _landing(signals: Signals, last_strong: int, last: int, float_s: float, *, least_s: float = 4.0) -> float | Undecided:
    """A little after the close of the last long pull: an approach holds its throttle, a taxiing model blips it."""
    pulls = runs(signals.running[last_strong:last], join=round(0.5 / signals.step_s))
    long = [p for p in pulls if (p[1] - p[0]) * signals.step_s >= least_s]
    closes = last_strong + (long[-1][1] if long else pulls[-1][1] if pulls else last - last_strong - 1)
    if closes >= signals.effort.size - 1 and signals.running[-1]:
        return Undecided(ENDS_UNDER_LOAD)
    return float(min(signals.time_s[min(closes, signals.time_s.size - 1)] + float_s, signals.time_s[-1]))


def _mean_ahead(signals: Signals, seconds: float) -> np.ndarray:
    width = max(round(seconds / signals.step_s), 1)
    padded = np.concatenate((signals.effort, np.zeros(width)))
    return np.asarray(uniform_filter1d(padded, width, origin=-(width // 2), mode="constant"))[: signals.effort.size]
