"""Which samples are new, how often a channel refreshes, and its step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from telemetry.trace import Flags, Floats

SLOWEST_S = 4.0
"""No sensor of a model or a bench is read so seldom (from experience, no source); what stays the same for
longer was held by whoever set the load. [s]
"""


@dataclass(frozen=True, slots=True)
class Freshness:
    """Which samples of one channel are new.

    fresh : (n,) never true at a NaN. refresh_interval_s : [s]. step : in the channel's unit, 0 if unknown.
    """

    fresh: Flags
    refresh_interval_s: float
    step: float


def smallest_step(values: Floats, *, looked_at: int = 20_000, few: int = 8) -> float:
    """The smallest change between two values that occurs, 0 where nothing changes.

    A load held at a few levels shows no step of the sensor: there it is the decimal that all levels are
    whole numbers of, where that is smaller.
    """
    levels = np.unique(values[:looked_at])
    steps = np.diff(levels)
    steps = steps[steps > 1e-9 * max(1.0, float(np.max(np.abs(levels))))] if steps.size else steps
    step = float(steps.min()) if steps.size else 0.0
    if step == 0.0 or levels.size >= few:
        return step
    decimals = (10.0**-k for k in range(7))
    return min(step, next((d for d in decimals if np.allclose(levels / d, np.rint(levels / d))), step))


def _held_rows(runs: npt.NDArray[np.int64], jumps: Floats, step: float, *, least: int = 12) -> float:
    """How many rows a reading is held for: the short end of the runs between changes.

    A slow signal keeps its rounded value over many rows though it is read afresh in each,
    so only runs that end in a change of two steps or more are counted where there are
    enough of them.
    """
    large = runs[jumps >= 1.9 * step] if step > 0 else runs
    counted = large if large.size >= least else runs
    if counted.size < least:
        return 1.0
    short = int(np.percentile(counted, 10, method="lower"))
    held = float(np.mean(counted[(counted >= short) & (counted < 1.6 * short)])) if short > 1 else 1.0
    if large.size < least:
        # Changes of one step say nothing by their length; only by falling on every k-th row.
        return held if short > 1 and np.mean(runs % short == 0) > 0.95 else 1.0
    return held


def _between_rows(
    changed: Flags,
    *,
    rows: int = 256,
    least_windows: int = 2,
    prominence: float = 15.0,
    on_time: float = 0.97,
) -> float:
    """How many rows a reading is held for where that is between one and two, 1 where every row is read
    afresh.

    A sensor a little slower than the rows repeats a reading at an even beat. The changes
    show that beat as a line in their spectrum, and, put to the beat, none comes in a row
    that it skips; repeats that rounding makes come at any time.

    Parameters
    ----------
    changed : (n,) whether a row differs from the one before.
    rows : of one window; the beat of two clocks wanders over longer ones.
    prominence : power of the line against the median of the spectrum.
    on_time : share of changes that must come in rows that the beat calls new.
    """
    rows = min(rows, changed.size // least_windows)
    if rows < 64 or not 0.3 < float(changed.mean()) < 0.97:
        return 1.0
    windows = changed[: changed.size // rows * rows].reshape(-1, rows).astype(float)
    windows = windows[windows.mean(axis=1) > 0.3][:400]
    if windows.shape[0] < least_windows:
        return 1.0
    flat = (windows - windows.mean(axis=1, keepdims=True)) * np.hanning(rows)
    power = np.mean(np.abs(np.fft.rfft(flat, 8 * rows, axis=1)) ** 2, axis=0)
    beats = np.arange(power.size) / (8 * rows)
    sought = (beats > 0.04) & (beats < 0.485)
    best = float(beats[sought][np.argmax(power[sought])])
    if float(power[sought].max()) < prominence * float(np.median(power[sought])):
        return 1.0
    # The line is known to an eighth of a window's resolution: around it, the beat that the changes keep to
    # best.
    fits = [
        (_on_beat(windows, 1.0 / (1.0 - best - shift)), 1.0 / (1.0 - best - shift))
        for shift in np.linspace(-1.0, 1.0, 9) / (8 * rows)
    ]
    share, held = max(fits)
    return held if share >= on_time else 1.0


def _on_beat(windows: Floats, held: float) -> float:
    """Share of the changes, (windows, rows), that come in rows that a beat calls new, each window at its own
    best phase.
    """
    phases = np.linspace(0.0, held, 24, endpoint=False)
    count = np.floor((np.arange(windows.shape[1] + 1)[None, :] - phases[:, None]) / held)
    new = np.diff(count, axis=1) > 0
    return float(np.max(windows @ new.T, axis=1).sum() / windows.sum())


def freshness(time_s: Floats, values: Floats, *, looked_at: int = 20_000) -> Freshness:
    """Mark the new samples of one channel.

    Where other rows are silent every number is new. Else a number is new when it differs
    from the last, and, in a stretch that stays the same, as often as the channel refreshes.

    Parameters
    ----------
    time_s : (n,) never falling. [s]
    values : (n,) NaN where the log is silent.
    looked_at : how many changes are looked at for the time between refreshes.
    """
    finite = np.isfinite(values)
    whole = bool(finite.all())
    rows = np.arange(values.size) if whole else np.flatnonzero(finite)
    if rows.size == 0:
        return Freshness(finite, 0.0, 0.0)
    own = values if whole else values[rows]
    step = smallest_step(own)
    # The middle of a long log says how long readings are held.
    middle = own[max(0, (own.size - 10 * looked_at) // 2) :][: 10 * looked_at]
    some = np.flatnonzero(middle[1:] != middle[:-1]) + 1
    held = (
        _held_rows(np.diff(some), np.abs(middle[some[1:]] - middle[some[1:] - 1]), step)
        if some.size > 1
        else 1.0
    )
    if held > 1 and held * float(np.median(np.diff(time_s[rows]))) > SLOWEST_S:
        held = 1.0
    if held == 1 and some.size > 40:
        held = _between_rows(middle[1:] != middle[:-1])
    fresh = finite
    if held > 1:
        starts = np.concatenate([[0], np.flatnonzero(own[1:] != own[:-1]) + 1])
        lengths = np.diff(np.append(starts, own.size))
        since, length = np.arange(own.size) - np.repeat(starts, lengths), np.repeat(lengths, lengths)
        # A stretch of one value holds as many readings as it is times as long as one, evenly spread.
        readings = np.where(length <= np.ceil(held), 1, np.maximum(1, np.rint(length / held))).astype(
            np.int64
        )
        fresh = np.zeros(values.size, dtype=np.bool_)
        fresh[rows[(since == 0) | (since * readings // length != (since - 1) * readings // length)]] = True
    new = time_s[fresh] if not (whole and held == 1) else time_s[: 10 * looked_at]
    steps = np.diff(new)
    return Freshness(
        fresh, float(np.median(steps[:: max(1, steps.size // looked_at)])) if steps.size else 0.0, step
    )
