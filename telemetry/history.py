"""A past flight as one row of facts.

History reaches a review or a timer as an argument: the command or the page reads
it from a CSV or asks the logbook for it.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PastFlight:
    """One flight already flown.

    Attributes
    ----------
    duration_s : powered time. [s]
    consumed_mah : all that left the pack. [mAh]
    configuration : "" is the sheet as it stands.
    date : ISO date, or "" when not known.
    pack : the pack's name, or "" for the sheet's [pack].
    put_back_mah : what the charger put back, or None. [mAh]
    temperature_c : of the pack or the air, or None. [°C]
    """

    duration_s: float
    consumed_mah: float
    configuration: str = ""
    date: str = ""
    pack: str = ""
    put_back_mah: float | None = None
    temperature_c: float | None = None

    @property
    def rate_mah_per_min(self) -> float:
        """Mean consumption over the powered time. [mAh/min]"""
        return self.consumed_mah / (self.duration_s / 60.0)
