"""Several traces → one clock: offset and drift of each against the first, rows merged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from telemetry.errors import BadLog
from telemetry.estimate import Estimate, Undecided
from telemetry.importers.alignment.match import Match, coarse_by_halves, coarse_offset, has_long_step, match
from telemetry.importers.alignment.merge import check_total, merge, place_motors
from telemetry.importers.alignment.signals import shared_signals
from telemetry.importers.clock import gaps_of
from telemetry.sentences import say
from telemetry.trace import Clock, Decision, Note, Source, Trace

__all__ = ["align"]


def align(
    traces: Sequence[Trace],
    *,
    lone_motor: bool = False,
    least_correlation: float = 0.5,
    least_lead: float = 0.15,
) -> Trace:
    """Put the logs of several recorders of one flight on one clock; the first sets it.

    Each clock is matched with the first, or with one matched already, by what both felt:
    throttle, current, rpm, voltage. A log whose motor is not named takes the side that
    its file's name speaks of, else a number in the order given.

    Parameters
    ----------
    traces : one recorder each, in the order given.
    lone_motor : the aircraft is known to have one motor.
    least_correlation : below it nothing is shared; unrelated flights reach about 0.4, one flight 0.8 and
        more.
    least_lead : a match that beats the next offset by less is ambiguous.

    Raises
    ------
    BadLog : the same log twice, no clock, nothing shared, or an ambiguous match.
    """
    if not traces:
        raise ValueError("no trace to align")
    if len(traces) == 1:
        return traces[0]
    _refuse(traces)
    placed = place_motors(traces, lone_motor=lone_motor)
    moved: list[Trace] = [placed[0]]
    sources: list[Source] = [placed[0].sources[0]]
    for trace in placed[1:]:
        found = _matched(trace, moved, least_correlation, least_lead)
        moved.append(replace(trace, time_s=found.at(trace.time_s)))
        note = _note(found, placed[0].sources[0].file)
        sources.append(
            replace(
                trace.sources[0],
                clock=_own_clock(trace.sources[0], found),
                notes=(*trace.sources[0].notes, note),
                jumps=_jumps(trace.sources[0], found),
            )
        )
    time_s, channels, told = merge(moved, sources)
    checked = check_total(channels, time_s)
    if checked is not None:
        told = (replace(told[0], notes=(*told[0].notes, checked)), *told[1:])
    return Trace(time_s, channels, told, gaps_of(time_s), True)


def _refuse(traces: Sequence[Trace]) -> None:
    seen: dict[str, str] = {}
    for trace in traces:
        source = trace.sources[0]
        if not trace.has_clock:
            raise BadLog(
                "the log has neither time nor rate, so it cannot be put on another's clock",
                "Review it by itself.",
                file=source.file,
            )
        if source.sha256 in seen:
            raise BadLog(f"this is the same log as {seen[source.sha256]}", "Give it once.", file=source.file)
        seen[source.sha256] = source.file


def _matched(trace: Trace, moved: Sequence[Trace], least_correlation: float, least_lead: float) -> Match:
    file = trace.sources[0].file
    best, lead, shares = 0.0, 0.0, False
    for reference in moved:
        shared = shared_signals(reference, trace)
        if not shared:
            continue
        shares = True
        coarse = coarse_offset(shared)
        sure = coarse if coarse.is_sure(least_correlation, least_lead) else None
        if sure is None or has_long_step(shared):
            sure = coarse_by_halves(shared, least_correlation, least_lead) or sure
        found = match(shared, sure) if sure is not None else None
        if found is not None:
            return found
        best, lead = max((best, lead), (coarse.correlation, coarse.correlation - coarse.runner_up))
    names = moved[0].sources[0].file
    if not shares:
        raise BadLog(
            f"it shares no throttle, current, rpm or voltage with {names}",
            "Review the logs one by one.",
            file=file,
        )
    if best < least_correlation:
        raise BadLog(
            f"it shows no part of the flight in {names}: correlation {best:.2f} at best",
            "Give logs of one flight.",
            file=file,
        )
    raise BadLog(
        f"it fits onto {names} at more than one place",
        "Cut both logs to the flight, or review them one by one.",
        file=file,
    )


def _note(found: Match, first: str) -> Note:
    """How a clock was matched; in doubt where it runs as no clock does."""
    ppm = found.drift_ppm.value
    if found.runs_away:
        return Note("alignment", "", "doubtful", _say("runs_away", file=first, ppm=ppm))
    return Note("alignment", "", "used", _say("matched", file=first, by=found.by, ppm=ppm))


def _jumps(source: Source, found: Match) -> tuple[Decision, ...]:
    """Where the clock leapt, on the first's: what its own log showed, and what only the other log shows."""
    spans_s = found.at(np.array([(j.start_s, j.end_s) for j in source.jumps]).reshape(-1, 2))
    jumps = [
        replace(jump, start_s=float(start_s), end_s=float(end_s))
        for jump, (start_s, end_s) in zip(source.jumps, spans_s, strict=True)
    ]
    pace = found.pace
    if pace.leap_at_s is not None:
        at_s = float(found.at(np.array([pace.leap_at_s]))[0])
        way = "leapt_forward" if pace.leap_s > 0 else "leapt_back"
        reason = _say(way, file=source.file, by_s=abs(pace.leap_s))
        jumps.append(Decision("clock", "time_s", "", at_s, at_s, reason))
    return tuple(jumps)


def _say(key: str, **values: Any) -> str:
    return say("importers", "alignment", key, **values)


def _own_clock(source: Source, found: Match) -> Clock:
    """The match, told for the file's own time column: t_trace = t_own + its own offset."""
    own = source.clock.offset_s
    if isinstance(own, Undecided):
        return Clock(own, own)
    stretch = 1 + found.drift_ppm.value * 1e-6
    centre = found.offset_s.value + stretch * own.value
    wide = abs(own.value) * (found.drift_ppm.high - found.drift_ppm.low) / 2 * 1e-6
    half = ((found.offset_s.high - found.offset_s.low) ** 2 / 4 + wide**2) ** 0.5
    offset_s = Estimate.around(centre, half, found.offset_s.method)
    return Clock(offset_s, found.drift_ppm, source.clock.zone)
