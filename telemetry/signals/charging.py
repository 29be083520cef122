"""A pack that is charged within a log: told by the current's sign, or by a voltage that rises while charge is
counted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from telemetry.derived import pack_voltage
from telemetry.frames import grid_step
from telemetry.physics.charge import AS_PER_MAH, running_integral
from telemetry.sentences import say
from telemetry.trace import Channel, Decision, Flags, Floats, Key, Samples, Trace, runs

CHARGER_S = 60.0
"""A braking motor or a windmilling propeller gives back for seconds, a charger for minutes. [s]"""

BLOCK_S = 10.0
"""Means over so long are compared. [s]"""

LEAST_A = 0.3
"""Into the pack; less may be a sensor's own offset. [A]"""

FULL_V = 4.25
"""No cell is charged higher but for some mV, so a pack's highest voltage tells its least number of cells.
[V]
"""

RISE_V = 0.03
"""What a cell's voltage rises at least while a charger fills it; a pack left alone gains less after the
first minute. [V]
"""

RESISTANCE_OHM = 0.03
"""The most a cell's voltage rises for each ampere less, so that a falling load is no charger. [Ω]"""


def told_apart(trace: Trace, channels: Mapping[Key, Channel]) -> tuple[dict[Key, Channel], list[Decision]]:
    """Current and counter with charging told from use.

    Parameters
    ----------
    trace : one log, or several on one clock.
    channels : its channels, each (n,).

    Returns
    -------
    The channels: a current without a sign turns negative where a charger ran, and a counter that went on
    counting there stands still; with a decision for each stretch of the counter, and of a current whose sign
    was turned.
    """
    kept = dict(channels)
    found: list[Decision] = []
    if not trace.has_clock or trace.duration_s < 2 * CHARGER_S:
        return kept, found
    current, counter = kept.get(("current_a", "")), kept.get(("charge_mah", ""))
    signed = _negative(trace.time_s, kept)
    unsigned = _rising(trace, current, counter) & ~signed
    if current is not None and unsigned.any():
        turned = unsigned & (current.values > 0)
        kept["current_a", ""] = replace(current, values=np.where(turned, -current.values, current.values))
        found += _decisions(trace.time_s, "current_a", unsigned, np.abs(current.values) / AS_PER_MAH)
    charged = signed | unsigned
    if counter is not None and charged.any():
        kept["charge_mah", ""], counted = _standing(counter, charged)
        if counted.any():
            found += _decisions(trace.time_s, "charge_mah", charged, counted)
    return kept, found


def charged_rows(time_s: Floats, channels: Mapping[Key, Channel]) -> Flags:
    """Where a charger ran.

    Parameters
    ----------
    time_s : (n,) of the trace. [s]
    channels : as `told_apart` gives them.

    Returns
    -------
    (n,), true where the pack's current flows into it for minutes.
    """
    return _negative(time_s, channels)


def _negative(time_s: Floats, channels: Mapping[Key, Channel]) -> Flags:
    """Rows in which a current flows into the pack for a minute, (n,); a current with its sign the wrong way
    round is no charger's: a motor works meanwhile, or the voltage falls.
    """
    into = np.zeros(time_s.size, dtype=np.bool_)
    current = channels.get(("current_a", ""))
    if current is not None:
        known = np.flatnonzero(np.isfinite(current.values))
        for first, last in runs(current.values[known] < -LEAST_A):
            rows = slice(int(known[first]), int(known[last - 1]) + 1)
            lasts = time_s[rows.stop - 1] - time_s[rows.start] >= CHARGER_S
            if lasts and not _works(channels, rows) and not _falls(channels, rows):
                into[rows] = True
    return into


def _works(channels: Mapping[Key, Channel], rows: slice, *, share: float = 0.1) -> bool:
    """Whether a motor was told to run, or ran, for half of a stretch."""
    for (quantity, _), channel in channels.items():
        values = np.abs(channel.values[np.isfinite(channel.values)])
        inside = channel.values[rows][np.isfinite(channel.values[rows])]
        if quantity in ("throttle_fraction", "rpm") and inside.size and values.size:
            top = float(np.percentile(values, 99.0))
            if top > 0.0 and float(np.median(np.abs(inside))) > share * top:
                return True
    return False


def _falls(channels: Mapping[Key, Channel], rows: slice, *, part: float = 0.1) -> bool:
    """Whether a voltage of the pack ends a stretch lower than it began it."""
    for (quantity, _), channel in channels.items():
        inside = channel.values[rows][np.isfinite(channel.values[rows])]
        few = max(1, int(part * inside.size))
        if quantity in ("pack_voltage_v", "cell_voltage_v") and inside.size >= 4:
            return bool(np.mean(inside[-few:]) < np.mean(inside[:few]))
    return False


