"""What two recorders of one flight both felt."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from telemetry.derived import motor_positions, pack_current, pack_voltage
from telemetry.trace import Floats, Trace


@dataclass(frozen=True, slots=True)
class Signal:
    """One course over time that rises and falls with the load.

    name : what it is, for the report. time_s, values : (m,) fresh samples. [s]
    """

    name: str
    time_s: Floats
    values: Floats

    @property
    def interval_s(self) -> float:
        """Usual time between samples. [s]"""
        steps = np.diff(self.time_s)
        return float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0


@dataclass(frozen=True, slots=True)
class Shared:
    """A signal of each recorder that follow one another; `sign` −1 where one falls as the other rises."""

    first: Signal
    other: Signal
    sign: float


def _mean_of(trace: Trace, quantity: str) -> Signal | None:
    """The common channel of a quantity, else the mean of its motors'."""
    positions = trace.positions(quantity)
    if not positions:
        return None
    parts = [
        p
        for p in (trace.fresh(quantity, q) for q in (("",) if "" in positions else positions))
        if p is not None and p.time_s.size > 20
    ]
    if not parts:
        return None
    base = max(parts, key=lambda p: p.time_s.size)
    values = np.mean([np.interp(base.time_s, p.time_s, p.values) for p in parts], axis=0)
    return Signal(quantity, base.time_s, values)


def signals_of(trace: Trace) -> dict[str, Signal]:
    """The signals of one trace by kind: throttle, current, rpm, voltage, altitude."""
    found: dict[str, Signal] = {}
    for kind, derived in (("current", pack_current(trace)), ("voltage", pack_voltage(trace))):
        if derived is not None and derived.samples.time_s.size > 20:
            found[kind] = Signal(kind, derived.samples.time_s, derived.samples.values)
    like = (
        ("throttle", "throttle_fraction"),
        ("rpm", "rpm"),
        ("altitude", "altitude_m"),
        ("power", "power_w"),
        ("current", "current_a"),
    )
    for kind, quantity in like:
        if kind in found:
            continue
        signal = _mean_of(trace, quantity)
        if signal is not None:
            found[kind] = Signal(
                kind, signal.time_s, np.abs(signal.values) if kind == "throttle" else signal.values
            )
    return {kind: part for kind, s in found.items() if np.ptp((part := _unbroken(s)).values) > 0}


def _unbroken(signal: Signal, *, silent_s: float = 600.0) -> Signal:
    """Its part of most samples between silences longer than a flight can be."""
    bounds = [0, *(np.flatnonzero(np.diff(signal.time_s) > silent_s) + 1).tolist(), signal.time_s.size]
    first, last = max(pairwise(bounds), key=lambda part: part[1] - part[0])
    return Signal(signal.name, signal.time_s[first:last], signal.values[first:last])


_BY_A_CONTROLLER = ("current_a", "rpm", "controller_temperature_c", "power_w", "charge_mah")
_LIKE = ("throttle", "rpm", "current", "power", "voltage", "altitude")
_FOLLOWING = (
    ("throttle", "current", 1.0),
    ("rpm", "current", 1.0),
    ("throttle", "rpm", 1.0),
    ("current", "voltage", -1.0),
    ("power", "current", 1.0),
)


def shared_signals(first: Trace, other: Trace) -> tuple[Shared, ...]:
    """What can be matched: the same kind in both where there is one, else kinds that follow one another."""
    ours, theirs = signals_of(first), signals_of(other)
    alike = tuple(Shared(ours[k], theirs[k], 1.0) for k in _LIKE if k in ours and k in theirs)
    if alike:
        return alike
    crossed: list[Shared] = []
    for a, b, sign in _FOLLOWING:
        if a in ours and b in theirs:
            crossed.append(Shared(ours[a], theirs[b], sign))
        if b in ours and a in theirs:
            crossed.append(Shared(ours[b], theirs[a], sign))
    return tuple(crossed)


def is_motor_log(trace: Trace) -> bool:
    """Whether the trace is the log of one controller: what a controller measures of a lone motor in the
    centre, and no single cells, which a pack's recorder reads.
    """
    measured = any(trace.has(quantity, "centre") for quantity in _BY_A_CONTROLLER)
    return motor_positions(trace) == ("centre",) and measured and not trace.positions("cell_voltage_v")
