"""A speed that reads a constant factor off: a pole count or gear entered wrongly for one motor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from telemetry.analysis.motors.blocks import Blocks, blocks
from telemetry.analysis.motors.results import SpeedScale
from telemetry.analysis.motors.sides import MotorLog, MotorSide
from telemetry.physics.motor import speed_rpm
from telemetry.trace import Flight, Samples

LEAST_RATIO = 1.06
"""Pole pairs of motors run from 4 to 14; 14 ÷ 13 is the smallest slip by one (arithmetic), and motors of one
kind turn alike within some per cent.
"""


def speed_scale(
    log: MotorLog, flight: Flight, pair: tuple[str, str], *, steady: float = 0.012, fewest: int = 8
) -> SpeedScale | None:
    """The constant factor between a pair's speeds, None where they agree or truly differ.

    Parameters
    ----------
    pair : left and right position.
    steady : how far the ratio may scatter, and move between light and heavy load; a propeller or winding
        shows more under load.
    fewest : windows of two seconds.

    Notes
    -----
    Where both turn at one command, a motor that truly turns faster by a share takes more torque by at least
    twice that share, as torque goes at least with the square of speed; half of this is the border.
    """
    left, right = (log.sides[p] for p in pair)
    found = blocks(log, flight, left, right)
    if found.rpm is None:
        return None
    keep = np.abs(found.apart) < 0.05
    if found.rudder is not None:
        keep &= np.abs(found.rudder) < 0.15
    found = found.where(keep)
    if found.rpm is None or found.time_s.size < fewest:
        return None
    row = np.log(found.rpm[1] / found.rpm[0])
    middle = float(np.median(row))
    if abs(middle) < np.log(LEAST_RATIO) or not _constant(row, np.mean(found.rpm, axis=0), steady):
        return None
    ratio = float(np.exp(middle))
    whole = _whole_ratio(ratio)
    if found.current_a is not None:
        current = float(np.median(np.log(found.current_a[1] / found.current_a[0])))
        if abs(current) > abs(middle):
            return None
    elif whole is None:
        return None
    return SpeedScale(*pair, ratio, whole, _whose(found, (left, right)), found.current_a is not None)


def without_scale(log: MotorLog, scale: SpeedScale) -> MotorLog:
    """The log with the speed that reads off brought to its twin's level, so that it still tells when a motor
    turns too slowly; with neither known as wrong, the right one.
    """
    wrong = scale.motor or scale.right
    side = log.sides[wrong]
    if side.rpm is None:
        return log
    factor = scale.ratio if wrong == scale.left else 1.0 / scale.ratio
    rpm = Samples(side.rpm.time_s, side.rpm.values * factor)
    return replace(log, sides={**log.sides, wrong: replace(side, rpm=rpm, rpm_step=side.rpm_step * factor)})


def _constant(row: np.ndarray, speed: np.ndarray, steady: float) -> bool:
    """Whether the ratio is the same at every moment and load."""
    heavy = speed >= np.median(speed)
    apart = abs(float(np.median(row[heavy])) - float(np.median(row[~heavy]))) if np.any(~heavy) else 0.0
    return 1.48 * float(np.median(np.abs(row - np.median(row)))) < steady and apart < steady


def _whole_ratio(ratio: float, *, largest: int = 8, near: float = 0.006) -> tuple[int, int] | None:
    """The ratio of the smallest whole numbers within `near` of one.

    Parameters
    ----------
    largest : 7 pole pairs are the usual ones, and 8 ÷ 7 a miscount of them; larger numbers lie so close to
        each other that every ratio would be one (arithmetic).
    near : two motors of one kind differ by some tenths of a per cent.
    """
    pairs = sorted(
        ((p, q) for p in range(1, largest + 1) for q in range(1, largest + 1) if p != q),
        key=lambda pq: sum(pq),
    )
    return next(((p, q) for p, q in pairs if abs(ratio * q / p - 1.0) < near), None)


def _whose(found: Blocks, sides: tuple[MotorSide, MotorSide]) -> str:
    """The one motor that turns at what its Kv and voltage do not allow, while its twin does."""
    kvs = [None if s.drive is None else s.drive.motor.kv_rpm_per_v for s in sides]
    if found.rpm is None or not found.has_voltage or not found.has_command or None in kvs:
        return ""
    top = np.min(found.command, axis=0) > 0.9 * float(np.max(found.command))
    off = []
    halves = (-found.supply / 2.0, found.supply / 2.0)
    for side, kv, rpm, command, half in zip(sides, kvs, found.rpm, found.command, halves, strict=True):
        assert kv is not None and side.drive is not None
        amperes = 0.0 if found.current_a is None else float(np.median(found.current_a[:, top]))
        ohm = side.drive.motor.resistance_ohm or 0.0
        volts = found.voltage_v[top] * np.exp(half[top]) * np.minimum(command[top], 1.0)
        off.append(
            float(
                np.median(np.log(rpm[top] / speed_rpm(volts, amperes, kv_rpm_per_v=kv, resistance_ohm=ohm)))
            )
        )
    near = [abs(o) for o in off]
    wrong = int(np.argmax(near))
    return sides[wrong].position if near[wrong] > 2.0 * near[1 - wrong] + 0.03 else ""
