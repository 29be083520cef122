"""Causes a pair can differ by, each as columns of a linear model of what both sides logged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.motors.blocks import Blocks
from telemetry.analysis.motors.physics import Effect, WorkingPoint, effect
from telemetry.trace import Floats

FULL_COMMAND = 0.965
"""Above it a controller may already give all it has, or not yet: the end-points decide."""

NEARLY_FULL = 0.93
"""Above it mixing can only take thrust away from one side, no longer add it to the other."""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing that may differ between right and left.

    Attributes
    ----------
    cause : the cause it belongs to, or "" for what only makes the data less sure.
    usual_sd : how far two sound sides differ in it.
    wide_sds : how far they differ when it is the cause, each equally likely.
    share : this part's share among the parts of its cause.
    along : parts that may differ with it, and by which multiple of its width.
    real : the difference is in the motors, not in what measures or commands them.
    in_sum : by which share of it the pack's sensor sees more than the sum of both motors'.
    """

    name: str
    cause: str
    usual_sd: float
    wide_sds: tuple[float, ...] = ()
    share: float = 1.0
    along: tuple[tuple[str, float], ...] = ()
    real: bool = True
    in_sum: float = 0.0


PARTS = (
    Part("propeller", "propeller", 0.003, (0.02, 0.06, 0.15)),
    Part("kv", "kv", 0.002, (0.012, 0.03, 0.08)),
    Part("winding", "winding", 0.02, (0.12, 0.3, 0.8), 0.5),
    Part("lead", "winding", 0.005, (0.12, 0.3, 0.8), 0.5),
    Part("scale", "endpoint", 0.001, (0.01, 0.025, 0.06), 0.3, (("full", 1.0),)),
    Part("start", "endpoint", 0.001, (0.01, 0.025, 0.06), 0.3, (("full", 0.2),)),
    Part("shift", "endpoint", 0.0, (0.01, 0.025, 0.06), 0.4, (("full", 1.0), ("start", 0.3))),
    Part("full", "", 0.0),
    Part("friction", "drag", 0.003, (0.012, 0.035, 0.1), 0.6),
    Part("viscous", "drag", 0.0, (0.012, 0.035, 0.1), 0.4),
    Part("gain", "sensor", 0.0045, (0.02, 0.05, 0.12), 0.4, real=False, in_sum=-0.5),
    Part("gain_left", "sensor", 0.0045, (0.02, 0.05, 0.12), 0.4, real=False, in_sum=0.5),
    Part("offset", "sensor", 0.002, (0.02, 0.06), 0.2, real=False),
    Part("mixed_rudder", "", 0.2, real=False),
    Part("mixed_command", "", 0.15, real=False),
    Part("rudder_late", "", 0.08, real=False),
    Part("command_late", "", 0.3, real=False),
    Part("mixed_bend", "", 0.04, real=False),
    Part("rudder_current", "", 0.1, real=False),
    Part("mixed_current", "", 0.5, real=False),
    Part("speed_late", "", 0.12, real=False),
    Part("current_late", "", 0.12, real=False),
    Part("speed_level", "", 0.0003, real=False),
    Part("speed_tilt", "", 0.0005, real=False),
    Part("current_level", "", 0.002, real=False),
    Part("current_tilt", "", 0.004, real=False),
)
"""Usual spreads are those of motors and propellers of one batch and sensors of one make, which answer within
a tenth of a second of each other (common practice, no source); wide ones run from the smallest difference
that matters to the largest that still flies."""

NAMES = tuple(part.name for part in PARTS)

CAUSE_PRIOR = {
    "none": 0.5,
    "propeller": 0.11,
    "kv": 0.08,
    "winding": 0.07,
    "endpoint": 0.08,
    "drag": 0.07,
    "sensor": 0.085,
    "several": 0.005,
}
"""Before the log is seen: half the pairs even; propellers, which get nicked and swapped, the likeliest cause
(ours).
"""

