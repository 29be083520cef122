"""Peak, largest mean current over every window, margins to ratings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.estimate import Estimate, Undecided
from telemetry.sheet.setup import Rating
from telemetry.trace import Flight, Trace


@dataclass(frozen=True, slots=True)
class Sustained:
    """The largest mean current over any window of this length, and where that window starts."""

    window_s: float
    max_mean_a: float
    start_s: float


@dataclass(frozen=True, slots=True)
class Margin:
    """One rating against the flight. margin_fraction = (rating − measured) ÷ rating, negative when over."""

    part: str
    position: str
    rating_a: float
    window_s: float
    measured_a: Estimate | Undecided
    margin_fraction: float | Undecided
    start_s: float | Undecided


@dataclass(frozen=True, slots=True)
class Current:
    """The load on pack and parts. `by_motor` holds each motor's sustained curve."""

    peak_a: float | Undecided
    peak_at_s: float | Undecided
    rms_a: float | Undecided
    sustained: tuple[Sustained, ...]
    limits: tuple[Margin, ...]
    by_motor: dict[str, tuple[Sustained, ...]]
    how: str = ""


def analyse(trace: Trace, flight: Flight, *, ratings: Sequence[Rating] = ()) -> Current:
    """Skeleton: to be written."""
    no = Undecided("not yet analysed")
    return Current(no, no, no, (), (), {})
