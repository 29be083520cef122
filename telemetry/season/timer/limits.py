"""What gives out first: the charge, the voltage under load, a weak cell, or a part that gets hot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.estimate import Estimate, Undecided
from telemetry.physics import open_circuit
from telemetry.season.timer.results import CellFacts, PackFacts, TimeLimit
from telemetry.sheet.setup import Setup


@dataclass(frozen=True, slots=True)
class ChargeLimit:
    """Charge that may have left the pack at landing, and what sets it. [mAh]"""

    limited_by: str
    landed_by_mah: float
    reason: str


@dataclass(frozen=True, slots=True)
class Loaded:
    """A cell under a lasting load. [Ω, V, mAh]"""

    resistance_ohm: float
    full_cell_v: float
    capacity_mah: float

    def voltage_v(self, taken_mah: float, current_a: float) -> float:
        """What the cell shows at this current when so much has left it. [V]"""
        left = 1.0 - taken_mah / self.capacity_mah
        return float(open_circuit.voltage_v(left, full_cell_v=self.full_cell_v)) - current_a * self.resistance_ohm

    def charge_at_mah(self, floor_v: float, current_a: float) -> float:
        """The charge taken at which this current pulls the cell down to a floor, 0 if it does from the start. [mAh]"""
        left = float(open_circuit.charge_left_fraction(floor_v + current_a * self.resistance_ohm, full_cell_v=self.full_cell_v))
        return self.capacity_mah * (1.0 - left)


def capacity_of(setup: Setup, facts: PackFacts) -> tuple[float, bool]:
    """The capacity to count on, the low end of a measured one, and whether it was measured. [mAh]"""
    measured = facts.capacity_mah
    if measured is None:
        return setup.pack.capacity_mah, False
    return (measured.value if isinstance(measured, Estimate) else measured), True


def mean_cell(setup: Setup, facts: PackFacts) -> Loaded | Undecided:
    """The pack's mean cell, measured if it was, else from the sheet."""
    capacity_mah, _ = capacity_of(setup, facts)
    measured = facts.resistance_ohm
    if measured is not None:
        ohm = measured.value if isinstance(measured, Estimate) else measured
    elif setup.pack.resistance_ohm is not None:
        learnt = setup.calibration.get("pack_resistance")
        ohm = setup.pack.resistance_ohm * (learnt.value if learnt else 1.0)
    else:
        return Undecided("neither the sheet nor a flight says the pack's resistance")
    return Loaded(ohm, setup.pack.full_cell_v, capacity_mah)


def charge_limits(setup: Setup, facts: PackFacts, usable_mah: float, cruise_a: float) -> tuple[ChargeLimit, ...]:
    """Every charge that bounds the flight, the reserve first."""
    found = [ChargeLimit("charge", usable_mah, f"the reserve of {100 * setup.reserve.fraction:.0f} %")]
    cell = mean_cell(setup, facts)
    floor_v = setup.reserve.loaded_cell_v
    loads = [(cruise_a, "at cruise")]
    if setup.reserve.go_around_s > 0 and facts.full_current_a is not None:
        loads.append((facts.full_current_a, "at full throttle, for a go-around"))
    for current_a, when in loads:
        if isinstance(cell, Loaded):
            found.append(ChargeLimit("voltage", cell.charge_at_mah(floor_v, current_a), f"the cells fall to {floor_v:.2f} V {when}"))
        for one in facts.cells:
            found.extend(_cell_voltage_limit(setup, facts, one, current_a, when))
    capacity_mah, _ = capacity_of(setup, facts)
    for one in facts.cells:
        if one.weak and one.missing_fraction > 0:
            left = capacity_mah * (1.0 - one.missing_fraction) * (1.0 - setup.reserve.fraction)
            found.append(ChargeLimit("cell", left, f"cell {one.cell} gives {100 * one.missing_fraction:.0f} % less than the pack"))
    return tuple(found)


def _cell_voltage_limit(setup: Setup, facts: PackFacts, cell: CellFacts, current_a: float, when: str) -> tuple[ChargeLimit, ...]:
    if cell.resistance_ohm is None:
        return ()
    capacity_mah, _ = capacity_of(setup, facts)
    floor_v = setup.reserve.loaded_cell_v
    loaded = Loaded(cell.resistance_ohm, setup.pack.full_cell_v, capacity_mah * (1.0 - cell.missing_fraction))
    kind = "cell" if cell.weak else "voltage"
    return (ChargeLimit(kind, loaded.charge_at_mah(floor_v, current_a), f"cell {cell.cell} falls to {floor_v:.2f} V {when}"),)


def time_to_temperature(*, start_c: float, end_c: float, seconds: float, limit_c: float, part: str) -> TimeLimit | None:
    """When a part that warmed from `start_c` to `end_c` in a flight's powered time reaches its limit.

    Carries the mean warming on in a straight line: a part warms ever more slowly, so it gets
    there no sooner. Above its limit already, the line says when it passed it, which is late by
    as much as the warming is bent. None for a part that did not warm.
    """
    if end_c <= start_c or seconds <= 0:
        return None
    reached_s = max(0.0, seconds * (limit_c - start_c) / (end_c - start_c))
    return TimeLimit("temperature", reached_s, f"the {part} reaches {limit_c:.0f} °C")


def first(limits: Sequence[ChargeLimit]) -> ChargeLimit:
    """The one that gives out first."""
    return min(limits, key=lambda limit: limit.landed_by_mah)
