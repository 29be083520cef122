"""Clocks that leap, told from gaps by what the rest of the log did meanwhile.

A gap is time in which the model went on and nobody wrote; a leap is a clock that was set, fell to another
count or lost digits while the rows went on. What counts charge, and a load that flows on both sides, cannot
stand still for an hour; columns that go on from row to row without a step saw no time pass.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from telemetry.importers.clock.witnesses import Across, Witnesses
from telemetry.sentences import counted, say, spoken_time
from telemetry.trace import Floats

_HOUR_S, _DAY_S = 3600.0, 86_400.0


@dataclass(frozen=True, slots=True)
class Leap:
    """One odd step of a clock that is no gap.

    Attributes
    ----------
    first, last : rows [first, last) whose stamps left the clock and came back; the same where it never did.
    by_s : how far it leapt, forward above zero. [s]
    step_s : how long the step is taken to have been. [s]
    told_by : "counter", "smooth" or "returned"; "open" where nothing tells which way it really went.
    counter : the header of what went on counting, "" without one.
    paced : how many times as fast as before the clock counts from there on, 1 where it kept its pace.
    """

    first: int
    last: int
    by_s: float
    step_s: float
    told_by: str
    counter: str = ""
    paced: float = 1.0

    @property
    def is_open(self) -> bool:
        """Whether nothing tells how much time passed."""
        return self.told_by == "open"

    def reason(self, line: int) -> str:
        """The same as a clause; `line` is that of the first row."""
        ahead, rows = self.by_s > 0, self.last - self.first
        values: dict[str, Any] = {"by": spoken_span(self.by_s), "line": line, "rows": max(rows, 1)}
        told = _say(f"leap_{self.told_by}", counter=self.counter)
        if self.paced != 1.0:
            told = _say("paced", told=told, ratio=self.paced)
        if rows:
            return counted(
                "importers",
                "clock",
                "strays",
                count=rows,
                way=_say("late" if ahead else "early"),
                told=told,
                **values,
            )
        return _say("leaps", way=_say("forward" if ahead else "back"), told=told, **values)


def _say(key: str, **values: Any) -> str:
    return say("importers", "clock", key, **values)


def spoken_span(seconds: float) -> str:
    """A span of any size: 40 s, 4 min 15 s, 1 h, 30 days."""
    size = abs(seconds)
    if size < 2.0:
        return f"{size:.2g} s"
    if round(size) % 3600 == 0 and size < 48 * _HOUR_S:
        return f"{size / _HOUR_S:.0f} h"
    if size < 2 * _HOUR_S:
        return spoken_time(size)
    return f"{size / _HOUR_S:.1f} h" if size < 48 * _HOUR_S else _say("days", days=size / _DAY_S)


@dataclass(frozen=True, slots=True)
class Usual:
    """The pace of a clock.

    Attributes
    ----------
    step_s : median step of the stamps that rise. [s]
    row_s : mean time from row to row, odd steps aside: less where rows share their stamps. [s]
    far_s : a step longer than this is odd. [s]
    span_s : all rows, at that pace. [s]
    """

    step_s: float
    row_s: float
    far_s: float
    span_s: float


def usual_of(
    seconds: Floats, *, even_steps: float = 3.0, far_steps: float = 20.0, least_far_s: float = 5.0
) -> Usual:
    """The pace of stamps (n,), whatever leaps or gaps are in them. [s]

    Parameters
    ----------
    even_steps : a lost row or two is no odd step.
    far_steps, least_far_s : what makes a step odd: more than a recorder that stalls, and enough to matter.
    """
    steps = np.diff(seconds)
    rising = steps[steps > 0]
    step_s = float(np.median(rising)) if rising.size else 1.0
    even = steps[np.abs(steps) <= even_steps * step_s]
    row_s = max(float(np.mean(even)), 1e-6 * step_s) if even.size else step_s
    return Usual(step_s, row_s, max(far_steps * step_s, least_far_s), row_s * seconds.size)


def without_strays(
    seconds: Floats, usual: Usual, *, most: int = 200, lone_s: float = 1.01
) -> tuple[Floats, tuple[Leap, ...]]:
    """Stamps whose stretches that left the clock and came back stand in their place.

    Such a stretch has the time between what went before and what comes after for itself: as many rows as fit
    into it. One that fits into a hole of the other rows was written late, and stays.

    Parameters
    ----------
    seconds : (n,) [s]
    most : a clock with more odd steps is no clock that strays.
    lone_s : stamps may be as coarse as a second.
    """
    odd = np.flatnonzero(np.abs(np.diff(seconds)) > usual.far_s) + 1
    if not 2 <= odd.size <= most:
        return seconds, ()
    room_s = 4.0 * usual.step_s + lone_s
    bounds = [0, *odd.tolist(), seconds.size]
    repaired, found = seconds.copy(), []
    here = 0
    while here < len(bounds) - 3:
        before = bounds[here + 1] - 1
        back = next(
            (
                k
                for k in range(len(bounds) - 2, here + 1, -1)
                if _continues(seconds, before, bounds[k], usual.row_s, room_s)
                and not _in_place(seconds, before, bounds[k], usual.far_s)
            ),
            None,
        )
        if back is not None:
            first, last = before + 1, bounds[back]
            if not _fills_a_hole(seconds, first, last, usual.step_s):
                by_s = float(seconds[first] - seconds[before])
                repaired[first:last] = _between(seconds, first, last, usual.row_s)
                found.append(Leap(first, last, by_s, usual.row_s, "returned"))
        here = back or here + 1
    return repaired, tuple(found)


def without_step_clocks(seconds: Floats, *, most: int = 200) -> tuple[Floats, tuple[Leap, ...]]:
    """Stamps whose stretches that count a step of the test from zero stand in their place.

    Such a stretch begins at nothing, and the row after it is later than the row before it by what the stretch
    lasted, one interval of the rows before and one of its own.

    Parameters
    ----------
    seconds : (n,) [s]
    most : a clock with more falls is no clock of a test.
    """
    steps = np.diff(seconds)
    falls = np.flatnonzero(steps < 0) + 1
    if not 0 < falls.size <= most:
        return seconds, ()
    repaired, found = seconds.copy(), []
    for first in falls[falls > 1].tolist():
        before_s, lead_s = float(seconds[first - 1]), float(steps[first - 2])
        later = np.flatnonzero(seconds[first:] > before_s)
        last = first + int(later[0]) if later.size else first
        inner = steps[first : last - 1]
        if last - first < 3 or np.any(inner < 0) or lead_s <= 0 or seconds[first] > 2.0 * float(inner[0]):
            continue
        row_s = float(np.median(inner))
        around_s = float(seconds[last]) - before_s - float(inner.sum())
        if not 0.0 < around_s < 2.0 * (lead_s + row_s):
            continue
        begun_s = before_s + around_s * lead_s / (lead_s + row_s)
        repaired[first:last] = begun_s + seconds[first:last] - seconds[first]
        found.append(Leap(first, last, float(seconds[first]) - before_s, row_s, "returned"))
    return repaired, tuple(found)


def _continues(seconds: Floats, before: int, after: int, step_s: float, room_s: float) -> bool:
    """Whether a row carries on where another was, with just the time for the rows between them."""
    passed_s, rows_s = float(seconds[after] - seconds[before]), (after - before) * step_s
    return passed_s >= 0.0 and abs(passed_s - rows_s) <= 0.1 * rows_s + room_s


def _in_place(seconds: Floats, before: int, after: int, far: float) -> bool:
    """Whether the rows between two lie between them in time too, so that there is nothing to put right."""
    inner = seconds[before + 1 : after]
    return bool(np.all((inner >= seconds[before] - far) & (inner <= seconds[after] + far)))


def _fills_a_hole(seconds: Floats, first: int, last: int, usual_s: float) -> bool:
    """Whether the other rows leave a hole just where these say they belong."""
    others = np.sort(np.delete(seconds, np.s_[first:last]))
    low, high = float(np.min(seconds[first:last])), float(np.max(seconds[first:last]))
    place = int(np.searchsorted(others, low))
    if not 0 < place < others.size:
        return False
    return bool(others[place] > high and others[place] - others[place - 1] > high - low + 1.5 * usual_s)


def _between(seconds: Floats, first: int, last: int, step_s: float) -> Floats:
    """Stamps of a stray stretch between its neighbours, by its own steps where these are a clock's."""
    start_s, end_s = float(seconds[first - 1]), float(seconds[last])
    own = np.concatenate([[0.0], np.cumsum(np.diff(seconds[first:last])), [0.0]])
    own[-1] = own[-2] + step_s
    rows_s = (last - first) * step_s
    even = np.linspace(start_s, end_s, last - first + 2)[1:-1]
    if np.any(np.diff(own) < 0) or abs(own[-1] - rows_s) > 0.1 * rows_s + step_s:
        return even
    inner_s = end_s - start_s
    return np.asarray(start_s + (own[:-1] + step_s) * inner_s / (own[-1] + step_s))


