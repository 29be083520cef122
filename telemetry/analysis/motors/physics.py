"""How one difference between two like motors shows in their speeds, currents and shaft powers.

First order in the difference, around the pair's mean working point in each window. With E the back-EMF,
d the duty, ρ = I·R/(d·V) the share lost in the winding, η = I0/I the no-load share and p the exponent of
torque with speed at the same airspeed:

    δN = δKv + (δd − ρ·(δI + δR)) / (1 − ρ)                 from N = Kv·(d·V − I·R)
    δI = (1 − η)·(δprop + p·δN + δKv) + δI0·I0/I            from Kt·(I − I0) = Q, Q ~ N^p
    δi = δd + δI                                            from i = d·I
    δP = δprop + (p + 1)·δN

where δ is a difference of logarithms, right less left.

Source: the first-order motor of M. Drela, First-Order DC Electric Motor Model, MIT, 2007, an ideal
controller (a buck converter: power in = power out), and measured propellers' unloading
(`telemetry.physics.propeller`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.analysis.motors.blocks import Blocks
from telemetry.physics.propeller import power_curve, unloading
from telemetry.trace import Flags, Floats

LEAST_DUTY = 0.03
STILL_EXPONENT = 1.95
"""Torque of a propeller held still grows a little slower than speed squared
(`STATIC_POWER_REYNOLDS_EXPONENT`).
"""
FASTEST_LOAD = 0.9
"""Torque coefficient of the hardest pull in flight against static: x = 0.4 to 0.6 (`power_curve`)."""


@dataclass(frozen=True, slots=True)
class WorkingPointGuess:
    """What a log seldom gives: shares at the strongest windows, and how the torque exponent may be off.

    loss_share : I·R/(d·V).
    idle_share : I0/I.
    exponent_shift : added to the exponent found from the unloading.
    """

    loss_share: float
    idle_share: float
    exponent_shift: float = 0.0


@dataclass(frozen=True, slots=True)
class WorkingPoint:
    """The pair's mean in each window, each (m,).

    duty, loss_share, idle_share, exponent : d, ρ, η and p above.
    winding, speed, supply : winding current, speed and battery current against their strongest.
    """

    duty: Floats
    loss_share: Floats
    idle_share: Floats
    exponent: Floats
    winding: Floats
    speed: Floats
    supply: Floats

    @property
    def shaft(self) -> Floats:
        """Shaft power against its strongest, up to a factor."""
        return np.maximum(self.winding * (1.0 - self.idle_share), 1e-4) * self.speed


@dataclass(frozen=True, slots=True)
class Effect:
    """Logarithms right less left: speed, battery current, shaft power; each (m,)."""

    speed: Floats
    current: Floats
    shaft: Floats


def working_point(blocks: Blocks, guess: WorkingPointGuess, *, still: bool) -> WorkingPoint:
    """The mean of both sides, from whatever was logged.

    Parameters
    ----------
    still : the model stands, so torque goes about with the square of speed.
    """
    command = np.mean(blocks.command, axis=0)
    top = command >= np.quantile(command, 0.9)
    top_command = float(np.median(command[top]))
    top_duty = 1.0 if top_command > 0.97 or not blocks.has_command else max(top_command - 0.03, 0.2) / 0.97
    straight = np.clip(command * top_duty / top_command, LEAST_DUTY, 1.0)
    volts = blocks.voltage_v / float(np.median(blocks.voltage_v[top]))
    speed = _relative(blocks.rpm, top)
    supply = _relative(blocks.current_a, top)
    loss, idle = guess.loss_share, guess.idle_share
    if supply is None:
        winding = idle + (1 - idle) * (speed if speed is not None else straight * volts) ** 2
        duty = straight if speed is None else ((1 - loss) * speed + loss * winding) * top_duty / volts
    elif speed is None:
        duty = straight
        winding = supply * top_duty / duty
    else:
        back = (1 - loss) * speed * top_duty
        duty = (back + np.sqrt(back**2 + 4 * volts * loss * supply * top_duty**2)) / (2 * volts)
        winding = supply * top_duty / np.clip(duty, LEAST_DUTY, None)
    duty = np.clip(duty, LEAST_DUTY, 1.0)
    if supply is None:
        supply = winding * duty / top_duty
    loss_share = np.clip(loss * winding * top_duty / (duty * volts), 0.005, 0.5)
    idle_share = np.clip(idle / np.maximum(winding, 1e-3), 0.0, 0.7)
    if speed is None:
        speed = np.maximum(duty * volts * (1 - loss_share) / (top_duty * (1 - loss)), 1e-3)
    exponent = (
        np.full(duty.size, STILL_EXPONENT)
        if still
        else _exponent(winding - idle, speed, known=blocks.rpm is not None and blocks.current_a is not None)
    )
    return WorkingPoint(
        duty, loss_share, idle_share, exponent + guess.exponent_shift * (not still), winding, speed, supply
    )


def _relative(rows: Floats | None, top: Flags) -> Floats | None:
    if rows is None:
        return None
    mean: Floats = np.mean(rows, axis=0)
    return mean / max(float(np.median(mean[top])), 1e-9)


def _exponent(torque: Floats, speed: Floats, *, known: bool) -> Floats:
    """Exponent of torque with speed at the same airspeed, from how far the propeller has unloaded.

    With Cp a falling function of x ~ 1/N, p = 2 − dlnCp/dlnx. The unloading is torque ÷ speed² against its
    largest, which in flight is itself some tenth below the static one.
    """
    if not known:
        return np.full(torque.size, 2.7)
    x = np.linspace(0.0, 1.0, 101)
    share = unloading(x, power_curve())
    slope = np.gradient(np.log(share), x) * x
    falling = np.arange(x.size) >= int(np.argmax(share))
    coefficient = torque / speed**2
    level = np.clip(FASTEST_LOAD * coefficient / np.quantile(coefficient, 0.97), 0.35, 1.0)
    found = np.interp(-level, -share[falling], slope[falling])
    return np.clip(2.0 - found, 2.0, 4.5)


def supply_effect(point: WorkingPoint, supply: Floats) -> Effect:
    """What a difference in supply voltage does: a duty's, but for the step from winding to supply current.

    Parameters
    ----------
    supply : (m,) logarithm of right ÷ left supply voltage.

    Returns
    -------
    Logarithms right less left.
    """
    as_duty = effect(point, duty=supply)
    return Effect(as_duty.speed, as_duty.current - supply, as_duty.shaft)


def at_one_supply(
    blocks: Blocks, guesses: Sequence[tuple[WorkingPointGuess, float]], *, still: bool
) -> Blocks:
    """The windows as both motors would have run on one supply voltage, the mean of theirs.

    Parameters
    ----------
    guesses : of the common working point, with their weights; the mean of what they say counts.
    still : the model stands.

    Returns
    -------
    The same windows where one pack feeds both.
    """
    if not np.any(blocks.supply) or blocks.time_s.size == 0:
        return blocks
    weights = np.array([weight for _, weight in guesses])
    effects = [
        supply_effect(working_point(blocks, guess, still=still), blocks.supply) for guess, _ in guesses
    ]
    speed = np.average([e.speed for e in effects], axis=0, weights=weights) / 2.0
    current = np.average([e.current for e in effects], axis=0, weights=weights) / 2.0

    def level(rows: Floats | None, half: Floats) -> Floats | None:
        return None if rows is None else rows * np.exp(np.array([half, -half]))

    return replace(
        blocks,
        current_a=level(blocks.current_a, current),
        rpm=level(blocks.rpm, speed),
        supply=np.zeros(blocks.supply.size),
    )


def effect(
    point: WorkingPoint,
    *,
    propeller: float = 0.0,
    kv: float = 0.0,
    winding: Floats | float = 0.0,
    duty: Floats | float = 0.0,
    idle: Floats | float = 0.0,
) -> Effect:
    """What a difference does, by the equations above.

    Parameters
    ----------
    propeller, kv, winding : logarithms of right ÷ left of torque at a speed, Kv and winding resistance; that
        of a lead is seen from the winding by the square of the duty.
    duty : logarithm of right ÷ left of duty, may vary with the window.
    idle : right less left of the no-load current, against the strongest winding current.
    """
    over = 1.0 / (1.0 - point.loss_share)
    lossy = point.loss_share * over
    useful = 1.0 - point.idle_share
    friction = idle / point.winding
    torque = useful * (propeller + kv) + friction
    speed = (kv + duty * over - lossy * (torque + winding)) / (1.0 + lossy * useful * point.exponent)
    current = torque + useful * point.exponent * speed
    return Effect(speed, duty + current, propeller + (point.exponent + 1.0) * speed)
