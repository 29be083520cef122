"""Consumed charge and energy, mean current, sensor gain."""

from __future__ import annotations

from dataclasses import dataclass

from telemetry.estimate import Estimate, Undecided
from telemetry.trace import Flight, Trace


@dataclass(frozen=True, slots=True)
class Capacity:
    """What left the pack. `consumed_fraction` is of the sheet's capacity; `how` says where the current came from."""

    consumed_mah: Estimate | Undecided
    logged_mah: float | Undecided
    energy_wh: Estimate | Undecided
    consumed_fraction: float | Undecided
    mean_current_a: float | Undecided
    sensor_gain: Estimate | Undecided
    how: str = ""


def analyse(trace: Trace, flight: Flight, *, capacity_mah: float | None = None) -> Capacity:
    """Skeleton: to be written."""
    no = Undecided("not yet analysed")
    return Capacity(no, no, no, no, no, no)
