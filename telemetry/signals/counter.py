"""The charge that the log counts itself: differences over any stretch, restarts joined on and told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.trace import Channel, Flags, Floats, Span, Trace


@dataclass(frozen=True, slots=True)
class Counter:
    """A counter of charge with its restarts joined on.

    time_s : (m,) of its fresh samples. [s]
    counted_mah : (m,) as if it had never restarted. [mAh]
    restarts_s : when it fell back to nothing. [s]
    step_mah : the smallest change it shows.
    refresh_s : the usual time between new samples. [s]
    """

    time_s: Floats
    counted_mah: Floats
    restarts_s: tuple[float, ...]
    step_mah: float
    refresh_s: float


def read_counter(trace: Trace, position: str = "") -> Counter | None:
    """A motor's counter, or the pack's, else the sum of all motors'.

    Parameters
    ----------
    trace : cleaned.
    position : of the motor, "" for the pack.

    Returns
    -------
    None where it was not logged, or only one motor's of several.
    """
    if position or trace.has("charge_mah"):
        return _of_channel(trace, position)
    positions = tuple(p for p in trace.positions("charge_mah") if p)
    parts = [part for p in positions if (part := _of_channel(trace, p)) is not None]
    one_of_several = len(positions) == 1 and positions[0] != "centre"
    if not parts or len(parts) < len(positions) or one_of_several:
        return None
    if len(parts) == 1:
        return parts[0]
    time_s = np.unique(np.concatenate([p.time_s for p in parts]))
    counted = np.sum([np.interp(time_s, p.time_s, p.counted_mah) for p in parts], axis=0)
    return Counter(
        time_s,
        counted,
        tuple(sorted(r for p in parts for r in p.restarts_s)),
        float(np.hypot.reduce([p.step_mah for p in parts])),
        max(p.refresh_s for p in parts),
    )


def counted_within(counter: Counter, span: Span) -> float | None:
    """What a counter counted in a span.

    One that has not moved yet stands for the whole time since its last new sample.

    Parameters
    ----------
    counter : its restarts joined on.
    span : of the flight.

    Returns
    -------
    From the first to the last sample of the span; None with fewer than two. [mAh]
    """
    inside = (counter.time_s >= span.start_s) & (counter.time_s <= span.end_s)
    if np.count_nonzero(inside) < 2:
        return None
    before = counter.counted_mah[counter.time_s <= span.start_s]
    first = before[-1] if before.size else counter.counted_mah[inside][0]
    return float(counter.counted_mah[inside][-1] - first)


def restarts_within(counter: Counter, span: Span) -> tuple[float, ...]:
    """When a counter fell back to nothing.

    Parameters
    ----------
    counter : its restarts joined on.
    span : of the flight.

    Returns
    -------
    The moments within the span, in order. [s]
    """
    return tuple(at for at in counter.restarts_s if span.start_s < at <= span.end_s)


def _of_channel(trace: Trace, position: str) -> Counter | None:
    channel = trace.channels.get(("charge_mah", position))
    if channel is None or np.count_nonzero(channel.fresh) < 2:
        return None
    return joined(trace.time_s, channel)


def joined(
    time_s: Floats, channel: Channel, *, near_zero: float = 0.02, fell: float = 0.5, returns_within: int = 5
) -> Counter:
    """One counter, its restarts joined on, its drop-outs and spikes left out.

    It restarted where it fell to nearly nothing, or by more than a share of what it had counted: by more than
    a charging motor gives back. What it shows after a restart is what passed since.

    Parameters
    ----------
    time_s : (n,) of the trace. [s]
    channel : `charge_mah` with two fresh samples at least.
    near_zero : a share of its highest, below which it shows nothing.
    fell : the share of what it showed, by which it must fall.
    returns_within : a fall that so many samples take back is a drop-out, a rise that they take back a spike.

    Returns
    -------
    The counter as if it had never restarted, with its restarts.
    """
    times, values = time_s[channel.fresh], channel.values[channel.fresh]
    top = float(np.max(np.abs(values)))
    keep = _without_returns(values, near_zero * top, returns_within)
    times, values = times[keep], values[keep]
    rises = np.diff(values)
    moved = np.abs(rises[rises != 0.0])
    step = channel.step or (float(np.min(moved)) if moved.size else 1.0)
    to_nothing = (rises < -near_zero * top) & (np.abs(values[1:]) < near_zero * top)
    by_much = (rises < -max(20.0, 5.0 * step)) & (-rises > fell * np.abs(values[:-1]))
    restarts = to_nothing | by_much
    rises[restarts] = np.maximum(values[1:][restarts], 0.0)
    counted = values[0] + np.concatenate(([0.0], np.cumsum(rises)))
    refresh_s = channel.refresh_interval_s or float(np.median(np.diff(times))) if times.size > 1 else 1.0
    return Counter(times, counted, tuple(times[1:][restarts].tolist()), step, refresh_s)


def _without_returns(values: Floats, small: float, within: int) -> Flags:
    """(m,) whether a sample counts: false in a fall to nearly nothing that the next samples take back, and in
    a rise before such a fall that only returns to where the count stood.
    """
    keep = np.ones(values.size, dtype=np.bool_)
    falls = np.flatnonzero((np.diff(values) < -small) & (np.abs(values[1:]) < small)) + 1
    for at in falls.tolist():
        before = values[max(0, at - within) : at]
        low = np.flatnonzero(before <= values[at] + 0.01 * values[at - 1])
        if low.size and values[at - 1] > 0:
            keep[at - before.size + int(low[-1]) + 1 : at] = False
            continue
        back = np.flatnonzero(values[at : at + within] >= 0.9 * values[at - 1])
        if back.size:
            keep[at : at + int(back[0])] = False
    return keep
