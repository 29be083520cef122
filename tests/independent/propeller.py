"""Propeller of the independent simulator: blade elements with induced flow, solved once into a table over J.

Static and forward flight, braking and windmilling come out of the same balance. Reynolds number enters as a
power law on the profile drag: small propellers lose torque coefficient as they turn faster.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

J_LOW, J_HIGH, J_COUNT = -0.25, 2.75, 121
J_STEP = (J_HIGH - J_LOW) / (J_COUNT - 1)


@dataclass(frozen=True)
class Propeller:
    """A propeller with its coefficients of thrust and torque tabled over the advance ratio."""

    diameter_m: float
    pitch_m: float
    blades: int
    thrust: list[float]
    torque: list[float]
    reference_rev_s: float
    reynolds_power: float = -0.075
    inertia_kgm2: float = 3e-5

    def look_up(self, advance: float) -> tuple[float, float]:
        """Thrust and torque coefficient at an advance ratio, at the reference speed."""
        at = (advance - J_LOW) / J_STEP
        if at < 0:
            at = 0.0
        elif at > J_COUNT - 2:
            at = float(J_COUNT - 2)
        i = int(at)
        f = at - i
        return (
            self.thrust[i] + f * (self.thrust[i + 1] - self.thrust[i]),
            self.torque[i] + f * (self.torque[i + 1] - self.torque[i]),
        )


def _section(alpha: Floats, drag: float) -> tuple[Floats, Floats]:
    """Lift and drag of a thin cambered section, stalling smoothly into a flat plate."""
    linear = 5.6 * (alpha + 0.045)
    plate = 1.05 * np.sin(2 * alpha)
    stalled = 1 / (1 + np.exp(-(np.abs(alpha) - 0.27) / 0.035))
    lift = linear * (1 - stalled) + plate * stalled
    return lift, drag + 0.012 * (lift - 0.3) ** 2 * (1 - stalled) + 1.6 * np.sin(alpha) ** 2 * stalled


def _stations(diameter_m: float, blades: int, chord: float) -> tuple[Floats, Floats, Floats]:
    x = np.linspace(0.2, 0.98, 16)
    shape = chord * (0.55 + 1.9 * x - 1.85 * x**2) / 0.95
    return x, x * diameter_m / 2, shape * diameter_m * blades


def solve(
    diameter_m: float,
    pitch_m: float,
    advance: Floats,
    *,
    blades: int = 2,
    chord: float = 0.098,
    drag: float = 0.030,
) -> tuple[Floats, Floats]:
    """Coefficients of thrust and torque (Cq = Cp/2π) by annulus balance; shape of `advance`."""
    x, r, chords = _stations(diameter_m, blades, chord)
    omega = 2 * np.pi * 100.0
    speed = (advance * 100.0 * diameter_m)[:, None]
    twist = np.arctan2(pitch_m * 1.06, 2 * np.pi * r)
    low, high = np.full((len(advance), len(r)), -60.0), np.full((len(advance), len(r)), 60.0)
    for _ in range(44):
        induced = (low + high) / 2
        phi, square = np.arctan2(speed + induced, omega * r), (omega * r) ** 2 + (speed + induced) ** 2
        lift, _drag = _section(twist - phi, drag)
        blade = 0.5 * square * chords * (lift * np.cos(phi) - _drag * np.sin(phi))
        loss = _tip_loss(blades, x, phi)
        annulus = 4 * np.pi * r * loss * np.hypot(speed + induced, 0.15 * induced) * induced
        over = blade > annulus
        low, high = np.where(over, induced, low), np.where(over, high, induced)
    moment = 0.5 * square * chords * (lift * np.sin(phi) + _drag * np.cos(phi)) * r
    rev = omega / 2 / np.pi
    return (
        np.trapezoid(blade, r, axis=1) / rev**2 / diameter_m**4,
        np.trapezoid(moment, r, axis=1) / rev**2 / diameter_m**5,
    )


def _tip_loss(blades: int, x: Floats, phi: Floats) -> Floats:
    squeeze = blades / 2 * (1 - x) / np.maximum(x * np.abs(np.sin(phi)), 0.02)
    return np.clip(2 / np.pi * np.arccos(np.exp(-np.minimum(squeeze, 40))), 0.05, 1)


_SOLVED: dict[tuple[float, ...], tuple[Floats, Floats]] = {}


def make_propeller(
    diameter_in: float,
    pitch_in: float,
    *,
    blades: int = 2,
    rpm: float = 9000.0,
    chord: float = 0.098,
    drag: float = 0.030,
) -> Propeller:
    """A propeller of that size; `rpm` is where its coefficients hold as solved."""
    key = (round(diameter_in, 3), round(pitch_in, 3), float(blades), round(chord, 4), round(drag, 4))
    size = diameter_in * 0.0254
    if key not in _SOLVED:
        grid = J_LOW + J_STEP * np.arange(J_COUNT)
        _SOLVED[key] = solve(size, pitch_in * 0.0254, grid, blades=blades, chord=chord, drag=drag)
    thrust, torque = _SOLVED[key]
    inertia = 0.0042 * blades * size**4.6
    return Propeller(
        size, pitch_in * 0.0254, blades, thrust.tolist(), torque.tolist(), rpm / 60, inertia_kgm2=inertia
    )
