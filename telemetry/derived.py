"""Figures of the whole pack and of all motors: as logged, else worked out from the parts that were."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from telemetry.quantities import PAIRS
from telemetry.sentences import counted, say
from telemetry.trace import Flags, Floats, Samples, Span, Trace

_OF_A_MOTOR = (
    "current_a",
    "rpm",
    "throttle_fraction",
    "motor_temperature_c",
    "controller_temperature_c",
    "power_w",
    "charge_mah",
    "thrust_n",
)


class Derived(NamedTuple):
    """A pack figure and where it came from: "" when logged as such, else a clause that says how."""

    samples: Samples
    how: str


def motor_positions(trace: Trace) -> tuple[str, ...]:
    """Every motor that has a channel of its own.

    Parameters
    ----------
    trace : one log, or several on one clock.

    Returns
    -------
    Positions, left first; empty where only the whole aircraft was logged.
    """
    return tuple(dict.fromkeys(p for q in _OF_A_MOTOR for p in trace.positions(q) if p))


def pairs_of(positions: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """The symmetrical pairs among motors.

    Parameters
    ----------
    positions : of motors, in any order.

    Returns
    -------
    Left and right of each pair, in the order of `PAIRS`.
    """
    return tuple((left, right) for left, right in PAIRS if left in positions and right in positions)


def is_every_motor(positions: Sequence[str]) -> bool:
    """Whether these can be all motors of an aircraft.

    Parameters
    ----------
    positions : of motors, in any order.

    Returns
    -------
    False where there is none, or one stands without its mirror image.
    """
    mirrored = {p for pair in PAIRS if set(pair) <= set(positions) for p in pair}
    return bool(positions) and all(p in mirrored or p in ("centre", "1", "2", "3", "4") for p in positions)


def pack_current(trace: Trace, *, within: Span | None = None) -> Derived | None:
    """Current of the whole pack: its own sensor's, else the sum of all motors', else power ÷ voltage.

    Parameters
    ----------
    trace : one log, or several on one clock.
    within : a part of it; None for the whole.

    Returns
    -------
    At least two fresh samples [s, A]; None where nothing tells it, as when one motor of two was logged.
    """
    motors = [p for p in trace.positions("current_a") if p]
    if not motors and _logged(trace, "current_a", within) is None:
        return _power_over_voltage(trace, within)
    return _whole(trace, "current_a", motors, within)


def pack_power(trace: Trace, *, within: Span | None = None) -> Derived | None:
    """Power of the whole pack: its own channel, else the sum of all motors'.

    Parameters
    ----------
    trace : one log, or several on one clock.
    within : a part of it; None for the whole.

    Returns
    -------
    At least two fresh samples [s, W]; None where nothing tells it.
    """
    return _whole(trace, "power_w", [p for p in trace.positions("power_w") if p], within)


def pack_voltage(trace: Trace, *, within: Span | None = None) -> Derived | None:
    """Voltage of the whole pack: its own channel, else the sum of its cells.

    Parameters
    ----------
    trace : one log, or several on one clock.
    within : a part of it; None for the whole.

    Returns
    -------
    At least two fresh samples [s, V]; None where nothing tells it.
    """
    return _whole(trace, "pack_voltage_v", trace.positions("cell_voltage_v"), within)


def throttle(trace: Trace, *, within: Span | None = None) -> Samples | None:
    """The common throttle command, else the mean of the motors'.

    Parameters
    ----------
    trace : one log, or several on one clock.
    within : a part of it; None for the whole.

    Returns
    -------
    At least two fresh samples [s, −1…1]; None where no command was logged.
    """
    logged = _logged(trace, "throttle_fraction", within)
    if logged is not None:
        return logged
    motors = [p for p in trace.positions("throttle_fraction") if p]
    total = _sum_of(trace, "throttle_fraction", motors, within)
    return None if total is None else Samples(total.time_s, total.values / len(motors))


def connected_v(time_s: Floats, voltage: Samples, *, least_v: float = 2.0) -> tuple[Flags, Floats] | None:
    """Which moments find the pack connected, and its voltage there.

    Parameters
    ----------
    time_s : (n,) the moments. [s]
    voltage : of the pack. [s, V]
    least_v : a pack that is connected reads more: one cell's cut-off and less. [V]

    Returns
    -------
    (n,) whether it is connected, and (m,) the voltage at those moments [V]; None with fewer than two.
    """
    volts = np.interp(time_s, voltage.time_s, voltage.values)
    keep = volts > least_v
    return None if np.count_nonzero(keep) < 2 else (keep, volts[keep])


def _logged(trace: Trace, quantity: str, within: Span | None) -> Samples | None:
    """The whole aircraft's own channel, where it has two samples."""
    samples = trace.fresh(quantity, within=within)
    return samples if samples is not None and samples.time_s.size >= 2 else None


_PARTS = {
    "current_a": ("current_a", "current"),
    "power_w": ("power_w", "power"),
    "pack_voltage_v": ("cell_voltage_v", "voltage"),
}
"""By a pack's quantity: that of its parts, and what the words call it."""


def _whole(trace: Trace, quantity: str, positions: Sequence[str], within: Span | None) -> Derived | None:
    """A pack's own channel, else the sum of its parts where all of them were logged."""
    logged = _logged(trace, quantity, within)
    if logged is not None:
        return Derived(logged, "")
    part, word = _PARTS[quantity]
    if part == quantity and not is_every_motor(positions):
        return None
    total = _sum_of(trace, part, positions, within)
    return None if total is None else Derived(total, counted("derived", word, count=len(positions)))


def _sum_of(trace: Trace, quantity: str, positions: Sequence[str], within: Span | None) -> Samples | None:
    """The sum of several channels, at the fresh times of the one that refreshes most often."""
    parts = [trace.fresh(quantity, p, within=within) for p in positions]
    if not parts or any(part is None or part.time_s.size < 2 for part in parts):
        return None
    found = [part for part in parts if part is not None]
    base = max(found, key=lambda part: part.time_s.size)
    return Samples(
        base.time_s, np.sum([np.interp(base.time_s, part.time_s, part.values) for part in found], axis=0)
    )


def _power_over_voltage(trace: Trace, within: Span | None) -> Derived | None:
    """Current from power and voltage."""
    power, voltage = pack_power(trace, within=within), pack_voltage(trace, within=within)
    if power is None or voltage is None:
        return None
    found = connected_v(power.samples.time_s, voltage.samples)
    if found is None:
        return None
    keep, volts = found
    parts = say("events", "and").join(how for how in (power.how, voltage.how) if how)
    how = say("derived", "divided") + (f" ({parts})" if parts else "")
    return Derived(Samples(power.samples.time_s[keep], power.samples.values[keep] / volts), how)
