"""Sag, resistance, rest voltage, weak cells: one joint fit for the whole pack."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.analysis.pack.deviations import Deviation
from telemetry.analysis.pack.edges import by_edges
from telemetry.analysis.pack.figures import Ohms, estimates, lag, mean_ohms, open_circuit_end, own_ohms, sag
from telemetry.analysis.pack.fit import PLATEAU_SPANS, SPANS
from telemetry.analysis.pack.grid import LoadGrid, load_grid, outside
from telemetry.analysis.pack.joint import Joint, joint, unfit
from telemetry.analysis.pack.kind import course_of, kinds_of, likely_other
from telemetry.analysis.pack.rest import (
    ChargeLeft,
    charge_by_charge,
    charge_by_rest,
    of_any,
    on_one_charge,
    settled,
    start_charge,
    weigh,
)
from telemetry.analysis.pack.results import (
    NO_CAPACITY,
    NO_FIT,
    NO_VOLTAGE,
    Cell,
    CellCurve,
    OddSensor,
    Pack,
    WeakCell,
)
from telemetry.analysis.pack.temperature import at_25c, mean_temperature
from telemetry.analysis.pack.weak import Against, against, odd_sensors, untold, weak_cells
from telemetry.analysis.pack.whole import Whole, count_cells, fit_pack, logged_count, mean_of, pack_group
from telemetry.analysis.pack.witness import Witness, witness_of
from telemetry.estimate import Estimate, Undecided
from telemetry.physics.chemistry import LIPO, Chemistry
from telemetry.sentences import say, undecided
from telemetry.signals import Signals
from telemetry.trace import Samples, Stretch

__all__ = ["Cell", "CellCurve", "OddSensor", "Pack", "WeakCell", "analyse"]


@dataclass(frozen=True, slots=True)
class _Work:
    """What the parts of the analysis share.

    span : the powered time; nothing at the flight's end where no motor ran.
    fitted : the cells' joint fit, or why there is none.
    chemistry : the sheet's, None without a sheet.
    begun : what the flight before left of the same charge, None without one.
    """

    signals: Signals
    span: Stretch
    grid: LoadGrid | None
    fitted: Joint | Undecided
    temperature_c: float | Undecided
    capacity_mah: float | None
    chemistry: Chemistry | None
    begun: Estimate | None
    witness: Witness | None
    stopped: Mapping[int, str]

    @property
    def usual(self) -> Chemistry:
        """The sheet's chemistry, else that of most packs for models."""
        return self.chemistry or LIPO


def analyse(
    signals: Signals,
    *,
    cell_count: int | None = None,
    capacity_mah: float | None = None,
    name: str = "",
    chemistry: Chemistry | None = LIPO,
    begun: Estimate | None = None,
) -> Pack:
    """The pack in one flight.

    Parameters
    ----------
    signals : of the flight.
    cell_count : from the sheet; without it the logged cells are counted, or the rest voltage tells.
    capacity_mah : from the sheet, for the charge left. [mAh]
    name : the pack's.
    chemistry : of its cells, the curve ending at their full voltage; None where no sheet says it, and then
        charge left holds for every one that the cells can be of.
    begun : charge left after a flight before this one that had the same pack; None without one. [1]

    Returns
    -------
    Every figure as an estimate or with the reason why there is none.

    Notes
    -----
    Resistance is as the sensors saw it: a current sensor that reads 3 % high makes it 3 % low. Its
    ohmic part is the drop at once, as far as readings some tenths of a second apart can show it: charge
    transfer that is over between two of them is in it. A current smoothed up to 0.1 s more than the
    voltage is in its interval; by more, it reads up to a quarter too high. Diffusion over minutes counts
    as open-circuit voltage.
    """
    end_s = signals.flight.end_s
    span = signals.powered or Stretch(end_s, end_s)
    grid = load_grid(signals)
    temperature_c = mean_temperature(signals.trace, span)
    stopped, witness = _stopped(signals), witness_of(signals, cell_count)
    fitted = _fit(signals, grid, stopped, witness, _spans(chemistry))
    work = _Work(
        signals,
        span,
        grid,
        fitted,
        temperature_c,
        capacity_mah,
        chemistry,
        begun,
        witness,
        stopped,
    )
    cells = _cells(work)
    count = _count(work, cell_count, len(cells))
    return _pack(name, count, _whole(work, count), cells, work)


