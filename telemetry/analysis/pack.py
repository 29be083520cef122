"""Sag, resistance, rest voltage, weak cells: one joint fit for the whole pack."""

from __future__ import annotations

from dataclasses import dataclass, field

from telemetry.estimate import Estimate, Undecided
from telemetry.trace import Flight, Floats, Trace


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell in one flight. Cells count from the pack's negative end. `resistance_ratio` is its 1 s resistance ÷ the mean of its neighbours'."""

    cell: int
    rest_before_v: float | Undecided
    min_loaded_v: float | Undecided
    min_at_s: float | Undecided
    sag_v: Estimate | Undecided
    resistance_ohm: Estimate | Undecided
    resistance_1s_ohm: Estimate | Undecided
    resistance_10s_ohm: Estimate | Undecided
    rest_after_v: float | Undecided
    rest_after_s: float | Undecided
    resistance_ratio: Estimate | Undecided


@dataclass(frozen=True, slots=True)
class WeakCell:
    """A cell that needs action: kind is resistance, capacity or unbalanced."""

    cell: int
    kind: str
    reason: str


@dataclass(frozen=True, slots=True)
class CellCurve:
    """For drawing: fresh loaded voltage and fitted open-circuit voltage of one cell, each (m,) at `time_s`. cell 0 is the pack."""

    cell: int
    time_s: Floats
    loaded_v: Floats
    open_circuit_v: Floats | None


@dataclass(frozen=True, slots=True)
class Pack:
    """The pack in one flight, as the sensors saw it."""

    name: str
    cell_count: int | Undecided
    start_voltage_v: float | Undecided
    min_voltage_v: float | Undecided
    sag_v: Estimate | Undecided
    resistance_ohm: Estimate | Undecided
    resistance_1s_ohm: Estimate | Undecided
    resistance_10s_ohm: Estimate | Undecided
    charge_left_fraction: Estimate | Undecided
    cells: tuple[Cell, ...]
    weak_cell: int | Undecided | None
    weak_cell_kind: str | None
    weak_cell_reason: str | None
    weak_cells: tuple[WeakCell, ...]
    voltage_lag_s: Estimate | Undecided
    curves: tuple[CellCurve, ...] = field(default=(), metadata={"json": False})


def analyse(trace: Trace, flight: Flight, *, cell_count: int | None = None, capacity_mah: float | None = None, name: str = "") -> Pack:
    """Skeleton: to be written."""
    no = Undecided("not yet analysed")
    return Pack(name, no, no, no, no, no, no, no, no, (), no, None, None, (), no)
