"""Which channels belong to which motor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.sentences import say
from telemetry.sheet.setup import Drive
from telemetry.trace import (
    Flight,
    Floats,
    Samples,
    Span,
    Trace,
    motor_positions,
    pack_voltage,
    pairs_of,
    throttle,
)

PER_MOTOR = (
    "current_a",
    "rpm",
    "motor_temperature_c",
    "controller_temperature_c",
    "throttle_fraction",
    "power_w",
)


@dataclass(frozen=True, slots=True)
class Side:
    """One motor: its name for the user, and what was logged of it."""

    position: str
    drive: Drive | None
    current: Samples | None
    rpm: Samples | None
    command: Samples | None
    current_step: float = 0.0
    rpm_step: float = 0.0


@dataclass(frozen=True, slots=True)
class Log:
    """What the motors' analysis reads of a trace, within one flight.

    `sides` is keyed by position. `per_motor_command` says that each motor has its own logged command.
    """

    sides: dict[str, Side]
    command: Samples | None
    voltage: Samples | None
    rudder: Samples | None
    pack_current: Samples | None
    per_motor_command: bool
    remark: str = ""

    @property
    def pairs(self) -> tuple[tuple[str, str], ...]:
        """Symmetrical pairs, left first. Four bare numbers don't say which mirror which."""
        if {"3", "4"} & set(self.sides):
            return ()
        return pairs_of(tuple(self.sides))


def read(trace: Trace, flight: Flight, drives: Sequence[Drive]) -> Log:
    """Gather the channels of every motor, by the sheet's name where a recorder only numbers them. Commands
    count from the controllers' neutral.
    """
    logged = motor_positions(trace)
    names = names_of(logged, drives)
    by_position = {d.position: d for d in drives}
    sides = {names[p]: _side(trace, flight, p, names[p], by_position.get(names[p])) for p in logged}
    own = len(sides) > 1 and all(s.command is not None for s in sides.values())
    derived = pack_voltage(trace, within=flight)
    return Log(
        sides=sides,
        command=throttle(trace, within=flight),
        voltage=None
        if derived is None or float(np.median(derived.samples.values)) <= 0.0
        else derived.samples,
        rudder=_enough(trace.fresh("rudder_fraction", within=flight)),
        pack_current=_enough(trace.fresh("current_a", within=flight)),
        per_motor_command=own,
        remark=_remark(sides, logged, names),
    )


def handed(left: Drive | None, right: Drive | None) -> bool | None:
    """Whether two propellers turn opposite ways, so that a swap between the sides would reverse their
    thrust (common practice, no source); None where the sheet does not give both rotations.
    """
    turns = [drive.rotation for drive in (left, right) if drive is not None and drive.rotation is not None]
    return turns[0] != turns[1] if len(turns) == 2 else None


def names_of(logged: Sequence[str], drives: Sequence[Drive]) -> dict[str, str]:
    """From the recorder's position to the sheet's."""
    said = {d.logged_as: d.position for d in drives if d.logged_as is not None}
    taken = {p for p in logged if p not in said}
    return {p: said[p] if p in said and said[p] not in taken else p for p in logged}


def _remark(sides: dict[str, Side], logged: Sequence[str], names: dict[str, str]) -> str:
    if not sides:
        return say("undecided", "motors", "no_channel")
    if len(sides) == 1:
        return say("undecided", "motors", "one_motor")
    if any(names[p].isdigit() for p in logged):
        if len(sides) > 2:
            return say("undecided", "motors", "numbered_many")
        return say("undecided", "motors", "numbered")
    return "" if pairs_of(tuple(sides)) else say("undecided", "motors", "no_mirror")


def _side(trace: Trace, flight: Span, logged: str, position: str, drive: Drive | None) -> Side:
    def fresh(quantity: str) -> Samples | None:
        return _enough(trace.fresh(quantity, logged, within=flight))

    def step(quantity: str) -> float:
        channel = trace.channels.get((quantity, logged))
        return 0.0 if channel is None else channel.step

    return Side(
        position,
        drive,
        fresh("current_a"),
        fresh("rpm"),
        fresh("throttle_fraction"),
        step("current_a"),
        step("rpm"),
    )


def _enough(samples: Samples | None) -> Samples | None:
    return samples if samples is not None and samples.time_s.size >= 3 else None


def held_means(samples: Samples, starts_s: Floats, ends_s: Floats) -> Floats:
    """Mean of a channel over windows, straight lines between fresh samples.

    Parameters
    ----------
    starts_s, ends_s : (m,), each end after its start. [s]

    Returns
    -------
    (m,), NaN where the window lies outside the channel or in a silence of over 3 s and over five refreshes.
    """
    t, v = samples
    step = np.diff(t)
    total = np.concatenate(([0.0], np.cumsum(step * (v[1:] + v[:-1]) / 2.0)))

    def integral(at: Floats) -> Floats:
        i = np.clip(np.searchsorted(t, at, side="right") - 1, 0, t.size - 2)
        x = at - t[i]
        slope = (v[i + 1] - v[i]) / np.maximum(step[i], 1e-12)
        found: Floats = total[i] + v[i] * x + slope * x**2 / 2.0
        return found

    means = (integral(ends_s) - integral(starts_s)) / (ends_s - starts_s)
    silence = max(3.0, 5.0 * float(np.median(step)))
    quiet = np.concatenate(([0.0], np.cumsum(np.where(step > silence, 1.0, 0.0))))
    broken = np.interp(ends_s, t, quiet) > np.interp(starts_s, t, quiet)
    outside = (starts_s < t[0] - 1e-9) | (ends_s > t[-1] + 1e-9)
    return np.where(broken | outside, np.nan, means)
