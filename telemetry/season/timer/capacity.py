"""The charge that may be used: the sheet's capacity, unless a measurement says less."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.estimate import Estimate
from telemetry.history import PastFlight
from telemetry.season.timer.results import PackFacts
from telemetry.sentences import say
from telemetry.sheet.setup import Setup


@dataclass(frozen=True, slots=True)
class Usable:
    """What the pack gives, as the log's sensor counts it.

    Attributes
    ----------
    capacity_mah : from full to empty. [mAh]
    relative_sd : its doubt.
    reserve_fraction : of it, to be left.
    said : "" for the sheet's own figure, else a clause that begins with a space.
    """

    capacity_mah: float
    relative_sd: float
    reserve_fraction: float
    said: str

    @property
    def usable_mah(self) -> float:
        """Capacity less the reserve. [mAh]"""
        return self.capacity_mah * (1.0 - self.reserve_fraction)

    @property
    def measured(self) -> bool:
        """Whether it is more than the sheet's word."""
        return bool(self.said)


def usable_charge(setup: Setup, facts: PackFacts, history: Sequence[PastFlight]) -> Usable:
    """The charge to count on for this pack.

    A measured capacity takes the place of the sheet's. A charger that puts back clearly more than
    the sensor counted makes the sensor's mAh larger ones: fewer of them fill the pack.
    """
    reserve = setup.reserve.fraction
    measured = facts.capacity_mah
    if isinstance(measured, Estimate):
        sd = (measured.high - measured.low) / (2 * 1.96 * measured.value)
        usable = Usable(measured.value, sd, reserve, _measured(measured.value, facts))
    elif measured is not None:
        usable = Usable(measured, 0.0, reserve, _measured(measured, facts))
    else:
        usable = Usable(setup.pack.capacity_mah, 0.0, reserve, "")
    gain = charger_gain(history)
    if gain is None or usable.measured:
        return usable
    counted_mah = usable.capacity_mah / gain.value
    sd = (gain.high - gain.low) / (2 * 1.96 * gain.value)
    return Usable(counted_mah, sd, reserve, say("timer", "charger_gain", more=100 * (gain.value - 1)))


def _measured(capacity_mah: float, facts: PackFacts) -> str:
    return say("timer", "measured_capacity", capacity_mah=capacity_mah, how=facts.capacity_reason)


def charger_gain(
    history: Sequence[PastFlight],
    *,
    reading_sd: float = 0.02,
    charger_sd: float = 0.015,
    losses: float = 0.01,
) -> Estimate | None:
    """What the charger puts back for each mAh that the sensor counted, when it is clearly more; else None.

    Parameters
    ----------
    reading_sd : of one comparison (how full "full" is, how empty the flight before left it).
    charger_sd : of the charger's own count, common to all.
    losses : what charging takes besides what it stores.
    """
    ratios = [f.put_back_mah / f.consumed_mah for f in history if f.put_back_mah is not None]
    if not ratios:
        return None
    log_gain = sum(math.log(r) for r in ratios) / len(ratios) - losses
    half = 1.96 * math.hypot(reading_sd / math.sqrt(len(ratios)), charger_sd)
    if log_gain - half <= 0:
        return None
    return Estimate(
        math.exp(log_gain), math.exp(log_gain - half), math.exp(log_gain + half), say("methods", "charger")
    )
