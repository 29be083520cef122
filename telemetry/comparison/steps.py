"""Where a bench run held its throttle."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from telemetry.signals import Signals
from telemetry.trace import Stretch


@dataclass(frozen=True, slots=True)
class Held:
    """One throttle, and every span in which it was held, without its first moments."""

    throttle: float
    spans: tuple[Stretch, ...]


def held_steps(
    signals: Signals,
    *,
    within: float = 0.015,
    least_s: float = 0.8,
    settle_s: float = 1.0,
    least_throttle: float = 0.05,
) -> tuple[Held, ...]:
    """The steps of a run-up, from the lowest throttle to the highest, reverse before forward. A short one is
    taken by its second half; whether a reading has settled there is asked where it is read.

    Parameters
    ----------
    within : a throttle is held while it stays that close to where it stood. [1]
    least_s : shorter ones are a stick on its way. [s]
    settle_s : left out at the start of each; motors and propellers settle in well under a second. [s]
    least_throttle : below it a controller may not turn its motor.
    """
    samples = signals.throttle
    if samples is None or samples.time_s.size < 3:
        return ()
    moves = np.flatnonzero(np.abs(np.diff(samples.values)) > within) + 1
    edges = np.concatenate(([0], moves, [samples.time_s.size]))
    found: list[tuple[float, Stretch]] = []
    for first, last in pairwise(edges):
        start_s = float(samples.time_s[first])
        end_s = float(samples.time_s[last - 1])
        values = samples.values[first:last]
        level = float(np.median(values))
        if (
            end_s - start_s >= least_s
            and abs(level) >= least_throttle
            and float(np.ptp(values)) <= 3.0 * within
        ):
            found.append(
                (
                    level,
                    Stretch(start_s + min(settle_s, 0.5 * (end_s - start_s)), end_s),
                )
            )
    steps: list[tuple[float, list[Stretch]]] = []
    for level, span in sorted(found, key=lambda f: f[0]):
        if steps and abs(level - steps[-1][0]) <= 2.0 * within:
            steps[-1][1].append(span)
        else:
            steps.append((level, [span]))
    return tuple(Held(round(level, 3), tuple(spans)) for level, spans in steps)
