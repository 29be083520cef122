"""What the fit reads besides the cells: the current on an even, fine grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from telemetry.estimate import Undecided
from telemetry.frames import grid_step
from telemetry.signals import CellGroup, Flow, Signals
from telemetry.trace import Floats, Stretch


@dataclass(frozen=True, slots=True)
class LoadGrid:
    """The current on an even grid that starts before the flight.

    start_s, step_s : the grid. [s]
    current_a : (n,), straight lines between fresh samples. [A]
    charge_mah : (n,), the flight's one running integral, 0 at its start. [mAh]
    heat : (n,), the share of the flight's I²t so far, 0 to 1.
    doubt_a : (n,), how far the current moves between the fresh samples around. [A]
    how : "" or where the current came from.
    powered : the powered time; nothing at the flight's end where no motor ran.
    silences : stretches in which no current was logged, with what the slow parts need after them.
    """

    start_s: float
    step_s: float
    current_a: Floats
    charge_mah: Floats
    heat: Floats
    doubt_a: Floats
    how: str
    powered: Stretch
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


def load_grid(signals: Signals, *, memory_s: float = 600.0, step_s: float = 0.04) -> LoadGrid | None:
    """The pack's current before and during the flight, or None when it is not known.

    Parameters
    ----------
    memory_s : of the time before the flight that is kept, since slow parts remember it. [s]
    step_s : finer than any recorder's interval that can show the 1 s resistance. [s]
    """
    flow = signals.current
    if isinstance(flow, Undecided):
        return None
    flown_s, amperes = flow.with_before
    keep = flown_s >= signals.flight.start_s - memory_s
    flown_s, amperes = flown_s[keep], amperes[keep]
    step_s = grid_step(float(flown_s[-1] - flown_s[0]), step_s, flown_s.size)
    grid_s = np.arange(flown_s[0] - 2.0, flown_s[-1] + 2.0 + step_s, step_s)
    current = np.interp(grid_s, flown_s, amperes)
    heat = np.cumsum(np.where(grid_s >= signals.flight.start_s, current**2, 0.0))
    read_s, read_a = flow.fresh
    jump = np.abs(np.diff(read_a, prepend=read_a[0]))
    around = np.maximum(jump, np.concatenate([jump[1:], [0.0]]))
    return LoadGrid(
        float(grid_s[0]),
        step_s,
        current,
        flow.charge_at(grid_s),
        heat / max(float(heat[-1]), 1e-9),
        np.interp(grid_s, read_s, around),
        flow.how,
        signals.powered or Stretch(signals.flight.end_s, signals.flight.end_s),
        _silences(flow),
    )


def _silences(flow: Flow, *, least_s: float = 3.0, after_s: float = 5.0) -> tuple[Stretch, ...]:
    """Where the current said nothing for `least_s`; `after_s` more is lost to the pairs."""
    long = [b for b in flow.bridges if b.end_s - b.start_s > least_s]
    return tuple(Stretch(b.start_s, b.end_s + after_s) for b in long)


def outside(groups: Sequence[CellGroup], silences: Sequence[Stretch]) -> tuple[CellGroup, ...]:
    """CellGroups without the readings that fall into a silence of the current."""
    out = []
    for group in groups:
        keep = np.ones(group.time_s.size, dtype=bool)
        for silence in silences:
            keep &= (group.time_s <= silence.start_s) | (group.time_s >= silence.end_s)
        out.append(
            group
            if keep.all()
            else CellGroup(group.cells, group.time_s[keep], group.volts[keep], group.step_v)
        )
    return tuple(out)
