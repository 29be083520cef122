"""From a sheet alone: what the aircraft should draw, turn, push and last. Never sees a log."""

from __future__ import annotations

from telemetry.prediction import expected
from telemetry.prediction.packs import joined
from telemetry.prediction.results import Prediction
from telemetry.sentences.fans import of_fans
from telemetry.sheet import Sheet
from telemetry.sheet.setup import Setup

__all__ = ["Prediction", "predict"]


def predict(
    sheet: Sheet | Setup, configuration: str | None = None, *, pack: str | None = None, seed: int = 0
) -> Prediction:
    """What a set-up should do.

    Parameters
    ----------
    sheet : a set-up sheet, or one set-up of it.
    configuration, pack : names in the sheet; None is the sheet as it stands.
    seed : of the draws of what the sheet leaves open.

    Raises
    ------
    BadUse : an unknown configuration or pack.
    """
    setup = sheet if isinstance(sheet, Setup) else sheet.setup(configuration, pack)
    if setup.packs:
        shares = [expected.predict(setup.alone(one.position), seed=seed) for one in setup.packs]
        found = joined(setup, shares, seed=seed)
    else:
        found = expected.predict(setup, seed=seed)
    return of_fans(found) if setup.ducted else found
