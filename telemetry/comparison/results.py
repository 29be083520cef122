"""Measured against predicted, as the review's JSON carries it."""

from __future__ import annotations

from dataclasses import dataclass, field

from telemetry.estimate import Undecided
from telemetry.prediction.results import Replay


@dataclass(frozen=True, slots=True)
class Residual:
    """One headline number. residual_fraction = (measured − predicted) ÷ predicted; statistic is mean, min,
    max or at (a throttle).
    """

    quantity: str
    position: str
    statistic: str
    throttle_fraction: float | None
    predicted: float
    low: float
    high: float
    measured: float
    residual_fraction: float
    explained_by: str

    @property
    def kept(self) -> bool:
        """Whether the measurement lies in the predicted interval."""
        return self.low <= self.measured <= self.high


@dataclass(frozen=True, slots=True)
class PhaseResidual:
    """The mean of one quantity over one phase of the flight."""

    phase: str
    start_s: float
    end_s: float
    residual: Residual


@dataclass(frozen=True, slots=True)
class Comparison:
    """All residuals of a flight, the bands to draw, and the residuals of each phase."""

    residuals: tuple[Residual, ...] | Undecided
    replays: tuple[Replay, ...] = field(default=(), metadata={"json": False})
    phases: tuple[PhaseResidual, ...] = field(default=(), metadata={"json": False})


@dataclass(frozen=True, slots=True)
class BenchItem:
    """One check of a run-up: ready, not_ready or undecided, and the sentence why.

    Attributes
    ----------
    severity : of its finding when it is not ready.
    covers : keys of findings that say the same.
    is_effect : a figure off its prediction, which any fault brings along.
    """

    check: str
    verdict: str
    sentence: str
    severity: str = field(default="check", metadata={"json": False})
    covers: tuple[str, ...] = field(default=(), metadata={"json": False})
    is_effect: bool = field(default=False, metadata={"json": False})


@dataclass(frozen=True, slots=True)
class Bench:
    """Ready for the maiden? True only when every item is ready; None when one is undecided and none is not
    ready.
    """

    ready: bool | None
    items: tuple[BenchItem, ...]
