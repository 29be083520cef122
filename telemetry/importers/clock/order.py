"""Stamps → a clock that never falls: wraps, midnight, leaps, restarts, swapped rows, shared stamps."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from telemetry.importers.clock.instants import SET_CLOCK_S
from telemetry.importers.clock.leaps import (
    Leap,
    Usual,
    fallen,
    pace_after,
    risen,
    usual_of,
    without_step_clocks,
    without_strays,
)
from telemetry.importers.clock.witnesses import Witnesses
from telemetry.sentences import counted, say
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Ordered:
    """Rows in order of time.

    rows : (n,) indices into the rows given. time_s : (n,) never falling. [s]
    starts : first row of each run of the recorder. said : what was put right.
    leaps : of the clock, each undone, by rows of those given.
    """

    rows: npt.NDArray[np.int64]
    time_s: Floats
    starts: tuple[int, ...]
    said: tuple[str, ...]
    leaps: tuple[Leap, ...] = ()


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


def in_order(seconds: Floats, wraps_s: tuple[float, ...] = (), seen: Witnesses | None = None) -> Ordered:
    """Put rows in order of time.

    A fall by the size of a counter or a day is a wrap; a fall that the next rows make up for is a swapped
    row; a stretch that left the clock and came back stands in its place; a step over which the rest of the
    log went on is a leap of the clock, and takes as long as a usual step. Any other fall is a restart, and
    the new run follows the old after one usual interval, because how long the recorder was off is not in the
    file.

    Parameters
    ----------
    seconds : (n,) as the file writes them. [s]
    wraps_s : where the clock may start again from zero. [s]
    seen : what the other columns did meanwhile; without it a fall is a restart, and a long step a gap.
    """
    stepped_s, stepped = without_step_clocks(seconds)
    usual = usual_of(stepped_s)
    time_s, strays = without_strays(stepped_s, usual)
    steps = np.diff(time_s)
    run = _Run(time_s, wraps_s, seen, usual, [*stepped, *strays])
    odd = (np.flatnonzero((steps < 0) | (steps > usual.far_s)) + 1).tolist()
    for first, i, last in zip([0, *odd], odd, [*odd[1:], seconds.size], strict=False):
        run.pass_step(i)
        run.keep_pace(first, i, last)
    time_s = run.anchored_s()
    order = np.arange(seconds.size, dtype=np.int64)
    swapped = int(np.sum(np.diff(time_s) < 0))
    if swapped:
        order = np.argsort(time_s, kind="stable").astype(np.int64)
        time_s = time_s[order]
    counts = {"swapped": swapped, "wrapped": run.wraps, "restarted": len(run.starts) - 1}
    said = tuple(counted("importers", "clock", key, count=n) for key, n in counts.items() if n)
    return Ordered(order, time_s, tuple(run.starts), said, tuple(run.leaps))


@dataclass
class _Run:
    """Stamps on the way to a clock, one odd step after another; `moved` are the rows from which on they were
    moved, and by how much.
    """

    own_s: Floats
    wraps_s: tuple[float, ...]
    seen: Witnesses | None
    usual: Usual
    leaps: list[Leap]
    time_s: Floats = field(init=False)
    starts: list[int] = field(default_factory=lambda: [0])
    moved: list[tuple[int, float]] = field(default_factory=list)
    wraps: int = 0
    looked_at: int = 0

    def __post_init__(self) -> None:
        self.time_s = self.own_s.copy()

    def pass_step(self, i: int) -> None:
        """Undo what the clock did before a row, unless it is a gap."""
        step_s = float(self.time_s[i] - self.time_s[i - 1])
        if step_s < 0:
            self._pass_fall(i)
        elif step_s > self.usual.far_s and self.seen is not None and self._may_look():
            leap = risen(i, step_s - self.usual.row_s, self.seen, self.usual)
            if leap is not None:
                self.leaps.append(leap)
                self._move(i, leap.step_s - step_s)

    def _pass_fall(self, i: int) -> None:
        size = _turn(self.own_s[i - 1], self.own_s[i], self.wraps_s, self.usual.step_s)
        if size is not None:
            self.time_s[i:] += size
            self.wraps += 1
        elif not _is_swap(self.time_s, i, self.usual):
            high_s = float(np.max(self.time_s[max(0, i - 5) : i]))
            fall_s = high_s - float(self.time_s[i])
            to_start = bool(self.own_s[i] <= self.own_s[0] + self.usual.far_s)
            leap = fallen(i, fall_s, to_start, self.seen, self.usual) if self.seen is not None else None
            if leap is None or leap.told_by == "restart" or (to_start and leap.is_open):
                self.starts.append(i)
            if leap is not None and leap.told_by != "restart":
                self.leaps.append(leap)
            self._move(i, fall_s + (leap.step_s if leap is not None else self.usual.step_s))

    def keep_pace(self, first: int, i: int, last: int) -> None:
        """Undo that a clock which leapt before a row counts something else from there on, such as rows."""
        if self.seen is None or not self.leaps or self.leaps[-1].first != i or self.leaps[-1].last != i:
            return
        paced = pace_after(self.own_s, first, i, last)
        if paced != 1.0:
            told_by = self.leaps[-1].told_by if self.seen.keeps_pace(i) else "open"
            self.leaps[-1] = replace(self.leaps[-1], told_by=told_by, paced=paced)
            step_s = float(np.median(np.diff(self.own_s[first:i])))
            self._move(i, step_s - float(self.time_s[i] - self.time_s[i - 1]))
            since_s = self.time_s[i:last] - self.time_s[i]
            lost_s = float(since_s[-1]) * (1.0 - 1.0 / paced)
            self.time_s[i:last] = self.time_s[i] + since_s / paced
            if last < self.time_s.size:
                self._move(last, -lost_s)

    def _may_look(self, *, most: int = 200) -> bool:
        """Whether a long step is rare enough to be odd: a log of silences is written so."""
        self.looked_at += 1
        return self.looked_at <= most

    def _move(self, i: int, by_s: float) -> None:
        self.time_s[i:] += by_s
        self.moved.append((i, by_s))

    def anchored_s(self) -> Floats:
        """All stamps as that part of the log shows them whose clock is believed: one with a date before one
        without, the first run of the recorder, and the part of most rows.
        """
        if not self.moved:
            return self.time_s
        bounds = [0, *(i for i, _ in self.moved), self.time_s.size]
        by_s = np.cumsum([0.0, *(by for _, by in self.moved)])
        run = np.searchsorted(self.starts, bounds[:-1], side="right")

        def rank(k: int) -> tuple[bool, int, int]:
            dated = SET_CLOCK_S[0] <= self.own_s[bounds[k]] < SET_CLOCK_S[1]
            return bool(dated), -int(run[k]), bounds[k + 1] - bounds[k]

        return np.asarray(self.time_s - by_s[max(range(by_s.size), key=rank)])


def _is_swap(time_s: Floats, i: int, usual: Usual, *, reach: int = 4, around: int = 10) -> bool:
    """Whether the row is one of a few written late: time goes on from before the fall within some rows, and
    over the rows `around` none is lost, where each has its own stamp.
    """
    ahead = time_s[i : i + reach + 1]
    high = float(np.max(time_s[max(0, i - reach) : i]))
    fall_s = high - float(time_s[i])
    if fall_s > 20 * usual.step_s:
        # A single late or corrupt stamp: its follower carries on where its leader was.
        return bool(ahead.size > 1 and 0 <= ahead[1] - high <= 20 * usual.step_s)
    first, last = max(0, i - 1 - around), min(time_s.size - 1, i + around)
    lost_s = (last - first) * usual.row_s - float(time_s[last] - time_s[first])
    if usual.row_s > 0.8 * usual.step_s and lost_s > 0.6 * (fall_s + usual.row_s):
        return False
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
    return spread, say("importers", "clock", "shared", width_s=usual_width)