LIKENESS = ((0.3, 0.4), (1.0, 0.45), (2.0, 0.15))
"""How alike two sound sides are against the usual spreads, and how often: picked pairs, ordinary ones, odd
ones (ours).
"""


def columns(blocks: Blocks, point: WorkingPoint) -> tuple[Effect, ...]:
    """What one unit of each of `PARTS` does in each window."""
    duty = point.duty
    command = np.mean(blocks.command, axis=0)
    full = np.where(command > FULL_COMMAND, 1.0, 0.0)
    tilt = np.log(np.maximum(command, 0.05)) - float(np.mean(np.log(np.maximum(command, 0.05))))
    zero = np.zeros(duty.size)
    one = np.ones(duty.size)
    rudder = zero if blocks.rudder is None else blocks.rudder
    return (
        effect(point, propeller=1.0),
        effect(point, kv=1.0),
        effect(point, winding=1.0),
        effect(point, winding=duty**2),
        effect(point, duty=one),
        effect(point, duty=(1.0 - duty) / duty),
        effect(point, duty=1.0 / duty),
        effect(point, duty=full),
        effect(point, idle=one),
        effect(point, idle=point.speed),
        Effect(zero, one, zero),
        Effect(zero, one, zero),
        Effect(zero, 1.0 / point.supply, zero),
        effect(point, duty=-np.where(command < NEARLY_FULL, 2.0, 1.0) * rudder / duty),
        effect(point, duty=blocks.apart),
        effect(point, duty=(zero if blocks.rudder_rise is None else blocks.rudder_rise) / duty),
        effect(point, duty=-blocks.apart_rise),
        effect(point, duty=blocks.apart / np.maximum(command, 0.1)),
        Effect(zero, rudder / duty, zero),
        Effect(zero, blocks.apart, zero),
        Effect(_late(blocks.rpm, blocks.rpm_rise, zero), zero, zero),
        Effect(zero, _late(blocks.current_a, blocks.current_rise, zero), zero),
        Effect(one, zero, zero),
        Effect(tilt, zero, zero),
        Effect(zero, one, zero),
        Effect(zero, tilt, zero),
    )


def _late(rows: Floats | None, rise: Floats | None, zero: Floats) -> Floats:
    """What a second of delay of the right sensor does to the logarithm of the ratio."""
    return zero if rows is None or rise is None else -rise / np.mean(rows, axis=0)


def commanded(blocks: Blocks, point: WorkingPoint) -> Effect:
    """What a difference in command, logged for each motor, does."""
    return effect(point, duty=blocks.apart)


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One cause at one width: the standard deviation of every part. [as `PARTS`]"""

    cause: str
    part: str
    prior: float
    sds: Floats


def hypotheses() -> tuple[Hypothesis, ...]:
    """Even, each cause at each of its widths, and several at once."""
    return tuple(h for likeness, prior in LIKENESS for h in _hypotheses(likeness, prior))


def _hypotheses(likeness: float, prior: float) -> tuple[Hypothesis, ...]:
    usual = np.array([part.usual_sd * (likeness if part.real or part.cause else 1.0) for part in PARTS])
    found = [Hypothesis("none", "", prior * CAUSE_PRIOR["none"], usual)]
    for k, part in enumerate(PARTS):
        for wide in part.wide_sds:
            sds = usual.copy()
            sds[k] = wide
            for name, factor in part.along:
                other = NAMES.index(name)
                sds[other] = max(sds[other], factor * wide)
            found.append(
                Hypothesis(
                    part.cause,
                    part.name,
                    prior * CAUSE_PRIOR[part.cause] * part.share / len(part.wide_sds),
                    sds,
                )
            )
    several = np.array(
        [part.wide_sds[0] if part.wide_sds and part.real else usual[k] for k, part in enumerate(PARTS)]
    )
    return (*found, Hypothesis("several", "", prior * CAUSE_PRIOR["several"], several))
