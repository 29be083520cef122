"""What a flight is known by, whatever its bytes: short runs of its electrical readings.

Another delimiter, decimal sign, line end or encoding leaves the readings as they are; rows cut off, or a
stretch taken out, leave most runs of neighbouring rows whole. No two flights share more than a few runs.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from telemetry.trace import Span, Trace

Prints = npt.NDArray[np.uint32]
STEPS = {"current_a": 0.1, "pack_voltage_v": 0.01, "cell_voltage_v": 0.01}
"""What each quantity is rounded to, so that a digit lost in saving changes little. [A, V]"""
SAME_SHARE = 0.3
"""From this share of the shorter one's runs on, two logs hold one flight: a lost digit leaves about half of
them whole, and two flights of one aircraft share under one in a hundred.
"""


def fingerprint(trace: Trace, span: Span | None = None, *, run: int = 12, least_values: int = 5) -> Prints:
    """The runs of a flight, as sorted numbers.

    Parameters
    ----------
    trace : as read, before any reading was judged.
    span : the flight in it, None for the whole log.
    run : so many neighbouring readings, each other than the one before it.
    least_values : different ones that a run must hold: a motor at rest reads alike in every log.

    Returns
    -------
    (m,) one in sixteen of all runs, the same ones in every log that holds them.

    Source: containment of sampled runs (Broder, On the resemblance and containment of documents, 1997, from
    memory).
    """
    inside = slice(None)
    if span is not None:
        inside = slice(*np.searchsorted(trace.time_s, [span.start_s, np.nextafter(span.end_s, np.inf)]))
    found = [
        _runs(channel.values[inside] / STEPS[quantity], list(STEPS).index(quantity), run, least_values)
        for (quantity, _), channel in trace.channels.items()
        if quantity in STEPS
    ]
    return np.unique(np.concatenate(found)) if found else np.zeros(0, dtype=np.uint32)


def same_flight(one: Prints, other: Prints, *, least_runs: int = 5) -> bool:
    """Whether the shorter of two logs is found again in the other; too short a one is never known again."""
    fewer = min(one.size, other.size)
    return fewer >= least_runs and np.intersect1d(one, other).size >= SAME_SHARE * fewer


def _runs(scaled: npt.NDArray[np.float64], kind: int, run: int, least_values: int) -> Prints:
    steps = np.rint(scaled[np.isfinite(scaled)]).astype(np.int64)
    moved = steps[np.flatnonzero(np.diff(steps, prepend=steps[:1] - 1))]
    if moved.size < run:
        return np.zeros(0, dtype=np.uint32)
    runs = np.lib.stride_tricks.sliding_window_view(moved, run)
    tells = (np.diff(np.sort(runs, axis=1), axis=1) != 0).sum(axis=1) + 1 >= least_values
    weights = np.random.default_rng(kind).integers(1, 2**63, size=run, dtype=np.uint64) | np.uint64(1)
    mixed = (runs[tells].astype(np.uint64) * weights).sum(axis=1, dtype=np.uint64)
    mixed ^= mixed >> np.uint64(29)
    mixed *= np.uint64(0xBF58476D1CE4E5B9)
    number = (mixed >> np.uint64(32)).astype(np.uint32)
    return np.asarray(number[number % 16 == 0], dtype=np.uint32)
