"""Why a flight was not as predicted, where its data tell."""

from __future__ import annotations

from telemetry.analysis.pack import Pack
from telemetry.comparison.replaying import Flow
from telemetry.comparison.results import PhaseResidual, Residual
from telemetry.prediction.replay import Flown
from telemetry.sheet.setup import Setup


def explain(
    residuals: tuple[Residual, ...], phases: tuple[PhaseResidual, ...], flown: Flown, setup: Setup, flows: tuple[Flow, ...], pack: Pack | None
) -> tuple[Residual, ...]:
    """The residuals with `explained_by` where the data support it."""
    return residuals
