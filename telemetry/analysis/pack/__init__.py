"""Sag, resistance, rest voltage, weak cells: one joint fit for the whole pack."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from telemetry.analysis.pack.figures import Ohms, estimates, lag, mean_ohms, open_circuit_end, own_ohms, sag
from telemetry.analysis.pack.joint import Joint, joint, too_steady
from telemetry.analysis.pack.readings import Drive, Group, cell_groups, cell_readings, drive, outside
from telemetry.analysis.pack.rest import (
    ChargeLeft,
    charge_by_charge,
    charge_by_rest,
    rest_after,
    rest_before,
    weigh,
)
from telemetry.analysis.pack.results import NO_CAPACITY, Cell, CellCurve, OddSensor, Pack, WeakCell
from telemetry.analysis.pack.temperature import at_25c, mean_temperature
from telemetry.analysis.pack.weak import against, odd_sensors, weak_cells
from telemetry.analysis.pack.whole import Whole, count_cells, fit_pack, pack_group
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import FULL_CELL_V
from telemetry.physics.cell import OHMIC_ACTIVATION, ONE_SECOND_ACTIVATION
from telemetry.trace import Flight, Samples, Stretch, Trace, pack_voltage

__all__ = ["Cell", "CellCurve", "OddSensor", "Pack", "WeakCell", "analyse"]


LEAST_READINGS = 60
"""Twice the number of constants in the fit."""


def analyse(
    trace: Trace,
    flight: Flight,
    *,
    cell_count: int | None = None,
    capacity_mah: float | None = None,
    name: str = "",
    full_cell_v: float = FULL_CELL_V.value,
) -> Pack:
    """The pack in one flight.

    Parameters
    ----------
    trace, flight : the log, and the span of it.
    cell_count : from the sheet; without it the logged cells are counted, or the rest voltage tells.
    capacity_mah : from the sheet, for the charge left. [mAh]
    name : the pack's.
    full_cell_v : open-circuit voltage of a full cell. [V]

    Notes
    -----
    Resistance is as the sensors saw it: a current sensor that reads 3 % high makes it 3 % low. One
    that smooths the current by τ makes the ohmic part too high, by about a tenth at τ = 0.15 s, the
    1 s value by 1.5 %; a log cannot tell that from a lag. Diffusion over minutes counts as
    open-circuit voltage.
    """
    groups = cell_groups(trace, flight)
    driven = drive(trace, flight) if trace.has_clock else None
    span = flight.powered if isinstance(flight.powered, Stretch) else Stretch(flight.end_s, flight.end_s)
    fitted = _fit(groups, driven, flight)
    temperature_c = mean_temperature(trace, span)
    cells = _cells(cell_readings(trace, flight), fitted, span, capacity_mah, temperature_c)
    count = _count(trace, flight, cell_count, cells, span, full_cell_v)
    whole = _whole(trace, flight, groups, driven, fitted, count, span)
    return _pack(name, count, whole, cells, fitted, driven, span, capacity_mah, full_cell_v, temperature_c)


def _fit(groups: tuple[Group, ...], driven: Drive | None, flight: Flight) -> Joint | Undecided:
    """The cells' joint fit, or why there is none."""
    if isinstance(flight.powered, Undecided):
        return Undecided("nothing in the log shows a motor running")
    if driven is None:
        return Undecided("the log has no pack current, or no clock")
    if not groups:
        return Undecided("the log has no cell voltages")
    heard = outside(groups, driven.silences)
    if sum(g.time_s.size for g in heard) < LEAST_READINGS:
        return Undecided(f"fewer than {LEAST_READINGS} readings of the cells stand beside a current")
    return too_steady(heard, driven) or joint(heard, driven, flight.powered)


