"""The charge that the log counts itself: differences over any stretch, restarts taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.trace import Floats, Span, Trace


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


def read(trace: Trace) -> Counter | None:
    """The pack's counter, else the sum of the motors', or None."""
    positions = ("",) if trace.has("charge_mah") else tuple(p for p in trace.positions("charge_mah") if p)
    parts = [part for p in positions if (part := _of_channel(trace, p)) is not None]
    one_of_several = len(positions) == 1 and positions[0] not in ("", "centre")
    if not parts or len(parts) < len(positions) or one_of_several:
        return None
    if len(parts) == 1:
        return parts[0]
    time_s = np.unique(np.concatenate([p.time_s for p in parts]))
    counted = np.sum([np.interp(time_s, p.time_s, p.counted_mah) for p in parts], axis=0)
    restarts = tuple(sorted(r for p in parts for r in p.restarts_s))
    return Counter(
        time_s,
        counted,
        restarts,
        float(np.hypot.reduce([p.step_mah for p in parts])),
        max(p.refresh_s for p in parts),
    )


def counted_within(counter: Counter, span: Span) -> float | None:
    """What it counted from the first to the last sample of a span, or None with fewer than two. [mAh]

    A counter that has not moved yet stands for the whole time since its last new sample.
    """
    inside = (counter.time_s >= span.start_s) & (counter.time_s <= span.end_s)
    if np.count_nonzero(inside) < 2:
        return None
    before = counter.counted_mah[counter.time_s <= span.start_s]
    first = before[-1] if before.size else counter.counted_mah[inside][0]
    return float(counter.counted_mah[inside][-1] - first)


def restarts_within(counter: Counter, span: Span) -> int:
    """How often it fell back to nothing in a span."""
    return sum(span.start_s < at <= span.end_s for at in counter.restarts_s)


def _of_channel(trace: Trace, position: str, *, restart_share: float = 0.5) -> Counter | None:
    """One counter. It restarted where it fell by more than a share of what it had counted, and by more than a
    charging motor gives back.
    """
    channel = trace.channels.get(("charge_mah", position))
    if channel is None or np.count_nonzero(channel.fresh) < 2:
        return None
    time_s, values = trace.time_s[channel.fresh], channel.values[channel.fresh]
    rises = np.diff(values)
    moved = np.abs(rises[rises != 0.0])
    step = channel.step or (float(np.min(moved)) if moved.size else 1.0)
    restarts = (rises < -max(20.0, 5.0 * step)) & (-rises > restart_share * np.abs(values[:-1]))
    # After a restart it counts from nothing: what it shows is what passed since.
    rises[restarts] = np.maximum(values[1:][restarts], 0.0)
    counted = values[0] + np.concatenate(([0.0], np.cumsum(rises)))
    refresh_s = channel.refresh_interval_s or float(np.median(np.diff(time_s)))
    return Counter(time_s, counted, tuple(time_s[1:][restarts].tolist()), step, refresh_s)
