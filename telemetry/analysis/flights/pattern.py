"""Flights where neither altitude nor speed was logged: from what the motors did."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d

from telemetry.analysis.flights.airborne import Hop
from telemetry.analysis.flights.signals import Signals
from telemetry.estimate import Undecided
from telemetry.trace import runs

STARTS_UNDER_LOAD = "the log starts under load"
ENDS_UNDER_LOAD = "the log ends under load"
GLIDES = "the motors were stopped at cruising power, and nothing logged shows how long the model glided"


def hops_by_effort(
    signals: Signals,
    *,
    work: float = 0.45,
    work_s: float = 10.0,
    rest: float = 0.2,
    rest_s: float = 20.0,
    roll_s: float = 2.5,
    float_s: float = 3.0,
) -> list[Hop]:
    """Every hop from motor effort.

    A model that flies keeps its motors at work; one that taxies gives bursts of low throttle. A hop begins
    where the mean over the next `work_s` seconds is that of work, and ends where, later, `rest_s` seconds
    pass without it.

    Parameters
    ----------
    work : mean effort of a take-off and climb, a share of the log's highest: above taxiing and a short
        run-up.
    rest : mean effort below which no model flies level, and over which none taxies for long.
    rest_s : a glide with the motors stopped is shorter than this, a stop with the way back to the start
        longer.
    roll_s : from half throttle to the wheels off the ground; common practice, no source.
    float_s : from the throttle's close to the touch-down; common practice, no source.
    """
    step_s = signals.step_s
    ahead = _mean_ahead(signals, work_s)
    near = signals.smooth(signals.effort, 6.0)
    worked = _without_full_stop(
        signals, runs(near > rest, join=round(rest_s / step_s), least=round(work_s / step_s))
    )
    hops = []
    for first, last in worked:
        strong = np.flatnonzero(ahead[first:last] > work)
        if strong.size == 0:
            continue
        hops.append(
            Hop(
                _takeoff(signals, first + int(strong[0]), work, roll_s),
                _landing(signals, first + int(strong[-1]), last, float_s),
            )
        )
    return hops


def _without_full_stop(
    signals: Signals, worked: list[tuple[int, int]], *, stopped_s: float = 8.0
) -> list[tuple[int, int]]:
    """Stretches of work joined across a low throttle: whoever stands on the ground stops the motors for a
    while.
    """
    joined: list[tuple[int, int]] = []
    for first, last in worked:
        if joined and not runs(
            ~signals.running[joined[-1][1] : first], least=round(stopped_s / signals.step_s)
        ):
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def _takeoff(signals: Signals, begins: int, work: float, roll_s: float) -> float | Undecided:
    """A little after the effort rose through half of its highest."""
    if begins == 0 and signals.effort[0] > 0.3:
        return Undecided(STARTS_UNDER_LOAD)
    rises = begins + int(np.argmax(signals.effort[begins:] > work))
    return float(min(signals.time_s[rises] + roll_s, signals.time_s[-1]))


def _landing(
    signals: Signals,
    last_strong: int,
    last: int,
    float_s: float,
    *,
    approach: float = 0.22,
    least_s: float = 4.0,
    glide_share: float = 0.5,
    longest_glide_s: float = 15.0,
    longest_idle_s: float = 35.0,
    usual_idle_s: float = 10.0,
    idled_float_s: float = 1.0,
    approach_s: float = 5.0,
    cruises: float = 0.45,
    longest_silence_s: float = 45.0,
) -> float | Undecided:
    """A little after the close of the last pull of the flight.

    Parameters
    ----------
    approach, least_s : a later pull still belongs to the flight when it holds this mean effort for this long;
        a taxiing model takes less, or blips; common practice, no source.
    approach_s, cruises : a throttle closed after so long at less than this was closed over the threshold;
        from more, the model glides first.
    glide_share, longest_glide_s : how much of the silence after that, until the motors taxi or the log ends,
        the model was still in the air; 40 m at a sink of 2 to 3 m/s last 15 s. longest_silence_s : a longer
        one that nothing ends leaves it open.
    longest_idle_s, usual_idle_s : an approach on idle ends with the motors within this; where they idle on
        for longer, on the ground too, it is taken to have lasted as long as is usual. idled_float_s : from
        the stop of idling motors to the touch.
    """
    pulls = runs(signals.running[last_strong:last], join=round(0.5 / signals.step_s))
    if not pulls:
        return float(signals.time_s[last - 1])
    effort = signals.effort[last_strong:last]
    held = [
        (a, b)
        for a, b in pulls
        if (b - a) * signals.step_s >= least_s and float(np.mean(effort[a:b])) >= approach
    ]
    closes = last_strong + (held[-1] if held else pulls[0])[1]
    if closes >= signals.effort.size - 1 and signals.running[-1]:
        return Undecided(ENDS_UNDER_LOAD)
    # Many fly the approach on so little that it looks like rest: the motors stop at the touch, or soon after.
    idles_s = _idles_on(signals, closes) * signals.step_s
    closes += round(
        min(idles_s if idles_s < longest_idle_s else usual_idle_s, longest_idle_s) / signals.step_s
    )
    if idles_s >= least_s:
        return float(
            min(signals.time_s[min(closes, signals.time_s.size - 1)] + idled_float_s, signals.time_s[-1])
        )
    closed_s = float(signals.time_s[min(closes, signals.time_s.size - 1)])
    before = signals.effort[max(closes - round(approach_s / signals.step_s), 0) : closes]
    if before.size == 0 or float(np.mean(before)) < cruises:
        return float(min(closed_s + float_s, signals.time_s[-1]))
    # Closed at the power of level flight it still has to come down; it touched before it was taxied.
    again = np.flatnonzero(signals.running[closes:])
    silence_s = float(again[0]) * signals.step_s if again.size else float(signals.time_s[-1]) - closed_s
    if silence_s > longest_silence_s and not again.size:
        return Undecided(GLIDES)
    return float(
        min(closed_s + min(max(float_s, glide_share * silence_s), longest_glide_s), signals.time_s[-1])
    )


def _idles_on(signals: Signals, closes: int, *, pause_s: float = 0.5) -> int:
    """For how many points the motors run on at little after a pull, until they stop."""
    pause = round(pause_s / signals.step_s)
    stops = runs(~signals.running[max(closes - 1, 0) :], least=max(pause, 1))
    return max(stops[0][0] - 1, 0) if stops else signals.running.size - closes


def _mean_ahead(signals: Signals, seconds: float) -> np.ndarray:
    width = max(round(seconds / signals.step_s), 1)
    padded = np.concatenate((signals.effort, np.zeros(width)))
    return np.asarray(uniform_filter1d(padded, width, origin=-(width // 2), mode="constant"))[
        : signals.effort.size
    ]
