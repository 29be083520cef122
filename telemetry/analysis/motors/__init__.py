"""Left against right: how uneven, why, and what happened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from telemetry.analysis.motors.blocks import Blocks, blocks
from telemetry.analysis.motors.dropouts import drop_outs
from telemetry.analysis.motors.events import Found, find_events
from telemetry.analysis.motors.guesses import guesses
from telemetry.analysis.motors.heat import (
    OverTemperature,
    PartTemperature,
    over_temperature,
    part_temperatures,
)
from telemetry.analysis.motors.ratios import ratio
from telemetry.analysis.motors.results import CauseLikelihood, Event, Motors, Pair, SideCurve
from telemetry.analysis.motors.sides import Log, handed, read
from telemetry.analysis.motors.verdict import judge
from telemetry.analysis.motors.weigh import weigh
from telemetry.analysis.motors.words import Names
from telemetry.estimate import Undecided
from telemetry.sentences import say, sentence, undecided
from telemetry.sheet.setup import Drive
from telemetry.signals import Signals
from telemetry.trace import Flight

__all__ = [
    "CauseLikelihood",
    "Event",
    "Motors",
    "OverTemperature",
    "Pair",
    "PartTemperature",
    "SideCurve",
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
    found = _with_drop_outs(
        find_events(log, flight, part_temperatures(signals, drives)),
        drop_outs(log) if flight.is_bench else (),
    )
    seen = (
        ()
        if isinstance(found.events, Undecided)
        else tuple(e for e in found.events if e.kind != "overheating")
    )
    pairs = tuple(_pair(log, flight, left, right, seen) for left, right in log.pairs)
    return Motors(
        tuple(log.sides),
        pairs,
        found.events,
        log.remark,
        found.reverse_asked,
        found.reverse_answered,
        _unseen(log),
    )


def _with_drop_outs(found: Found, more: Sequence[Event]) -> Found:
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


def _unseen(log: Log) -> str:
    """Events that the logged channels cannot show. A motor that starts late or loses step still draws about
    what its twin does at taxi or on average.
    """
    if not log.sides or any(side.rpm is not None for side in log.sides.values()):
        return ""
    if any(side.current is not None for side in log.sides.values()):
        return say("undecided", "motors", "unseen_by_current")
    return say("undecided", "motors", "unseen_by_temperature")


def _pair(
    log: Log, flight: Flight, left: str, right: str, events: Sequence[Event], *, fewest: int = 8
) -> Pair:
    """One pair. `fewest` windows are what four unknowns need to leave something over."""
    found = blocks(
        log,
        flight,
        log.sides[left],
        log.sides[right],
        outside=events,
        window_s=1.0 if flight.is_bench else 2.0,
    )
    current = ratio(found.current_a, "current", floor_fraction=0.004)
    rpm = ratio(found.rpm, "speed", floor_fraction=0.0005)
    if found.current_a is None and found.rpm is None:
        no = undecided("motors", "nothing_of_both")
        return Pair(
            left,
            right,
            no,
            current,
            rpm,
            "undecided",
            "undecided",
            sentence(no.reason),
        )
    if found.time_s.size < fewest:
        no = undecided("motors", "ran_short")
        return Pair(
            left,
            right,
            no,
            current,
            rpm,
            "undecided",
            "undecided",
            sentence(no.reason),
        )
    weighed = weigh(found, guesses(found, log.sides[left], log.sides[right]), still=flight.is_bench)
    logged = "current" if found.rpm is None else "rpm" if found.current_a is None else "both"
    opposite = handed(log.sides[left].drive, log.sides[right].drive)
    judged = judge(weighed, logged, Names.of(left, right, handed=opposite))
    return Pair(
        left,
        right,
        judged.imbalance,
        current,
        rpm,
        judged.verdict,
        judged.cause,
        judged.reason,
        judged.causes,
        _curves(found, left, right),
        judged.size,
        opposite,
    )


def _curves(found: Blocks, left: str, right: str) -> tuple[SideCurve, ...]:
    def side(row: int, position: str) -> SideCurve:
        current = None if found.current_a is None else found.current_a[row]
        rpm = None if found.rpm is None else found.rpm[row]
        return SideCurve(position, found.time_s, found.command[row], current, rpm)

    return side(0, left), side(1, right)
