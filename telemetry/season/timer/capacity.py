"""The charge that may be used: the sheet's capacity, unless a measurement says less."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.estimate import Estimate, Undecided
from telemetry.history import PastFlight
from telemetry.put_back import put_backs, sensor_gain
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


def usable_charge(setup: Setup, facts: PackFacts, flights: Sequence[PastFlight]) -> Usable:
    """The charge to count on for this pack.

    A measured capacity takes the place of the sheet's. A charger that puts back clearly more than
    the sensor counted makes the sensor's mAh larger ones: fewer of them fill the pack.

    Parameters
    ----------
    setup, facts : the sheet's word on the pack, and what was measured of it.
    flights : those flown on this pack, see `put_back.flown_on`.
    """
    reserve = setup.reserve.fraction
    measured = facts.capacity_mah
    if isinstance(measured, Estimate):
        return Usable(measured.value, _relative_sd(measured), reserve, _measured(measured.value, facts))
    if measured is not None:
        return Usable(measured, 0.0, reserve, _measured(measured, facts))
    gain = sensor_gain(put_backs(flights))
    if isinstance(gain, Undecided) or gain.high >= 1.0:
        return Usable(setup.pack.capacity_mah, 0.0, reserve, "")
    note = say("timer", "charger_gain", more=100 * (1 / gain.value - 1))
    return Usable(setup.pack.capacity_mah * gain.value, _relative_sd(gain), reserve, note)


def _measured(capacity_mah: float, facts: PackFacts) -> str:
    return say("timer", "measured_capacity", capacity_mah=capacity_mah, how=facts.capacity_reason)


def _relative_sd(found: Estimate) -> float:
    return (found.high - found.low) / (2 * 1.96 * found.value)
