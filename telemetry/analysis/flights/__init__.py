"""Where flights start and end, and their phases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np

from telemetry.analysis.flights.bench import on_the_bench
from telemetry.analysis.flights.evidence import Evidence, powered_within, read_effort, read_evidence
from telemetry.analysis.flights.instants import IN_THE_AIR, Instants, instants_of
from telemetry.analysis.flights.phases import phases_of
from telemetry.analysis.flights.pull import TAKE_OFF, TAXI, strongest_pull
from telemetry.analysis.flights.shake import read_shake
from telemetry.analysis.flights.states import find_path
from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import undecided
from telemetry.trace import Flight, Stretch, Trace, runs

__all__ = ["find"]


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
    take-off and landing is then refined by the best that was logged around it. What a long silence parts is
    looked at apart; a part in which no motor ran is none of a flight's, unless there is no other.
    """
    found = [_find(part, bench=bench) for part in _parts(trace)]
    ran = [flights for flights in found if any(isinstance(f.powered, Stretch) for f in flights)]
    return tuple(flight for flights in ran or found[:1] for flight in flights)


def _parts(trace: Trace, *, silent_s: float = 1800.0) -> list[Trace]:
    """The log, cut at silences longer than a model flies unlogged."""
    cuts = np.flatnonzero(np.diff(trace.time_s) > silent_s) + 1 if trace.has_clock else np.zeros(0, np.intp)
    if not cuts.size:
        return [trace]
    bounds = [0, *cuts.tolist(), trace.time_s.size]
    return [trace.rows(first, last) for first, last in pairwise(bounds)]


def _find(trace: Trace, *, bench: bool) -> tuple[Flight, ...]:
    whole = Stretch(float(trace.time_s[0]), float(trace.time_s[-1]))
    effort = read_effort(trace)
    if not trace.has_clock or whole.end_s <= whole.start_s:
        no_time = undecided("log", "no_time")
        why = undecided("flights", "bench") if bench else no_time
        powered = powered_within(effort, whole) if trace.has_clock else no_time
        return (Flight(whole.start_s, whole.end_s, why, why, powered, is_bench=bench),)
    evidence = read_evidence(trace, effort)
    powered = powered_within(effort, whole)
    held, pull = bench, None
    if not isinstance(effort, Undecided) and not isinstance(powered, Undecided):
        held = bench or on_the_bench(trace, effort, powered)
        pull = strongest_pull(trace, effort, evidence)
    path = find_path(replace(evidence, effort=evidence.effort * (pull or TAXI)))
    if bench or (
        path.height is None and (pull == TAXI or (evidence.is_blind and (held or pull != TAKE_OFF)))
    ):
        path = path._replace(aloft=())
    found = instants_of(evidence, path, read_shake(trace) if path.height is None else None)
    if not found:
        why = effort if isinstance(effort, Undecided) else _why_none(evidence, pull)
        why = undecided("flights", "bench") if held else why
        is_taxi = not held and not isinstance(powered, Undecided) and _taxied(evidence, pull)
        return (_flight(whole, Instants(why, why), evidence, powered, is_bench=held, is_taxi=is_taxi),)
    return tuple(
        _flight(
            span,
            one,
            evidence,
            powered_within(effort, span),
            phases=phases_of(evidence, path, span, one),
        )
        for one, span in zip(found, _spans(trace, evidence, found), strict=True)
    )


def _flight(
    span: Stretch, one: Instants, evidence: Evidence, powered: Stretch | Undecided, **said: Any
) -> Flight:
    takeoff_s, landing_s = (at.value if isinstance(at, Estimate) else at for at in one)
    return Flight(
        span.start_s,
        span.end_s,
        takeoff_s,
        landing_s,
        powered,
        takeoff=one.takeoff,
        landing=one.landing,
        cut_off=_cut_off(span, one, evidence),
        **said,
    )


def _cut_off(span: Stretch, one: Instants, evidence: Evidence, *, edge_s: float = 1.0) -> str:
    """Which end of a flight was not seen: the model was in the air there, or its motors ran.

    Parameters
    ----------
    edge_s : motors that run through the whole of the first or last second run beyond it.
    """
    first, last = (
        evidence.running[evidence.within(at, at + edge_s)] for at in (span.start_s, span.end_s - edge_s)
    )
    starts, ends = (bool(part.size and np.all(part)) for part in (first, last))
    starts, ends = starts or one.takeoff in IN_THE_AIR, ends or one.landing in IN_THE_AIR
    return "both" if starts and ends else "start" if starts else "end" if ends else "none"


def _taxied(evidence: Evidence, pull: float | None, *, rolls_mps: float = 2.0) -> bool:
    """Whether a model that never flew rolled: by its speed, else by motors that pulled for no more than
    that.
    """
    rolling = evidence.rolling
    if rolling is not None and float(np.nanmax(evidence.smooth(rolling, 1.0))) > rolls_mps:
        return True
    return pull == TAXI


def _why_none(evidence: Evidence, pull: float | None) -> Undecided:
    if not evidence.is_blind:
        return undecided("flights", "never_left")
    told = {TAXI: "only_taxied", TAKE_OFF: "no_telling"}
    return undecided("flights", told.get(pull or 0.0, "taxi_or_flight"))


def _spans(trace: Trace, evidence: Evidence, found: Sequence[Instants]) -> list[Stretch]:
    """Start and end of each flight: the log's ends, a power-off in between, else the middle of the idle
    stretch.
    """
    ends: list[tuple[float, float]] = []
    for here, following in pairwise(found):
        if isinstance(here.landing, Undecided) or isinstance(following.takeoff, Undecided):
            raise ValueError("only the first flight of a log starts in the air, and only the last ends there")
        ends.append(_parting(trace, evidence, here.landing.value, following.takeoff.value))
    starts = [float(trace.time_s[0]), *(b for _, b in ends)]
    stops = [*(a for a, _ in ends), float(trace.time_s[-1])]
    return [Stretch(a, b) for a, b in zip(starts, stops, strict=True)]


def _parting(
    trace: Trace, evidence: Evidence, landing_s: float, takeoff_s: float, *, off_s: float = 10.0
) -> tuple[float, float]:
    """Where one flight ends and the next begins: either side of a power-off, else twice the middle of the
    longest idle stretch.

    Power was off where nothing was logged for `off_s` and no counter went on counting across it.
    """
    for gap in trace.gaps:
        off = landing_s <= gap.start_s and gap.end_s <= takeoff_s and gap.end_s - gap.start_s >= off_s
        if off and not _counts_on(trace, gap):
            return gap.start_s, gap.end_s
    inside = np.flatnonzero(evidence.within(landing_s, takeoff_s))
    idle = max(runs(~evidence.running[inside]), key=lambda run: run[1] - run[0], default=None)
    if idle is None:
        return (landing_s + takeoff_s) / 2.0, (landing_s + takeoff_s) / 2.0
    middle_s = float(np.mean(evidence.time_s[inside[idle[0] : idle[1]]]))
    return middle_s, middle_s


def _counts_on(trace: Trace, gap: Stretch) -> bool:
    counter = trace.fresh("charge_mah")
    if counter is None or counter.time_s.size < 2:
        return False
    before, after = counter.values[counter.time_s <= gap.start_s], counter.values[counter.time_s >= gap.end_s]
    return bool(before.size and after.size and before[-1] > 20.0 and after[0] >= before[-1])
