"""What the pack's analysis hands back."""

from __future__ import annotations

from dataclasses import dataclass, field

from telemetry.estimate import Estimate, Undecided
from telemetry.limits import Limit
from telemetry.physics.chemistry import CHEMISTRIES, LIPO
from telemetry.sentences import undecided
from telemetry.trace import Floats

NOT_LOGGED = undecided("pack", "no_temperature")
NOT_COMPARED = undecided("pack", "not_compared")
NO_FIT = undecided("pack", "no_fit")
NO_CAPACITY = undecided("pack", "no_capacity")
NO_VOLTAGE = undecided("pack", "no_voltage")


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell in one flight. Cells count from the pack's negative end.

    Attributes
    ----------
    rest_before_v : the last settled voltage before load. [V]
    min_loaded_v, min_at_s : the lowest fresh reading of the flight and its moment. [V, s]
    sag_v : largest open-circuit less loaded voltage. [V]
    resistance_ohm, resistance_1s_ohm, resistance_10s_ohm : means over the powered time at the pack's
        temperature. [Ω]
    rest_after_v, rest_after_s : the last reading after the load, and the rest it had had. [V, s]
    resistance_ratio : its 1 s resistance ÷ that of its neighbours (their median). [1]
    capacity_ratio : its capacity ÷ that of its neighbours, as its fall late in the flight shows it. [1]
    start_shift_fraction : how much fuller (above 0) than its neighbours it started, in parts of the pack's
        charge. [1]
    sensor_offset_v : the same volts throughout, by which its sensor reads apart from its neighbours'. [V]
    resistance_25c_ohm, resistance_1s_25c_ohm : the same resistances carried to 25 °C. [Ω]
    open_circuit_end_v : what it will come back to at rest. [V]
    apart_by : why it stands apart from the start: "unbalanced", "sensor", "either", "" where it does not.
    apart_v : how far it stands apart from its neighbours at the start. [V]
    """

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
    capacity_ratio: Estimate | Undecided = NOT_COMPARED
    start_shift_fraction: Estimate | Undecided = NOT_COMPARED
    sensor_offset_v: Estimate | Undecided = NOT_COMPARED
    resistance_25c_ohm: Estimate | Undecided = NOT_LOGGED
    resistance_1s_25c_ohm: Estimate | Undecided = NOT_LOGGED
    open_circuit_end_v: Estimate | Undecided = NO_FIT
    apart_by: str = field(default="", metadata={"json": False})
    apart_v: float = field(default=0.0, metadata={"json": False})


@dataclass(frozen=True, slots=True)
class WeakCell:
    """A cell that needs action: kind is resistance, capacity or unbalanced."""

    cell: int
    kind: str
    reason: str


@dataclass(frozen=True, slots=True)
class OddSensor:
    """A sensor that reads one cell off by the same volts throughout, or stops: a finding on that cell, not a
    weak cell. `offset_v` is undecided for one that stops.
    """

    cell: int
    offset_v: Estimate | Undecided
    reason: str


@dataclass(frozen=True, slots=True)
class CellCurve:
    """For drawing: fresh loaded voltage and fitted open-circuit voltage of one cell, each (m,) at `time_s`.
    cell 0 is the pack.

    `sag_at_s` is where the sag was largest, None without a fit.
    """

    cell: int
    time_s: Floats
    loaded_v: Floats
    open_circuit_v: Floats | None
    sag_at_s: float | None = None


@dataclass(frozen=True, slots=True)
class Pack:
    """The pack in one flight, as the sensors saw it.

    Attributes
    ----------
    start_charge_fraction : before load, by the resting voltage or by what the flight before left.
    charge_left_fraction : at the flight's end, both ways weighed together; with a note when they disagree.
    charge_left_by_rest_fraction : from the voltage it comes back to at rest.
    charge_left_by_charge_fraction : from the charge drawn, the sheet's capacity and how full it started.
    charge_left_note : "" or what their disagreement means, a clause.
    odd_sensors : cells whose sensor reads off.
    temperature_c : mean over the powered time. [°C]
    likely_chemistry : the chemistry that the cells' voltages speak for, where they contradict the sheet's; ""
        where they do not.
    chemistries : the sheet's, or every one that the cells can be of where no sheet says it.
    how : where voltage and current came from, clauses joined by "; ", "" when both were logged.
    """

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
    charge_left_by_rest_fraction: Estimate | Undecided = NO_FIT
    charge_left_by_charge_fraction: Estimate | Undecided = NO_CAPACITY
    charge_left_note: str = ""
    odd_sensors: tuple[OddSensor, ...] = ()
    temperature_c: float | Undecided = NOT_LOGGED
    resistance_25c_ohm: Estimate | Undecided = NOT_LOGGED
    resistance_1s_25c_ohm: Estimate | Undecided = NOT_LOGGED
    how: str = ""
    start_charge_fraction: Estimate | Undecided = NO_VOLTAGE
    likely_chemistry: str = ""
    chemistries: tuple[str, ...] = ()

    @property
    def usual_floor(self) -> Limit:
        """What no loaded cell is to fall under where no sheet says it: by the chemistry that the cells speak
        for, else by the one of those they can be of that bears least. [V]
        """
        keys = (self.likely_chemistry,) if self.likely_chemistry else self.chemistries or (LIPO.key,)
        return max((CHEMISTRIES[key].loaded_floor_v for key in keys), key=lambda floor: floor.value)