def _rising(trace: Trace, current: Channel | None, counter: Channel | None) -> Flags:
    """Rows in which charge is counted as use while the voltage rises for minutes, (n,)."""
    time_s = trace.time_s
    rows = np.zeros(time_s.size, dtype=np.bool_)
    volts, flow = pack_voltage(trace), _flow(time_s, current, counter)
    if volts is None or flow is None or min(volts.samples.time_s.size, flow.time_s.size) < 20:
        return rows
    block_s = grid_step(trace.duration_s, max(BLOCK_S, 2.0 * trace.sample_interval_s), time_s.size)
    edges = np.arange(time_s[0], time_s[-1] + block_s, block_s)
    if edges.size < 8:
        return rows
    cells = max(float(np.ceil(np.max(volts.samples.values) / FULL_V)), 1.0)
    v, a = _means(edges, volts.samples) / cells, _means(edges, flow)
    steps = (np.minimum(a[1:], a[:-1]) > LEAST_A) & (np.diff(v) > -0.001)
    for first, last in runs(steps):
        if _is_charger(v[first : last + 1], a[first : last + 1], cells, edges[1] - edges[0]):
            rows |= _whole(time_s, current, edges[first], edges[last + 1])
    return rows


def _is_charger(v: Floats, a: Floats, cells: float, block_s: float) -> bool:
    """Whether a cell's voltage and the current, a mean a block, are a charger's: it rises to the end, by more
    than a falling load explains.
    """
    if v.size * block_s < 1.5 * CHARGER_S:
        return False
    top = int(np.argmax(v))
    risen, late = v[top] - v[0], v[top] - v[top // 2]
    by_load = RESISTANCE_OHM * max(0.0, a[0] - a[top])
    return bool(risen > RISE_V + by_load and late > 0.25 * risen)


def _flow(time_s: Floats, current: Channel | None, counter: Channel | None) -> Samples | None:
    """How fast charge is counted, whichever way. [s, A]"""
    if current is not None:
        known = np.isfinite(current.values)
        return Samples(time_s[known], current.values[known])
    if counter is None:
        return None
    known = np.isfinite(counter.values)
    times, counted = time_s[known], counter.values[known]
    passed = np.diff(times)
    return Samples(
        times[1:][passed > 0], np.maximum(np.diff(counted)[passed > 0], 0.0) / passed[passed > 0] * AS_PER_MAH
    )


def _means(edges: Floats, samples: Samples) -> Floats:
    """The mean in each block, held over those without a sample."""
    place = np.clip(np.searchsorted(edges, samples.time_s, side="right") - 1, 0, edges.size - 2)
    count = np.bincount(place, minlength=edges.size - 1)
    total = np.bincount(place, samples.values, minlength=edges.size - 1)
    blocks, full = np.arange(edges.size - 1), count > 0
    return np.asarray(np.interp(blocks, blocks[full], total[full] / count[full]))


def _whole(time_s: Floats, current: Channel | None, start_s: float, end_s: float) -> Flags:
    """The rows of a stretch of blocks, out to where the same current began and ended."""
    rows = (time_s >= start_s) & (time_s <= end_s)
    if current is None:
        return rows
    usual = float(np.nanmedian(current.values[rows]))
    alike = ~(np.abs(current.values - usual) > 0.3 * usual)
    for first, last in runs(alike | rows):
        if rows[first:last].any():
            rows[first:last] = True
    return rows & ~(current.values < LEAST_A)


def _standing(counter: Channel, charged: Flags) -> tuple[Channel, Floats]:
    """The counter without what it counted in the charged rows, up or down, and how much that was in each,
    (n,) [mAh].
    """
    known = np.flatnonzero(np.isfinite(counter.values))
    values = counter.values[known]
    steps = np.diff(values, prepend=values[:1])
    fell = steps < -0.5 * np.abs(np.roll(values, 1))
    counted = np.where(charged[known] & ~fell, steps, 0.0)
    # What was counted before a restart is not in the count after it.
    begun = np.maximum.accumulate(np.where(fell, np.arange(values.size), 0))
    sums = np.cumsum(counted)
    found, by_row = counter.values.copy(), np.zeros(counter.values.size)
    found[known] = values - np.where(begun > 0, sums - sums[begun], sums)
    by_row[known] = np.abs(counted)
    return replace(counter, values=found), by_row


def _decisions(time_s: Floats, quantity: str, charged: Flags, each: Floats) -> list[Decision]:
    """One for each stretch: how much was put in, by what a counter counted or by the current ÷ 3.6."""
    found = []
    for first, last in runs(charged):
        part, times = np.nan_to_num(each[first:last]), time_s[first:last]
        mah = float(part.sum()) if quantity == "charge_mah" else running_integral(times, part).total
        reason = say("decisions", "charging_counted", charge_mah=mah)
        found.append(Decision("charging", quantity, "", float(times[0]), float(times[-1]), reason))
    return found
