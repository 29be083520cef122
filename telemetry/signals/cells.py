"""Readings of single cells: those a cell can have, in groups of one clock."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

import numpy as np

from telemetry.sentences import say
from telemetry.trace import Decision, Floats, Samples, Span, Trace


@dataclass(frozen=True, slots=True)
class CellGroup:
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

    def without(self, cells: Container[int]) -> CellGroup | None:
        """The same without some cells.

        Parameters
        ----------
        cells : their numbers.

        Returns
        -------
        The others' readings at the same moments; None when none is left.
        """
        kept = [k for k, cell in enumerate(self.cells) if cell not in cells]
        if not kept:
            return None
        return CellGroup(tuple(self.cells[k] for k in kept), self.time_s, self.volts[:, kept], self.step_v)


def plausible(
    time_s: Floats, volts: Floats, *, lowest_v: float = 1.0, highest_v: float = 4.6, spike_v: float = 0.5
) -> Samples:
    """Readings that a cell can have.

    Dropouts to zero are left out, and a lone reading more than `spike_v` below both its
    neighbours: no pull on the stick does that to a cell for one reading.

    Parameters
    ----------
    time_s : (n,) [s]
    volts : (n,), NaN where silent. [V]
    lowest_v, highest_v : no lithium cell reads less or more and lives. [V]
    spike_v : how far below both its neighbours a lone reading lies. [V]

    Returns
    -------
    (m,) of the n. [s, V]
    """
    keep = np.isfinite(volts) & (volts > lowest_v) & (volts < highest_v)
    time_s, volts = time_s[keep], volts[keep]
    if volts.size < 3:
        return Samples(time_s, volts)
    beside = np.minimum(np.concatenate([volts[1:2], volts[:-1]]), np.concatenate([volts[1:], volts[-2:-1]]))
    keep = volts > beside - spike_v
    return Samples(time_s[keep], volts[keep])


def cell_readings(trace: Trace, within: Span) -> dict[int, Samples]:
    """Every logged cell's own fresh readings.

    Parameters
    ----------
    trace : cleaned.
    within : the flight.

    Returns
    -------
    By the cell's number, a reading a moment, cells with two at least. [s, V]
    """
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


def dead_cells(trace: Trace, within: Span, *, least_s: float = 5.0, beside: int = 10) -> list[Decision]:
    """Stretches in which a cell's sensor reads nothing that a cell can have while its neighbours do.

    Parameters
    ----------
    trace : cleaned.
    within : the flight.
    least_s : of such a stretch. [s]
    beside : readings of the neighbours in it, so that a slow recorder is none.

    Returns
    -------
    One decision of the kind `dead` a cell at most, for its longest stretch.
    """
    readings = cell_readings(trace, within)
    out: list[Decision] = []
    for position in trace.positions("cell_voltage_v"):
        others = [s.time_s for cell, s in readings.items() if str(cell) != position]
        if not others:
            continue
        every = np.unique(np.concatenate(others))
        own = readings.get(int(position), Samples(every[:0], every[:0])).time_s
        moments = np.concatenate((every[:1], own, every[-1:]))
        k = int(np.argmax(np.diff(moments)))
        start_s, end_s = float(moments[k]), float(moments[k + 1])
        if end_s - start_s >= least_s and np.count_nonzero((every > start_s) & (every < end_s)) >= beside:
            reason = say("decisions", "dead", start_s=start_s, end_s=end_s)
            out.append(Decision("dead", "cell_voltage_v", position, start_s, end_s, reason))
    return out


def cell_groups(trace: Trace, within: Span, *, alike: float = 0.8) -> tuple[CellGroup, ...]:
    """Every logged cell, those read at the same moments together.

    Parameters
    ----------
    trace : cleaned.
    within : the flight.
    alike : cells that share this part of their moments count as read together, at the moments all have.

    Returns
    -------
    Each cell in one group; rows in which one cell of three or more jumps away from the others are left out.
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
                CellGroup(tuple(one[0] for one in together), times, volts, max(one[3] for one in together))
            )
        )
        found = [one for one in found if one[0] not in groups[-1].cells]
    return tuple(groups)


def _without_glitches(group: CellGroup, *, least_v: float = 0.25, times: float = 12.0) -> CellGroup:
    """Without rows in which one cell of three or more jumps away from the others."""
    if len(group.cells) < 3:
        return group
    apart = group.volts - np.median(group.volts, axis=1, keepdims=True)
    apart = np.abs(apart - np.median(apart, axis=0))
    keep = np.all(apart <= np.maximum(least_v, times * np.median(apart, axis=0)), axis=1)
    return (
        group
        if keep.all() or keep.sum() < 2
        else CellGroup(group.cells, group.time_s[keep], group.volts[keep], group.step_v)
    )
