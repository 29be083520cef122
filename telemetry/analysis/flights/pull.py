"""How much of a take-off's power a log's highest effort stands for, judged by what the motors did."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.flights.evidence import Effort, Evidence, any_current
from telemetry.derived import pack_current, pack_voltage, throttle
from telemetry.trace import Trace, runs

TAKE_OFF = 1.0
TAXI = 0.3


def strongest_pull(trace: Trace, effort: Effort, evidence: Evidence, *, held_s: float = 2.0) -> float | None:
    """The strongest pull held for `held_s`: by the throttle, else by the pack's sag, else by how long the
    motors worked.

    A log cut short while a motor ran shows only a part, from which no taxi run can be told.

    Parameters
    ----------
    trace, effort, evidence : as logged, of the motors, on the even clock.
    held_s : a take-off roll takes this long, a blip of the throttle on the ground less; common practice, no
        source.

    Returns
    -------
    `TAKE_OFF`, `TAXI`, or None where neither can be told.
    """
    if effort.source == "throttle":
        found = _by_throttle(trace, evidence, held_s)
    else:
        found = _by_sag(trace, evidence, held_s) or _by_duration(trace, evidence, held_s)
    cut_short = bool(evidence.running[0] or evidence.running[-1])
    return None if found == TAXI and cut_short else found


def _by_throttle(
    trace: Trace, evidence: Evidence, held_s: float, *, taxi: float = 0.35, take_off: float = 0.45
) -> float | None:
    """By the highest throttle held, a share of full.

    Parameters
    ----------
    taxi, take_off : models taxi at a tenth to a quarter of the throttle's travel, and none leaves the ground
        by its wheels at less than a half, near enough; common practice, no source. In between it can't be
        told.
    """
    stick = throttle(trace)
    if stick is None:
        return None
    level = np.abs(stick.values)
    rest = float(np.percentile(level, 1.0))
    even = np.interp(evidence.time_s, stick.time_s, level) - (rest if rest < 0.2 else 0.0)
    return _between(float(np.max(evidence.smooth(even, held_s))), taxi, take_off)


def _by_sag(
    trace: Trace, evidence: Evidence, held_s: float, *, taxi: float = 0.01, take_off: float = 0.025
) -> float | None:
    """By how far the pack sags under the strongest draw, a share of its voltage at rest before it.

    Parameters
    ----------
    taxi, take_off : a taxiing model draws a few hundredths of its full current, for which its pack hardly
        sags; at full throttle a lithium pack sags by a twentieth or more, a generous one by half of that;
        common practice, no source.
    """
    voltage = pack_voltage(trace)
    on = np.flatnonzero(evidence.running)
    if voltage is None or on.size == 0 or on[0] * evidence.step_s < 1.0:
        return None
    volts = evidence.smooth(
        np.interp(evidence.time_s, voltage.samples.time_s, voltage.samples.values), held_s
    )
    rest = float(np.median(volts[: on[0]]))
    hardest = int(np.argmax(evidence.smooth(evidence.effort, held_s)))
    return _between(1.0 - float(volts[hardest]) / rest, taxi, take_off) if rest > 0.0 else None


def _by_duration(
    trace: Trace,
    evidence: Evidence,
    held_s: float,
    *,
    least_s: float = 45.0,
    works: float = 0.2,
    least_a: float = 6.0,
) -> float | None:
    """By how long the motors worked without a pause: whoever taxies stops before that, to turn or to wait;
    common practice, no source.

    A shorter stretch says nothing: a current or speed of rotation has no full scale to be a share of.

    Parameters
    ----------
    least_a : nor does a current that never holds this much, of which no share is known: a taxiing model draws
        a few amperes, and one that flies on so little is rare; common practice, no source. Half of it where
        one motor of two is logged.
    """
    draw = any_current(trace)
    if draw is not None:
        held = evidence.smooth(np.interp(evidence.time_s, draw.time_s, draw.values), held_s)
        if float(np.max(held)) < (least_a / 2.0 if pack_current(trace) is None else least_a):
            return None
    worked = evidence.smooth(evidence.effort, 3.0) > works
    return TAKE_OFF if runs(worked, least=round(least_s / evidence.step_s)) else None


def _between(value: float, taxi: float, take_off: float) -> float | None:
    return TAKE_OFF if value >= take_off else TAXI if value <= taxi else None
