"""Sag, resistance, rest voltage, weak cells: one joint fit for the whole pack."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.pack.figures import TWO_SIDED, estimates, open_circuit_end, resistances, sag, total
from telemetry.analysis.pack.joint import Joint, joint, too_steady
from telemetry.analysis.pack.readings import Group, cell_groups, drive
from telemetry.analysis.pack.rest import charge_by_rest, rest_after, rest_before
from telemetry.analysis.pack.results import Cell, CellCurve, OddSensor, Pack, WeakCell
from telemetry.analysis.pack.spread import Influence, variance
from telemetry.analysis.pack.weak import by_resistance
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import FULL_CELL_V
from telemetry.trace import Flight, Floats, Stretch, Trace, pack_voltage

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
    figures = {cell: resistances(fitted, group, k) for cell, group, k in read} if isinstance(fitted, Joint) else {}
    made = []
    for cell, group, k in read:
        time_s, volts = groups[group].time_s, groups[group].volts[:, k]
        lowest = int(np.argmin(volts))
        after_v, after_s = rest_after(time_s, volts, span)
        base = (cell, rest_before(time_s, volts, span), float(volts[lowest]), float(time_s[lowest]))
        if isinstance(fitted, Undecided):
            made.append(Cell(*base, fitted, fitted, fitted, fitted, after_v, after_s, fitted, open_circuit_end_v=fitted))
            continue
        ohms = estimates(fitted, *figures[cell])
        ratio = _ratio(fitted, figures, cell)
        end = open_circuit_end(fitted, group, k)
        made.append(Cell(*base, sag(fitted, group, k)[0], *ohms, after_v, after_s, ratio, open_circuit_end_v=end))
    return tuple(made)


def _ratio(fitted: Joint, figures: dict[int, tuple[Floats, Influence]], cell: int) -> Estimate | Undecided:
    """1 s resistance of a cell ÷ its neighbours' median."""
    others = [c for c in figures if c != cell]
    if not others:
        return Undecided("a single cell has no neighbours")
    own, pull = figures[cell]
    middle = float(np.median([figures[c][0][1] for c in others]))
    mean_blocks = np.mean([figures[c][1].blocks for c in others], axis=0)
    mean_follow = np.mean([figures[c][1].follow for c in others], axis=0)
    ratio = float(own[1]) / middle
    relative = Influence(pull.blocks / middle - mean_blocks * ratio / middle, pull.follow / middle - mean_follow * ratio / middle)
    sd = float(np.sqrt(variance(relative, fitted.pulled.prior, 3.0)[1]))
    return Estimate.around(ratio, TWO_SIDED * np.hypot(sd, 0.004), "1 s resistance against its neighbours' median")


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
    each = [resistances(fitted, g, k) for _, g, k in fitted.cells]
    ohms = estimates(fitted, np.sum([r for r, _ in each], axis=0), total([i for _, i in each]))
    sags = [sag(fitted, g, k) for _, g, k in fitted.cells]
    whole = Estimate.around(sum(s.value for s, _ in sags), sum(s.high - s.value for s, _ in sags), sags[0][0].method)
    lag = fitted.shared.lag_s
    lag_half = TWO_SIDED * float(np.sqrt(np.sum(fitted.pulled.shared[:, 0] ** 2) + fitted.pulled.prior[0, 0]))
    ends = [open_circuit_end(fitted, g, k) for _, g, k in fitted.cells]
    mean_end = float(np.mean([e.value for e in ends]))
    by_rest = charge_by_rest(mean_end, float(np.mean([e.high - e.value for e in ends])), full_cell_v=full_cell_v)
    curves = tuple(
        CellCurve(c, fitted.fits[g].rows.group.time_s, fitted.fits[g].rows.group.volts[:, k], fitted.fits[g].open_circuit_v[:, k], at)
        for (c, g, k), (_, at) in zip(fitted.cells, sags, strict=True)
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
        Estimate.around(lag, lag_half, "joint fit"),
        curves,
        by_rest,
        how=fitted.drive.how,
    )
