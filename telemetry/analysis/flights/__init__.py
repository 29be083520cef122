"""Where flights start and end, and their phases."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from telemetry.analysis.flights.airborne import Height, Hop, hops_by_height, hops_by_speed, read_height
from telemetry.analysis.flights.bench import on_the_bench
from telemetry.analysis.flights.pattern import hops_by_effort
from telemetry.analysis.flights.phases import phases_of
from telemetry.analysis.flights.pull import Pull, strongest_pull
from telemetry.analysis.flights.shake import by_shake, read_shake
from telemetry.analysis.flights.signals import (
    Effort,
    Signals,
    powered_within,
    read_effort,
    read_signals,
)
from telemetry.estimate import Undecided
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


def find(trace: Trace, *, bench: bool = False) -> tuple[Flight, ...]:
    """Every flight of a log, at least one.

    Parameters
    ----------
    bench : it is a bench run, whatever it looks like.

    Returns
    -------
    One flight per take-off with a full stop after it; one with undecided take-off for a bench or taxi run.

    Notes
    -----
    With altitude, take-off and landing are where the height leaves and meets the ground's level; with speed
    alone where it passes half the speed flown; with neither where the motors begin and end to work as in a
    flight. Without altitude, a logged acceleration or vibration moves them to where the roll's shake ends and
    the touch jolts.
    """
    start_s, end_s = float(trace.time_s[0]), float(trace.time_s[-1])
    whole = Stretch(start_s, end_s)
    effort = read_effort(trace)
    if bench or not trace.has_clock or end_s <= start_s:
        why = Undecided(ON_THE_BENCH if bench else "the log has no time")
        return (
            Flight(
                start_s, end_s, why, why, powered_within(effort, whole) if trace.has_clock else why, (), bench
            ),
        )
    signals = read_signals(trace, effort)
    height = read_height(signals, _altitude_step_m(trace))
    powered = powered_within(effort, whole)
    held = (
        not isinstance(effort, Undecided)
        and not isinstance(powered, Undecided)
        and on_the_bench(trace, effort, powered)
    )
    pull = (
        Pull.UNCLEAR
        if isinstance(effort, Undecided) or isinstance(powered, Undecided)
        else strongest_pull(trace, effort, signals)
    )
    hops = _hops(signals, height, held, pull)
    shake = read_shake(trace) if height is None else None
    hops = _in_order(by_shake(hops, shake) if shake is not None else hops)
    if not hops:
        why = Undecided(_why_none(signals, held, effort, pull))
        is_taxi = not held and not isinstance(powered, Undecided) and _taxied(signals, pull)
        return (Flight(start_s, end_s, why, why, powered, (), held, is_taxi),)
    spans = _spans(trace, effort, hops)
    flights = []
    for hop, span in zip(hops, spans, strict=True):
        phases = phases_of(signals, height, span, hop.takeoff_s, hop.landing_s)
        flights.append(
            Flight(
                span.start_s, span.end_s, hop.takeoff_s, hop.landing_s, powered_within(effort, span), phases
            )
        )
    return tuple(flights)


def _hops(signals: Signals, height: Height | None, held: bool, pull: Pull) -> list[Hop]:
    if height is not None:
        return hops_by_height(signals, height)
    if signals.speed is not None:
        return hops_by_speed(signals)
    return [] if held or pull is not Pull.TAKE_OFF else hops_by_effort(signals)


def _taxied(signals: Signals, pull: Pull, *, rolls_mps: float = 2.0) -> bool:
    """Whether a model that never flew rolled: by its speed, else by motors that pulled for no more than
    that.
    """
    if signals.rolling is not None and float(np.max(signals.smooth(signals.rolling, 1.0))) > rolls_mps:
        return True
    return pull is Pull.TAXI


def _in_order(hops: Sequence[Hop]) -> list[Hop]:
    """Hops that follow one another: one that ends before it began is none, one that begins before the last
    has ended goes on with it.
    """
    kept: list[Hop] = []
    for hop in hops:
        if _before(hop.landing_s, hop.takeoff_s):
            continue
        if kept and (
            _before(hop.takeoff_s, kept[-1].landing_s)
            or isinstance(kept[-1].landing_s, Undecided)
            or isinstance(hop.takeoff_s, Undecided)
        ):
            kept[-1] = Hop(kept[-1].takeoff_s, hop.landing_s)
        else:
            kept.append(hop)
    return kept


def _before(one_s: float | Undecided, other_s: float | Undecided) -> bool:
    return not isinstance(one_s, Undecided) and not isinstance(other_s, Undecided) and one_s <= other_s


def _why_none(signals: Signals, held: bool, effort: Effort | Undecided, pull: Pull) -> str:
    if held:
        return ON_THE_BENCH
    if signals.altitude is not None or signals.speed is not None:
        return NEVER_LEFT
    if isinstance(effort, Undecided):
        return effort.reason
    return {Pull.TAXI: ONLY_TAXIED, Pull.UNCLEAR: TAXI_OR_FLIGHT, Pull.TAKE_OFF: NO_TELLING}[pull]


def _altitude_step_m(trace: Trace) -> float:
    channel = trace.channels.get(("altitude_m", ""))
    return channel.step if channel is not None else 0.0


def _spans(trace: Trace, effort: Effort | Undecided, hops: Sequence[Hop]) -> list[Stretch]:
    """Start and end of each flight: the log's ends, a power-off in between, else the middle of the idle
    stretch.
    """
    ends: list[tuple[float, float]] = []
    for here, following in pairwise(hops):
        if isinstance(here.landing_s, Undecided) or isinstance(following.takeoff_s, Undecided):
            raise ValueError("only the first flight of a log starts in the air, and only the last ends there")
        ends.append(_parting(trace, effort, here.landing_s, following.takeoff_s))
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