def fallen(row: int, fall_s: float, to_start: bool, seen: Witnesses, usual: Usual) -> Leap:
    """What a clock that fell did.

    Parameters
    ----------
    row : before which it fell, by `fall_s`. [s]
    to_start : it fell to where it once began.
    """
    across = seen.across(row, fall_s)
    went_on = across.running and (across.counter or seen.share_alike(row, usual.span_s) <= 0.02)
    if across.smooth and (went_on or not to_start):
        return _leapt(row, -fall_s - usual.row_s, across, usual)
    off_s = max(across.counted_s or 0.0, usual.step_s) if across.running else usual.step_s
    unknown = across.running and across.smooth is not None and not across.restarted
    told_by = "open" if unknown and across.counted_s is None else "restart"
    return Leap(row, row, -fall_s - usual.row_s, off_s, told_by)


def risen(
    row: int,
    leap_s: float,
    seen: Witnesses,
    usual: Usual,
    *,
    endless_s: float = 43_200.0,
    longest_s: float = 1800.0,
) -> Leap | None:
    """What a clock that stepped far forward did; None where it is a gap.

    Parameters
    ----------
    row : before which it stepped, by `leap_s` more than usual. [s]
    endless_s : no log is silent for so long with nothing changed.
    longest_s : no model's motors run unlogged for so long.
    """
    across = seen.across(row, leap_s)
    if across.smooth is None or across.restarted:
        return None
    leapt = _leapt(row, leap_s, across, usual)
    passed_s = usual.row_s if leap_s >= longest_s else usual.row_s + leap_s
    unsure = Leap(row, row, leap_s, passed_s, "open") if across.running else None
    whole_s = _HOUR_S * round(leap_s / _HOUR_S) if leap_s >= longest_s else 0.0
    rest_s = leap_s - whole_s
    if across.counted_s is not None:
        if across.counted_s <= 3.0 * usual.row_s:
            return leapt if across.smooth or leap_s >= endless_s else unsure
        if across.running and whole_s and abs(rest_s - across.counted_s) <= 0.3 * across.counted_s:
            return replace(leapt, by_s=whole_s, step_s=usual.row_s + rest_s)
        return leapt if across.smooth and leap_s >= endless_s else None
    whole = bool(whole_s) and abs(rest_s) <= 1.5 * usual.step_s
    endless = leap_s >= endless_s or whole or (across.running and leap_s >= longest_s)
    if across.smooth and (endless or _stands_alone(row, leap_s, across, seen, usual)):
        return leapt
    if across.smooth and leap_s < 0.05 * usual.span_s:
        return None
    return unsure if across.smooth or leap_s >= longest_s else None


