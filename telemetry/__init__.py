"""Flight telemetry of electric model aircraft: from a log to a review. Knows no screen.

    >>> from telemetry import Sheet, read_log, review          # doctest: +SKIP
    >>> found = review(read_log("maiden.csv"), Sheet.read("mail.toml"))   # doctest: +SKIP

The names below are what a script may rely on; they are loaded when first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from telemetry.debrief import Review, review
    from telemetry.errors import SaglineError
    from telemetry.estimate import Estimate, Undecided
    from telemetry.importers.log import read_log
    from telemetry.prediction import Prediction, predict
    from telemetry.season.timer import TimerSuggestion, suggest_timer
    from telemetry.sheet import Sheet
    from telemetry.trace import Trace

__all__ = [
    "Estimate",
    "Prediction",
    "Review",
    "SaglineError",
    "Sheet",
    "TimerSuggestion",
    "Trace",
    "Undecided",
    "predict",
    "read_log",
    "review",
    "suggest_timer",
]

_HOMES = {
    "Estimate": "telemetry.estimate",
    "Prediction": "telemetry.prediction",
    "Review": "telemetry.debrief",
    "SaglineError": "telemetry.errors",
    "Sheet": "telemetry.sheet",
    "TimerSuggestion": "telemetry.season.timer",
    "Trace": "telemetry.trace",
    "Undecided": "telemetry.estimate",
    "predict": "telemetry.prediction",
    "read_log": "telemetry.importers.log",
    "review": "telemetry.debrief",
    "suggest_timer": "telemetry.season.timer",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'telemetry' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
