"""Consumed charge and energy, mean current, sensor gain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.physics.charge import charge_mah
from telemetry.trace import Flight, Floats, Samples, Span, Trace, pack_current, pack_voltage


@dataclass(frozen=True, slots=True)
class Capacity:
    """What left the pack. `consumed_fraction` is of the sheet's capacity; `how` says where the current came from."""

    consumed_mah: Estimate | Undecided
    logged_mah: float | Undecided
    energy_wh: Estimate | Undecided
    consumed_fraction: float | Undecided
    mean_current_a: float | Undecided
    sensor_gain: Estimate | Undecided
    how: str = ""


def analyse(trace: Trace, flight: Flight, *, capacity_mah: float | None = None, put_back: Sequence[tuple[float, float]] = ()) -> Capacity:
    """What left the pack in one flight."""
    current = pack_current(trace)
    logged = _logged_mah(trace, flight)
    gain: Estimate | Undecided = Undecided("no charge was put back after a flight")
    if current is None or not trace.has_clock:
        no = Undecided("the log has no current" if current is None else "the log has no time")
        from_counter = no if isinstance(logged, Undecided) else Estimate.around(logged, 0.01 * logged, "the logged counter")
        return Capacity(from_counter, logged, no, no, no, gain, "logged counter")
    time_s, current_a = _clip(current.samples, flight)
    consumed = charge_mah(time_s, current_a)
    mean: float | Undecided = Undecided("no motor ran")
    if not isinstance(flight.powered, Undecided):
        t, i = _clip(current.samples, flight.powered)
        mean = charge_mah(t, i) * 3.6 / max(flight.powered.end_s - flight.powered.start_s, 1e-9)
    return Capacity(
        Estimate.around(consumed, 0.002 * abs(consumed), "integral of the current"),
        logged,
        _energy_wh(trace, flight, time_s, current_a),
        consumed / capacity_mah if capacity_mah else Undecided("no capacity was given"),
        mean,
        gain,
        current.how,
    )


def _clip(samples: Samples, span: Span) -> tuple[Floats, Floats]:
    inside = (samples.time_s > span.start_s) & (samples.time_s < span.end_s)
    time_s = np.concatenate(([span.start_s], samples.time_s[inside], [span.end_s]))
    return time_s, np.interp(time_s, samples.time_s, samples.values)


def _logged_mah(trace: Trace, flight: Flight) -> float | Undecided:
    counter = trace.fresh("charge_mah", within=flight)
    if counter is None or counter.time_s.size < 2:
        return Undecided("the log counts no charge")
    return float(counter.values[-1] - counter.values[0])


def _energy_wh(trace: Trace, flight: Flight, time_s: Floats, current_a: Floats) -> Estimate | Undecided:
    voltage = pack_voltage(trace)
    if voltage is None:
        return Undecided("the log has no pack voltage")
    grid = np.union1d(time_s, voltage.samples.time_s)
    grid = grid[(grid >= flight.start_s) & (grid <= flight.end_s)]
    v = np.interp(grid, voltage.samples.time_s, voltage.samples.values)
    i = np.interp(grid, time_s, current_a)
    energy = float(np.sum(np.diff(grid) * (2 * v[:-1] * i[:-1] + v[:-1] * i[1:] + v[1:] * i[:-1] + 2 * v[1:] * i[1:]) / 6.0)) / 3600.0
    return Estimate.around(energy, 0.003 * abs(energy), "integral of voltage × current")
