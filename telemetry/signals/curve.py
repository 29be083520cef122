"""A current or voltage as straight lines between knots: fresh samples, holds, jumps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from telemetry.physics.charge import AS_PER_MAH, RunningIntegral, broken_steps, running_integral
from telemetry.signals.level import running_median
from telemetry.trace import Channel, Flags, Floats, Samples, Span, Stretch, Trace


class Curve(NamedTuple):
    """Knots with straight lines between them; two knots at one time are a jump.

    time_s : (m,) never falling. [s]
    values : (m,) no NaN.
    silent : stretches between two knots in which the sensor said nothing.
    refresh_s : the usual time between new samples. [s]
    step : the smallest change it can show, 0 if unknown.
    """

    time_s: Floats
    values: Floats
    silent: tuple[Stretch, ...]
    refresh_s: float
    step: float

    @property
    def integral(self) -> RunningIntegral:
        """From the first knot to any time, exact. [unit · s]"""
        return running_integral(self.time_s, self.values)


def of_channel(
    trace: Trace, quantity: str, position: str = "", *, silence_refreshes: float = 5.0, silence_s: float = 1.5
) -> Curve | None:
    """The curve of one channel over the whole trace.

    A reading at rest that stays the same for longer than the sensor usually takes was steady: it is held
    until one refresh before the next new one. A busy one that never moves by a digit was not: the sensor or
    its link stood still.

    Parameters
    ----------
    trace : cleaned.
    quantity, position : of the channel.
    silence_refreshes, silence_s : a stretch without a sample is a silence when it is longer than both;
        shorter ones are single lost samples, which a straight line bridges as well as anything.

    Returns
    -------
    None with fewer than two fresh samples.
    """
    channel = trace.channels.get((quantity, position))
    if channel is None or np.count_nonzero(channel.fresh) < 2:
        return None
    time_s, values = trace.time_s[channel.fresh], channel.values[channel.fresh]
    refresh_s = channel.refresh_interval_s or float(np.median(np.diff(time_s)))
    usual_s = running_median(np.diff(time_s), width=11)
    longest_s = np.maximum(silence_refreshes * np.maximum(usual_s, refresh_s), silence_s)
    held_until = _held_until(trace, channel, refresh_s)
    held_until = np.where(
        busy(values[:-1], values) & (held_until - time_s[:-1] > longest_s), time_s[:-1], held_until
    )
    quiet_s = time_s[1:] - held_until
    broken = (quiet_s > longest_s) | (
        (quiet_s > 2.0 * refresh_s) & broken_steps(time_s, [(g.start_s, g.end_s) for g in trace.gaps])
    )
    silent = tuple(Stretch(float(held_until[k]), float(time_s[k + 1])) for k in np.flatnonzero(broken))
    holds = held_until > time_s[:-1]
    knots_s = np.concatenate((time_s, held_until[holds]))
    knots = np.concatenate((values, values[:-1][holds]))
    order = np.argsort(knots_s, kind="stable")
    return Curve(knots_s[order], knots[order], silent, refresh_s, channel.step)


def total(curves: Sequence[Curve]) -> Curve:
    """The sum of several curves.

    Parameters
    ----------
    curves : of one quantity, at least one.

    Returns
    -------
    Knots at every knot of any of them; silent where one of them is; the rounding errors add as squares.
    """
    if len(curves) == 1:
        return curves[0]
    time_s = np.unique(np.concatenate([c.time_s for c in curves]))
    values = np.sum([np.interp(time_s, c.time_s, c.values) for c in curves], axis=0)
    silent = tuple(s for c in curves for s in c.silent)
    return Curve(
        time_s,
        values,
        _merged(silent),
        max(c.refresh_s for c in curves),
        float(np.hypot.reduce([c.step for c in curves])),
    )


def cut(samples: Samples, span: Span) -> Samples:
    """Samples within a span, with one at either end.

    Parameters
    ----------
    samples : at least one. [s, its unit]
    span : may reach beyond them.

    Returns
    -------
    From the span's start to its end; beyond the first and last sample their value is held.
    """
    first = np.searchsorted(samples.time_s, span.start_s, side="left")
    last = np.searchsorted(samples.time_s, span.end_s, side="right")
    time_s, values = samples.time_s[first:last], samples.values[first:last]
    ends = np.interp([span.start_s, span.end_s], *samples)
    if time_s.size == 0 or time_s[0] > span.start_s:
        time_s, values = np.insert(time_s, 0, span.start_s), np.insert(values, 0, ends[0])
    if time_s[-1] < span.end_s:
        time_s, values = np.append(time_s, span.end_s), np.append(values, ends[1])
    return Samples(time_s, values)


def clipped(curve: Curve, span: Span) -> Curve:
    """The part of a curve within a span, as `cut` has it.

    Parameters
    ----------
    curve : with its silences.
    span : may reach beyond it.

    Returns
    -------
    The same curve between the span's ends, its silences cut off there.
    """
    time_s, values = cut(Samples(curve.time_s, curve.values), span)
    silent = tuple(
        Stretch(max(s.start_s, span.start_s), min(s.end_s, span.end_s))
        for s in curve.silent
        if s.start_s < span.end_s and s.end_s > span.start_s
    )
    return curve._replace(time_s=time_s, values=values, silent=silent)


def charge_between(curve: Curve, span: Span) -> float:
    """What a current carried within a span; its first and last value hold beyond the knots.

    Parameters
    ----------
    curve : of a current. [s, A]
    span : any.

    Returns
    -------
    The integral, exact for straight lines. [mAh]
    """
    return clipped(curve, span).integral.total / AS_PER_MAH


def charge_at(curve: Curve, at_s: Floats) -> Floats:
    """What had passed since the first knot.

    Parameters
    ----------
    curve : of a current. [s, A]
    at_s : (k,) any times. [s]

    Returns
    -------
    (k,) the integral up to each, nothing beyond the knots. [mAh]
    """
    return curve.integral.at(at_s) / AS_PER_MAH


def levelled(curve: Curve, levels: Sequence[float]) -> Curve:
    """A curve with each silence filled by one level.

    Parameters
    ----------
    curve : with its silences.
    levels : one a silence, in the order of `silent`. [the curve's unit]

    Returns
    -------
    The same curve with two knots more a silence, at its ends.
    """
    time_s, values = curve.time_s, curve.values
    for silence, level in zip(curve.silent, levels, strict=True):
        start = int(np.searchsorted(time_s, silence.start_s, side="right"))
        time_s = np.insert(time_s, start, (silence.start_s, silence.end_s))
        values = np.insert(values, start, (level, level))
    return curve._replace(time_s=time_s, values=values)


def _held_until(trace: Trace, channel: Channel, refresh_s: float) -> Floats:
    """For each fresh sample but the last, (m − 1,), how long its reading surely stood; its own time when it
    did not. [s]
    """
    fresh = np.flatnonzero(channel.fresh)
    logged = np.flatnonzero(~np.isnan(channel.values))
    last_row = logged[np.searchsorted(logged, fresh[1:]) - 1]
    here_s, next_s = trace.time_s[fresh[:-1]], trace.time_s[fresh[1:]]
    until = np.minimum(trace.time_s[last_row], next_s - refresh_s)
    return np.where(trace.time_s[last_row] - here_s > 2.5 * refresh_s, np.maximum(until, here_s), here_s)


def busy(values: Floats, all_values: Floats, *, rest: float = 0.06) -> Flags:
    """Readings that are not those of a model at rest.

    Parameters
    ----------
    values : (n,) looked at.
    all_values : (m,) the whole log's.
    rest : the share of the log's highest up to which a model rests.

    Returns
    -------
    (n,) whether each lies above.
    """
    return np.asarray(np.abs(values) > rest * float(np.percentile(np.abs(all_values), 99.5)))


def _merged(spans: Sequence[Stretch]) -> tuple[Stretch, ...]:
    merged: list[Stretch] = []
    for span in sorted(spans, key=lambda s: s.start_s):
        if merged and span.start_s <= merged[-1].end_s:
            merged[-1] = Stretch(merged[-1].start_s, max(merged[-1].end_s, span.end_s))
        else:
            merged.append(span)
    return tuple(merged)
