"""Coarse steps: what a rounded reading says is that the voltage lay within half a step of it.

A reading is kept as that interval, not as a number with noise: the likelihood of an interval
of a normal law (as for grouped data: Sheppard 1898; maximum likelihood for it: Tobin 1958 and
the interval regression after him). Around a first fit it acts as a working residual with a
weight, so that the rest of the fit stays least squares.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from telemetry.trace import Floats


class Working(NamedTuple):
    """`pull`: expected noise given the interval [V]; `weight`: how much of a reading's information is left, 0
    to 1. Each as the input.
    """

    pull: Floats
    weight: Floats


def sharpen(residual_v: Floats, step_v: float, sd_v: Floats, *, least: float, huber: float = 2.0) -> Working:
    """Of readings `residual_v` off the fit, rounded to `step_v`, with noise `sd_v` before rounding.

    `least` keeps a weight above nought where a reading says nothing, which shortens the step of
    the fit but moves its end nowhere; far out, where the law underflows, a reading
    counts as a number, and beyond `huber` sd it weighs less.
    """
    a = (residual_v - step_v / 2) / sd_v
    b = (residual_v + step_v / 2) / sd_v
    share = ndtr(b) - ndtr(a)
    far = share < 1e-6
    safe = np.where(far, 1.0, share)
    low, high = np.exp(-0.5 * a**2) / np.sqrt(2 * np.pi), np.exp(-0.5 * b**2) / np.sqrt(2 * np.pi)
    score = (low - high) / safe
    weight = score**2 + (b * high - a * low) / safe
    score = np.where(far, residual_v / sd_v, score)
    weight = np.where(far, 1.0, np.clip(weight, least, 1.0))
    outlying = np.minimum(1.0, huber / np.maximum(np.abs(score), 1e-12))
    return Working(np.asarray(sd_v * score * outlying), np.asarray(weight * outlying))


def noise_before_rounding(residual_v: Floats, step_v: float, *, least: float = 0.08) -> float:
    """Sd of the noise that was there before rounding, from the residuals' spread less that of the steps; at
    least a part of a step. [V]
    """
    spread = float(np.mean(np.minimum(np.abs(residual_v), step_v) ** 2))
    return float(np.sqrt(max(spread - step_v**2 / 12, (least * step_v) ** 2)))
