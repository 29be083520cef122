"""Energy out of the pack: voltage times current, each a line between its own samples."""

from __future__ import annotations

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.physics.charge import AS_PER_MAH, WS_PER_WH, product_integral
from telemetry.sentences import say, undecided
from telemetry.signals import Curve, Flow, Signals
from telemetry.signals.curve import charge_between, clipped, of_channel, total
from telemetry.signals.flow import power, sure
from telemetry.trace import Flight, Trace


def energy_wh(
    signals: Signals, flow: Flow, charge_sd_fraction: float, *, lag_s: float = 0.4
) -> Estimate | Undecided:
    """Energy of one flight.

    Parameters
    ----------
    flow : of the pack.
    charge_sd_fraction : relative standard error of the charge; the energy's is at least that.
    lag_s : how far the voltage's sensor may lag behind the current's; what a shift that long changes is in
        the interval. [s]

    Returns
    -------
    From the logged power where the log has no current. [Wh]
    """
    trace, flight = signals.trace, signals.flight
    by_power = energy_of_power(trace, flight)
    if not trace.positions("current_a") and by_power is not None:
        return by_power
    voltage = of_channel(trace, "pack_voltage_v")
    method = say("capacity", "energy_method")
    if voltage is None:
        cells = [
            c
            for p in trace.positions("cell_voltage_v")
            if (c := of_channel(trace, "cell_voltage_v", p)) is not None
        ]
        if not cells or len(cells) < len(trace.positions("cell_voltage_v")):
            return by_power or undecided("capacity", "no_voltage")
        voltage, method = total(cells), say("capacity", "energy_method_cells", count=len(cells))
    if voltage.time_s[0] >= flight.end_s or voltage.time_s[-1] <= flight.start_s:
        return undecided("capacity", "voltage_not_in_flight")
    energy = _product_wh(clipped(voltage, flight), flow.curve)
    shifted = _product_wh(clipped(voltage._replace(time_s=voltage.time_s - lag_s), flight), flow.curve)
    level_v = float(np.median(voltage.values))
    voltage_fraction = voltage.step / np.sqrt(12.0) / max(level_v, 1e-9)
    half_width = abs(energy) * 1.96 * float(np.hypot(charge_sd_fraction, voltage_fraction)) + abs(
        shifted - energy
    )
    return Estimate.around(energy, half_width, method)


def energy_of_power(trace: Trace, flight: Flight) -> Estimate | None:
    """Energy from the logged power alone, or None without it. [Wh]"""
    whole = power(trace) if trace.has_clock else None
    if whole is None or whole.time_s[0] >= flight.end_s or whole.time_s[-1] <= flight.start_s:
        return None
    bridged, sd = sure(trace, flight, whole, None)
    energy_ws = charge_between(bridged.curve, flight) * AS_PER_MAH
    return Estimate.around(
        energy_ws / WS_PER_WH, 1.96 * sd * AS_PER_MAH / WS_PER_WH, say("capacity", "power_method")
    )


def _product_wh(voltage: Curve, current: Curve) -> float:
    """Energy of two curves over the time that both have. [Wh]"""
    return product_integral(voltage.integral, current.integral) / WS_PER_WH