def _cells(
    readings: Mapping[int, Samples],
    fitted: Joint | Undecided,
    span: Stretch,
    capacity_mah: float | None,
    temperature_c: float | Undecided,
) -> tuple[Cell, ...]:
    """Every logged cell, in order."""
    made = {}
    no = fitted if isinstance(fitted, Undecided) else Undecided("no fit")
    for cell, (time_s, volts) in readings.items():
        lowest = int(np.argmin(volts))
        after = rest_after(time_s, volts, span)
        before = rest_before(time_s, volts, span)
        base = Cell(
            cell,
            before,
            float(volts[lowest]),
            float(time_s[lowest]),
            no,
            no,
            no,
            no,
            after.volts,
            after.rested_s,
            no,
            no,
            no,
            no,
        )
        made[cell] = replace(base, open_circuit_end_v=no)
    if isinstance(fitted, Joint):
        mean = mean_ohms(fitted)
        beside = against(fitted, capacity_mah=capacity_mah)
        for one in fitted.deviations:
            own = own_ohms(fitted, one)
            ohmic, one_s, ten_s = estimates(Ohms(mean.ohm + own.ohm, mean.pulled + own.pulled))
            found = beside[one.cell]
            made[one.cell] = replace(
                made[one.cell],
                sag_v=sag(fitted, one).sag_v,
                resistance_ohm=ohmic,
                resistance_1s_ohm=one_s,
                resistance_10s_ohm=ten_s,
                resistance_ratio=found.resistance_ratio,
                capacity_ratio=found.capacity_ratio,
                start_shift_fraction=found.start_shift_fraction,
                sensor_offset_v=found.sensor_offset_v,
                open_circuit_end_v=open_circuit_end(fitted, one),
                resistance_25c_ohm=at_25c(ohmic, temperature_c, OHMIC_ACTIVATION),
                resistance_1s_25c_ohm=at_25c(one_s, temperature_c, ONE_SECOND_ACTIVATION),
            )
    return tuple(made[cell] for cell in sorted(made))


def _count(
    trace: Trace,
    flight: Flight,
    cell_count: int | None,
    cells: tuple[Cell, ...],
    span: Stretch,
    full_cell_v: float,
) -> int | Undecided:
    """How many cells: the sheet's, the logged ones', or what the rest voltage tells."""
    if cell_count is not None:
        return cell_count
    if cells:
        return len(cells)
    found = trace.fresh("pack_voltage_v", within=flight)
    if found is None or found.time_s.size == 0:
        return Undecided("the log has no voltage of the pack or its cells")
    rest = rest_before(*found, span)
    rest_v = float(np.max(found.values)) if isinstance(rest, Undecided) else rest
    return count_cells(rest_v, float(np.quantile(found.values, 0.01)), full_cell_v=full_cell_v)


def _whole(
    trace: Trace,
    flight: Flight,
    groups: tuple[Group, ...],
    driven: Drive | None,
    fitted: Joint | Undecided,
    count: int | Undecided,
    span: Stretch,
) -> Whole | None:
    """The pack's own voltage, else the sum of its cells."""
    logged = trace.fresh("pack_voltage_v", within=flight)
    highest = float(np.max(logged.values)) if logged is not None and logged.time_s.size else 0.0
    cells = count if isinstance(count, int) else max(round(highest / 4.0), 1)
    group = pack_group(trace, Stretch(flight.start_s, flight.end_s), cells)
    if group is not None:
        missing = (
            "nothing in the log shows a motor running"
            if isinstance(flight.powered, Undecided)
            else "the log has no pack current"
        )
        own: Joint | Undecided = Undecided(missing)
        if driven is not None and isinstance(flight.powered, Stretch):
            own = fit_pack(group, driven, span, fitted if isinstance(fitted, Joint) else None)
        return Whole(group.time_s, group.volts[:, 0] * cells, cells, own, "")
    found = pack_voltage(trace, within=flight)
    if found is None or not groups:
        return None
    return Whole(
        found.samples.time_s,
        found.samples.values,
        sum(len(g.cells) for g in groups),
        fitted,
        f"voltage is the {found.how}",
    )


