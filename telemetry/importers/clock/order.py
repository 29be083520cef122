"""Stamps → a clock that never falls: wraps, midnight, restarts, swapped rows, stamps shared by rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Ordered:
    """Rows in order of time.

    rows : (n,) indices into the rows given. time_s : (n,) never falling. [s]
    starts : first row of each run of the recorder. said : what was put right.
    broken : (k,) rows given that are left out, because their stamp fits nowhere.
    """

    rows: npt.NDArray[np.int64]
    time_s: Floats
    starts: tuple[int, ...]
    said: tuple[str, ...]
    broken: npt.NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))


def _broken(seconds: Floats, step_s: float, *, far_steps: float = 20.0) -> npt.NDArray[np.bool_]:
    """Single stamps that leave their neighbours far behind or ahead, while these follow on one another:
    broken digits.
    """
    broken = np.zeros(seconds.size, dtype=np.bool_)
    if seconds.size < 4:
        return broken
    before, own, after = seconds[:-2], seconds[1:-1], seconds[2:]
    across = after - before
    far = max(far_steps * step_s, 5.0)
    broken[1:-1] = (
        (across >= 0) & (across <= 4.0 * step_s + 1.01) & ((own < before - far) | (own > after + far))
    )
    steps = np.diff(seconds[:4])
    # A first stamp far ahead of the rest; one far behind may be a gap.
    broken[0] = bool(steps[0] < -far and steps[1] >= 0 and steps[2] >= 0)
    return broken


def _usual_step(seconds: Floats) -> float:
    steps = np.diff(seconds)
    steps = steps[steps > 0]
    return float(np.median(steps)) if steps.size else 1.0


def _turn(before: float, after: float, wraps_s: tuple[float, ...], step_s: float) -> float | None:
    """The size of a wrap or midnight, when the fall is one."""
    for size in wraps_s:
        forward = after + size - before
        if 0 <= forward <= max(20 * step_s, 5.0, 0.0) and before <= size * 1.0001:
            return size
        whole_days = size in (86_400.0, 43_200.0) and 0 <= forward <= 600.0
        if whole_days:
            return size
    return None


def in_order(seconds: Floats, wraps_s: tuple[float, ...] = ()) -> Ordered:
    """Put rows in order of time.

    A fall by the size of a counter or a day is a wrap; a fall that the next rows make up
    for is a swapped row; any other fall is a restart, and the new run follows the old
    after one usual interval, because how long the recorder was off is not in the file.
    """
    step_s = _usual_step(seconds)
    broken = _broken(seconds, step_s)
    if broken.any():
        kept = np.flatnonzero(~broken)
        rest = in_order(seconds[kept], wraps_s)
        return Ordered(kept[rest.rows], rest.time_s, rest.starts, rest.said, np.flatnonzero(broken))
    time_s = seconds.copy()
    starts, said = [0], []
    wraps = restarts = 0
    for i in np.flatnonzero(np.diff(seconds) < 0) + 1:
        before, after = time_s[i - 1], time_s[i]
        if after >= before:
            continue
        size = _turn(seconds[i - 1], seconds[i], wraps_s, step_s)
        if size is not None:
            time_s[i:] += size
            wraps += 1
        elif not _is_swap(time_s, int(i), step_s):
            high = float(np.max(time_s[max(0, i - 5) : i]))
            time_s[i:] += high + step_s - after
            starts.append(int(i))
            restarts += 1
    order = np.arange(seconds.size, dtype=np.int64)
    swapped = int(np.sum(np.diff(time_s) < 0))
    if swapped:
        order = np.argsort(time_s, kind="stable").astype(np.int64)
        time_s = time_s[order]
        said.append(f"{swapped} rows out of order were put back")
    if wraps:
        said.append(
            f"the clock went past its end {wraps} times" if wraps > 1 else "the clock went past its end once"
        )
    if restarts:
        said.append(
            f"the recorder was restarted {restarts} times"
            if restarts > 1
            else "the recorder was restarted once"
        )
    return Ordered(order, time_s, tuple(starts), tuple(said))


def hour_steps(
    seconds: Floats, counters: Sequence[Floats], *, hour_s: float = 3600.0
) -> npt.NDArray[np.int64]:
    """Rows before which a clock was set back or forth by exactly one hour while a counter went on.

    Parameters
    ----------
    seconds : (n,) as the file writes them. [s]
    counters : each (n,) of charge or energy, NaN where silent. Without one an hour may as well be a pause.

    Returns
    -------
    Those over which, but for the hour, one usual step lies, and a counter rises no more than in its usual
    steps.
    """
    steps, usual_s = np.diff(seconds), _usual_step(seconds)
    rest_s = steps - usual_s - hour_s * np.sign(steps)
    rows = np.flatnonzero((np.abs(steps) > hour_s / 2) & (np.abs(rest_s) <= 1.5 * usual_s)) + 1
    goes_on = np.zeros(rows.size, dtype=np.bool_)
    for counter in counters if rows.size else ():
        known = np.flatnonzero(np.isfinite(counter))
        if known.size > 2:
            rises = np.diff(np.interp(np.arange(counter.size), known, counter[known]))
            most = 3.0 * float(np.percentile(rises, 99))
            goes_on |= (most > 0) & (rises[rows - 1] >= 0) & (rises[rows - 1] <= most)
    return rows[goes_on]


def _is_swap(time_s: Floats, i: int, step_s: float, *, reach: int = 4) -> bool:
    """Whether the row is one of a few written late: time goes on from before the fall within some rows."""
    ahead = time_s[i : i + reach + 1]
    high = float(np.max(time_s[max(0, i - reach) : i]))
    fall = high - float(time_s[i])
    if fall > 20 * step_s:
        # A single late or corrupt stamp: its follower carries on where its leader was.
        return bool(ahead.size > 1 and 0 <= ahead[1] - high <= 20 * step_s)
    return bool(np.any(ahead[1:] >= high)) or i + 1 >= time_s.size


def share_stamps(time_s: Floats, *, least_share: float = 0.2) -> tuple[Floats, str]:
    """Spread rows that share a stamp evenly over the time to the next one.

    Only when at least `least_share` of the rows share theirs: a recorder whose stamps are
    coarser than its rows. A few equal stamps are left as they are. Rows of the first stamp
    end, rows of the last begin, at the usual spacing.
    """
    if time_s.size < 3:
        return time_s, ""
    starts = np.flatnonzero(np.concatenate([[True], np.diff(time_s) > 0]))
    counts = np.diff(np.append(starts, time_s.size))
    if starts.size < 2 or counts.sum() - counts.size < least_share * time_s.size:
        return time_s, ""
    stamps = time_s[starts]
    widths = np.diff(stamps)
    usual_width = float(np.median(widths))
    usual_count = int(np.median(counts))
    spacing = np.append(
        np.minimum(widths, usual_width * 1.5) / counts[:-1], usual_width / max(usual_count, counts[-1])
    )
    place = np.arange(time_s.size) - np.repeat(starts, counts)
    shift = np.zeros(starts.size)
    spacing[0] = min(spacing[0], usual_width / max(usual_count, counts[0]))
    shift[0] = max(0.0, widths[0] - counts[0] * spacing[0])
    spread = np.repeat(stamps + shift, counts) + place * np.repeat(spacing, counts)
    return spread, f"rows share their stamps; they were spread evenly over each {usual_width:g} s"
