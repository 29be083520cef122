"""Peak, largest mean current over every window, margins to ratings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.physics.charge import largest_mean
from telemetry.sheet.setup import Rating
from telemetry.trace import Flight, Floats, Samples, Span, Trace, pack_current

_ASKED_WINDOWS_S = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0)


@dataclass(frozen=True, slots=True)
class Sustained:
    """The largest mean current over any window of this length, and where that window starts."""

    window_s: float
    max_mean_a: float
    start_s: float


@dataclass(frozen=True, slots=True)
class Margin:
    """One rating against the flight. margin_fraction = (rating − measured) ÷ rating, negative when over."""

    part: str
    position: str
    rating_a: float
    window_s: float
    measured_a: Estimate | Undecided
    margin_fraction: float | Undecided
    start_s: float | Undecided


@dataclass(frozen=True, slots=True)
class Current:
    """The load on pack and parts. `by_motor` holds each motor's sustained curve."""

    peak_a: float | Undecided
    peak_at_s: float | Undecided
    rms_a: float | Undecided
    sustained: tuple[Sustained, ...]
    limits: tuple[Margin, ...]
    by_motor: dict[str, tuple[Sustained, ...]]
    how: str = ""


def analyse(trace: Trace, flight: Flight, *, ratings: Sequence[Rating] = ()) -> Current:
    """Peak, largest means and margins of one flight."""
    pack = pack_current(trace, within=flight)
    by_motor = {p: _curve(s) for p in trace.positions("current_a") if p and (s := trace.fresh("current_a", p, within=flight)) is not None}
    limits = tuple(_margin(trace, flight, rating) for rating in ratings)
    if pack is None or not trace.has_clock:
        no = Undecided("the log has no current" if pack is None else "the log has no time, so no mean over a window")
        return Current(no, no, no, (), limits, by_motor)
    samples = pack.samples
    at = int(np.argmax(samples.values))
    return Current(
        peak_a=float(samples.values[at]),
        peak_at_s=float(samples.time_s[at]),
        rms_a=_rms_a(samples, flight.powered) if not isinstance(flight.powered, Undecided) else Undecided("no motor ran"),
        sustained=_curve(samples),
        limits=limits,
        by_motor=by_motor,
        how=pack.how,
    )


def _curve(samples: Samples) -> tuple[Sustained, ...]:
    if samples.time_s.size < 2:
        return ()
    step_s = float(np.median(np.diff(samples.time_s)))
    span_s = float(samples.time_s[-1] - samples.time_s[0])
    windows = sorted({*np.geomspace(step_s, span_s, 20).tolist(), *(w for w in _ASKED_WINDOWS_S if w <= span_s)})
    found = ((w, largest_mean(samples.time_s, samples.values, w)) for w in windows)
    return tuple(Sustained(w, best.mean, best.start_s) for w, best in found if best is not None)


def _rms_a(samples: Samples, span: Span) -> float | Undecided:
    time_s, values = _clip(samples, span)
    dt = np.diff(time_s)
    if dt.sum() <= 0:
        return Undecided("the powered time holds no two samples of current")
    a, b = values[:-1], values[1:]
    return float(np.sqrt(np.sum(dt * (a * a + a * b + b * b) / 3.0) / dt.sum()))


def _clip(samples: Samples, span: Span) -> tuple[Floats, Floats]:
    inside = (samples.time_s > span.start_s) & (samples.time_s < span.end_s)
    time_s = np.concatenate(([span.start_s], samples.time_s[inside], [span.end_s]))
    return time_s, np.interp(time_s, samples.time_s, samples.values)


def _margin(trace: Trace, flight: Flight, rating: Rating) -> Margin:
    if rating.position == "receiver":
        samples = trace.fresh("receiver_current_a", within=flight)
    elif rating.position:
        samples = trace.fresh("current_a", rating.position, within=flight)
    else:
        derived = pack_current(trace, within=flight)
        samples = derived.samples if derived else None
    if samples is None or samples.time_s.size < 2:
        no = Undecided(f"the log has no current for the {rating.part}")
        return Margin(rating.part, rating.position, rating.rating_a, rating.window_s, no, no, no)
    best = largest_mean(samples.time_s, samples.values, rating.window_s)
    if best is None:
        no = Undecided(f"the log holds less than {rating.window_s:g} s of it")
        return Margin(rating.part, rating.position, rating.rating_a, rating.window_s, no, no, no)
    measured = Estimate(best.mean, best.mean, best.mean, "largest mean over the window")
    return Margin(rating.part, rating.position, rating.rating_a, rating.window_s, measured, (rating.rating_a - best.mean) / rating.rating_a, best.start_s)
