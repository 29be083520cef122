"""How far an integral over samples may be off: between samples, and by rounding."""

from __future__ import annotations

import numpy as np

from telemetry.physics.charge import AS_PER_MAH
from telemetry.signals.curve import Curve
from telemetry.trace import Floats


def sampling_sd_mah(curve: Curve) -> float:
    """Standard error of the trapezoids for what the current did between its samples.

    Each sample is compared with the straight line between its neighbours. Noise that hops about independently
    at each sample errs by two thirds of the square of that misfit; a current that wanders or jumps (its
    misfit doubles at twice the spacing) by a sixth, a smoother one by less. The noise is what the typical
    sample shows, the rest what the liveliest do; when the misfit hardly grows at twice the spacing, the rest
    is noise as well.

    Parameters
    ----------
    curve : of a current, without silences. [s, A]

    Returns
    -------
    One sigma of its whole integral. [mAh]

    Notes
    -----
    Exact for white noise and for a random walk: the error of a trapezoid of a Brownian bridge is σ²h³/12, its
    square misfit in the middle of two steps σ²h/2.
    """
    near, steps_s = _misfit(curve, 1)
    far, _ = _misfit(curve, 2)
    if near.size < 8 or far.size < 8:
        spread = float(np.std(curve.values)) if curve.values.size > 1 else 0.0
        return spread * float(np.sqrt(np.sum(np.diff(curve.time_s) ** 2) / 12.0)) / AS_PER_MAH
    whole = float(np.sum((steps_s * near) ** 2))
    typical, typical_far = (float(1.48 * np.median(np.abs(m))) ** 2 for m in (near, far))
    noise = min(max(2.0 * typical - typical_far, 0.2 * typical) * float(np.sum(steps_s**2)), whole)
    growth = float(np.mean(far**2)) / max(float(np.mean(near**2)), 1e-30)
    share = 1.0 / 6.0 + 0.5 * (2.0 - min(max(growth, 1.0), 2.0)) if growth < 2.0 else 2.0 / growth / 6.0
    return float(np.sqrt(2.0 / 3.0 * noise + share * (whole - noise))) / AS_PER_MAH


def rounding_sd_mah(curve: Curve) -> float:
    """Standard error of the rounding that does not average out.

    While the reading stands still its rounding is one unknown offset of up to half a step; the same reading
    at another time hides the same offset. Readings that move average out and are in `sampling_sd_mah`.

    Parameters
    ----------
    curve : of a current, with its step. [s, A]

    Returns
    -------
    One sigma of its whole integral, 0 where the step is unknown. [mAh]
    """
    step = curve.step or _written_step(curve.values)
    if step <= 0.0:
        return 0.0
    stands = np.diff(curve.values) == 0.0
    if not stands.any():
        return 0.0
    levels, which = np.unique(curve.values[:-1][stands], return_inverse=True)
    seconds = np.bincount(which, weights=np.diff(curve.time_s)[stands], minlength=levels.size)
    return float(step * np.sqrt(np.sum(seconds**2) / 12.0)) / AS_PER_MAH


def _written_step(values: Floats, *, most: float = 0.1, decimals: int = 4) -> float:
    """The last decimal of a reading that never changes, so that no change tells the step; at most a tenth of
    the reading, whose zeros at the end a number does not keep.
    """
    sizes = np.unique(np.abs(values[values != 0.0]))
    if sizes.size != 1:
        return 0.0
    size = float(sizes[0])
    last = next((k for k in range(decimals) if abs(round(size, k) - size) < 1e-9), decimals)
    return min(10.0**-last, most * size)


def _misfit(curve: Curve, spacing: int) -> tuple[Floats, Floats]:
    """Sample less the line between the samples `spacing` before and after, and half the time between
    those.
    """
    t, v = curve.time_s, curve.values
    if t.size <= 2 * spacing:
        return np.zeros(0), np.zeros(0)
    before, here, after = slice(0, -2 * spacing), slice(spacing, -spacing), slice(2 * spacing, None)
    span_s = t[after] - t[before]
    share = np.divide(t[here] - t[before], span_s, out=np.full(span_s.size, 0.5), where=span_s > 0)
    # A jump is known, two knots at one time: no line is drawn across it.
    jumps = np.concatenate(([0], np.cumsum(np.diff(t) <= 0.0)))
    unbroken = jumps[after] == jumps[before]
    return (v[here] - (v[before] + share * (v[after] - v[before])))[unbroken], (span_s / 2.0)[unbroken]
