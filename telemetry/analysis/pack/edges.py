"""Resistance from single steps of the current, where a load is too steady or has too few rows for a fit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from telemetry.analysis.pack.whole import Whole
from telemetry.estimate import Estimate, Undecided
from telemetry.physics.cell import two_current_ohm
from telemetry.sentences import say
from telemetry.signals import Signals
from telemetry.trace import Floats, Samples

LATEST_S = 3.0
"""An edge between readings farther apart than this tells no drop after 1 s. [s]"""

AT_ONCE_S = 0.1
"""Readings must lie so close to an edge for the drop at once. [s]"""

STRUCTURE = 0.15
"""What an edge leaves open of the resistance (half of a 95 % interval, as a share): when between two readings
the current stepped, and what earlier steps still do; a judgement, held to by logs of other trades' habits.
"""

ONE_EDGE = 0.25
"""The same where one edge stands for the whole powered time, through which the resistance changes."""


FALL_PER_S = 0.03
"""What the resting voltage of a full cell may fall in a second under a current, as a share of the drop that
the same current makes: 1.5 V for all of its charge over 0.014 Ω·Ah (from memory). [1/s]
"""

Three = tuple[Estimate | Undecided, Estimate | Undecided, Estimate | Undecided]
"""Ohmic, 1 s and 10 s resistance. [Ω]"""


def by_edges(whole: Whole | None, signals: Signals, why: Undecided) -> Three:
    """The pack's resistances from single steps of its current.

    Parameters
    ----------
    whole : the pack's voltage; None without one.
    signals : of the flight.
    why : the reason why there is no fit.

    Returns
    -------
    As `edge_ohms`; `why` where no motor ran, no current is known, or it was silent for a while.
    """
    flow = signals.current
    if whole is None or isinstance(flow, Undecided) or flow.bridges or signals.powered is None:
        return why, why, why
    volts, amperes = _rows(signals, "pack_voltage_v"), _rows(signals, "current_a")
    step_v = signals.step("pack_voltage_v") if volts is not None else 0.0
    return edge_ohms(volts or Samples(whole.time_s, whole.volts), amperes or flow.fresh, why, step_v=step_v)


def _rows(signals: Signals, quantity: str) -> Samples | None:
    """A logged channel of the whole pack within the flight, repeats with it: between two equal readings
    nothing moved. None where it was not logged, or hardly.
    """
    channel, flight = signals.trace.channels.get((quantity, "")), signals.flight
    if channel is None:
        return None
    time_s = signals.trace.time_s
    known = np.isfinite(channel.values) & (time_s >= flight.start_s) & (time_s <= flight.end_s)
    return Samples(time_s[known], channel.values[known]) if np.count_nonzero(known) > 2 else None


def edge_ohms(
    voltage: Samples, current: Samples, why: Undecided, *, step_v: float = 0.0, share: float = 0.05
) -> Three:
    """Ohmic, 1 s and 10 s resistance as the drop per ampere at the steps of the current.

    Parameters
    ----------
    voltage, current : of the pack. [s, V; s, A]
    why : the reason why there is no fit, given where no edge tells either.
    step_v : the voltage's recorder step. [V]
    share : of its 95 % level by which the current moves at an edge, and within half of which it stays around
        it.

    Returns
    -------
    Each the middle of the edges, the larger ones counting for more; the interval holds their scatter and what
    edges leave open.
    """
    high = float(np.quantile(np.abs(current.values), 0.95)) if current.values.size else 0.0
    jumps = np.abs(np.diff(current.values)) > share * high
    edges = np.flatnonzero(jumps & (np.diff(current.time_s) <= LATEST_S))
    if not edges.size or high <= 0.0:
        return why, why, why
    at_once, after_1s, after_10s = (
        _drops(voltage, current, edges, delay_s, 0.5 * share * high) for delay_s in (AT_ONCE_S, 1.0, 10.0)
    )
    ohmic = _together(at_once, step_v) or why
    if isinstance(ohmic, Estimate):
        # Some of the drop after a tenth of a second may be charge transfer already.
        ohmic = Estimate(ohmic.value, (1.0 - ONE_EDGE) * ohmic.low, ohmic.high, ohmic.method)
    return ohmic, _together(after_1s, step_v) or why, _together(after_10s, step_v) or why


@dataclass(frozen=True, slots=True)
class _Drops:
    """Of each edge (k,): drop per ampere, step of the current, and the share of the drop that may be the fall
    of the resting voltage. [Ω, A, 1]
    """

    ohm: Floats
    step_a: Floats
    fall: Floats


def _drops(
    voltage: Samples, current: Samples, edges: npt.NDArray[np.intp], delay_s: float, near_a: float
) -> _Drops:
    """Of the edges before and after which the current stayed for so long."""
    time_s, amperes = current
    at_s = np.maximum(time_s[edges + 1], time_s[edges] + delay_s)
    close = time_s[edges + 1] - time_s[edges] <= max(delay_s, LATEST_S * (delay_s > AT_ONCE_S))
    moves = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(amperes)))])
    last = np.maximum(np.searchsorted(time_s, at_s, side="right") - 1, edges + 1)
    first = np.minimum(np.searchsorted(time_s, time_s[edges] - delay_s), edges)
    stays = (moves[last] - moves[edges + 1] <= near_a) & (moves[edges] - moves[first] <= near_a)
    inside = at_s <= min(time_s[-1], voltage.time_s[-1])
    keep = np.flatnonzero(close & stays & inside)
    edges, at_s = edges[keep], at_s[keep]
    step_a = np.abs(amperes[edges + 1] - amperes[edges])
    before_v, after_v = np.interp(time_s[edges], *voltage), np.interp(at_s, *voltage)
    pairs = zip(before_v, amperes[edges], after_v, amperes[edges + 1], strict=True)
    ohm = np.array([two_current_ohm(*(np.array([x]) for x in pair)) for pair in pairs])
    fall = FALL_PER_S * (at_s - time_s[edges]) * np.abs(amperes[edges + 1]) / step_a
    return _Drops(ohm, step_a, np.minimum(fall, 1.0))


def _together(drops: _Drops, step_v: float) -> Estimate | None:
    """The middle of several edges with what their scatter leaves, whatever a supply at its limit does at some
    of them; None where none tells.
    """
    ohm, step_a = drops.ohm, drops.step_a
    if not ohm.size:
        return None
    few = ohm.size < 3
    value = float(np.average(ohm, weights=step_a)) if few else _middle(ohm, step_a)
    if value <= 0.0:
        return None
    apart = np.abs(ohm - value)
    if few:
        half = ONE_EDGE * value if ohm.size == 1 else float(np.max(apart)) + STRUCTURE * value
    else:
        scatter = 1.48 * _middle(apart, step_a) / np.sqrt(ohm.size)
        half = float(np.hypot(2.5 * scatter, STRUCTURE * value))
    half = float(np.hypot(half, step_v / float(step_a.max())))
    fallen = value * _middle(drops.fall, step_a)
    return Estimate(
        value, value - float(np.hypot(half, fallen)), value + half, say("pack", "edges")
    ).floored()


def _middle(values: Floats, weights: Floats) -> float:
    """The weighted median."""
    order = np.argsort(values)
    sums = np.cumsum(weights[order])
    return float(values[order[int(np.searchsorted(sums, 0.5 * sums[-1]))]])
