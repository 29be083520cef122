"""What the motors' current sensors read while the motors stand."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from telemetry.signals.view import Signals
from telemetry.trace import Samples


class _Zero(NamedTuple):
    """The mean reading at rest and one sigma of it. [A]"""

    value: float
    sd: float


def from_zero(signals: Signals, *, sure: float = 3.0) -> dict[str, Samples]:
    """Every motor's current, less what its sensor reads at rest where the sensors surely start apart.

    Two sensors of one make start some hundredths of an ampere apart, which is a per cent of a cruise current
    (common practice, no source). What all read alike at rest is what controllers draw, and no matter between
    motors.

    Parameters
    ----------
    signals : of the flight.
    sure : how many sigma two readings must lie apart; a noisy sensor at a short rest is left as it was read.

    Returns
    -------
    Fresh samples within the flight, by position, of the motors that have at least three. [s, A]
    """
    read = {p: s for p in signals.motors if (s := signals.fresh("current_a", p, least=3)) is not None}
    zeros = {p: _zero(signals, p, current) for p, current in read.items()}
    known = [z for z in zeros.values() if z is not None]
    if len(known) < max(len(read), 2):
        return read
    low, high = min(known), max(known)
    if high.value - low.value <= sure * float(np.hypot(low.sd, high.sd)):
        return read
    return {p: Samples(s.time_s, s.values - z.value) for p, s in read.items() if (z := zeros[p]) is not None}


def _zero(
    signals: Signals,
    position: str,
    current: Samples,
    *,
    fewest: int = 10,
    most: float = 0.02,
    still_rpm: float = 60.0,
) -> _Zero | None:
    """What a sensor reads with the command closed and, where logged, the propeller below `still_rpm`; None
    with fewer than `fewest` such readings, or over `most` of the highest: a motor that is held.
    """
    command, rpm = signals.command(position), signals.fresh("rpm", position, least=3)
    if command is None:
        return None
    stands = np.abs(np.interp(current.time_s, *command)) < 0.01
    if rpm is not None:
        stands &= np.abs(np.interp(current.time_s, *rpm)) < still_rpm
    rest = current.values[stands]
    if rest.size < fewest or abs(float(np.mean(rest))) > most * float(np.max(current.values)):
        return None
    variance = max(float(np.var(rest)), signals.step("current_a", position) ** 2 / 12.0)
    return _Zero(float(np.mean(rest)), float(np.sqrt(variance / rest.size)))
