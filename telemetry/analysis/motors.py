"""Left against right: how uneven, why, and what happened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from telemetry.estimate import Estimate, Undecided
from telemetry.sheet.setup import Drive
from telemetry.trace import Flight, Floats, Trace


@dataclass(frozen=True, slots=True)
class CauseLikelihood:
    """How likely one cause is, 0…1, given the log."""

    cause: str
    probability: float


@dataclass(frozen=True, slots=True)
class SideCurve:
    """For drawing: one motor against command, each (m,)."""

    position: str
    time_s: Floats
    command: Floats
    current_a: Floats | None
    rpm: Floats | None


@dataclass(frozen=True, slots=True)
class Pair:
    """Two motors that mirror one another. Ratios are right ÷ left; imbalance is (right − left) ÷ mean of shaft power."""

    left: str
    right: str
    imbalance_fraction: Estimate | Undecided
    current_ratio: Estimate | Undecided
    rpm_ratio: Estimate | Undecided
    verdict: str
    cause: str
    reason: str
    causes: tuple[CauseLikelihood, ...] = ()
    curves: tuple[SideCurve, ...] = field(default=(), metadata={"json": False})


@dataclass(frozen=True, slots=True)
class Event:
    """Something a motor did. kind: cut, stall, reverse_ground, reverse_air, out_of_step, late_start, overheating."""

    kind: str
    motor: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Motors:
    """All pairs and events of one flight. `sides` says why motors are not told apart, if so."""

    positions: tuple[str, ...]
    pairs: tuple[Pair, ...]
    events: tuple[Event, ...] | Undecided


def analyse(trace: Trace, flight: Flight, *, drives: Sequence[Drive] = ()) -> Motors:
    """Skeleton: to be written."""
    return Motors((), (), Undecided("not yet analysed"))
