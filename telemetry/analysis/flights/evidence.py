"""What tells of a flight, on one even clock: motor effort, altitude, climb, speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import minimum_filter1d, uniform_filter1d

from telemetry.derived import pack_current, throttle
from telemetry.estimate import Undecided
from telemetry.frames import grid_step
from telemetry.sentences import undecided
from telemetry.trace import Flags, Floats, Samples, Span, Stretch, Trace

_TURNS = 0.12
"""A propeller that turns at more than this share of its highest speed turns in earnest."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard the motors work, on fresh samples of one sensor.

    time_s, level : (m,) level 0 is stopped, 1 the most that this log shows; as a throttle would stand,
        whatever the sensor.
    on : (m,) whether a motor runs.
    source : throttle, current or rpm.
    """

    time_s: Floats
    level: Floats
    on: Flags
    source: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything on one even clock, each (m,); altitude and speeds NaN where their sensor was silent, None
    when it was not logged.

    time_s : [s]
    effort, running : 0…1, smoothed over a third of a second, and whether a motor runs; zeros in silence.
    heard : whether the motors' sensor spoke.
    altitude : as logged. [m]
    climb : as logged. [m/s]
    speed : airspeed, else ground speed. [m/s]
    rolling : how fast the wheels roll: ground speed, else airspeed less what the pitot reads of the wind when
        the model stands. [m/s]
    altitude_step_m : what the altimeter rounds to.
    airspeed : whether speed is airspeed; over the ground a headwind hides a flight.
    """

    time_s: Floats
    effort: Floats
    running: Flags
    heard: Flags
    altitude: Floats | None = None
    climb: Floats | None = None
    speed: Floats | None = None
    rolling: Floats | None = None
    altitude_step_m: float = 0.0
    airspeed: bool = False

    @property
    def step_s(self) -> float:
        """Time between points. [s]"""
        return float(self.time_s[1] - self.time_s[0])

    @property
    def is_blind(self) -> bool:
        """Whether neither altitude nor speed was logged."""
        return self.altitude is None and self.speed is None and self.climb is None

    def smooth(self, values: Floats, seconds: float) -> Floats:
        """Moving average, centred; silence stays silence."""
        silent, points = np.isnan(values), np.arange(values.size)
        filled = np.interp(points, points[~silent], values[~silent]) if np.any(silent) else values
        width = max(round(seconds / self.step_s), 1)
        return np.where(silent, np.nan, uniform_filter1d(filled, width, mode="nearest"))

    def within(self, start_s: float, end_s: float) -> Flags:
        """Which points lie between two moments, both included."""
        return np.asarray((self.time_s >= start_s) & (self.time_s <= end_s))


def read_effort(
    trace: Trace, *, stick_start: float = 0.03, current_share: float = 0.01, steady_a: float = 3.0
) -> Effort | Undecided:
    """Motor effort from throttle, else current, else rpm.

    Parameters
    ----------
    trace : as logged.
    stick_start : a throttle this far above its rest runs a motor: above the jitter of a stick, below any
        idle.
    current_share : a current this share of the log's highest above its rest runs a motor: above what radio
        and servos draw, below a taxiing motor's.
    steady_a : a current that hardly varies is a running motor's from here on; radio and servos draw less.
    """
    stick, current, speed = throttle(trace), any_current(trace), turning(trace)
    if stick is not None and np.ptp(stick.values) > 0.05:
        level = np.abs(stick.values)
        rest = float(np.percentile(level, 1.0))
        rest = rest if rest < 0.2 else 0.0
        return Effort(stick.time_s, _scaled(level, rest, 1.0), level > rest + stick_start, "throttle")
    if current is not None and (np.ptp(current.values) > 1.0 or float(np.median(current.values)) > steady_a):
        steps = [c.step for (q, _), c in trace.channels.items() if q == "current_a"]
        return _of_draw(current, "current", current_share, 0.4, max(steps, default=0.0))
    if speed is not None:
        return _of_draw(speed, "rpm", _TURNS, 1.25)
    if stick is None and current is None and not trace.positions("rpm"):
        return undecided("flights", "no_effort")
    return undecided("log", "no_motor_ran")


