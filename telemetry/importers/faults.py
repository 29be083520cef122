"""Values that are no readings: marks for "no value", drop-outs, what the quantity cannot be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from telemetry.quantities import QUANTITIES
from telemetry.sentences import say
from telemetry.trace import Flags, Floats, runs

_CODES = (
    999.0,
    999.25,
    9999.0,
    99999.0,
    999999.0,
    9999999.0,
    32767.0,
    32768.0,
    65535.0,
    65534.0,
    2500.0,
    255.0,
    127.0,
    128.0,
    4095.0,
    1023.0,
    2147483647.0,
    4294967295.0,
)

_LIMITS = (32767.0, 32768.0, 65534.0, 65535.0, 2147483647.0, 4294967295.0)
"""What whole numbers of 16 and 32 bits end at: there nothing was read, or more than can be written."""

_COMMON_CODES = (999.0, 999.25, 9999.0, 99999.0, 999999.0, 9999999.0, *_LIMITS)
"""Marks that no sensor stops at by itself, so they may fill a good part of a column."""

_BELOW_A_COUNT = -1.0
"""A mark beside numbers that count, where it is reached by leaps alone."""

NO_MARKS: Floats = np.zeros(0)

_VOLTAGES = ("pack_voltage_v", "cell_voltage_v", "receiver_voltage_v")
_FALLS = ("receiver_voltage_v",)
"""What may fall to nothing in earnest: two such rows together are no lost sample."""


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A channel without its faults; `said` counts them, "" when there were none."""

    values: Floats
    said: str


