"""How another clock runs against the first through a flight: evenly, or with a leap in between.

Offsets over short windows lie on one line for two even clocks, whose slope is the drift; a clock that was
set leaves a step, which a fit of offset and drift alone would take for a drift that no crystal has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.importers.alignment.signals import Shared, Signal
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Pace:
    """The other clock against the first.

    Attributes
    ----------
    offset_s : of the line at the other's own zero, before any leap. [s]
    drift : the line's slope, any leap taken out. [1]
    leap_at_s : on the other's clock; None where it never leapt. [s]
    leap_s : by how much too late it shows from there on. [s]
    """

    offset_s: float = 0.0
    drift: float = 0.0
    leap_at_s: float | None = None
    leap_s: float = 0.0

    def even_s(self, own_s: Floats) -> Floats:
        """The other's times without its leap. [s]"""
        return own_s if self.leap_at_s is None else own_s - self.leap_s * (own_s >= self.leap_at_s)

    def without_leap(self, shared: Sequence[Shared]) -> tuple[Shared, ...]:
        """The signals with the other's on an even clock; rows that the leap would put out of order go."""
        return tuple(replace(pair, other=_in_order(pair.other, self)) for pair in shared)


def _in_order(signal: Signal, pace: Pace) -> Signal:
    time_s = pace.even_s(signal.time_s)
    keep = np.concatenate([[True], time_s[1:] > np.maximum.accumulate(time_s)[:-1]])
    return replace(signal, time_s=time_s[keep], values=signal.values[keep])


def pace_of(
    shared: Sequence[Shared],
    offset_s: float,
    *,
    window_s: float = 40.0,
    reach_s: float = 6.0,
    least_leap_s: float = 0.15,
    better: float = 4.0,
) -> Pace:
    """Drift and leap of the other clock, from its offsets over windows of a flight.

    Parameters
    ----------
    offset_s : at which the whole agrees best. [s]
    window_s : long enough to hold some moves of the throttle.
    reach_s : leaps up to this are looked for; larger ones show in the log itself.
    least_leap_s : above what two offsets of a tenth-second grid differ by on their own.
    better : by so much the squares fall with a leap, beside what its two parameters take.
    """
    at_s, lag_s = _lags(shared, offset_s, window_s, reach_s)
    if at_s.size < 4:
        return Pace(offset_s)
    line, rest = _fitted(at_s, lag_s, None)
    found = Pace(offset_s + _at_zero(line, at_s), float(line[1]))
    if at_s.size < 8:
        return found
    tried = [(_fitted(at_s, lag_s, float(cut)), float(cut)) for cut in (at_s[2:-1] + at_s[1:-2]) / 2.0]
    (stepped, left), cut = min(tried, key=lambda one: one[0][1])
    if abs(stepped[2]) < least_leap_s or rest < better * max(left, at_s.size * 0.02**2):
        return found
    # An offset that rises is a clock that shows too little.
    leap_s = -float(stepped[2])
    leap_at_s = _row_of(shared, cut, leap_s, window_s)
    return Pace(offset_s + _at_zero(stepped, at_s), float(stepped[1]), leap_at_s, leap_s)


def _at_zero(line: Floats, at_s: Floats) -> float:
    """What a line through windows is at the other's own zero. [s]"""
    return float(line[0] - line[1] * np.mean(at_s))


def _row_of(shared: Sequence[Shared], near_s: float, leap_s: float, reach_s: float) -> float:
    """The sample before which the other's own clock steps by about the leap, else where the windows put
    it.
    """
    time_s = max((pair.other.time_s for pair in shared), key=lambda t: t.size)
    steps = np.diff(time_s)
    odd = np.abs(steps - float(np.median(steps)) - leap_s)
    odd[np.abs(time_s[1:] - near_s) > reach_s] = np.inf
    best = int(np.argmin(odd))
    return float(time_s[best + 1]) if odd[best] < 0.3 * abs(leap_s) else near_s


def _fitted(at_s: Floats, lag_s: Floats, cut: float | None, *, robust_s: float = 0.1) -> tuple[Floats, float]:
    """Level [s], slope [1], and with a cut its step [s], by robust least squares; and the sum of squares,
    those
    far off counted less.
    """
    columns = [np.ones_like(at_s), at_s - at_s.mean()]
    basis = np.column_stack(columns if cut is None else [*columns, at_s >= cut])
    weight = np.ones_like(at_s)
    for _ in range(8):
        root = np.sqrt(weight)[:, None]
        found = np.linalg.lstsq(basis * root, lag_s * root[:, 0], rcond=None)[0]
        rest = lag_s - basis @ found
        weight = 1.0 / (1.0 + (rest / robust_s) ** 2)
    return found, float(np.sum(weight * rest**2))


def _lags(
    shared: Sequence[Shared],
    offset_s: float,
    window_s: float,
    reach_s: float,
    *,
    step_s: float = 0.1,
    least_alike: float = 0.6,
    most_windows: int = 600,
) -> tuple[Floats, Floats]:
    """Middles of windows on the other's clock, and the offset of each beside `offset_s`. [s]

    Of a log with more than `most_windows` the first so many are looked at.
    """
    start_s = max(pair.other.time_s[0] for pair in shared)
    end_s = min(pair.other.time_s[-1] for pair in shared)
    count = int((end_s - start_s - window_s) / (window_s / 2.0)) + 1
    length, reach = round(window_s / step_s), round(reach_s / step_s)
    middles, lags = [], []
    for k in range(min(max(count, 0), most_windows)):
        first_s = start_s + k * window_s / 2.0
        alike = np.mean([_alike(pair, first_s, offset_s, length, reach, step_s) for pair in shared], axis=0)
        best = int(np.argmax(alike))
        if alike[best] >= least_alike and 0 < best < 2 * reach:
            before, here, after = alike[best - 1 : best + 2]
            bend = before - 2.0 * here + after
            lags.append((best - reach + (0.5 * (before - after) / bend if bend < 0 else 0.0)) * step_s)
            middles.append(first_s + window_s / 2.0)
    return np.array(middles), np.array(lags)


def _alike(pair: Shared, first_s: float, offset_s: float, length: int, reach: int, step_s: float) -> Floats:
    """Correlation of one window's slopes with the first's at each lag, (2 reach + 1,)."""
    own = _slopes(pair.other, first_s, length, step_s) * pair.sign
    theirs = _slopes(pair.first, first_s + offset_s - reach * step_s, length + 2 * reach, step_s)
    product = np.correlate(theirs, own, mode="valid")
    power = np.convolve(theirs**2, np.ones(length), mode="valid")
    return np.asarray(product / np.sqrt(np.maximum(power * float(own @ own), 1e-12)))


def _slopes(signal: Signal, start_s: float, length: int, step_s: float, *, width: int = 6) -> Floats:
    """Slope of a signal over six tenths of a second, on an even grid; zero where it was not logged."""
    grid = start_s + step_s * (np.arange(length + width) - width / 2.0)
    values = np.interp(grid, signal.time_s, signal.values)
    slope = values[width:] - values[:-width]
    inside = (grid[width:] <= signal.time_s[-1]) & (grid[:-width] >= signal.time_s[0])
    return np.where(inside, slope, 0.0)
