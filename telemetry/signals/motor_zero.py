"""What a motor's current sensor reads while its motor stands."""

from __future__ import annotations

import numpy as np

from telemetry.signals.view import Signals
from telemetry.trace import Samples


def from_zero(
    signals: Signals, position: str, *, fewest: int = 20, most: float = 0.02, still_rpm: float = 60.0
) -> Samples | None:
    """A motor's current less what its sensor reads while the motor stands, None where it was not logged.

    Two sensors of one make start some hundredths of an ampere apart, which is a per cent of a cruise current
    (common practice, no source).

    Parameters
    ----------
    signals : of the flight.
    position : the motor.
    fewest : readings at rest; their mean is then good to a fifth of their scatter. With fewer the current
        stays as it was read, as it does without a command.
    most : of the highest current; a larger reading is no offset but a motor that is held.
    still_rpm : below it a propeller stands. [rpm]

    Returns
    -------
    Fresh samples within the flight. [s, A]
    """
    current, command = signals.fresh("current_a", position, least=3), signals.command(position)
    if current is None or command is None:
        return current
    stands = np.abs(np.interp(current.time_s, *command)) < 0.01
    rpm = signals.fresh("rpm", position, least=3)
    if rpm is not None:
        stands &= np.abs(np.interp(current.time_s, *rpm)) < still_rpm
    if np.count_nonzero(stands) < fewest:
        return current
    zero = float(np.mean(current.values[stands]))
    if abs(zero) > most * float(np.max(current.values)):
        return current
    return Samples(current.time_s, current.values - zero)