def _sample(values: Floats, *, most: int = 20_000) -> Floats:
    """Finite values, evenly thinned where there are many."""
    good = values[:: max(1, values.size // most)]
    return good[np.isfinite(good)]


def _codes(values: Floats, numbers: Floats) -> Flags:
    """Numbers that are a recorder's mark for "no value" (all ones, all nines) and stand apart from the
    rest.
    """
    code = _common_codes(values, numbers)
    code |= _apart(np.where(code, np.nan, values)) & _is_mark(numbers, _CODES)
    return code


def _is_mark(numbers: Floats, codes: tuple[float, ...], decimals: tuple[int, ...] = (0, 1, 2, 3)) -> Flags:
    """Which numbers (n,) are one of the codes, written with so many decimals."""
    marks = np.unique(np.concatenate([np.array(codes) * 10.0**-k for k in decimals]))
    magnitude = np.abs(numbers)
    place = np.clip(np.searchsorted(marks, magnitude), 1, marks.size - 1)
    apart = np.minimum(np.abs(marks[place] - magnitude), np.abs(marks[place - 1] - magnitude))
    near: Flags = apart <= 1e-9 * np.maximum(magnitude, 1.0)
    return near


def _common_codes(values: Floats, numbers: Floats, *, least_different: int = 2) -> Flags:
    """Marks at either end of the numbers that stand apart from all others, however many they are: less than
    half, and the others take several values.
    """
    code = np.zeros(values.size, dtype=np.bool_)
    for end in (np.fmax.reduce, np.fmin.reduce):
        extreme = float(end(numbers))
        lone = np.array([extreme])
        if extreme != _BELOW_A_COUNT and not _is_mark(lone, _COMMON_CODES)[0]:
            continue
        own = numbers == extreme
        others = np.where(own | code, np.nan, values)
        few = 2 * np.count_nonzero(own) < np.isfinite(others).sum()
        if not few or np.unique(_sample(others)).size < least_different:
            continue
        apart = own & _apart(np.where(own, values, others), of=others)
        if extreme != _BELOW_A_COUNT and apart.any():
            code |= apart
        elif (
            _leaps_to(own, values)
            or (_is_mark(lone, _LIMITS, (1, 2, 3))[0] and _stops_alone(own, numbers))
            or _only_below_zero(own, numbers)
        ):
            code |= own
    return code


def _stops_alone(own: Flags, numbers: Floats, *, least: int = 3, nearest: float = 0.8) -> bool:
    """Whether several numbers stand at a limit and none of the others comes near it."""
    others = np.abs(numbers[~own & np.isfinite(numbers)])
    limit = abs(float(numbers[own][0]))
    return int(np.count_nonzero(own)) >= least and float(np.max(others)) < nearest * limit


def _only_below_zero(
    own: Flags, numbers: Floats, *, least: int = 3, far: float = 0.2, nearest: float = 0.5
) -> bool:
    """Whether a mark is the one number so far below zero, several times, each amid numbers far above it: what
    comes back from a motor takes several values, and begins and ends near zero. One of all nines may stand
    amid zeros, row by row alone; beside -1 there is no other number below zero.
    """
    rows = np.flatnonzero(np.isfinite(numbers))
    marked, known = own[rows], numbers[rows]
    others = known[~marked]
    lowest = float(known[marked][0])
    often = least if lowest == _BELOW_A_COUNT else least - 1
    if np.count_nonzero(marked) < often or lowest >= 0 or not others.size:
        return False
    if float(np.min(others)) < (0.0 if lowest == _BELOW_A_COUNT else nearest * lowest):
        return False
    if lowest != _BELOW_A_COUNT and not (marked[1:] & marked[:-1]).any():
        return True
    before = np.clip(np.searchsorted(rows[~marked], rows[marked]) - 1, 0, others.size - 1)
    amid = np.minimum(others[before], others[np.minimum(before + 1, others.size - 1)])
    return float(np.median(amid)) > far * float(np.percentile(others, 95.0))


def _leaps_to(own: Flags, values: Floats, *, farther: float = 10.0) -> bool:
    """Whether rows are reached and left by leaps unlike any other move, as a mark inside a counter's range
    is.
    """
    known = np.isfinite(values)
    marked, moves = own[known], np.abs(np.diff(values[known]))
    edges = marked[1:] != marked[:-1]
    others = moves[~edges & ~marked[1:]]
    usual = float(np.percentile(others, 99.5)) if others.size else 0.0
    return bool(edges.any() and usual > 0.0 and np.min(moves[edges]) > farther * usual)


def _apart(values: Floats, *, of: Floats | None = None) -> Flags:
    """Values farther from the bulk, theirs or that `of` others, than the bulk is wide."""
    good = _sample(values if of is None else of)
    if good.size == 0:
        return np.zeros(values.size, dtype=np.bool_)
    low, high = np.percentile(good, [1.0, 99.0])
    width = max(high - low, 0.05 * max(abs(high), abs(low)), 1e-9)
    outside: Flags = (values > high + width) | (values < low - width)
    return outside


def spikes(values: Floats) -> Flags:
    """Single samples that leave everything else by more than its whole range and come straight back.

    Parameters
    ----------
    values : (n,), NaN where silent.

    Returns
    -------
    (n,), never true at a NaN; nowhere true with fewer than twenty readings.
    """
    spike = np.zeros(values.size, dtype=np.bool_)
    ordered = np.sort(_sample(values))
    if ordered.size < 20:
        return spike
    few = max(3, ordered.size // 200)
    low, high = ordered[few], ordered[-few - 1]
    width = max(high - low, 1e-9)
    suspects = np.flatnonzero((values > high + width) | (values < low - width))
    if suspects.size == 0:
        return spike
    rows = np.flatnonzero(np.isfinite(values))
    own = values[rows]
    outside = (own > high + width) | (own < low - width)
    inside_before, inside_after = (
        np.concatenate([[True], ~outside[:-1]]),
        np.concatenate([~outside[1:], [True]]),
    )
    spike[rows[outside & inside_before & inside_after]] = True
    return spike


def rough(numbers: Floats) -> Floats:
    """A column's numbers without what is plainly no reading, before it is known what the column holds."""
    good = np.isfinite(numbers)
    if good.sum() < 4:
        return numbers
    with np.errstate(invalid="ignore"):
        bad = good & _codes(numbers, numbers)
        rest = np.where(bad, np.nan, numbers)
        bad |= spikes(rest)
        own = np.abs(numbers[good & ~bad])
        zeros = own == 0
        steady = bool(
            zeros.any()
            and (~zeros).sum() >= 20
            and np.percentile(own[~zeros], 2) > 0.4 * np.median(own[~zeros])
        )
        died = zeros[-1] and not zeros[: zeros.size - int(zeros.sum())].any()
        if steady and (zeros.mean() < 0.1 or died):
            bad |= good & (numbers == 0)
    return np.where(bad, np.nan, numbers) if bad.any() else numbers


def _sound(values: Floats, numbers: Floats, quantity: str) -> bool:
    """Whether lowest and highest value alone show that nothing needs to be taken out."""
    ends = np.array([np.fmin.reduce(numbers), np.fmax.reduce(numbers)])
    if ends[0] == _BELOW_A_COUNT or _is_mark(ends, _COMMON_CODES).any():
        return False
    lowest, highest = float(np.fmin.reduce(values)), float(np.fmax.reduce(values))
    some = _sample(values)
    if not np.isfinite(lowest) or some.size < 20:
        return False
    low, high = np.percentile(some, [1.0, 99.0])
    width = 0.5 * (high - low)
    floor = 0.3 * float(np.median(some)) if quantity in _VOLTAGES else -np.inf
    known = QUANTITIES[quantity]
    return bool(lowest >= max(low - width, known.low, floor) and highest <= min(high + width, known.high))


def shared_marks(columns: Iterable[tuple[Floats, Floats]], *, least: int = 2) -> Floats:
    """Marks below zero that stand for "no value" in several columns of one log.

    Parameters
    ----------
    columns : of each column, its values in the quantity's unit and its numbers as the file writes them, (n,)
        both.
    least : columns that show it.

    Returns
    -------
    (m,) as the file writes them: in a further column even a lone one is no reading.
    """
    seen: Counter[float] = Counter()
    for values, numbers in columns:
        low = float(np.fmin.reduce(numbers, initial=0.0))
        if (
            low < _BELOW_A_COUNT
            and _is_mark(np.array([low]), _COMMON_CODES)[0]
            and np.any(_common_codes(values, numbers) & (numbers == low))
        ):
            seen[low] += 1
    return np.array([mark for mark, count in seen.items() if count >= least])


def clean(values: Floats, numbers: Floats, quantity: str, marks: Floats = NO_MARKS) -> Cleaned:
    """Take out what cannot be a reading of this quantity.

    Parameters
    ----------
    values : (n,) in the quantity's unit.
    numbers : (n,) as the file writes them.
    marks : (m,) what stands for no value in other columns of the log, as the file writes it.
    """
    known = QUANTITIES[quantity]
    marked = np.isin(numbers, marks)
    if not marked.any() and _sound(values, numbers, quantity):
        return Cleaned(values, "")
    good = np.isfinite(values)
    if not good.any():
        return Cleaned(values, "")
    with np.errstate(invalid="ignore"):
        bad = good & ((values < known.low) | (values > known.high) | marked)
        if quantity in _VOLTAGES:
            bad |= (
                good & (values < 0.3 * np.median(_sample(np.where(good & ~bad, values, np.nan))))
                if (good & ~bad).any()
                else bad
            )
        if quantity in _FALLS:
            bad &= ~_fallen(values, good & ~bad)
        rest = np.where(bad, np.nan, values)
        if np.isfinite(rest).sum() > 3:
            bad |= good & _codes(rest, numbers)
    count = int(bad.sum())
    if not count:
        return Cleaned(values, "")
    example = numbers[np.flatnonzero(bad)[0]]
    said = say("importers", "values", "no_readings", count=count, example=float(example))
    return Cleaned(np.where(bad, np.nan, values), said)


def _fallen(values: Floats, sound: Flags, *, least: int = 2) -> Flags:
    """Rows in which a supply fell below every sound reading, (n,): at least so many together, once it had
    been up.
    """
    fallen = np.zeros(values.size, dtype=np.bool_)
    if not sound.any():
        return fallen
    low = (values >= 0.0) & (values < float(np.min(values[sound])))
    low[: int(np.argmax(sound))] = False
    for first, last in runs(low, least=least):
        fallen[first:last] = True
    return fallen


def above_start(cleaned: Cleaned, *, settled: int = 10, least_m: float = 20.0) -> Cleaned:
    """Height above the take-off point, where the file's is above the sea or starts from some old zero."""
    heights = cleaned.values[np.isfinite(cleaned.values)][:settled]
    start = float(np.median(heights)) if heights.size else 0.0
    if abs(start) < least_m:
        return cleaned
    said = "; ".join(filter(None, (cleaned.said, say("importers", "values", "ground", start_m=start))))
    return Cleaned(cleaned.values - start, said)
