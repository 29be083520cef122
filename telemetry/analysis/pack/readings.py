"""What the fit reads: fresh voltages in groups of one clock, and the current on a fine grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from telemetry.trace import Flight, Floats, Samples, Span, Stretch, Trace, pack_current

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
    silences : stretches in which no current was logged, with what the slow parts need after them.
    """

    start_s: float
    step_s: float
    current_a: Floats
    charge_mah: Floats
    heat: Floats
    doubt_a: Floats
    how: str
    silences: tuple[Stretch, ...] = ()

    def at(self, values: Floats, times_s: Floats) -> Floats:
        """Grid values (n,) or (n, k) at other times, straight lines between, ends held."""
        place = np.clip((times_s - self.start_s) / self.step_s, 0, self.current_a.size - 1.000001)
        low = place.astype(np.intp)
        part = place - low
        if values.ndim == 2:
            part = part[:, None]
        return np.asarray(values[low] * (1 - part) + values[low + 1] * part)

    def low_pass(self, values: Floats, tau_s: float) -> Floats:
        """First-order low-pass of a signal that is linear between grid points: exact. (n,)

        It starts settled on the first value: a log that begins in the air begins under a steady load.
        """
        a = float(np.exp(-self.step_s / tau_s))
        g = (1 - a) * tau_s / self.step_s
        return np.asarray(values[0] + lfilter([1 - g, g - a], [1, -a], values - values[0]))


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
    share = heat / max(float(heat[-1]), 1e-9)
    return Drive(
        float(grid_s[0]),
        step_s,
        current,
        charge,
        share,
        np.interp(grid_s, time_s, around),
        found.how,
        _silences(time_s),
    )


def _silences(
    time_s: Floats, *, least_s: float = 3.0, times: float = 8.0, after_s: float = 5.0
) -> tuple[Stretch, ...]:
    """Where the current says nothing for `least_s` and `times` its usual interval; `after_s` more is lost to
    the pairs.
    """
    step = np.diff(time_s)
    long = np.flatnonzero(step > max(least_s, times * float(np.median(step))))
    return tuple(Stretch(float(time_s[k]), float(time_s[k + 1]) + after_s) for k in long)


def outside(groups: Sequence[Group], silences: Sequence[Stretch]) -> tuple[Group, ...]:
    """Groups without the readings that fall into a silence of the current."""
    out = []
    for group in groups:
        keep = np.ones(group.time_s.size, dtype=bool)
        for silence in silences:
            keep &= (group.time_s <= silence.start_s) | (group.time_s >= silence.end_s)
        out.append(
            group if keep.all() else Group(group.cells, group.time_s[keep], group.volts[keep], group.step_v)
        )
    return tuple(out)


def plausible(
    time_s: Floats, volts: Floats, *, lowest_v: float = 1.0, highest_v: float = 4.6, spike_v: float = 0.5
) -> Samples:
    """Readings that a cell can have.

    Dropouts to zero are left out, and a lone reading more than `spike_v` below both its
    neighbours: no pull on the stick does that to a cell for one reading.
    """
    keep = np.isfinite(volts) & (volts > lowest_v) & (volts < highest_v)
    time_s, volts = time_s[keep], volts[keep]
    if volts.size < 3:
        return Samples(time_s, volts)
    beside = np.minimum(np.concatenate([volts[1:2], volts[:-1]]), np.concatenate([volts[1:], volts[-2:-1]]))
    keep = volts > beside - spike_v
    return Samples(time_s[keep], volts[keep])


def cell_readings(trace: Trace, within: Span) -> dict[int, Samples]:
    """Every logged cell's own fresh readings, cells with two at least."""
    out = {}
    for position in trace.positions("cell_voltage_v"):
        samples = trace.fresh("cell_voltage_v", position, within=within)
        if samples is None:
            continue
        time_s, first = np.unique(samples.time_s, return_index=True)
        found = plausible(time_s, samples.values[first])
        if found.time_s.size >= 2:
            out[int(position)] = found
    return out


def cell_groups(trace: Trace, within: Span, *, alike: float = 0.8) -> tuple[Group, ...]:
    """Every logged cell, those read at the same moments together.

    Cells that share `alike` of their moments count as read together, at the moments all have.
    """
    found = [
        (cell, *samples, trace.channels["cell_voltage_v", str(cell)].step)
        for cell, samples in cell_readings(trace, within).items()
    ]
    groups = []
    while found:
        times = found[0][1]
        together = [
            one
            for one in found
            if np.intersect1d(one[1], times, assume_unique=True).size >= alike * max(one[1].size, times.size)
        ]
        for one in together:
            times = np.intersect1d(times, one[1], assume_unique=True)
        volts = np.column_stack([one[2][np.searchsorted(one[1], times)] for one in together])
        groups.append(
            _without_glitches(
                Group(tuple(one[0] for one in together), times, volts, max(one[3] for one in together))
            )
        )
        found = [one for one in found if one[0] not in groups[-1].cells]
    return tuple(groups)


def _without_glitches(group: Group, *, least_v: float = 0.25, times: float = 12.0) -> Group:
    """Without rows in which one cell of three or more jumps away from the others."""
    if len(group.cells) < 3:
        return group
    apart = group.volts - np.median(group.volts, axis=1, keepdims=True)
    apart = np.abs(apart - np.median(apart, axis=0))
    keep = np.all(apart <= np.maximum(least_v, times * np.median(apart, axis=0)), axis=1)
    return (
        group
        if keep.all() or keep.sum() < 2
        else Group(group.cells, group.time_s[keep], group.volts[keep], group.step_v)
    )