def _curves(
    fitted: Joint | Undecided, groups: tuple[Group, ...], whole: Whole | None
) -> tuple[CellCurve, ...]:
    """For drawing: the cells, or the pack when no cell was logged."""
    if isinstance(fitted, Joint):
        out = []
        for one in fitted.deviations:
            g, k = fitted.place(one.cell)
            group = fitted.groups[g]
            out.append(
                CellCurve(
                    one.cell, group.time_s, group.volts[:, k], one.open_circuit_v, sag(fitted, one).at_s
                )
            )
        return tuple(out)
    if groups:
        return tuple(
            CellCurve(c, g.time_s, g.volts[:, k], None) for g in groups for k, c in enumerate(g.cells)
        )
    if whole is None:
        return ()
    if isinstance(whole.fitted, Undecided):
        return (CellCurve(0, whole.time_s, whole.volts, None),)
    one = whole.fitted.deviations[0]
    return (
        CellCurve(
            0, whole.time_s, whole.volts, one.open_circuit_v * whole.cells, sag(whole.fitted, one).at_s
        ),
    )


def _charge_left(
    whole: Whole | None, driven: Drive | None, span: Stretch, capacity_mah: float | None, full_cell_v: float
) -> ChargeLeft:
    """Both ways."""
    if whole is None:
        no = Undecided("the log has no voltage of the pack or its cells")
        return ChargeLeft(no, no, no, "")
    end = whole.rest_end_v()
    by_rest = charge_by_rest(end, full_cell_v=full_cell_v) if isinstance(end, Estimate) else end
    start = rest_before(whole.time_s, whole.volts, span)
    by_charge: Estimate | Undecided = NO_CAPACITY
    if isinstance(start, Undecided):
        by_charge = start
    elif driven is None:
        by_charge = Undecided("the log has no pack current")
    elif capacity_mah is not None:
        by_charge = charge_by_charge(
            start / whole.cells, float(driven.charge_mah[-1]), capacity_mah, full_cell_v=full_cell_v
        )
    return weigh(by_rest, by_charge)


def _pack(
    name: str,
    count: int | Undecided,
    whole: Whole | None,
    cells: tuple[Cell, ...],
    fitted: Joint | Undecided,
    driven: Drive | None,
    span: Stretch,
    capacity_mah: float | None,
    full_cell_v: float,
    temperature_c: float | Undecided,
) -> Pack:
    """The whole pack, put together."""
    nothing = Undecided("the log has no voltage of the pack or its cells")
    ohms = whole.ohms() if whole is not None else nothing
    three = (ohms, ohms, ohms) if isinstance(ohms, Undecided) else estimates(ohms)
    left = _charge_left(whole, driven, span, capacity_mah, full_cell_v)
    weak = weak_cells(cells)
    first = weak[0] if weak else None
    either = fitted if isinstance(fitted, Joint) or whole is None else whole.fitted
    groups = fitted.groups if isinstance(fitted, Joint) else ()
    how = [
        said
        for said in (
            whole.how if whole else "",
            f"current is the {driven.how}" if driven and driven.how else "",
        )
        if said
    ]
    return Pack(
        name=name,
        cell_count=count,
        start_voltage_v=rest_before(whole.time_s, whole.volts, span) if whole else nothing,
        min_voltage_v=float(whole.volts.min()) if whole else nothing,
        sag_v=whole.sag_v() if whole else nothing,
        resistance_ohm=three[0],
        resistance_1s_ohm=three[1],
        resistance_10s_ohm=three[2],
        charge_left_fraction=left.together,
        cells=cells,
        weak_cell=first.cell if first else fitted if isinstance(fitted, Undecided) else None,
        weak_cell_kind=first.kind if first else None,
        weak_cell_reason=first.reason if first else None,
        weak_cells=weak,
        voltage_lag_s=lag(either) if isinstance(either, Joint) else either,
        curves=_curves(fitted, groups, whole),
        charge_left_by_rest_fraction=left.by_rest,
        charge_left_by_charge_fraction=left.by_charge,
        charge_left_note=left.note,
        odd_sensors=odd_sensors(cells),
        temperature_c=temperature_c,
        resistance_25c_ohm=at_25c(three[0], temperature_c, OHMIC_ACTIVATION),
        resistance_1s_25c_ohm=at_25c(three[1], temperature_c, ONE_SECOND_ACTIVATION),
        how="; ".join(how),
    )
