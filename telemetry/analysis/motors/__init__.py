"""Left against right: how uneven, why, and what happened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from telemetry.analysis.motors.blocks import Blocks, blocks
from telemetry.analysis.motors.dropouts import drop_outs
from telemetry.analysis.motors.events import FoundEvents, find_events
from telemetry.analysis.motors.heat import (
    OverTemperature,
    PartTemperature,
    over_temperature,
    part_temperatures,
)
from telemetry.analysis.motors.physics import at_one_supply
from telemetry.analysis.motors.ratios import SENSORS_APART, flowed_ratio, ratio
from telemetry.analysis.motors.results import CauseLikelihood, Event, Motors, Pair, SideCurve, SpeedScale
from telemetry.analysis.motors.sides import MotorLog, handed, read
from telemetry.analysis.motors.speed_scale import speed_scale, without_scale
from telemetry.analysis.motors.verdict import held_to_currents, judge
from telemetry.analysis.motors.weigh import weigh
from telemetry.analysis.motors.words import Names
from telemetry.analysis.motors.working_point_guesses import guesses
from telemetry.estimate import Undecided
from telemetry.sentences import say, sentence, undecided
from telemetry.sheet.setup import Drive
from telemetry.signals import Signals
from telemetry.trace import Flags, Flight, Span, Stretch

__all__ = [
    "CauseLikelihood",
    "Event",
    "Motors",
    "OverTemperature",
    "Pair",
    "PartTemperature",
    "SideCurve",
    "SpeedScale",
    "analyse",
    "over_temperature",
    "part_temperatures",
]


def analyse(signals: Signals, *, drives: Sequence[Drive] = ()) -> Motors:
    """Compare the motors of one flight.

    Parameters
    ----------
    signals : of the flight.
    drives : what the sheet says of each motor; may be empty.
    """
    flight = signals.flight
    log = read(signals, drives)
    scales = {pair: scale for pair in log.pairs if (scale := speed_scale(log, flight, pair)) is not None}
    level = log
    for scale in scales.values():
        level = without_scale(level, scale)
    found = _with_drop_outs(
        find_events(level, flight, part_temperatures(signals, drives)),
        drop_outs(level) if flight.is_bench else (),
    )
    passing = (
        ()
        if isinstance(found.events, Undecided)
        else tuple(e for e in found.events if e.kind not in ("overheating", "thrust_lost"))
    )
    pairs = tuple(
        _pair(log, flight, pair, passing, since_s=found.since_s.get(pair), scale=scales.get(pair))
        for pair in log.pairs
    )
    return Motors(
        tuple(log.sides),
        pairs,
        found.events,
        log.remark,
        found.reverse_asked,
        found.reverse_answered,
        _unseen(log),
        tuple(scales.values()),
    )


def _with_drop_outs(found: FoundEvents, more: Sequence[Event]) -> FoundEvents:
    """The events with those short ones that none of them covers."""
    if isinstance(found.events, Undecided):
        return replace(found, events=tuple(more)) if more else found
    known = found.events
    new = [
        e
        for e in more
        if not any(
            k.motor in (e.motor, "both") and k.start_s <= e.end_s + 0.5 and e.start_s <= k.end_s + 0.5
            for k in known
            if k.kind in ("cut", "out_of_step", "stall", "late_start")
        )
    ]
    return replace(found, events=tuple(sorted((*known, *new), key=lambda e: (e.start_s, e.motor))))


def _unseen(log: MotorLog) -> str:
    """Events that the logged channels cannot show. A motor that starts late or loses step still draws about
    what its twin does at taxi or on average.
    """
    if not log.sides or any(side.rpm is not None for side in log.sides.values()):
        return ""
    if any(side.current is not None for side in log.sides.values()):
        return say("undecided", "motors", "unseen_by_current")
    return say("undecided", "motors", "unseen_by_temperature")


def _pair(
    log: MotorLog,
    flight: Flight,
    positions: tuple[str, str],
    events: Sequence[Event],
    *,
    since_s: float | None,
    scale: SpeedScale | None,
    fewest: int = 8,
    far_apart: float = 0.3,
) -> Pair:
    """One pair.

    Parameters
    ----------
    fewest : windows are what four unknowns need to leave something over.
    far_apart : commands a third apart ask for twice the power; what that does is not known well enough to
        take it out.
    """
    left, right = positions
    outside: list[Span] = list(events)
    window_s = 1.0 if flight.is_bench or since_s is not None else 2.0
    if since_s is not None:
        outside.append(Stretch(flight.start_s, since_s - 1.0))
    found = blocks(log, flight, log.sides[left], log.sides[right], outside=outside, window_s=window_s)
    found = found.where(np.abs(found.apart) < far_apart)
    equal = _told_the_same(found)
    alike = found.where(equal) if np.count_nonzero(equal) >= fewest else found
    both = guesses(found, log.sides[left], log.sides[right]) if found.time_s.size else ()
    level = at_one_supply(alike, both, still=flight.is_bench)
    opposite = handed(log.sides[left].drive, log.sides[right].drive)
    pair = Pair(
        left,
        right,
        undecided("motors", "nothing_of_both"),
        ratio(level.current_a, "current", floor_fraction=SENSORS_APART),
        ratio(level.rpm, "speed", floor_fraction=0.0005),
        "undecided",
        "undecided",
        "",
        curves=_curves(found, left, right),
        handed=opposite,
        since_s=since_s,
    )
    compared = found if scale is None else replace(found, rpm=None, rpm_rise=None)
    refused = _refused(compared, flight, scale, fewest)
    if log.per_motor_pack and not found.has_voltage and refused is None:
        refused = undecided("motors", "unknown_supplies")
    if refused is not None:
        return replace(pair, imbalance_fraction=refused, reason=sentence(refused.reason))
    weighed = weigh(compared, guesses(compared, log.sides[left], log.sides[right]), still=flight.is_bench)
    logged = "current" if compared.rpm is None else "rpm" if compared.current_a is None else "both"
    judged = judge(weighed, logged, Names.of(left, right, handed=opposite))
    if alike is not found or np.all(equal):
        judged = held_to_currents(judged, pair.current_ratio)
    flowed = pair.current_ratio if compared.current_a is None else flowed_ratio(weighed.current)
    return replace(
        pair,
        current_ratio=flowed,
        imbalance_fraction=judged.imbalance,
        verdict=judged.verdict,
        cause=judged.cause,
        reason=judged.reason,
        causes=judged.causes,
        size_fraction=judged.size,
    )


def _told_the_same(found: Blocks, *, apart: float = 0.03, rudder: float = 0.05) -> Flags:
    """Windows in which both motors were told the same, as far as that was logged."""
    same: Flags = np.abs(found.apart) < apart
    return same if found.rudder is None else same & (np.abs(found.rudder) < rudder)


def _refused(found: Blocks, flight: Flight, scale: SpeedScale | None, fewest: int) -> Undecided | None:
    """Why a pair cannot be compared."""
    if found.current_a is None and found.rpm is None:
        return undecided("motors", "nothing_of_both" if scale is None else "speed_reads_off")
    if flight.is_taxi:
        return undecided("motors", "only_taxi")
    return undecided("motors", "ran_short") if found.time_s.size < fewest else None


def _curves(found: Blocks, left: str, right: str) -> tuple[SideCurve, ...]:
    def side(row: int, position: str) -> SideCurve:
        current = None if found.current_a is None else found.current_a[row]
        rpm = None if found.rpm is None else found.rpm[row]
        return SideCurve(position, found.time_s, found.command[row], current, rpm)

    return side(0, left), side(1, right)
