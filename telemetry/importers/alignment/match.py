"""Offset and drift between two clocks: correlation finds the offset, least squares sharpens both.

Generalised cross-correlation after Knapp and Carter, IEEE Trans. ASSP 24(4), 1976 (from
memory): here on slopes of the signals, each offset judged on the overlap alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats
from scipy.signal import correlate

from telemetry.estimate import Estimate
from telemetry.importers.alignment.signals import Shared, Signal
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class Coarse:
    """An offset from correlation, on a grid.

    offset_s : to add to the other's time. correlation, runner_up : of the best offset
    and of the best one more than a few seconds away.
    """

    offset_s: float
    correlation: float
    runner_up: float


@dataclass(frozen=True, slots=True)
class Match:
    """t_first = offset_s + (1 + drift_ppm·1e-6)·t_other, both counted from the first row of each trace."""

    offset_s: Estimate
    drift_ppm: Estimate
    correlation: float
    by: str


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


@dataclass(frozen=True, slots=True)
class _Linear:
    """One pair linearised about an offset and drift: residuals and slopes at the other's samples."""

    time_s: Floats
    residual: Floats
    slope: Floats


def _linearised(pair: Shared, offset_s: float, drift: float, weight_floor: float = 1e-9) -> _Linear | None:
    # The denser signal is interpolated at the samples of the sparser one.
    swap = pair.first.interval_s > pair.other.interval_s
    dense, sparse = (pair.other, pair.first) if swap else (pair.first, pair.other)
    own = sparse.time_s
    mapped = (own - offset_s) / (1 + drift) if swap else offset_s + (1 + drift) * own
    inside = (mapped > dense.time_s[0]) & (mapped < dense.time_s[-1])
    if inside.sum() < 30:
        return None
    own, mapped, target = own[inside], mapped[inside], sparse.values[inside]
    reach = max(dense.interval_s, 0.02)
    level = np.interp(mapped, dense.time_s, dense.values)
    slope = (
        np.interp(mapped + reach, dense.time_s, dense.values)
        - np.interp(mapped - reach, dense.time_s, dense.values)
    ) / (2 * reach)
    # Gain and level between the two sensors may drift slowly: they are fitted as a short polynomial.
    place = np.linspace(-1, 1, own.size)
    base = np.column_stack([np.ones_like(place), place, place**2, level, level * place])
    gain, *_ = np.linalg.lstsq(base, target, rcond=None)
    fitted_gain = gain[3] + gain[4] * place
    residual = target - base @ gain
    sign = -1.0 if swap else 1.0
    side = fitted_gain * slope * sign
    side = side - base @ np.linalg.lstsq(base, side, rcond=None)[0]
    spread = 1.4826 * float(np.median(np.abs(residual - np.median(residual)))) + weight_floor
    other_time = mapped if swap else own
    return _Linear(other_time, residual / spread, side / spread)


def _huber(residual: Floats, *, limit: float = 2.0) -> Floats:
    size = np.abs(residual)
    return np.where(size <= limit, 1.0, limit / np.maximum(size, 1e-12))


def refine(
    shared: Sequence[Shared],
    offset_s: float,
    *,
    rounds: int = 12,
    block_s: float = 10.0,
    drift_prior_ppm: float = 300.0,
) -> tuple[Floats, npt.NDArray[np.float64]] | None:
    """Offset and drift by robust Gauss-Newton, with their covariance by blocks of `block_s`.

    Returns
    -------
    (offset at the middle of the overlap [s], drift [1], that middle [s]) and a 2 × 2 covariance;
    None when too few samples overlap.
    """
    offset, drift, centre = offset_s, 0.0, None
    for _ in range(rounds):
        parts = [p for pair in shared if (p := _linearised(pair, offset, drift)) is not None]
        if not parts:
            return None
        time_s = np.concatenate([p.time_s for p in parts])
        residual, slope = (
            np.concatenate([p.residual for p in parts]),
            np.concatenate([p.slope for p in parts]),
        )
        centre = float(np.mean(time_s)) if centre is None else centre
        matrix = np.column_stack([slope, slope * (time_s - centre)])
        weight = _huber(residual)
        normal = matrix.T @ (weight[:, None] * matrix) + np.diag([0.0, 1.0 / (drift_prior_ppm * 1e-6) ** 2])
        step = np.linalg.solve(
            normal + 1e-12 * np.eye(2),
            matrix.T @ (weight * residual) - np.array([0.0, drift / (drift_prior_ppm * 1e-6) ** 2]),
        )
        step = np.clip(step, [-0.3, -3e-4], [0.3, 3e-4])
        middle = offset + drift * centre + step[0]
        drift = float(np.clip(drift + step[1], -1e-3, 1e-3))
        offset = middle - drift * centre
        if abs(step[0]) < 1e-5 and abs(step[1]) < 1e-7:
            break
    score = matrix * (weight * residual)[:, None]
    block = np.floor((time_s - time_s.min()) / block_s).astype(int)
    sums = np.array([score[block == b].sum(axis=0) for b in np.unique(block)])
    inverse = np.linalg.inv(normal)
    count = max(2, sums.shape[0])
    return np.array([offset, drift, centre]), inverse @ (sums.T @ sums) @ inverse * count / (count - 1)


def match(shared: Sequence[Shared], coarse: Coarse, *, sampling_doubt: float = 0.15) -> Match | None:
    """Offset and drift with their 95 % intervals.

    `sampling_doubt` is the share of a sample interval by which a recorder may stamp late;
    it is added in quadrature because no fit can see it.
    """
    found = refine(shared, coarse.offset_s)
    if found is None:
        return None
    (offset, drift, centre), covariance = found
    span_s = max(pair.other.time_s[-1] - pair.other.time_s[0] for pair in shared)
    degrees = max(3.0, span_s / 10.0 - 2.0)
    quantile = float(stats.t.ppf(0.975, degrees))
    interval_s = min(max(pair.first.interval_s, pair.other.interval_s) for pair in shared)
    at_zero = np.array([1.0, -centre])
    spread = float(np.sqrt(at_zero @ covariance @ at_zero))
    by = " and ".join(
        dict.fromkeys(
            p.first.name if p.first.name == p.other.name else f"{p.first.name} against {p.other.name}"
            for p in shared
        )
    )
    how = f"least squares on {by}"
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
    )
