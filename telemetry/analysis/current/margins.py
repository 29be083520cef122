"""The flight against the ratings of the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.current.missed import Missed
from telemetry.analysis.current.windows import largest
from telemetry.estimate import Estimate, Undecided, value_of
from telemetry.sentences import say, undecided
from telemetry.sheet.setup import Rating
from telemetry.signals import Signals
from telemetry.signals.curve import cut
from telemetry.trace import Samples, Stretch


@dataclass(frozen=True, slots=True)
class Margin:
    """One rating against the flight: the largest mean over exactly its own window.

    Attributes
    ----------
    margin_fraction : (rating − measured) ÷ rating, negative when over.
    start_s : where that window starts: when the margin was smallest. [s]
    """

    part: str
    position: str
    rating_a: float
    window_s: float
    measured_a: Estimate | Undecided
    margin_fraction: float | Undecided
    start_s: float | Undecided


@dataclass(frozen=True, slots=True)
class Load:
    """A current that a rating speaks of, and the smallest change its sensor shows. [A]"""

    samples: Samples
    step_a: float
    how: str = ""


def margins(signals: Signals, ratings: Sequence[Rating], missed: Missed | None) -> tuple[Margin, ...]:
    """Every rating, in the order given."""
    single = _is_single(signals, ratings)
    loads: dict[str, Load | Undecided] = {}
    for rating in ratings:
        if rating.position not in loads:
            loads[rating.position] = load_at(signals, rating.position, single=single)
    return tuple(_margin(rating, loads[rating.position], missed) for rating in ratings)


def load_at(signals: Signals, position: str, *, single: bool = False) -> Load | Undecided:
    """The current at a position.

    Parameters
    ----------
    signals : of the flight.
    position : "" the pack, "receiver", or a motor.
    single : the aircraft has one motor, whose current may be the pack's.

    Returns
    -------
    The current, or why the log has none there.
    """
    if not signals.trace.has_clock:
        return undecided("current", "no_time")
    if position == "receiver":
        samples = signals.fresh("receiver_current_a", least=2)
        if samples is None:
            return undecided("current", "no_receiver")
        return Load(samples, signals.step("receiver_current_a"))
    if position in signals.motor_currents:
        return Load(signals.motor_currents[position].samples, signals.step("current_a", position))
    if position and not single:
        return undecided("current", "no_motor", motor=position)
    flow = signals.current
    if isinstance(flow, Undecided):
        return flow
    how = say("current", "all_of_one_motor") if position else flow.how
    return Load(flow.samples, flow.curve.step, how)


def _is_single(signals: Signals, ratings: Sequence[Rating]) -> bool:
    """Whether all ratings and channels speak of one motor at most."""
    rated = {r.position for r in ratings if r.position not in ("", "receiver")}
    return len(rated | set(signals.motors)) <= 1


def _margin(rating: Rating, load: Load | Undecided, missed: Missed | None) -> Margin:
    def without(why: Undecided) -> Margin:
        return Margin(rating.part, rating.position, rating.rating_a, rating.window_s, why, why, why)

    if isinstance(load, Undecided):
        return without(load)
    span_s = float(load.samples.time_s[-1] - load.samples.time_s[0])
    best = largest(load.samples, rating.window_s)
    if best is None:
        return without(undecided("current", "window_too_long", span_s=span_s, window_s=rating.window_s))
    low, high = _arms(load, rating.window_s, best.start_s, missed)
    method = ", ".join(filter(None, (say("current", "method", window_s=rating.window_s), load.how)))
    measured = Estimate(best.mean, best.mean - low, best.mean + high, method)
    return Margin(
        rating.part,
        rating.position,
        rating.rating_a,
        rating.window_s,
        measured,
        (rating.rating_a - best.mean) / rating.rating_a,
        best.start_s,
    )


def _arms(load: Load, window_s: float, start_s: float, missed: Missed | None) -> tuple[float, float]:
    """How far the true largest mean may lie below and above the measured one. [A]

    Noise and what lies between samples average out over the window, by the misfit of each sample to its
    neighbours; rounding does not while the reading stands still. The largest of many noisy means lies a
    little high. A window of few samples may have missed what the spectrum says hides between them.
    """
    near = cut(load.samples, Stretch(start_s - max(window_s, 1.0), start_s + 2.0 * max(window_s, 1.0)))
    inside = cut(load.samples, Stretch(start_s, start_s + window_s))
    count = max(inside.time_s.size - 1, 1)
    off = near.values[1:-1] - (near.values[:-2] + near.values[2:]) / 2.0
    misfit = float(np.sqrt(np.mean(off**2))) if off.size >= 3 else 0.0
    sampling = misfit * np.sqrt(2.0 / 3.0 / count)
    stands = bool(np.ptp(inside.values) <= load.step_a)
    rounding = load.step_a / (2.0 if stands else np.sqrt(12.0 * count) / 1.96)
    arm = float(np.hypot(1.96 * sampling, rounding))
    step_s = window_s / count
    hidden = value_of(missed.above_peak_a) or 0.0 if missed is not None and window_s < 4.0 * step_s else 0.0
    return arm + 0.5 * float(sampling), arm + float(hidden) * min(step_s / max(window_s, 1e-9), 1.0)
