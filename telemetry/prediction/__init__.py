"""From a set-up alone: what it should draw, turn, push and last. Never sees a log."""

from __future__ import annotations

from telemetry.prediction.expected import predict
from telemetry.prediction.results import Prediction

__all__ = ["Prediction", "predict"]