def _stands_alone(
    row: int,
    leap_s: float,
    across: Across,
    seen: Witnesses,
    usual: Usual,
    *,
    matters: float = 0.05,
    rare: float = 0.02,
) -> bool:
    """Whether a silence under load that would matter to the charge would hardly ever look so smooth."""
    return across.running and leap_s >= matters * usual.span_s and seen.share_alike(row, leap_s) <= rare


def pace_after(own_s: Floats, first: int, row: int, last: int, *, least: int = 20, odd: float = 2.5) -> float:
    """How many times as fast as before a row the clock counts from there on; 1 where it does not differ by
    more than a recorder that lost rows.

    Parameters
    ----------
    own_s : (n,) as the file writes them. [s]
    first, last : rows [first, row) and [row, last) are each without an odd step.
    """
    before, after = np.diff(own_s[first:row]), np.diff(own_s[row:last])
    if min(before.size, after.size) < least:
        return 1.0
    pace_s = [float(np.median(part[part > 0])) if np.any(part > 0) else 0.0 for part in (before, after)]
    ratio = pace_s[1] / pace_s[0] if min(pace_s) > 0 else 1.0
    return ratio if not 1.0 / odd < ratio < odd else 1.0


def _leapt(row: int, by_s: float, across: Across, usual: Usual) -> Leap:
    """A leap, over as much time as a counter says where that is more than one step."""
    counted_s = across.counted_s or 0.0
    passed_s = counted_s if counted_s > 3.0 * usual.row_s else usual.row_s
    return Leap(row, row, by_s, passed_s, "counter" if across.counter else "smooth", across.counter)