def read_evidence(trace: Trace, effort: Effort | Undecided, *, finest_s: float = 0.1) -> Evidence:
    """Every signal on an even clock as fine as the log's rows, but not finer than `finest_s`: flights are
    found to a second.
    """
    step_s = grid_step(trace.duration_s, max(finest_s, trace.sample_interval_s), trace.time_s.size)
    count = max(int(trace.duration_s / step_s) + 1, 2)
    time_s: Floats = np.asarray(trace.time_s[0] + step_s * np.arange(count), dtype=np.float64)
    motors = np.zeros(count), np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    if not isinstance(effort, Undecided):
        motors = _on_clock(effort, time_s)
        if effort.source == "current" and (turned_by := turning(trace)) is not None:
            # In an approach on little throttle the propeller turns and draws next to nothing.
            turned = _on_clock(_of_draw(turned_by, "rpm", _TURNS, 1.25), time_s)
            motors = np.maximum(motors[0], turned[0]), motors[1] | turned[1], motors[2] | turned[2]
    level, running, heard = motors
    altitude, climb, air, ground = (
        _even(trace, quantity, time_s)
        for quantity in ("altitude_m", "climb_mps", "airspeed_mps", "ground_speed_mps")
    )
    rolling = ground
    if ground is None and air is not None:
        rolling = np.maximum(air - _wind(air, running, step_s), 0.0)
    channel = trace.channels.get(("altitude_m", ""))
    step_m = channel.step if channel is not None else 0.0
    speed = ground if air is None else air
    return Evidence(time_s, level, running, heard, altitude, climb, speed, rolling, step_m, air is not None)


def _on_clock(effort: Effort, time_s: Floats) -> tuple[Floats, Flags, Flags]:
    """Level, smoothed over a third of a second, whether a motor runs, and whether its sensor spoke."""
    heard = ~_silent(effort.time_s, time_s)
    width = max(round(0.3 / (time_s[1] - time_s[0])), 1)
    level = uniform_filter1d(np.interp(time_s, effort.time_s, effort.level), width, mode="nearest")
    last = np.clip(np.searchsorted(effort.time_s, time_s, side="right") - 1, 0, None)
    return np.where(heard, level, 0.0), effort.on[last] & heard, heard


def powered_within(effort: Effort | Undecided, span: Span) -> Stretch | Undecided:
    """First throttle-up to last motor stop in a span. A single sample in between two others is a glitch, not
    a motor.
    """
    if isinstance(effort, Undecided):
        return effort
    inside = (effort.time_s >= span.start_s) & (effort.time_s <= span.end_s)
    time_s, on = effort.time_s[inside], effort.on[inside].copy()
    if on.size > 2:
        on[1:-1] &= on[:-2] | on[2:]
    running = np.flatnonzero(on)
    if running.size == 0:
        return undecided("log", "no_motor_ran")
    return Stretch(float(time_s[running[0]]), float(time_s[min(running[-1] + 1, time_s.size - 1)]))


def any_current(trace: Trace) -> Samples | None:
    """The pack's current, else one motor's, which works when the other does."""
    pack = pack_current(trace)
    if pack is not None:
        return pack.samples
    sides = (trace.fresh("current_a", p) for p in trace.positions("current_a"))
    return next((s for s in sides if s is not None and s.time_s.size >= 2), None)


def turning(trace: Trace) -> Samples | None:
    """The mean speed of the propellers, without a sign; None when none ever changes. [rpm]"""
    sides = (trace.fresh("rpm", p) for p in trace.positions("rpm"))
    speeds = [s for s in sides if s is not None and s.time_s.size >= 2 and np.ptp(s.values) > 300.0]
    if not speeds:
        return None
    base = max(speeds, key=lambda s: s.time_s.size)
    each = [np.abs(np.interp(base.time_s, s.time_s, s.values)) for s in speeds]
    return Samples(base.time_s, np.mean(each, axis=0))


