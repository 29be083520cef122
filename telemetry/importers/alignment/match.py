"""Offset and drift between two clocks: correlation finds the offset, least squares sharpens both.

Generalised cross-correlation after Knapp and Carter, IEEE Trans. ASSP 24(4), 1976 (from
memory): here on slopes of the signals, each offset judged on the overlap alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
from scipy import stats
from scipy.optimize import least_squares
from scipy.signal import correlate

from telemetry.estimate import Estimate
from telemetry.frames import grid_step
from telemetry.importers.alignment.pace import Pace, pace_of
from telemetry.importers.alignment.signals import Shared, Signal
from telemetry.sentences import say
from telemetry.trace import Flags, Floats


@dataclass(frozen=True, slots=True)
class Coarse:
    """An offset from correlation, on a grid.

    offset_s : to add to the other's time. correlation, runner_up : of the best offset
    and of the best one more than a few seconds away. reach_s : how far from it parts of
    the other log may fit better.
    """

    offset_s: float
    correlation: float
    runner_up: float
    reach_s: float = 6.0

    def is_sure(self, least_correlation: float, least_lead: float) -> bool:
        """Whether the logs agree there, and nowhere else as well."""
        return self.correlation >= least_correlation and self.correlation - self.runner_up >= least_lead


@dataclass(frozen=True, slots=True)
class Match:
    """t_first = offset_s + (1 + drift_ppm·1e-6)·t_other, both counted from the first row of each trace."""

    offset_s: Estimate
    drift_ppm: Estimate
    correlation: float
    by: str
    pace: Pace = field(default_factory=Pace)

    def at(self, own_s: Floats) -> Floats:
        """Times on the first's clock, of those on the other's, its leap undone. [s]"""
        return self.offset_s.value + (1.0 + 1e-6 * self.drift_ppm.value) * self.pace.even_s(own_s)

    @property
    def runs_away(self) -> bool:
        """Whether the drift is as large as any that is looked for: no two clocks run so."""
        return abs(self.drift_ppm.value) >= 0.99e6 * MOST_DRIFT


def _on_grid(
    signal: Signal, start_s: float, count: int, step_s: float, smooth_s: float
) -> tuple[Floats, Floats]:
    """Slope of a signal on an even grid, and where it was logged at all (1 or 0)."""
    grid = start_s + step_s * np.arange(count)
    values = np.interp(grid, signal.time_s, signal.values)
    inside = ((grid >= signal.time_s[0]) & (grid <= signal.time_s[-1])).astype(float)
    width = max(1, round(smooth_s / step_s))
    kernel = np.concatenate([np.ones(width), -np.ones(width)]) / width
    slope = np.convolve(np.pad(values, width, mode="edge"), kernel, mode="same")[width:-width]
    spread = float(np.std(slope[inside > 0])) or 1.0
    return np.clip(slope / spread, -4.0, 4.0) * inside, inside


def _curve(shared: Shared, step_s: float, smooth_s: float) -> tuple[Floats, Floats, Floats]:
    """Lags [s], correlation at each, and the overlap there [s]."""
    a, b = shared.first, shared.other
    count_a, count_b = (int((s.time_s[-1] - s.time_s[0]) / step_s) + 2 for s in (a, b))
    slope_a, in_a = _on_grid(a, a.time_s[0], count_a, step_s, smooth_s)
    slope_b, in_b = _on_grid(b, b.time_s[0], count_b, step_s, smooth_s)
    product = correlate(slope_a, shared.sign * slope_b, mode="full", method="fft")
    power_a = np.maximum(correlate(slope_a**2, in_b, mode="full", method="fft"), 0.0)
    power_b = np.maximum(correlate(in_a, slope_b**2, mode="full", method="fft"), 0.0)
    overlap_s = correlate(in_a, in_b, mode="full", method="fft") * step_s
    whole_a, whole_b = float(np.sum(slope_a**2)), float(np.sum(slope_b**2))
    # An overlap in which hardly anything happens proves nothing, however alike it looks.
    least = 0.25 * min(whole_a, whole_b)
    power = np.sqrt(np.maximum(power_a, least) * np.maximum(power_b, least))
    lags_s = (np.arange(product.size) - (count_b - 1)) * step_s + (a.time_s[0] - b.time_s[0])
    return lags_s, product / np.maximum(power, 1e-12), overlap_s


def coarse_offset(
    shared: Sequence[Shared],
    *,
    step_s: float = 0.1,
    smooth_s: float = 0.6,
    most_s: float = 900.0,
    least_overlap_s: float = 15.0,
    apart_s: float = 3.0,
) -> Coarse:
    """The offset at which the shared signals agree best, and how well the next best one does."""
    longest = [max((s.time_s for s in (p.first, p.other)), key=np.ptp) for p in shared]
    step_s = max(grid_step(float(np.ptp(time_s)), step_s, time_s.size) for time_s in longest)
    grids = [_curve(pair, step_s, smooth_s) for pair in shared]
    low = max(-most_s, max(float(g[0][0]) for g in grids))
    high = min(most_s, min(float(g[0][-1]) for g in grids))
    lags_s = np.arange(np.ceil(low / step_s), np.floor(high / step_s) + 1) * step_s
    total = np.mean([np.interp(lags_s, lags, curve) for lags, curve, _ in grids], axis=0)
    overlap_s = np.min([np.interp(lags_s, lags, overlap) for lags, _, overlap in grids], axis=0)
    total = np.where(overlap_s >= least_overlap_s, total, -1.0)
    best = int(np.argmax(total))
    away = np.abs(lags_s - lags_s[best]) > apart_s
    return Coarse(float(lags_s[best]), float(total[best]), float(np.max(total[away], initial=-1.0)))


def has_long_step(shared: Sequence[Shared], *, long_s: float = 4.0) -> bool:
    """Whether the other log is silent for longer than offsets over windows follow: a gap, or a clock that was
    set.
    """
    return bool(np.max(np.diff(shared[0].other.time_s)) > long_s)


def coarse_by_halves(shared: Sequence[Shared], least_correlation: float, least_lead: float) -> Coarse | None:
    """The offset of a log whose halves each fit, though at places of their own: its clock leapt, or runs far
    too fast or slow. None where one of them fits nowhere. What a long step parts are its halves.
    """
    other_s = shared[0].other.time_s
    at = int(np.argmax(np.diff(other_s))) if has_long_step(shared) else other_s.size // 2
    parts = _halves(shared, float(np.mean(other_s[[at, at + 1]])))
    if any(pair.other.time_s.size < 20 for part in parts for pair in part):
        return None
    halves = [coarse_offset(part) for part in parts]
    if not all(half.is_sure(least_correlation, least_lead) for half in halves):
        return None
    apart_s = abs(halves[1].offset_s - halves[0].offset_s)
    best = min(halves, key=lambda half: -half.correlation)
    return replace(best, reach_s=best.reach_s + apart_s)


def _halves(shared: Sequence[Shared], middle_s: float) -> tuple[tuple[Shared, ...], ...]:
    def part(pair: Shared, keep: Flags) -> Shared:
        other = pair.other
        return replace(pair, other=Signal(other.name, other.time_s[keep], other.values[keep]))

    return tuple(
        tuple(part(pair, (pair.other.time_s < middle_s) == is_first) for pair in shared)
        for is_first in (True, False)
    )


@dataclass(frozen=True, slots=True)
class _Overlap:
    """One pair: the denser signal, read at the samples of the sparser one that it spans.

    sign : +1 where the denser one is the first's, −1 where it is the other's.
    spread : of the residuals, by which they are scaled.
    """

    dense: Signal
    sparse: Signal
    sign: float
    spread: float = 1.0

    def mapped_s(self, offset_s: float, drift: float) -> Floats:
        """The sparser one's times on the denser one's clock. [s]"""
        own_s = self.sparse.time_s
        return offset_s + (1 + drift) * own_s if self.sign > 0 else (own_s - offset_s) / (1 + drift)

    def read(self, offset_s: float, drift: float) -> tuple[Floats, Floats, Floats]:
        """Residuals (m,), how they fall as the offset grows (m,) [1/s], the other clock's time (m,) [s]."""
        mapped_s, target = self.mapped_s(offset_s, drift), self.sparse.values
        reach_s = max(self.dense.interval_s, 0.02)
        before, level, after = (
            np.interp(mapped_s + shift_s, self.dense.time_s, self.dense.values)
            for shift_s in (-reach_s, 0.0, reach_s)
        )
        # Gain and level between the two sensors may drift slowly: they are fitted as a short polynomial.
        place = np.linspace(-1, 1, target.size)
        base = np.column_stack([np.ones_like(place), place, place**2, level, level * place])
        gain, *_ = np.linalg.lstsq(base, target, rcond=None)
        fall = self.sign * (gain[3] + gain[4] * place) * (after - before) / (2 * reach_s)
        fall = fall - base @ np.linalg.lstsq(base, fall, rcond=None)[0]
        other_s = self.sparse.time_s if self.sign > 0 else mapped_s
        return (target - base @ gain) / self.spread, fall / self.spread, other_s


