"""Left against right: how uneven, why, and what happened."""

from __future__ import annotations

from collections.abc import Sequence

from telemetry.analysis.motors.blocks import Blocks, blocks
from telemetry.analysis.motors.ratios import ratio
from telemetry.analysis.motors.results import CauseLikelihood, Event, Motors, Pair, SideCurve
from telemetry.analysis.motors.sides import Log, read
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import EVEN_CURRENT_FRACTION
from telemetry.sheet.setup import Drive
from telemetry.trace import Flight, Trace

__all__ = ["CauseLikelihood", "Event", "Motors", "Pair", "SideCurve", "analyse"]


def analyse(trace: Trace, flight: Flight, *, drives: Sequence[Drive] = ()) -> Motors:
    """Compare the motors of one flight.

    Parameters
    ----------
    drives : what the sheet says of each motor; may be empty.
    """
    log = read(trace, flight, drives)
    pairs = tuple(_pair(log, flight, left, right) for left, right in log.pairs)
    return Motors(tuple(log.sides), pairs, Undecided("events are not looked for yet"), log.remark)


def _pair(log: Log, flight: Flight, left: str, right: str) -> Pair:
    found = blocks(log, flight, log.sides[left], log.sides[right])
    current = ratio(found.current_a, "current", floor_fraction=0.004)
    rpm = ratio(found.rpm, "speed", floor_fraction=0.0005)
    imbalance: Estimate | Undecided = Undecided("the log has no current of both motors")
    verdict, reason = "undecided", "The log has no current of both motors."
    if isinstance(current, Estimate):
        value, low, high = (2 * (v - 1) / (v + 1) for v in (current.value, current.low, current.high))
        imbalance = Estimate(value, low, high, "from the currents alone")
        even = EVEN_CURRENT_FRACTION.value
        verdict = "even" if -even < imbalance.low and imbalance.high < even else "uneven" if abs(imbalance.value) > 2 * even else "undecided"
        reason = f"The right motor draws {current.value:.3f} times the current of the left one."
    elif isinstance(current, Undecided):
        imbalance = current
    return Pair(left, right, imbalance, current, rpm, verdict, "none" if verdict == "even" else "undecided", reason, curves=_curves(found, left, right))


def _curves(found: Blocks, left: str, right: str) -> tuple[SideCurve, ...]:
    def side(row: int, position: str) -> SideCurve:
        current = None if found.current_a is None else found.current_a[row]
        rpm = None if found.rpm is None else found.rpm[row]
        return SideCurve(position, found.time_s, found.command[row], current, rpm)

    return side(0, left), side(1, right)