def _scaled(level: Floats, rest: float, power: float) -> Floats:
    top = _top(level)
    return np.asarray(np.clip((level - rest) / max(top - rest, 1e-9), 0.0, 1.0) ** power)


def _top(values: Floats, *, held: int = 3) -> float:
    """The most that a log shows, lone readings left out: its 99.5 % level, or what a burst too short for that
    holds for `held` samples, where it is more than twice as much.
    """
    low, high = (float(at) for at in np.percentile(values, [1.0, 99.5]))
    lasting = float(np.max(minimum_filter1d(values, held, mode="nearest")))
    return lasting if lasting - low > 2.0 * (high - low) else high


def _of_draw(samples: Samples, source: str, share: float, power: float, step: float = 0.0) -> Effort:
    """A current or speed as effort; its rest is the lowest it settles at, or zero when the log never sees it
    at rest. However coarsely it was read, half of its most is a running motor's: a log of one burst at a
    steady current knows two values, and their difference is no recorder's step.
    """
    top = _top(samples.values)
    rest = float(np.percentile(samples.values, 1.0))
    rest = rest if -0.02 * top < rest < 0.15 * top else 0.0
    calm = samples.values[np.abs(samples.values - rest) < 0.03 * (top - rest)]
    noise = 1.48 * float(np.median(np.abs(calm - np.median(calm)))) if calm.size else 0.0
    least = max(share * (top - rest), min(6.0 * noise, 0.03 * (top - rest)), 1.5 * step)
    threshold = rest + min(least, 0.5 * (top - rest))
    level = _scaled(samples.values, float(np.median(calm)) if calm.size else rest, power)
    return Effort(samples.time_s, level, samples.values > threshold, source)


def _even(trace: Trace, quantity: str, time_s: Floats) -> Floats | None:
    """A channel on the even clock, NaN in silence; None when it never changes by a hair: it was not
    connected, and proves nothing.
    """
    samples = trace.fresh(quantity)
    if samples is None or samples.time_s.size < 4 or np.ptp(samples.values) == 0.0:
        return None
    values = np.interp(time_s, samples.time_s, samples.values)
    return np.where(_silent(samples.time_s, time_s), np.nan, values)


def _silent(sampled_s: Floats, time_s: Floats, *, silent_s: float = 3.0) -> Flags:
    """Which moments have no sample within `silent_s`, or within three of its usual intervals if that is
    longer.
    """
    after = np.clip(np.searchsorted(sampled_s, time_s), 1, sampled_s.size - 1)
    away_s = np.minimum(np.abs(time_s - sampled_s[after - 1]), np.abs(sampled_s[after] - time_s))
    usual_s = float(np.median(np.diff(sampled_s)))
    return np.asarray(away_s > max(silent_s, 3.0 * usual_s, time_s[1] - time_s[0]))


def _wind(
    air: Floats,
    running: Flags,
    step_s: float,
    *,
    least_s: float = 1.5,
    share: float = 0.4,
    walk_mps: float = 6.0,
) -> float:
    """What a pitot reads while the model stands: before the first throttle-up and after the last motor stop,
    the higher. [m/s]

    Parameters
    ----------
    least_s : a shorter silence tells nothing.
    share, walk_mps : a reading above this share of the log's fastest, and above any walk, is that of a glide,
        not of a standing model.
    """
    on = np.flatnonzero(running)
    if on.size == 0:
        return 0.0
    # The roll-out after the landing is over well within the second half of the silence.
    silences = (air[: on[0]], air[on[-1] + 1 + (air.size - on[-1]) // 2 :])
    heard = [part[np.isfinite(part)] for part in silences]
    stood = [float(np.percentile(part, 75)) for part in heard if part.size * step_s >= least_s]
    return max(
        (at for at in stood if at < max(share * float(np.nanpercentile(air, 99)), walk_mps)), default=0.0
    )
