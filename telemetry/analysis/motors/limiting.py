"""A controller that holds power back: the motor turns slower for its command and voltage than it used to.

A motor's speed is Kv times the voltage it is given, less what its winding takes; at one command it goes with
the supply. What it did at each command while the pack was fresh is the measure, so that neither Kv nor the
controller's curve need be known. Once the supply has fallen and speed falls further than it, the controller
gives less than it is told: low-voltage protection, or heat.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from telemetry.analysis.motors.rows import DRAWS, MotorRows, expected, stretches, usual_levels
from telemetry.trace import Flags, Floats, Stretch


class _Measure(NamedTuple):
    """What is held against its usual level: a row, the share that is too little, and how long. [s]"""

    row: Floats
    share: float
    shortest_s: float


def held_back(one: MotorRows) -> tuple[Stretch, ...]:
    """When a motor was given less than its command asks for."""
    found = _short(one)
    if found is None:
        return ()
    measure, usual = found
    short = measure.row < measure.share * usual
    return stretches(one.time_s, short & _asked(one), shortest_s=measure.shortest_s, bridge_s=10.0)


def share_left(one: MotorRows, span: Stretch) -> tuple[float, float]:
    """Speed (by currents: current) against its usual in a span where it was held back, and the pack's mean
    voltage. [1, V]
    """
    found = _short(one)
    assert found is not None and one.volts is not None
    measure, usual = found
    inside = (one.time_s >= span.start_s) & (one.time_s <= span.end_s) & _asked(one) & np.isfinite(usual)
    return float(np.mean(measure.row[inside] / usual[inside])), float(np.mean(one.volts[inside]))


def _asked(one: MotorRows, *, least_command: float = 0.4) -> Flags:
    """Rows with a steady command of some power."""
    assert one.steady_command is not None
    asked: Flags = one.steady_command > least_command
    return asked


def _short(one: MotorRows) -> tuple[_Measure, Floats] | None:
    """The measure and its usual level in each row, taken in the first half of its work, less what the air
    alone turned. NaN where the supply is not lower than it mostly was then, or the motor not simply slow;
    None where the log cannot tell.
    """
    measure = _measure(one)
    if measure is None or one.volts is None or one.command is None or one.steady_command is None:
        return None
    driven = (one.steady_command > 0.25) & (one.command - one.steady_command < 0.05)
    if np.count_nonzero(driven) < 50:
        return None
    fresh = driven & (np.cumsum(driven) < np.count_nonzero(driven) / 2)
    if one.current is not None and one.rpm is not None:
        fresh &= one.current > DRAWS
    power = 1.0 if one.rpm is not None else 3.0
    levels = usual_levels([np.where(fresh, one.steady_command, np.nan)], [measure.row], 20.0, power)
    if levels is None:
        return None
    usual = expected(levels, one.steady_command, None, np.ones(driven.size, dtype=np.bool_))
    low = one.volts < float(np.median(one.volts[fresh]))
    tired = low & _as_propellers(one, fresh) & (usual > 0.0)
    return measure, np.where(tired, usual, np.nan)


def _measure(one: MotorRows) -> _Measure | None:
    """Speed per volt: 14 % less is more than winding and airspeed explain, which move it by some 8 % either
    way. By currents alone a dive takes half, for seconds.
    """
    if one.volts is None:
        return None
    volts = np.maximum(one.volts, 0.1) / float(np.max(one.volts))
    if one.rpm is not None:
        return _Measure(one.rpm / volts, 0.86, 2.0)
    return None if one.current is None else _Measure(one.current / volts**2, 0.4, 8.0)


def _as_propellers(one: MotorRows, driven: Flags, *, less: float = 0.4, more: float = 2.0) -> Flags:
    """Rows in which it takes the power a propeller takes at that speed: a dead motor takes none, one out of
    step far more.
    """
    if one.current is None or one.rpm is None or one.volts is None:
        return np.ones(one.time_s.size, dtype=np.bool_)
    power = one.current * one.volts / np.maximum(one.rpm, 0.05) ** 3
    usual = float(np.median(power[driven])) if np.count_nonzero(driven) >= 5 else np.nan
    normal: Flags = (power > less * usual) & (power < more * usual)
    return normal
