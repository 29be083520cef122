"""Which channels belong to which motor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.derived import pairs_of
from telemetry.physics.charge import mean_over
from telemetry.quantities import pack_position
from telemetry.sentences import say
from telemetry.sheet.setup import Drive
from telemetry.signals import Signals
from telemetry.trace import Floats, Samples


@dataclass(frozen=True, slots=True)
class MotorSide:
    """One motor: its name for the user, and what was logged of it; `voltage` is that of the pack that feeds
    it.
    """

    position: str
    drive: Drive | None
    current: Samples | None
    rpm: Samples | None
    command: Samples | None
    voltage: Samples | None = None
    current_step: float = 0.0
    rpm_step: float = 0.0


@dataclass(frozen=True, slots=True)
class MotorLog:
    """What the motors' analysis reads of a trace, within one flight.

    `sides` is keyed by position. `per_motor_command` says that each motor has its own logged command,
    `per_motor_pack` that each has a pack of its own.
    """

    sides: dict[str, MotorSide]
    command: Samples | None
    rudder: Samples | None
    pack_current: Samples | None
    per_motor_command: bool
    per_motor_pack: bool = False
    remark: str = ""
    vibration: Samples | None = None

    @property
    def pairs(self) -> tuple[tuple[str, str], ...]:
        """Symmetrical pairs, left first. Four bare numbers don't say which mirror which."""
        if {"3", "4"} & set(self.sides):
            return ()
        return pairs_of(tuple(self.sides))


def read(signals: Signals, drives: Sequence[Drive]) -> MotorLog:
    """Gather the channels of every motor. Commands count from the controllers' neutral."""
    by_position = {d.position: d for d in drives}
    currents = signals.motor_readings()
    sides = {p: _side(signals, p, by_position.get(p), currents.get(p)) for p in signals.motors}
    own = len(sides) > 1 and all(s.command is not None for s in sides.values())
    return MotorLog(
        sides=sides,
        command=signals.throttle,
        rudder=signals.fresh("rudder_fraction", least=3),
        pack_current=signals.fresh("current_a", least=3),
        per_motor_command=own,
        per_motor_pack=bool(signals.packs),
        remark=_remark(tuple(sides)),
        vibration=signals.fresh("vibration_mps2", least=10),
    )


def handed(left: Drive | None, right: Drive | None) -> bool | None:
    """Whether two propellers turn opposite ways, so that a swap between the sides would reverse their
    thrust (common practice, no source); None where the sheet does not give both rotations.
    """
    turns = [drive.rotation for drive in (left, right) if drive is not None and drive.rotation is not None]
    return turns[0] != turns[1] if len(turns) == 2 else None


def _remark(motors: Sequence[str]) -> str:
    if not motors:
        return say("undecided", "motors", "no_channel")
    if len(motors) == 1:
        return say("undecided", "motors", "one_motor")
    if any(p.isdigit() for p in motors):
        return say("undecided", "motors", "numbered_many" if len(motors) > 2 else "numbered")
    return "" if pairs_of(motors) else say("undecided", "motors", "no_mirror")


def _side(signals: Signals, position: str, drive: Drive | None, current: Samples | None) -> MotorSide:
    return MotorSide(
        position,
        drive,
        current,
        signals.fresh("rpm", position, least=3),
        signals.fresh("throttle_fraction", position, least=3),
        _supply(signals, position),
        signals.step("current_a", position),
        signals.step("rpm", position),
    )


def _supply(signals: Signals, position: str) -> Samples | None:
    """The voltage of the pack that feeds a motor."""
    voltage = signals.packs.get(pack_position(position), signals).voltage
    if voltage is None or float(np.median(voltage.samples.values)) <= 0.0:
        return None
    return voltage.samples


def held_means(samples: Samples, starts_s: Floats, ends_s: Floats) -> Floats:
    """Mean of a channel over windows, straight lines between fresh samples.

    Parameters
    ----------
    starts_s, ends_s : (m,), each end after its start. [s]

    Returns
    -------
    (m,), NaN where the window lies outside the channel or in a silence of over 3 s and over five refreshes.
    """
    t, _ = samples
    step = np.diff(t)
    means = mean_over(*samples, starts_s, ends_s)
    silence = max(3.0, 5.0 * float(np.median(step)))
    quiet = np.concatenate(([0.0], np.cumsum(np.where(step > silence, 1.0, 0.0))))
    broken = np.interp(ends_s, t, quiet) > np.interp(starts_s, t, quiet)
    outside = (starts_s < t[0] - 1e-9) | (ends_s > t[-1] + 1e-9)
    return np.where(broken | outside, np.nan, means)
