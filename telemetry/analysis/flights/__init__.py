"""Where flights start and end, and their phases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np

from telemetry.analysis.flights.bench import on_the_bench
from telemetry.analysis.flights.evidence import Effort, Evidence, powered_within, read_effort, read_evidence
from telemetry.analysis.flights.instants import ENDS_IN_THE_AIR, STARTS_IN_THE_AIR, Instants, instants_of
from telemetry.analysis.flights.phases import phases_of
from telemetry.analysis.flights.pull import Pull, strongest_pull
from telemetry.analysis.flights.shake import read_shake
from telemetry.analysis.flights.states import find_path
from telemetry.estimate import Estimate, Undecided
from telemetry.trace import Flight, Stretch, Trace, runs

__all__ = ["find"]

ON_THE_BENCH = "this is a bench run"
NEVER_LEFT = "the model never left the ground"
ONLY_TAXIED = "the motors never held the power of a take-off"
TAXI_OR_FLIGHT = (
    "neither altitude nor speed was logged, and the motors' effort alone can't tell a taxi run from a flight "
    "here"
)
NO_TELLING = "neither altitude nor speed was logged, and the motors did not work as in a flight"

_FULL = {Pull.TAKE_OFF: 1.0, Pull.UNCLEAR: 0.4, Pull.TAXI: 0.3}
"""What share of a take-off's power the highest effort of a log stands for."""


def find(trace: Trace, *, bench: bool = False) -> tuple[Flight, ...]:
    """Every flight of a log, at least one.

    Parameters
    ----------
    trace : one log, or several on one clock.
    bench : it is a bench run, whatever it looks like.

    Returns
    -------
    One flight per take-off with a full stop after it; one with undecided take-off for a bench or taxi run.

    Notes
    -----
    The likeliest path of states over the whole log tells how many flights there are and roughly when; each
    take-off and landing is then refined by the best that was logged around it.
    """
    whole = Stretch(float(trace.time_s[0]), float(trace.time_s[-1]))
    effort = read_effort(trace)
    powered = powered_within(effort, whole) if trace.has_clock else Undecided("the log has no time")
    if bench or not trace.has_clock or whole.end_s <= whole.start_s:
        why = Undecided(ON_THE_BENCH if bench else "the log has no time")
        return (_flight(whole, Instants(why, why), effort, powered, is_bench=bench),)
    evidence = read_evidence(trace, effort)
    held, pull = False, Pull.UNCLEAR
    if not isinstance(effort, Undecided) and not isinstance(powered, Undecided):
        held = on_the_bench(trace, effort, powered)
        pull = strongest_pull(trace, effort, evidence)
    path = find_path(replace(evidence, effort=_FULL[pull] * evidence.effort))
    if path.height is None and (pull is Pull.TAXI or (evidence.is_blind and (held or pull is Pull.UNCLEAR))):
        path = path._replace(aloft=())
    found = instants_of(evidence, path, read_shake(trace) if path.height is None else None)
    if not found:
        why = Undecided(_why_none(evidence, held, effort, pull))
        is_taxi = not held and not isinstance(powered, Undecided) and _taxied(evidence, pull)
        return (_flight(whole, Instants(why, why), effort, powered, is_bench=held, is_taxi=is_taxi),)
    return tuple(
        _flight(span, one, effort, powered_within(effort, span), phases=phases_of(evidence, path, span, one))
        for one, span in zip(found, _spans(trace, effort, found), strict=True)
    )


def _flight(
    span: Stretch, one: Instants, effort: Effort | Undecided, powered: Stretch | Undecided, **said: Any
) -> Flight:
    return Flight(
        span.start_s,
        span.end_s,
        _moment(one.takeoff),
        _moment(one.landing),
        powered,
        takeoff=one.takeoff,
        landing=one.landing,
        cut_off=_cut_off(span, one, effort),
        **said,
    )


def _moment(instant: Estimate | Undecided) -> float | Undecided:
    return instant.value if isinstance(instant, Estimate) else instant


