"""What the fit reads: fresh voltages in groups of one clock, and the current on a fine grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from telemetry.trace import Flight, Floats, Span, Trace, pack_current

MAH_PER_AS = 1.0 / 3.6


@dataclass(frozen=True, slots=True)
class Group:
    """Cells read at the same moments.

    cells : numbers; (0,) is the pack, per cell.
    time_s : (m,). [s]
    volts : (m, cells), no NaN. [V]
    step_v : the recorder's step, 0 if unknown. [V]
    """

    cells: tuple[int, ...]
    time_s: Floats
    volts: Floats
    step_v: float


@dataclass(frozen=True, slots=True)
class Drive:
    """The current on an even grid that starts before the flight.

    start_s, step_s : the grid. [s]
    current_a : (n,), straight lines between fresh samples. [A]
    charge_mah : (n,), 0 at the flight's start. [mAh]
    heat : (n,), the share of the flight's I²t so far, 0 to 1.
    doubt_a : (n,), how far the current moves between the fresh samples around. [A]
    how : "" or where the current came from.
    """

    start_s: float
    step_s: float
    current_a: Floats
    charge_mah: Floats
    heat: Floats
    doubt_a: Floats
    how: str

    def at(self, values: Floats, times_s: Floats) -> Floats:
        """Grid values (n,) or (n, k) at other times, straight lines between, ends held."""
        place = np.clip((times_s - self.start_s) / self.step_s, 0, self.current_a.size - 1.000001)
        low = place.astype(np.intp)
        part = place - low
        if values.ndim == 2:
            part = part[:, None]
        return np.asarray(values[low] * (1 - part) + values[low + 1] * part)

    def low_pass(self, values: Floats, tau_s: float) -> Floats:
        """First-order low-pass of a signal that is linear between grid points: exact. (n,)"""
        a = float(np.exp(-self.step_s / tau_s))
        g = (1 - a) * tau_s / self.step_s
        return np.asarray(lfilter([1 - g, g - a], [1, -a], values))


def drive(trace: Trace, flight: Flight, *, memory_s: float = 600.0, step_s: float = 0.04) -> Drive | None:
    """The pack's current before and during the flight, or None when there is none.

    `memory_s` of the time before the flight is kept, since slow parts remember it. `step_s` is
    finer than any recorder's interval that can show the 1 s resistance.
    """
    found = pack_current(trace)
    if found is None:
        return None
    time_s, amperes = found.samples
    keep = (time_s >= flight.start_s - memory_s) & (time_s <= flight.end_s + 2.0)
    inside = (time_s >= flight.start_s) & (time_s <= flight.end_s)
    if np.count_nonzero(inside) < 2:
        return None
    time_s, amperes = time_s[keep], amperes[keep]
    time_s, first = np.unique(time_s, return_index=True)
    amperes = amperes[first]
    grid_s = np.arange(time_s[0] - 2.0, time_s[-1] + 2.0 + step_s, step_s)
    current = np.interp(grid_s, time_s, amperes)
    charge = np.concatenate([[0.0], np.cumsum((current[1:] + current[:-1]) / 2)]) * step_s * MAH_PER_AS
    charge -= np.interp(flight.start_s, grid_s, charge)
    power = np.where(grid_s >= flight.start_s, current**2, 0.0)
    heat = np.cumsum(power)
    jump = np.abs(np.diff(amperes, prepend=amperes[0]))
    around = np.maximum(jump, np.concatenate([jump[1:], [0.0]]))
    return Drive(float(grid_s[0]), step_s, current, charge, heat / max(float(heat[-1]), 1e-9), np.interp(grid_s, time_s, around), found.how)


def plausible(time_s: Floats, volts: Floats, *, lowest_v: float = 1.0, highest_v: float = 4.6) -> tuple[Floats, Floats]:
    """Readings that a cell can have; dropouts to zero are left out."""
    keep = np.isfinite(volts) & (volts > lowest_v) & (volts < highest_v)
    return time_s[keep], volts[keep]


def cell_groups(trace: Trace, within: Span) -> tuple[Group, ...]:
    """Every logged cell, those read at the same moments together."""
    by_clock: dict[bytes, list[tuple[int, Floats, Floats, float]]] = {}
    for position in trace.positions("cell_voltage_v"):
        samples = trace.fresh("cell_voltage_v", position, within=within)
        if samples is None:
            continue
        time_s, volts = plausible(*samples)
        if time_s.size >= 2:
            step = trace.channels["cell_voltage_v", position].step
            by_clock.setdefault(time_s.tobytes(), []).append((int(position), time_s, volts, step))
    return tuple(
        Group(tuple(c for c, *_ in same), same[0][1], np.column_stack([v for _, _, v, _ in same]), max(s for *_, s in same)) for same in by_clock.values()
    )
