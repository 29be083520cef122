"""How well a column's numbers suit a quantity by themselves. In nats, 0 for "says nothing"."""

from __future__ import annotations

import numpy as np

from telemetry.importers.columns.candidates import Candidate
from telemetry.importers.columns.evidence import ColumnEvidence
from telemetry.quantities import QUANTITIES
from telemetry.trace import Floats

_USUAL = {
    "pack_voltage_v": (2.5, 60.0),
    "cell_voltage_v": (2.3, 4.45),
    "current_a": (-60.0, 250.0),
    "charge_mah": (-500.0, 30_000.0),
    "power_w": (-1500.0, 8000.0),
    "energy_wh": (-20.0, 700.0),
    "receiver_voltage_v": (3.3, 9.0),
    "receiver_current_a": (-1.0, 20.0),
    "motor_temperature_c": (-20.0, 160.0),
    "controller_temperature_c": (-20.0, 130.0),
    "pack_temperature_c": (-20.0, 80.0),
    "air_temperature_c": (-30.0, 50.0),
    "altitude_m": (-500.0, 4000.0),
    "climb_mps": (-50.0, 50.0),
    "airspeed_mps": (-3.0, 90.0),
    "ground_speed_mps": (0.0, 90.0),
    "rpm": (-1000.0, 45_000.0),
    "throttle_fraction": (-1.02, 1.05),
    "link_fraction": (0.0, 1.001),
    "acceleration_mps2": (-160.0, 160.0),
    "thrust_n": (-100.0, 300.0),
}
"""Where readings of model aircraft usually lie; narrower than what `QUANTITIES` admits."""

_LEAST_TOP = {
    "current_a": 1.0,
    "rpm": 300.0,
    "charge_mah": 5.0,
    "power_w": 10.0,
    "energy_wh": 0.05,
    "throttle_fraction": 0.05,
    "motor_temperature_c": 3.0,
    "controller_temperature_c": 3.0,
    "pack_temperature_c": 3.0,
    "link_fraction": 0.2,
}
"""A log in which the highest reading stays below is in another unit, or of a model that never ran."""


def alone(candidate: Candidate, evidence: ColumnEvidence) -> float:
    """Within its usual range, large enough, rising if it counts up."""
    values = evidence.values(candidate)
    values = values[np.isfinite(values)]
    if values.size == 0:
        return 0.0
    quantity = QUANTITIES[candidate.quantity]
    low, high = _USUAL.get(candidate.quantity, (quantity.low, quantity.high))
    # A few sentinels or drop-outs do not speak against a unit, so the ends of the numbers are not looked at.
    share_out = float(np.mean((values < low) | (values > high)))
    score = -10.0 * max(0.0, share_out - 0.02)
    top = float(np.percentile(np.abs(values), 99.5))
    least = _LEAST_TOP.get(candidate.quantity)
    if least is not None and top < least:
        score -= min(8.0, 3.5 + 2.5 * float(np.log10(least / max(top, 1e-9))))
    if quantity.counts_up:
        score -= 6.0 * _falling(values)
    if candidate.quantity.endswith("temperature_c") and not 0.0 <= values[0] <= 42.0:
        # A log begins about as warm as the day; frost and parts still warm from the flight before are the
        # exceptions.
        score -= 2.5
    if candidate.quantity == "throttle_fraction":
        score += _command(values, candidate)
    if candidate.quantity in ("current_a", "power_w") and float(values.sum()) < 0:
        # More goes out of a pack than into it.
        score -= 3.0
    return score


def _command(values: Floats, candidate: Candidate) -> float:
    """A log begins with the motors at rest; a stick that is never drawn back below its middle is not read
    from end to end.
    """
    score = -2.0 if abs(float(values[0])) > 0.15 else 0.0
    return score - 3.0 if candidate.offset == 0.5 and float(values.min()) > 0.25 else score


def _falling(values: Floats) -> float:
    """Share of a counter's movement that goes down, resets to zero (a new step, a restart) not counted."""
    steps = np.diff(values)
    fell = steps < 0
    resets = fell & (np.abs(values[1:]) < 0.02 * float(np.max(np.abs(values))))
    moved = float(np.abs(steps[~resets]).sum())
    return float(-steps[fell & ~resets].sum()) / moved if moved > 0 else 0.0
