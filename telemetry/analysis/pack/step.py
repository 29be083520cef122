"""The two-current form: voltage fall over current rise, some time after a step."""

from __future__ import annotations

import numpy as np

from telemetry.trace import Samples


def two_current_ohm(first_v: float, first_a: float, second_v: float, second_a: float) -> float:
    """(U1 − U2) / (I2 − I1). [Ω]

    Raises
    ------
    ValueError : both currents alike.

    Source: the form of IEC 61960-3, which takes 0.2 C for 10 s and 1 C for 1 s; a flight's levels
    are 10 to 18 C, so a flight's figure is not one of that standard.
    """
    if first_a == second_a:
        raise ValueError("two currents alike tell no resistance")
    return (first_v - second_v) / (second_a - first_a)


def apparent_ohm(voltage: Samples, current: Samples, at_s: float, after_s: float) -> float:
    """Two-current form between the last readings before a step at `at_s` and those `after_s` behind it. [Ω]

    Sensor lag and the fall of the open-circuit voltage are still in it: it shows one step, the
    joint fit the cell.
    """
    before = [float(s.values[max(int(np.searchsorted(s.time_s, at_s)) - 1, 0)]) for s in (voltage, current)]
    after = [float(np.interp(at_s + after_s, s.time_s, s.values)) for s in (voltage, current)]
    return two_current_ohm(before[0], before[1], after[0], after[1])
