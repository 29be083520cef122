"""The pack as a whole: its own voltage where it was logged, else the sum of its cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack.figures import METHOD, Ohms, mean_ohms, open_circuit_end, sag
from telemetry.analysis.pack.fit import Prior
from telemetry.analysis.pack.grid import LoadGrid, outside
from telemetry.analysis.pack.joint import Joint, joint, unfit
from telemetry.analysis.pack.kind import possible
from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import undecided
from telemetry.signals import CellGroup, Signals
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Whole:
    """The pack's voltage and its fit, which is per cell: `cells` times it is the pack.

    time_s, volts : (m,) of the whole pack. [s, V]
    cells : their number, or where it is not known one that keeps the fit in the voltages of a cell: then only
        figures of the whole pack are told.
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


def count_cells(rest_v: float, lowest_v: float, *, loaded_v: float = 2.5) -> int | Undecided:
    """How many cells a pack has that no sheet speaks of.

    Parameters
    ----------
    rest_v : before the flight. [V]
    lowest_v : of the whole flight. [V]
    loaded_v : a cell that is flown does not fall under it. [V]

    Returns
    -------
    The only number for which a cell of some chemistry can rest so and be about to be flown, else why it is
    not told: 16.8 V are four full cells of lithium polymer as well as five of lithium iron phosphate.
    """
    fits = [n for n in range(1, 15) if lowest_v / n >= loaded_v and possible(rest_v / n)]
    if len(fits) == 1:
        return fits[0]
    if not fits:
        return undecided("pack", "fits_no_count", rest_v=rest_v)
    counts = f"{', '.join(map(str, fits[:-1]))} or {fits[-1]}"
    return undecided("pack", "fits_counts", rest_v=rest_v, counts=counts)


def logged_count(signals: Signals, *, plain: float = 0.5) -> int | Undecided:
    """How many cells a pack has by those that were logged.

    Parameters
    ----------
    signals : with one cell at least.
    plain : of a cell; pack voltage that is so much above the sum of the cells is no sensor's error.

    Returns
    -------
    Their number; the reason where the pack's own voltage is that of more cells.
    """
    logged, pack = len(signals.cells), signals.fresh("pack_voltage_v")
    if pack is None:
        return logged
    mean_v = [float(np.median(pack.values - np.interp(pack.time_s, *s))) for s in signals.cells.values()]
    pack_v = float(np.median(pack.values))
    one_v = pack_v - float(np.mean(mean_v))
    if pack_v > (logged + plain) * one_v:
        return undecided("pack", "more_than_logged", pack_v=pack_v, logged=logged, of=round(pack_v / one_v))
    return logged


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


def fit_pack(group: CellGroup, drive: LoadGrid, cells: Joint | None) -> Joint | Undecided:
    """The pack's own voltage; what its cells already told is kept."""
    (group,) = outside((group,), drive.silences)
    why = unfit((group,), drive)
    if why is not None:
        return why
    if cells is None:
        return joint((group,), drive)
    return joint((group,), drive, prior=Prior.near(cells.shared), start=cells.shared)
