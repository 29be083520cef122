"""Sag, resistance, rest voltage, weak cells: one joint fit for the whole pack."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.pack.figures import Ohms, estimates, lag, mean_ohms, open_circuit_end, own_ohms, ratio, sag
from telemetry.analysis.pack.joint import Joint, joint, too_steady
from telemetry.analysis.pack.readings import Group, cell_groups, drive
from telemetry.analysis.pack.rest import charge_by_rest, rest_after, rest_before
from telemetry.analysis.pack.results import Cell, CellCurve, OddSensor, Pack, WeakCell
from telemetry.analysis.pack.weak import by_resistance
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import FULL_CELL_V
from telemetry.trace import Flight, Stretch, Trace, pack_voltage

__all__ = ["Cell", "CellCurve", "OddSensor", "Pack", "WeakCell", "analyse"]


def analyse(
    trace: Trace, flight: Flight, *, cell_count: int | None = None, capacity_mah: float | None = None, name: str = "", full_cell_v: float = FULL_CELL_V.value
) -> Pack:
    """The pack in one flight.

    Parameters
    ----------
    trace, flight : the log, and the span of it.
    cell_count : from the sheet; without it the logged cells are counted, or the rest voltage tells.
    capacity_mah : from the sheet, for the charge left. [mAh]
    name : the pack's.
    full_cell_v : open-circuit voltage of a full cell. [V]
    """
    groups = cell_groups(trace, flight)
    driven = drive(trace, flight)
    powered = flight.powered
    fitted: Joint | Undecided
    if isinstance(powered, Undecided):
        fitted = Undecided("no motor ran")
    elif driven is None:
        fitted = Undecided("the log has no pack current")
    elif not groups:
        fitted = Undecided("the log has no cell voltages")
    else:
        fitted = too_steady(groups, driven) or joint(groups, driven, powered)
    span = powered if isinstance(powered, Stretch) else Stretch(flight.end_s, flight.end_s)
    cells = _cells(groups, fitted, span)
    return _pack(trace, flight, name, cell_count, cells, fitted, span, groups, full_cell_v)


def _cells(groups: tuple[Group, ...], fitted: Joint | Undecided, span: Stretch) -> tuple[Cell, ...]:
    """Every logged cell, in order."""
    read = sorted((cell, group, k) for group, g in enumerate(groups) for k, cell in enumerate(g.cells))
    mean = mean_ohms(fitted) if isinstance(fitted, Joint) else None
    own = {d.cell: own_ohms(fitted, d) for d in fitted.deviations} if isinstance(fitted, Joint) else {}
    found = {d.cell: d for d in fitted.deviations} if isinstance(fitted, Joint) else {}
    made = []
    for cell, group, k in read:
        time_s, volts = groups[group].time_s, groups[group].volts[:, k]
        lowest = int(np.argmin(volts))
        after_v, after_s = rest_after(time_s, volts, span)
        base = (cell, rest_before(time_s, volts, span), float(volts[lowest]), float(time_s[lowest]))
        if isinstance(fitted, Undecided) or mean is None:
            no = fitted if isinstance(fitted, Undecided) else Undecided("no fit")
            made.append(Cell(*base, no, no, no, no, after_v, after_s, no, open_circuit_end_v=no))
            continue
        ohms = estimates(Ohms(mean.ohm + own[cell].ohm, mean.pulled + own[cell].pulled))
        one = found[cell]
        end = open_circuit_end(fitted, one)
        made.append(Cell(*base, sag(fitted, one).sag_v, *ohms, after_v, after_s, ratio(fitted, mean, own, cell), open_circuit_end_v=end))
    return tuple(made)


def _pack(
    trace: Trace,
    flight: Flight,
    name: str,
    cell_count: int | None,
    cells: tuple[Cell, ...],
    fitted: Joint | Undecided,
    span: Stretch,
    groups: tuple[Group, ...],
    full_cell_v: float,
) -> Pack:
    """The whole pack, put together."""
    found = pack_voltage(trace, within=flight)
    no_voltage = Undecided("the log has no pack or cell voltage")
    start: float | Undecided = no_voltage
    lowest: float | Undecided = no_voltage
    if found is not None:
        time_s, volts = found.samples
        lowest = float(volts.min())
        start = rest_before(time_s, volts, span)
    count: int | Undecided = cell_count or len(cells) or Undecided("the log has no cell voltages and the sheet no cells")
    weak = sorted((w for w in (by_resistance(c) for c in cells) if w is not None), key=lambda w: -w[0])
    weak_cells = tuple(w for _, w in weak)
    first = weak_cells[0] if weak_cells else None
    if isinstance(fitted, Undecided):
        no = fitted
        curves = tuple(CellCurve(c, g.time_s, g.volts[:, k], None) for g in groups for k, c in enumerate(g.cells))
        return Pack(name, count, start, lowest, no, no, no, no, no, cells, no, None, None, (), no, curves, no)
    mean = mean_ohms(fitted)
    n = len(fitted.deviations)
    ohms = estimates(Ohms(mean.ohm * n, mean.pulled.times(n)))
    sags = [sag(fitted, d) for d in fitted.deviations]
    whole = Estimate.around(sum(s.sag_v.value for s in sags), sum(s.sag_v.high - s.sag_v.value for s in sags), sags[0].sag_v.method)
    ends = [open_circuit_end(fitted, d) for d in fitted.deviations]
    mean_end = float(np.mean([e.value for e in ends]))
    by_rest = charge_by_rest(mean_end, float(np.mean([e.high - e.value for e in ends])), full_cell_v=full_cell_v)
    places = [fitted.place(d.cell) for d in fitted.deviations]
    curves = tuple(
        CellCurve(d.cell, fitted.groups[g].time_s, fitted.groups[g].volts[:, k], d.open_circuit_v, s.at_s)
        for d, (g, k), s in zip(fitted.deviations, places, sags, strict=True)
    )
    return Pack(
        name,
        count,
        start,
        lowest,
        whole,
        *ohms,
        by_rest,
        cells,
        first.cell if first else None,
        first.kind if first else None,
        first.reason if first else None,
        weak_cells,
        lag(fitted),
        curves,
        by_rest,
        how=fitted.drive.how,
    )