def _stopped(signals: Signals, *, least_s: float = 5.0) -> dict[int, str]:
    """Cells whose sensor stopped during the flight while others went on, with the reason."""
    found = {
        int(d.position): d.reason
        for d in signals.decisions
        if d.quantity == "cell_voltage_v"
        and d.kind in ("stuck", "dead")
        and min(d.end_s, signals.flight.end_s) - max(d.start_s, signals.flight.start_s) >= least_s
    }
    return found if len(found) < len(signals.trace.positions("cell_voltage_v")) else {}


def _spans(chemistry: Chemistry | None) -> int:
    """Of the open-circuit curve in a fit."""
    return PLATEAU_SPANS if chemistry is not None and chemistry.curve.has_plateau else SPANS


def _fit(
    signals: Signals,
    grid: LoadGrid | None,
    stopped: Mapping[int, str],
    witness: Witness | None,
    spans: int,
) -> Joint | Undecided:
    """The cells' joint fit, or why there is none."""
    if signals.powered is None:
        return undecided("log", "no_motor_ran")
    if grid is None:
        return undecided("pack", "no_current_or_clock")
    if not signals.groups:
        return undecided("pack", "no_cells")
    heard = outside(tuple(g for one in signals.groups if (g := one.without(stopped))), grid.silences)
    return unfit(heard, grid) or joint(heard, grid, witness=witness, spans=spans)


def _cells(work: _Work) -> tuple[Cell, ...]:
    """Every logged cell, in order."""
    made = {}
    fitted, rest = work.fitted, work.signals.rest
    no = fitted if isinstance(fitted, Undecided) else NO_FIT
    for cell, samples in work.signals.cells.items():
        why = undecided("pack", "stopped") if cell in work.stopped else no
        lowest = int(np.argmin(samples.values))
        after = rest.after(samples)
        made[cell] = Cell(
            cell,
            rest.before(samples),
            float(samples.values[lowest]),
            float(samples.time_s[lowest]),
            *(why, why, why, why),
            after.volts,
            after.rested_s,
            *(why, why, why, why),
            open_circuit_end_v=why,
        )
    if isinstance(fitted, Joint):
        mean = mean_ohms(fitted)
        beside = against(fitted, capacity_mah=work.capacity_mah)
        for one in fitted.deviations:
            made[one.cell] = _fitted_cell(made[one.cell], one, fitted, mean, beside[one.cell], work)
    return tuple(made[cell] for cell in sorted(made))


def _fitted_cell(cell: Cell, one: Deviation, fitted: Joint, mean: Ohms, beside: Against, work: _Work) -> Cell:
    """A cell with what the joint fit says of it."""
    own = own_ohms(fitted, one)
    ohmic, one_s, ten_s = estimates(Ohms(mean.ohm + own.ohm, mean.pulled + own.pulled))
    return replace(
        cell,
        sag_v=sag(fitted, one).sag_v,
        resistance_ohm=ohmic,
        resistance_1s_ohm=one_s,
        resistance_10s_ohm=ten_s,
        resistance_ratio=beside.resistance_ratio,
        capacity_ratio=beside.capacity_ratio,
        start_shift_fraction=beside.start_shift_fraction,
        sensor_offset_v=beside.sensor_offset_v,
        apart_by=beside.apart_by,
        apart_v=beside.apart_v,
        open_circuit_end_v=open_circuit_end(fitted, one),
        resistance_25c_ohm=at_25c(ohmic, work.temperature_c, work.usual.ohmic),
        resistance_1s_25c_ohm=at_25c(one_s, work.temperature_c, work.usual.one_second),
    )


def _count(work: _Work, cell_count: int | None, logged: int) -> int | Undecided:
    """How many cells: the sheet's, the logged ones', or what the rest voltage tells."""
    if cell_count is not None:
        return cell_count
    if logged:
        return logged_count(work.signals)
    found = work.signals.fresh("pack_voltage_v")
    if found is None:
        return NO_VOLTAGE
    rest_v = work.signals.rest.before(found)
    if isinstance(rest_v, Undecided):
        return undecided("pack", "no_rest_no_count", reason=rest_v.reason)
    return count_cells(rest_v, float(np.quantile(found.values, 0.01)))