def _cut_off(span: Stretch, one: Instants, effort: Effort | Undecided, *, edge_s: float = 1.0) -> str:
    """Which end of a flight was not seen: the model was in the air there, or its motors ran.

    Parameters
    ----------
    edge_s : motors that run through the whole of the first or last second run beyond it.
    """
    starts, ends = one.takeoff == Undecided(STARTS_IN_THE_AIR), one.landing == Undecided(ENDS_IN_THE_AIR)
    if not isinstance(effort, Undecided):
        first = effort.on[(effort.time_s >= span.start_s) & (effort.time_s <= span.start_s + edge_s)]
        last = effort.on[(effort.time_s >= span.end_s - edge_s) & (effort.time_s <= span.end_s)]
        starts |= bool(first.size and np.all(first))
        ends |= bool(last.size and np.all(last))
    return {(True, True): "both", (True, False): "start", (False, True): "end"}.get((starts, ends), "none")


def _taxied(evidence: Evidence, pull: Pull, *, rolls_mps: float = 2.0) -> bool:
    """Whether a model that never flew rolled: by its speed, else by motors that pulled for no more than
    that.
    """
    rolling = evidence.rolling
    if rolling is not None and float(np.nanmax(evidence.smooth(rolling, 1.0))) > rolls_mps:
        return True
    return pull is Pull.TAXI


def _why_none(evidence: Evidence, held: bool, effort: Effort | Undecided, pull: Pull) -> str:
    if held:
        return ON_THE_BENCH
    if not evidence.is_blind:
        return NEVER_LEFT
    if isinstance(effort, Undecided):
        return effort.reason
    return {Pull.TAXI: ONLY_TAXIED, Pull.UNCLEAR: TAXI_OR_FLIGHT, Pull.TAKE_OFF: NO_TELLING}[pull]


def _spans(trace: Trace, effort: Effort | Undecided, found: Sequence[Instants]) -> list[Stretch]:
    """Start and end of each flight: the log's ends, a power-off in between, else the middle of the idle
    stretch.
    """
    ends: list[tuple[float, float]] = []
    for here, following in pairwise(found):
        if isinstance(here.landing, Undecided) or isinstance(following.takeoff, Undecided):
            raise ValueError("only the first flight of a log starts in the air, and only the last ends there")
        ends.append(_parting(trace, effort, here.landing.value, following.takeoff.value))
    starts = [float(trace.time_s[0]), *(b for _, b in ends)]
    stops = [*(a for a, _ in ends), float(trace.time_s[-1])]
    return [Stretch(a, b) for a, b in zip(starts, stops, strict=True)]


def _parting(
    trace: Trace, effort: Effort | Undecided, landing_s: float, takeoff_s: float, *, off_s: float = 10.0
) -> tuple[float, float]:
    """Where one flight ends and the next begins: either side of a power-off, else twice the middle of the
    longest idle stretch.

    Power was off where nothing was logged for `off_s` and no counter went on counting across it.
    """
    for gap in trace.gaps:
        if (
            landing_s <= gap.start_s
            and gap.end_s <= takeoff_s
            and gap.end_s - gap.start_s >= off_s
            and not _counts_on(trace, gap)
        ):
            return gap.start_s, gap.end_s
    if isinstance(effort, Undecided):
        middle = (landing_s + takeoff_s) / 2.0
        return middle, middle
    inside = (effort.time_s >= landing_s) & (effort.time_s <= takeoff_s)
    time_s = effort.time_s[inside]
    idle = max(runs(~effort.on[inside]), key=lambda r: time_s[r[1] - 1] - time_s[r[0]], default=None)
    middle = (
        (landing_s + takeoff_s) / 2.0 if idle is None else float(time_s[idle[0]] + time_s[idle[1] - 1]) / 2.0
    )
    return middle, middle


def _counts_on(trace: Trace, gap: Stretch) -> bool:
    counter = trace.fresh("charge_mah")
    if counter is None or counter.time_s.size < 2:
        return False
    before, after = counter.values[counter.time_s <= gap.start_s], counter.values[counter.time_s >= gap.end_s]
    return bool(before.size and after.size and before[-1] > 20.0 and after[0] >= before[-1])
