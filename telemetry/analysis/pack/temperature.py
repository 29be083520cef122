"""Resistance carried to 25 °C."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.pack.figures import TWO_SIDED
from telemetry.analysis.pack.results import NOT_LOGGED
from telemetry.estimate import Estimate, Undecided
from telemetry.physics.cell import ActivationEnergy, arrhenius_factor
from telemetry.trace import Span, Trace


def at_25c(
    ohms: Estimate | Undecided, temperature_c: float | Undecided, energy: ActivationEnergy
) -> Estimate | Undecided:
    """A resistance carried to 25 °C.

    Parameters
    ----------
    ohms : at the pack's temperature. [Ω]
    temperature_c : of the pack. [°C]
    energy : how it goes with temperature; its spread widens the interval.

    Returns
    -------
    [Ω], or why there is none.
    """
    if isinstance(ohms, Undecided):
        return ohms
    if isinstance(temperature_c, Undecided):
        return temperature_c
    factor = 1.0 / arrhenius_factor(temperature_c, energy.kjpmol)
    spread = abs(np.log(arrhenius_factor(temperature_c, energy.sd_kjpmol)))
    value, size = ohms.value * factor, max(abs(ohms.value), 1e-9)
    under, over = (
        abs(value) * float(np.hypot(arm / size, TWO_SIDED * spread))
        for arm in (ohms.value - ohms.low, ohms.high - ohms.value)
    )
    return Estimate(value, value - under, value + over, f"{ohms.method}, carried to 25 °C")


def mean_temperature(trace: Trace, powered: Span) -> float | Undecided:
    """Of the pack over the powered time. [°C]"""
    samples = trace.fresh("pack_temperature_c")
    if samples is None or samples.time_s.size == 0:
        return NOT_LOGGED
    times = np.linspace(powered.start_s, powered.end_s, 200)
    return float(np.mean(np.interp(times, samples.time_s, samples.values)))