def _whole(work: _Work, count: int | Undecided) -> Whole | None:
    """The pack's own voltage, else the sum of its cells."""
    signals, fitted = work.signals, work.fitted
    logged = signals.fresh("pack_voltage_v")
    highest = float(np.max(logged.values)) if logged is not None else 0.0
    cells = count if isinstance(count, int) else max(round(highest / 4.0), 1)
    group = pack_group(signals, cells)
    if group is not None:
        own: Joint | Undecided = undecided("pack", "no_pack_current")
        if signals.powered is None:
            own = undecided("log", "no_motor_ran")
        elif work.grid is not None:
            cell_fit = fitted if isinstance(fitted, Joint) else None
            own = fit_pack(group, work.grid, cell_fit, spans=_spans(work.chemistry))
        return Whole(group.time_s, group.volts[:, 0] * cells, cells, own, "")
    found = signals.voltage
    if found is None or not signals.groups:
        return None
    every = sum(len(g.cells) for g in signals.groups)
    return Whole(*found.samples, every, fitted, say("pack", "voltage_how", how=found.how))


def _curves(work: _Work, whole: Whole | None) -> tuple[CellCurve, ...]:
    """For drawing: the cells, or the pack when no cell was logged."""
    fitted = work.fitted
    if isinstance(fitted, Joint):
        out = []
        for one in fitted.deviations:
            g, k = fitted.place(one.cell)
            group = fitted.groups[g]
            sag_at_s = sag(fitted, one).at_s
            out.append(CellCurve(one.cell, group.time_s, group.volts[:, k], one.open_circuit_v, sag_at_s))
        return tuple(out)
    if work.signals.groups:
        return tuple(
            CellCurve(c, g.time_s, g.volts[:, k], None)
            for g in work.signals.groups
            for k, c in enumerate(g.cells)
        )
    if whole is None:
        return ()
    if isinstance(whole.fitted, Undecided):
        return (CellCurve(0, whole.time_s, whole.volts, None),)
    one = whole.fitted.deviations[0]
    sag_at_s = sag(whole.fitted, one).at_s
    return (CellCurve(0, whole.time_s, whole.volts, one.open_circuit_v * whole.cells, sag_at_s),)


def _mean_rest_v(
    work: _Work, whole: Whole | None, count: int | Undecided, cells: Sequence[Cell]
) -> float | Undecided:
    """Of the mean cell before load: of the logged ones, else of the pack where their number is known. [V]"""
    rests = [c.rest_before_v for c in cells if not isinstance(c.rest_before_v, Undecided)]
    if rests:
        return float(np.mean(rests))
    start = _start_voltage(work, whole)
    if isinstance(start, Undecided) or whole is None:
        return start
    return count if isinstance(count, Undecided) else start / whole.cells


def _start_charge(work: _Work, kinds: Sequence[Chemistry], rest_v: float | Undecided) -> Estimate | Undecided:
    """How full the pack began: by its mean cell's rest, else by what the flight before left."""
    rested: Estimate | Undecided = (
        rest_v if isinstance(rest_v, Undecided) else of_any(kinds, lambda curve: start_charge(rest_v, curve))
    )
    return on_one_charge(rested, work.begun)


def _charge_by_rest(
    work: _Work, whole: Whole, count: int | Undecided, kinds: Sequence[Chemistry], cells: Sequence[Cell]
) -> Estimate | Undecided:
    """By what the cells come back to at rest, else the pack: as a fit tells it, else as it was read."""
    ends = [c.open_circuit_end_v for c in cells if isinstance(c.open_circuit_end_v, Estimate)]
    if not ends and isinstance(count, Undecided):
        return count
    end = mean_of(ends) if ends else whole.rest_end_v()
    if isinstance(end, Undecided):
        after = work.signals.rest.after(Samples(whole.time_s, whole.volts))
        if isinstance(after.volts, Undecided) or isinstance(after.rested_s, Undecided):
            return end
        end = settled(after.volts / whole.cells, after.rested_s) or end
    if isinstance(end, Undecided):
        return end
    ended = end
    return of_any(kinds, lambda curve: charge_by_rest(ended, curve))


