"""The receiver's supply and the radio link: when they fell away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.limits import LINK_LOST_S, RECEIVER_LOW_V
from telemetry.signals import Signals
from telemetry.trace import Flags, Floats, Samples, Stretch, runs


@dataclass(frozen=True, slots=True)
class LowSupply:
    """A stretch in which the receiver's supply was under its limit. [s, V]"""

    start_s: float
    end_s: float
    lowest_v: float
    limit_v: float


@dataclass(frozen=True, slots=True)
class Radio:
    """What the log shows of the radio aboard.

    Attributes
    ----------
    low : when the receiver's supply was under its limit, in order.
    lost : when the link was lost in the air for longer than a moment, in order.
    """

    low: tuple[LowSupply, ...] = ()
    lost: tuple[Stretch, ...] = ()


def analyse(signals: Signals, *, supply_v: float | None = None) -> Radio:
    """The radio in one flight.

    Parameters
    ----------
    signals : of the flight.
    supply_v : of the receiver's supply, from the sheet. [V]
    """
    return Radio(_low(signals, receiver_limit_v(supply_v)), _lost(signals))


def receiver_limit_v(supply_v: float | None, *, lower: float = 0.9, higher: float = 0.75) -> float:
    """Under which a receiver's supply is low. [V]

    Parameters
    ----------
    supply_v : from the sheet; None where it gives none. [V]
    lower, higher : shares of it: a supply that starts near the usual limit may fall by a tenth, one far above
        it by a quarter, as a two-cell pack does from full to empty.
    """
    if supply_v is None:
        return RECEIVER_LOW_V.value
    return max(min(RECEIVER_LOW_V.value, lower * supply_v), higher * supply_v)


def _low(
    signals: Signals, limit_v: float, *, lost_v: float = 2.5, lone_s: float = 0.4
) -> tuple[LowSupply, ...]:
    """Stretches of two low readings or more, or of a lone one that stands for as long.

    Before the supply was first up it comes on; after the last motor stop, with nothing after it, it was
    switched off.

    Parameters
    ----------
    lost_v : a lone reading below it is a lost one: no receiver writes while it has so little.
    lone_s : the time that a lone reading must stand for, two readings of a quick recorder.
    """
    samples = signals.fresh("receiver_voltage_v", least=3)
    if samples is None:
        return ()
    low = samples.values < limit_v
    up = np.flatnonzero(~low)
    found = []
    for first, last in runs(low):
        if up.size and first < up[0]:
            continue
        if last == low.size and signals.powered is not None and samples.time_s[first] > signals.powered.end_s:
            continue
        lowest_v = float(np.min(samples.values[first:last]))
        start_s, end_s = _span(samples, first, last)
        if last - first >= 2 or (lowest_v >= lost_v and end_s - start_s >= lone_s):
            found.append(LowSupply(float(samples.time_s[first]), end_s, lowest_v, limit_v))
    return tuple(found)


def _lost(signals: Signals, *, none: float = 0.02) -> tuple[Stretch, ...]:
    """Stretches in the air in which the link showed next to nothing for over a second."""
    samples, aloft = signals.fresh("link_fraction", least=3), _aloft(signals)
    if samples is None or aloft is None:
        return ()
    gone: Flags = samples.values <= none
    if not (samples.values > none).any():
        return ()
    found = []
    for first, last in runs(gone & _within(samples.time_s, aloft)):
        start_s, end_s = _span(samples, first, last)
        if end_s - start_s > LINK_LOST_S.value:
            found.append(Stretch(start_s, end_s))
    return tuple(found)


def _span(samples: Samples, first: int, last: int) -> tuple[float, float]:
    """How long readings [first, last) stood: from half-way to the one before to half-way to the one after, at
    either end of the samples from or to the reading itself. [s]
    """
    time_s = samples.time_s
    start_s = (time_s[max(first - 1, 0)] + time_s[first]) / 2.0
    end_s = (time_s[last - 1] + time_s[min(last, time_s.size - 1)]) / 2.0
    return float(start_s), float(end_s)


def _aloft(signals: Signals) -> Stretch | None:
    """From take-off to landing; from first throttle-up to last motor stop where those are not known."""
    flight = signals.flight
    if flight.is_bench or flight.is_taxi:
        return None
    within = signals.powered or Stretch(flight.start_s, flight.end_s)
    start_s = flight.takeoff_s if isinstance(flight.takeoff_s, float) else within.start_s
    end_s = flight.landing_s if isinstance(flight.landing_s, float) else within.end_s
    if flight.cut_off in ("start", "both"):
        start_s = flight.start_s
    if flight.cut_off in ("end", "both"):
        end_s = flight.end_s
    return Stretch(start_s, end_s)


def _within(time_s: Floats, span: Stretch) -> Flags:
    return np.asarray((time_s >= span.start_s) & (time_s <= span.end_s))
