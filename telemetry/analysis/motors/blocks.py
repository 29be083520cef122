"""Means of both sides over short windows: the data every comparison of a pair rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.motors.sides import MotorLog, MotorSide, held_means
from telemetry.trace import Flags, Flight, Floats, Samples, Span


@dataclass(frozen=True, slots=True)
class Blocks:
    """Windows in which a pair can be compared, in order of time; left is row 0, right row 1.

    Attributes
    ----------
    time_s : (m,) middle of each window. [s]
    command : (2, m) each side's own command; the same twice when there is one. A stand-in where none was
        logged.
    voltage_v : (m,) mean of both sides, constant where no voltage was logged. [V]
    current_a, rpm : (2, m), or None when either side lacks it.
    current_rise, rpm_rise : (m,) growth over the window per second, mean of both sides, or None. [A/s, rpm/s]
    rudder, rudder_rise : (m,) its mean and its growth per second, or None. [1, 1/s]
    apart, apart_rise : (m,) logarithm of right ÷ left command above a controller's start, and its growth per
        second; zero where there is one command. [1, 1/s]
    pack_a : (m,) what the pack's own sensor saw, or None; only where this pair is all that flies. [A]
    roughness : (m,) standard deviation of the command within the window and the half second before it.
    supply : (m,) logarithm of right ÷ left supply voltage; zero where one pack feeds both.
    has_command, has_voltage : whether these were logged.
    """

    time_s: Floats
    command: Floats
    voltage_v: Floats
    current_a: Floats | None
    rpm: Floats | None
    current_rise: Floats | None
    rpm_rise: Floats | None
    rudder: Floats | None
    rudder_rise: Floats | None
    apart: Floats
    apart_rise: Floats
    pack_a: Floats | None
    roughness: Floats
    supply: Floats
    has_command: bool
    has_voltage: bool

    def where(self, keep: Flags) -> Blocks:
        """The windows that are marked."""

        def pick(rows: Floats | None) -> Floats | None:
            return None if rows is None else rows[..., keep]

        return Blocks(
            self.time_s[keep],
            self.command[:, keep],
            self.voltage_v[keep],
            pick(self.current_a),
            pick(self.rpm),
            pick(self.current_rise),
            pick(self.rpm_rise),
            pick(self.rudder),
            pick(self.rudder_rise),
            self.apart[keep],
            self.apart_rise[keep],
            pick(self.pack_a),
            self.roughness[keep],
            self.supply[keep],
            self.has_command,
            self.has_voltage,
        )


def blocks(
    log: MotorLog,
    flight: Flight,
    left: MotorSide,
    right: MotorSide,
    *,
    outside: Sequence[Span] = (),
    window_s: float = 2.0,
    least_command: float = 0.25,
    most_windows: int = 3000,
) -> Blocks:
    """Windows with command above `least_command`, free of events.

    Parameters
    ----------
    outside : spans to leave out, such as events; a second before and two after each go too.
    window_s : long enough for sensors of 1 Hz, short enough that a flight has some hundred of them; a bench
        run, with its short steps, takes shorter ones.
    least_command : below it the pair's imbalance is not taken; DEVELOPERS.md defines it.
    most_windows : a log longer than an hour and a half has longer ones; a change is looked for at each.
    """
    window_s = max(window_s, (flight.end_s - flight.start_s) / most_windows)
    edges = np.arange(flight.start_s, flight.end_s + 1e-9, window_s)
    starts, ends = edges[:-1], edges[1:]
    command, roughness, has_command = _commands(log, left, right, starts, ends)
    current = _both(left.current, right.current, starts, ends)
    rpm = _both(left.rpm, right.rpm, starts, ends)
    voltage, supply = _voltages(left.voltage, right.voltage, starts, ends)
    rudder = None if log.rudder is None else held_means(log.rudder, starts, ends)
    if not has_command:
        command = _stand_in(current, rpm, starts.size)
    pack = (
        None
        if log.pack_current is None or current is None or len(log.sides) > 2
        else held_means(log.pack_current, starts, ends)
    )
    keep = _comparable(command, least_command, (current, rpm), (voltage, rudder, pack))
    for span in outside:
        keep &= (ends < span.start_s - 1.0) | (starts > span.end_s + 2.0)
    volts = np.full(starts.size, 1.0) if voltage is None else np.maximum(voltage, 0.1)
    apart, apart_rise = _apart(log, left, right, starts, ends)
    found = Blocks(
        (starts + ends) / 2.0,
        command,
        volts,
        current,
        rpm,
        _rise(left.current, right.current, starts, ends),
        _rise(left.rpm, right.rpm, starts, ends),
        rudder,
        _rise(log.rudder, log.rudder, starts, ends),
        apart,
        apart_rise,
        pack,
        roughness,
        supply,
        has_command,
        voltage is not None,
    )
    return found.where(keep)


def _voltages(
    left: Samples | None, right: Samples | None, starts: Floats, ends: Floats
) -> tuple[Floats | None, Floats]:
    """The mean voltage of both sides' supplies, None where either was not logged, and the logarithm of
    right ÷ left.
    """
    level = np.zeros(starts.size)
    if left is None or right is None:
        return None, level
    one = held_means(left, starts, ends)
    if left is right:
        return one, level
    two = held_means(right, starts, ends)
    return (one + two) / 2.0, np.log(np.maximum(two, 0.1) / np.maximum(one, 0.1))


def _comparable(
    command: Floats, least_command: float, pairs: Sequence[Floats | None], rows: Sequence[Floats | None]
) -> Flags:
    """Windows in which both motors work and nothing is missing."""
    keep: Flags = np.all(np.isfinite(command), axis=0) & (np.min(command, axis=0) > least_command)
    for part in pairs:
        if part is not None:
            keep &= np.all(np.isfinite(part), axis=0) & (np.min(part, axis=0) > 0.0)
    for row in rows:
        if row is not None:
            keep &= np.isfinite(row)
    return keep


def _apart(
    log: MotorLog,
    left: MotorSide,
    right: MotorSide,
    starts: Floats,
    ends: Floats,
    *,
    start_fraction: float = 0.03,
) -> tuple[Floats, Floats]:
    """How far the commands are apart, and how fast that grows. A controller starts at some `start_fraction`
    (common practice, no source).
    """
    if not log.per_motor_command or left.command is None or right.command is None:
        return np.zeros(starts.size), np.zeros(starts.size)

    def logarithm(levels: list[Floats]) -> Floats:
        found: Floats = np.log(
            np.maximum(levels[1] - start_fraction, 0.02) / np.maximum(levels[0] - start_fraction, 0.02)
        )
        return found

    sides = (left.command, right.command)
    mean = logarithm([held_means(part, starts, ends) for part in sides])
    before, after = (
        logarithm([np.interp(at, part.time_s, part.values) for part in sides]) for at in (starts, ends)
    )
    return mean, (after - before) / (ends - starts)


def _rise(left: Samples | None, right: Samples | None, starts: Floats, ends: Floats) -> Floats | None:
    """How fast a channel grows over each window, mean of both sides: a sensor that lags by a second reads
    that much low.
    """
    if left is None or right is None:
        return None
    grown = [
        np.interp(ends, part.time_s, part.values) - np.interp(starts, part.time_s, part.values)
        for part in (left, right)
    ]
    return (grown[0] + grown[1]) / 2.0 / (ends - starts)


def _commands(
    log: MotorLog, left: MotorSide, right: MotorSide, starts: Floats, ends: Floats
) -> tuple[Floats, Floats, bool]:
    """Both sides' commands, how much they move within each window, and whether there are any."""
    if log.per_motor_command and left.command is not None and right.command is not None:
        parts = [left.command, right.command]
    elif log.command is not None:
        parts = [log.command, log.command]
    else:
        return np.full((2, starts.size), np.nan), np.zeros(starts.size), False
    means = np.array([held_means(part, starts, ends) for part in parts])
    rough = np.array([_spread(part, starts - 0.5, ends) for part in parts])
    return means, np.nan_to_num(np.max(rough, axis=0), nan=0.1), True