def _charge_left(
    work: _Work, by_rest: Estimate | Undecided, kinds: Sequence[Chemistry], began: Estimate | Undecided
) -> ChargeLeft:
    """By the voltage at rest afterwards, and by what was drawn."""
    signals, flow = work.signals, work.signals.current
    if signals.flight.cut_off in ("end", "both"):
        no = undecided("pack", "end_not_seen")
        return ChargeLeft(no, no, no, "")
    by_charge: Estimate | Undecided = NO_CAPACITY
    if isinstance(began, Undecided):
        by_charge = began
    elif isinstance(flow, Undecided):
        by_charge = flow
    elif work.capacity_mah is not None:
        drawn_mah = flow.charge_mah(signals.flight)
        off = signals.agreement.off_fraction
        by_charge = charge_by_charge(began, drawn_mah, work.capacity_mah, sensor_off=off)
    return weigh(by_rest, by_charge, kinds[0].curve)


def _likely_chemistry(work: _Work, whole: Whole | None, rest_v: float | Undecided) -> str:
    """The chemistry that the cells speak for where they contradict the sheet's, "" where nothing does."""
    fitted = work.fitted if isinstance(work.fitted, Joint) or whole is None else whole.fitted
    if not isinstance(fitted, Joint) or work.capacity_mah is None or work.begun is not None:
        return ""
    if work.chemistry is None or isinstance(rest_v, Undecided):
        return ""
    return likely_other(course_of(fitted, work.capacity_mah, rest_v), work.chemistry)


def _pack(
    name: str, count: int | Undecided, whole: Whole | None, cells: tuple[Cell, ...], work: _Work
) -> Pack:
    """The whole pack, put together."""
    ohms = whole.ohms() if whole is not None else NO_VOLTAGE
    three = estimates(ohms) if isinstance(ohms, Ohms) else by_edges(whole, work.signals, ohms)
    rest_v = _mean_rest_v(work, whole, count, cells)
    kinds = kinds_of(work.chemistry, rest_v)
    began = _start_charge(work, kinds, rest_v)
    by_rest = NO_VOLTAGE if whole is None else _charge_by_rest(work, whole, count, kinds, cells)
    left = _charge_left(work, by_rest, kinds, began)
    other = _likely_chemistry(work, whole, rest_v)
    if other:
        began = undecided("pack", "chemistry")
        left = ChargeLeft(began, began, began, "")
    weak = weak_cells(cells)
    reasons = {cell: say("pack", "sensor_stopped", reason=why) for cell, why in work.stopped.items()}
    odd = odd_sensors(cells, stopped=reasons, witness=work.witness)
    fitted, temperature_c = work.fitted, work.temperature_c
    either = fitted if isinstance(fitted, Joint) or whole is None else whole.fitted
    how = [whole.how] if whole is not None and whole.how else []
    if work.grid is not None and work.grid.how:
        how.append(say("pack", "current_how", how=work.grid.how))
    return Pack(
        name=name,
        cell_count=count,
        start_voltage_v=_start_voltage(work, whole),
        min_voltage_v=float(whole.volts.min()) if whole else NO_VOLTAGE,
        sag_v=whole.sag_v() if whole else NO_VOLTAGE,
        resistance_ohm=three[0],
        resistance_1s_ohm=three[1],
        resistance_10s_ohm=three[2],
        start_charge_fraction=began,
        charge_left_fraction=left.together,
        cells=cells,
        weak_cell=weak[0].cell if weak else fitted if isinstance(fitted, Undecided) else untold(cells, odd),
        weak_cell_kind=weak[0].kind if weak else None,
        weak_cell_reason=weak[0].reason if weak else None,
        weak_cells=weak,
        voltage_lag_s=lag(either) if isinstance(either, Joint) else either,
        curves=_curves(work, whole),
        charge_left_by_rest_fraction=left.by_rest,
        charge_left_by_charge_fraction=left.by_charge,
        charge_left_note=left.note,
        odd_sensors=odd,
        temperature_c=temperature_c,
        resistance_25c_ohm=at_25c(three[0], temperature_c, work.usual.ohmic),
        resistance_1s_25c_ohm=at_25c(three[1], temperature_c, work.usual.one_second),
        how="; ".join(how),
        likely_chemistry=other,
        chemistries=tuple(kind.key for kind in kinds),
    )


def _start_voltage(work: _Work, whole: Whole | None) -> float | Undecided:
    if whole is None:
        return NO_VOLTAGE
    return work.signals.rest.before(Samples(whole.time_s, whole.volts))
