"""The pack as a whole: its own voltage where it was logged, else the sum of its cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.figures import METHOD, Ohms, mean_ohms, open_circuit_end, sag
from telemetry.analysis.pack.fit import SPANS, Prior
from telemetry.analysis.pack.grid import LoadGrid, outside
from telemetry.analysis.pack.joint import Joint, joint, unfit
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import FULL_CELL_V
from telemetry.sentences import undecided
from telemetry.signals import CellGroup, Signals
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Whole:
    """The pack's voltage and its fit, which is per cell: `cells` times it is the pack.

    time_s, volts : (m,) of the whole pack. [s, V]
    how : "" or where the voltage came from.
    """

    time_s: Floats
    volts: Floats
    cells: int
    fitted: Joint | Undecided
    how: str

    def ohms(self) -> Ohms | Undecided:
        """Resistance after 0, 1 and 10 s, plugs and leads up to the sensor included. [Ω]"""
        if isinstance(self.fitted, Undecided):
            return self.fitted
        mean = mean_ohms(self.fitted)
        return Ohms(mean.ohm * self.cells, mean.pulled.times(self.cells))

    def sag_v(self) -> Estimate | Undecided:
        """Largest sag. [V]"""
        if isinstance(self.fitted, Undecided):
            return self.fitted
        found = [sag(self.fitted, d).sag_v for d in self.fitted.deviations]
        times = self.cells / len(found)
        return Estimate.around(
            times * sum(f.value for f in found), times * sum(f.high - f.value for f in found), METHOD
        )

    def rest_end_v(self) -> Estimate | Undecided:
        """What its mean cell comes back to at rest. [V]"""
        if isinstance(self.fitted, Undecided):
            return self.fitted
        return mean_of([open_circuit_end(self.fitted, d) for d in self.fitted.deviations])


def mean_of(found: Sequence[Estimate]) -> Estimate:
    """The mean cell, no surer than the others: they share their errors."""
    return Estimate.around(
        float(np.mean([f.value for f in found])), float(np.mean([f.high - f.value for f in found])), METHOD
    )


def count_cells(
    rest_v: float,
    lowest_v: float,
    *,
    full_cell_v: float = FULL_CELL_V.value,
    least_v: float = 3.60,
    loaded_v: float = 2.5,
) -> int | Undecided:
    """How many cells a pack has that rests at `rest_v` before a flight and falls to `lowest_v`.

    A cell about to be flown rests between `least_v` (all but empty) and full. Packs of more than
    five cells often fit two numbers.
    """
    fits = [
        n for n in range(1, 15) if least_v <= rest_v / n <= full_cell_v + 0.06 and lowest_v / n >= loaded_v
    ]
    if len(fits) == 1:
        return fits[0]
    if not fits:
        return undecided("pack", "fits_no_count", rest_v=rest_v)
    return undecided("pack", "fits_counts", rest_v=rest_v, counts=" and ".join(str(n) for n in fits))


def pack_group(signals: Signals, cells: int) -> CellGroup | None:
    """The logged pack voltage, per cell; None with fewer than two readings that a cell can have."""
    samples = signals.fresh("pack_voltage_v")
    if samples is None:
        return None
    per_cell = samples.values / cells
    keep = (per_cell > 1.0) & (per_cell < 4.6)
    if np.count_nonzero(keep) < 2:
        return None
    return CellGroup((0,), samples.time_s[keep], per_cell[keep, None], signals.step("pack_voltage_v") / cells)


def fit_pack(
    group: CellGroup, drive: LoadGrid, cells: Joint | None, *, spans: int = SPANS
) -> Joint | Undecided:
    """The pack's own voltage; what its cells already told is kept. `spans` of the open-circuit curve."""
    (group,) = outside((group,), drive.silences)
    why = unfit((group,), drive)
    if why is not None:
        return why
    if cells is None:
        return joint((group,), drive, spans=spans)
    return joint((group,), drive, prior=Prior.near(cells.shared), start=cells.shared, spans=spans)
