"""What the current was while its sensor was silent but others were not: told from throttle, motors, rpm and
voltage.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from telemetry.derived import pack_voltage, throttle
from telemetry.signals.curve import Curve
from telemetry.trace import Floats, Samples, Stretch, Trace

Told = Callable[[Floats], Floats]
"""Times → the current that the other sensors suggest. [A]"""


def told_by_others(
    trace: Trace,
    curve: Curve,
    silence: Stretch,
    *,
    position: str = "",
    least_samples: int = 60,
    ridge: float = 1e-4,
) -> Told | None:
    """The current as a function of what other sensors showed, fitted where the current was logged.

    Motors' currents count as they are, throttle with its square and cube, rpm with its cube (a propeller's
    power), voltage as it sags. Only what went on through this silence is used.

    Parameters
    ----------
    trace : cleaned.
    curve : the current with its silences. [s, A]
    silence : the one to be filled.
    position : of the curve's own channel, which does not stand in for itself.
    least_samples : of the current, for a fit of up to eight constants.
    ridge : holds the fit still where two sensors tell the same.

    Returns
    -------
    Times → current, or None where no other sensor went on. [s → A]

    Notes
    -----
    Source: ridge regression by least squares.
    """
    found = [(s, powers) for s, powers in _others(trace, position) if _goes_on(s, silence)]
    known = np.ones(curve.time_s.size, dtype=bool)
    for gap in curve.silent:
        known &= (curve.time_s <= gap.start_s) | (curve.time_s >= gap.end_s)
    if not found or np.count_nonzero(known) < least_samples:
        return None
    scales = [max(float(np.percentile(np.abs(s.values), 99)), 1e-9) for s, _ in found]

    def features(at_s: Floats) -> Floats:
        columns = [np.ones(at_s.size)]
        for (samples, powers), scale in zip(found, scales, strict=True):
            shown = np.interp(at_s, samples.time_s, samples.values) / scale
            columns += [shown**p for p in powers]
        return np.stack(columns, axis=1)

    design, current_a = features(curve.time_s[known]), curve.values[known]
    normal = design.T @ design
    constants = np.linalg.solve(normal + ridge * np.diag(np.diag(normal)), design.T @ current_a)
    return lambda at_s: np.asarray(features(at_s) @ constants)


def _others(trace: Trace, position: str) -> Sequence[tuple[Samples, tuple[int, ...]]]:
    found: list[tuple[Samples, tuple[int, ...]]] = []
    if trace.has("current_a"):
        found += [
            (s, (1,))
            for p in trace.positions("current_a")
            if p != position and (s := trace.fresh("current_a", p)) is not None
        ]
    stick = throttle(trace)
    if stick is not None:
        found.append((stick, (1, 2, 3)))
    found += [(s, (3,)) for p in trace.positions("rpm") if (s := trace.fresh("rpm", p)) is not None]
    voltage = pack_voltage(trace)
    if voltage is not None:
        found.append((voltage.samples, (1,)))
    return [(s, powers) for s, powers in found if s.time_s.size > 20 and np.ptp(s.values) > 0.0]


def _goes_on(samples: Samples, silence: Stretch, *, longest_s: float = 2.0) -> bool:
    """Whether a sensor was read throughout the silence."""
    inside = samples.time_s[(samples.time_s > silence.start_s) & (samples.time_s < silence.end_s)]
    return bool(np.max(np.diff(np.concatenate(([silence.start_s], inside, [silence.end_s])))) <= longest_s)