def _overlap(pair: Shared, offset_s: float, drift: float, *, margin_s: float = 0.3) -> _Overlap | None:
    """What overlaps at an offset and drift, even when they move a little; None under thirty samples."""
    first_is_denser = pair.first.interval_s <= pair.other.interval_s
    dense, sparse = (pair.first, pair.other) if first_is_denser else (pair.other, pair.first)
    found = _Overlap(dense, sparse, 1.0 if first_is_denser else -1.0)
    mapped_s = found.mapped_s(offset_s, drift)
    inside = (mapped_s > dense.time_s[0] + margin_s) & (mapped_s < dense.time_s[-1] - margin_s)
    if inside.sum() < 30:
        return None
    found = replace(found, sparse=Signal(sparse.name, sparse.time_s[inside], sparse.values[inside]))
    residual, *_ = found.read(offset_s, drift)
    return replace(found, spread=1.4826 * float(np.median(np.abs(residual - np.median(residual)))) + 1e-9)


@dataclass(frozen=True, slots=True)
class _Model:
    """All pairs against (offset in the middle of the overlap [s], drift [1]); the last residual is what is
    known of the drift beforehand.
    """

    parts: Sequence[_Overlap]
    centre_s: float
    drift_prior: float

    def read(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """Residuals (m + 1,), their slopes (m + 1, 2), and the other clock's time (m,) [s]."""
        read = [part.read(x[0] - x[1] * self.centre_s, x[1]) for part in self.parts]
        residual, fall, time_s = (np.concatenate(of_all) for of_all in zip(*read, strict=True))
        slopes = np.column_stack([-fall, -fall * (time_s - self.centre_s)])
        return (
            np.append(residual, x[1] / self.drift_prior),
            np.vstack([slopes, [0.0, 1.0 / self.drift_prior]]),
            time_s,
        )

    def residuals(self, x: Floats) -> Floats:
        """All of them, (m + 1,)."""
        return self.read(x)[0]

    def slopes(self, x: Floats) -> Floats:
        """Their slopes, (m + 1, 2)."""
        return self.read(x)[1]


MOST_DRIFT = 6e-3
"""Ceramic resonators run up to half a per cent apart, crystals a hundred times less (common practice, no
source).
"""


def refine(
    shared: Sequence[Shared],
    offset_s: float,
    drift: float = 0.0,
    *,
    rounds: int = 2,
    block_s: float = 10.0,
    drift_prior_ppm: float = 300.0,
    robust_from: float = 1.0,
) -> tuple[Floats, npt.NDArray[np.float64]] | None:
    """Offset and drift by robust least squares, with their covariance by blocks of `block_s`.

    Parameters
    ----------
    offset_s, drift : to begin with, at the start of the other's time, right to about `_overlap`'s margin.
        [s, 1]
    rounds : so often the overlap and the spread of the residuals are taken anew.
    drift_prior_ppm : how far clocks of recorders run apart, one standard deviation.
    robust_from : residuals beyond so many spreads count less and less.

    Returns
    -------
    (offset at the start of the other's time [s], drift [1], the middle of the overlap [s]) and the 2 × 2
    covariance of the offset in that middle and the drift; None when too few samples overlap.
    """
    drift_prior = drift_prior_ppm * 1e-6
    middle, centre = offset_s, 0.0
    for turn in range(rounds):
        parts = [p for pair in shared if (p := _overlap(pair, middle - drift * centre, drift)) is not None]
        if not parts:
            return None
        if turn == 0:
            centre = float(np.mean(np.concatenate([p.read(middle, drift)[2] for p in parts])))
            middle += drift * centre
        model = _Model(parts, centre, drift_prior)
        found = least_squares(
            model.residuals,
            [middle, float(np.clip(drift, -0.9 * MOST_DRIFT, 0.9 * MOST_DRIFT))],
            model.slopes,
            bounds=([middle - 1.0, -MOST_DRIFT], [middle + 1.0, MOST_DRIFT]),
            x_scale=[0.1, drift_prior],
            xtol=1e-7,
            loss="soft_l1",
            f_scale=robust_from,
        )
        middle, drift = (float(x) for x in found.x)
    covariance = _covariance(*model.read(found.x), robust_from, block_s)
    return np.array([middle - drift * centre, drift, centre]), covariance


def _covariance(
    residual: Floats, slopes: Floats, time_s: Floats, robust_from: float, block_s: float
) -> npt.NDArray[np.float64]:
    """Of the fit's two parameters, as if only blocks of `block_s` were independent of one another."""
    weight = 1.0 / np.sqrt(1.0 + (residual / robust_from) ** 2)
    score = (slopes * (weight * residual)[:, None])[:-1]
    block = np.unique(np.floor((time_s - time_s.min()) / block_s), return_inverse=True)[1]
    sums = np.array([np.bincount(block, score[:, k]) for k in (0, 1)])
    inverse = np.linalg.inv(slopes.T @ (weight[:, None] * slopes))
    count = max(2, sums.shape[1])
    return np.asarray(inverse @ (sums @ sums.T) @ inverse * count / (count - 1))


def match(shared: Sequence[Shared], coarse: Coarse, *, sampling_doubt: float = 0.15) -> Match | None:
    """Offset and drift with their 95 % intervals.

    `sampling_doubt` is the share of a sample interval by which a recorder may stamp late;
    it is added in quadrature because no fit can see it.
    """
    pace = pace_of(shared, coarse.offset_s, reach_s=coarse.reach_s)
    shared = pace.without_leap(shared)
    found = refine(shared, pace.offset_s, pace.drift)
    if found is None:
        return None
    (offset, drift, centre), covariance = found
    span_s = max(pair.other.time_s[-1] - pair.other.time_s[0] for pair in shared)
    degrees = max(3.0, span_s / 10.0 - 2.0)
    quantile = float(stats.t.ppf(0.975, degrees))
    interval_s = min(max(pair.first.interval_s, pair.other.interval_s) for pair in shared)
    at_zero = np.array([1.0, -centre])
    spread = float(np.sqrt(at_zero @ covariance @ at_zero))
    by = say("events", "and").join(
        dict.fromkeys(
            p.first.name if p.first.name == p.other.name else f"{p.first.name} against {p.other.name}"
            for p in shared
        )
    )
    how = say("importers", "alignment", "how", by=by)
    half_s = quantile * float(np.hypot(spread, sampling_doubt * interval_s / 2))
    half_ppm = (
        quantile
        * float(np.hypot(np.sqrt(covariance[1, 1]), sampling_doubt * interval_s / max(span_s, 1.0)))
        * 1e6
    )
    return Match(
        Estimate.around(float(offset), half_s, how),
        Estimate.around(float(drift) * 1e6, half_ppm, how),
        coarse.correlation,
        by,
        pace,
    )