def _spread(samples: Samples, starts: Floats, ends: Floats) -> Floats:
    first = np.maximum(starts, samples.time_s[0])
    last = np.maximum(ends, first + 1e-3)
    middle = float(np.mean(samples.values))
    apart = Samples(samples.time_s, samples.values - middle)
    mean = held_means(apart, first, last)
    square = held_means(Samples(samples.time_s, apart.values**2), first, last)
    return np.sqrt(np.maximum(square - mean**2, 0.0))


def _both(left: Samples | None, right: Samples | None, starts: Floats, ends: Floats) -> Floats | None:
    if left is None or right is None:
        return None
    return np.array([held_means(left, starts, ends), held_means(right, starts, ends)])


def _stand_in(current: Floats | None, rpm: Floats | None, size: int) -> Floats:
    """Without a command: speed, or the cube root of current, against its largest."""
    if rpm is not None:
        level = np.mean(rpm, axis=0)
    elif current is not None:
        level = np.cbrt(np.maximum(np.mean(current, axis=0), 0.0))
    else:
        return np.full((2, size), np.nan)
    known = level[np.isfinite(level)]
    top = float(np.quantile(known, 0.98)) if known.size else 0.0
    return np.tile(level / top if top > 0 else np.full(size, np.nan), (2, 1))
