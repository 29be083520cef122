"""The consumption model and the timer it supports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from telemetry.estimate import Estimate, Undecided
from telemetry.history import PastFlight
from telemetry.sheet.setup import Setup


@dataclass(frozen=True, slots=True)
class Fan:
    """For drawing: likely futures. mah_per_min at the quantiles 0.025, 0.25, 0.5, 0.75, 0.975."""

    quantiles: tuple[float, ...]
    rate_mah_per_min: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Timer:
    """CONTRACT's T."""

    alarm_s: float
    starts: str
    usable_mah: float
    reserve_fraction: float
    confidence: float
    flights_used: int
    rate_mah_per_min: Estimate
    landing_allowance_s: float
    consumed_alarm_mah: float
    loaded_cell_alarm_v: float | Undecided
    limited_by: str
    weakest_assumption: str
    fan: Fan | None = field(default=None, metadata={"json": False})


@dataclass(frozen=True, slots=True)
class TimerSuggestion:
    """What `suggest_timer` answers: the alarm and the model behind it."""

    alarm_s: float
    rate_mah_per_min: Estimate
    rate_limit_mah_per_min: float
    flights_used: int
    weakest_assumption: str
    fan: Fan


def suggest_timer(
    durations_s: Sequence[float],
    consumed_mah: Sequence[float],
    *,
    capacity_mah: float,
    reserve_fraction: float,
    confidence: float,
    landing_allowance_s: float,
    prior: tuple[float, float] | None = None,
) -> TimerSuggestion:
    """Skeleton: to be written."""
    raise NotImplementedError


def timer_for(setup: Setup, history: Sequence[PastFlight], *, prior: tuple[float, float] | None = None) -> Timer | Undecided:
    """The timer for the next flight in this set-up. Skeleton: to be written."""
    return Undecided("not yet analysed")
