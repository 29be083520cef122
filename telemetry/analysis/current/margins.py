"""The flight against the ratings of the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.current.missed import Missed
from telemetry.analysis.current.windows import cut, largest
from telemetry.estimate import Estimate, Undecided, value_of
from telemetry.sheet.setup import Rating
from telemetry.trace import Flight, Samples, Stretch, Trace, motor_positions, pack_current


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


def margins(
    trace: Trace, flight: Flight, ratings: Sequence[Rating], missed: Missed | None
) -> tuple[Margin, ...]:
    """Every rating, in the order given."""
    single = _is_single(trace, ratings)
    loads: dict[str, Load | Undecided] = {}
    for rating in ratings:
        if rating.position not in loads:
            loads[rating.position] = load_at(trace, flight, rating.position, single=single)
    return tuple(_margin(rating, loads[rating.position], missed) for rating in ratings)


def load_at(trace: Trace, flight: Flight, position: str, *, single: bool = False) -> Load | Undecided:
    """The current at a position: "" the pack, "receiver", or a motor; a single motor's may be the pack's."""
    if not trace.has_clock:
        return Undecided("the log has no time, so no mean over a window")
    if position == "receiver":
        return _of_channel(trace, flight, "receiver_current_a", "") or Undecided(
            "the log has no current of the receiver supply"
        )
    if position:
        own = _of_channel(trace, flight, "current_a", position)
        if own is not None:
            return own
        if not single:
            side = position.replace("_", " ")
            return Undecided(
                f"the log has no current of the {side} motor, and a share of the pack's is not evidence for "
                f"one side"
            )
    pack = pack_current(trace, within=flight)
    if pack is None:
        return Undecided("the log has no current")
    steps = [c.step for (q, _), c in trace.channels.items() if q == "current_a"]
    how = "the pack's current, all of it the one motor's and the radio's" if position else pack.how
    return Load(pack.samples, max(steps, default=0.0), how)


def _is_single(trace: Trace, ratings: Sequence[Rating]) -> bool:
    """Whether all ratings and channels speak of one motor at most."""
    return (
        len({r.position for r in ratings if r.position not in ("", "receiver")} | set(motor_positions(trace)))
        <= 1
    )


def _of_channel(trace: Trace, flight: Flight, quantity: str, position: str) -> Load | None:
    samples = trace.fresh(quantity, position, within=flight)
    if samples is None or samples.time_s.size < 2:
        return None
    return Load(samples, trace.channels[(quantity, position)].step)


def _margin(rating: Rating, load: Load | Undecided, missed: Missed | None) -> Margin:
    def undecided(why: Undecided) -> Margin:
        return Margin(rating.part, rating.position, rating.rating_a, rating.window_s, why, why, why)

    if isinstance(load, Undecided):
        return undecided(load)
    span_s = float(load.samples.time_s[-1] - load.samples.time_s[0])
    best = largest(load.samples, rating.window_s)
    if best is None:
        return undecided(
            Undecided(
                f"the log holds {span_s:.0f} s of this current, less than the {rating.window_s:g} s of the "
                f"rating"
            )
        )
    low, high = _arms(load, rating.window_s, best.start_s, missed)
    method = f"largest mean over {rating.window_s:g} s" + (f", {load.how}" if load.how else "")
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
