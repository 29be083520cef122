"""Rows of a motor in which it does not do what it was told, each judged by speed, current or both."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.motors.rows import DRAWS, MotorRows
from telemetry.trace import Flags, Floats

LEAST_CURRENT = 0.05
"""A motor that should draw less than this share of full current cannot be told from a stopped one."""

WINDMILLING_SPEED = 0.82
"""A propeller that is not driven windmills at 0.5 to 0.8 of its driven speed."""


def failing(
    one: MotorRows, *, slow: float = WINDMILLING_SPEED, idle_speed: float = 0.95, weak: float = 0.15
) -> tuple[Flags, Flags]:
    """Rows in which it turns or draws too little, and those in which it is dead.

    Parameters
    ----------
    slow : below this share of its usual speed it is not driven. Below a quarter of full speed that is half:
        there the controller's start and its throttle curve move the usual speed by a fifth and more.
    idle_speed : so much of its usual speed a driven motor keeps when the air takes its load; a dead one is
        slower.
    weak : a dead motor draws its controller's own current only.
    """
    size = one.time_s.size
    asked_a, asked_n = one.usual_current, one.usual_rpm
    no = np.zeros(size, dtype=np.bool_)
    weaker = no if one.current is None else (one.current < weak * asked_a) & (asked_a > LEAST_CURRENT)
    if one.rpm is None:
        return weaker, weaker
    slower = (one.rpm < slow * asked_n) & (asked_n > 0.06)
    much_slower = slower & ((asked_n > 0.25) | (one.rpm < 0.5 * asked_n))
    if one.current is None:
        return much_slower, slower & (asked_n > 0.25) & _smooth(one.rpm, one.time_s)
    dead = (weaker & (one.rpm < idle_speed * asked_n)) | (_idle(one) & much_slower & (asked_n > 0.1))
    return (much_slower & _overloaded(one)) | dead, dead


def _idle(one: MotorRows, *, nothing: float = 0.01) -> Flags:
    """Rows in which it draws nothing. A motor much slower than its command drives it cannot do so: what is
    left of the voltage must drive a current.
    """
    if one.current is None:
        return np.zeros(one.time_s.size, dtype=np.bool_)
    idle: Flags = one.current < nothing
    return idle


def _overloaded(one: MotorRows, *, more: float = 1.3) -> Flags:
    """Rows in which it draws more than a propeller asks for at that speed: a motor out of step, or stalled.
    One that is given less, or is turned by the air, is slow without it.

    Parameters
    ----------
    more : against the usual current, brought to that speed by its square.
    """
    if one.current is None:
        return np.ones(one.time_s.size, dtype=np.bool_)
    if one.rpm is None:
        return np.zeros(one.time_s.size, dtype=np.bool_)
    share = one.rpm / np.maximum(one.usual_rpm, 1e-3)
    over: Flags = one.current > np.maximum(DRAWS, more * np.nan_to_num(one.usual_current) * share**2)
    return over


def starting(one: MotorRows) -> Flags:
    """Rows since the last rest in which the motor has not yet run."""
    asked = one.usual_rpm if one.rpm is not None else one.usual_current
    own = one.rpm if one.rpm is not None else one.current
    if own is None:
        return np.zeros(one.time_s.size, dtype=np.bool_)
    rest = (own < 0.03) & (one.command < 0.03 if one.command is not None else np.nan_to_num(asked) < 0.03)
    runs = (own > 0.5 * asked) & (asked > 0.05)
    row = np.arange(one.time_s.size)
    last_rest = np.maximum.accumulate(np.where(rest, row, -1))
    last_run = np.maximum.accumulate(np.where(runs, row, -1))
    return (last_run < last_rest) | ((last_run < 0) & (last_rest < 0))


def pulled(
    one: MotorRows,
    *,
    least_command: float = 0.12,
    while_steering: float = 0.35,
    least_current: float = 0.05,
    over: float = 0.2,
) -> Flags:
    """Rows in which the motor was asked to pull; below, a propeller turns in the wind and says nothing.

    Parameters
    ----------
    least_command : held for a second.
    while_steering : the same with the rudder `over`, when each motor's own command is not known.
    least_current : the twin's, against full, where no command was logged.
    """
    steered = one.steering > over
    if one.steady_command is not None:
        return one.steady_command > np.where(steered, while_steering, least_command)
    if one.twin_current is not None:
        return (one.twin_current > least_current) & ~steered
    return ~steered if one.twin_rpm is None else (one.twin_rpm > 0.3) & ~steered


def behind_twin(one: MotorRows) -> Flags:
    """Rows in which the twin already turns and this one does not, or draws a standing motor's current."""
    no = np.zeros(one.time_s.size, dtype=np.bool_)
    if one.rpm is not None and one.twin_rpm is not None:
        return one.alike & (one.twin_rpm > 0.06) & (one.rpm < 0.5 * one.twin_rpm)
    if one.current is not None and one.twin_current is not None:
        return one.alike & (one.current > 0.1) & (one.current > 3.0 * one.twin_current)
    return no


def _smooth(row: Floats, time_s: Floats) -> Flags:
    """Rows around which the signal bends little over a second."""
    if row.size < 3:
        return np.zeros(row.size, dtype=np.bool_)
    reach = min(max(round(0.5 / max(float(time_s[1] - time_s[0]), 1e-6)), 1), (row.size - 1) // 2)
    kernel = np.ones(2 * reach + 1) / (2 * reach + 1)
    mean = np.convolve(row, kernel, mode="same")
    rough = np.sqrt(np.maximum(np.convolve(row**2, kernel, mode="same") - mean**2, 0.0))
    return rough < 0.12 * np.maximum(mean, 0.05)


def near(time_s: Floats, marked: Flags, reach_s: float) -> Flags:
    """Rows within a reach of marked ones."""
    at = time_s[marked]
    if not at.size:
        return marked
    i = (
        np.clip(np.searchsorted(at, time_s), 1, at.size - 1)
        if at.size > 1
        else np.zeros(time_s.size, dtype=np.int_)
    )
    nearest = (
        np.abs(time_s - at[i])
        if at.size == 1
        else np.minimum(np.abs(time_s - at[i - 1]), np.abs(time_s - at[i]))
    )
    return nearest <= reach_s
