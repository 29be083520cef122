"""Whether a reader read a generated log as it was."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .flight import Key
from .style import Written


@dataclass
class Verdict:
    """What a reader did with one log: channels that are wrong, certain ones it missed, error of the
    charge.
    """

    wrong: list[tuple[object, ...]]
    missed: list[Key]
    certain: int
    charge_error: float | None


def judge(written: Written, trace) -> Verdict:
    """Hold a trace against the truth. A channel that is used and not true is wrong, whatever its name."""
    wrong: list[tuple[object, ...]] = []
    for key, channel in trace.channels.items():
        if key not in written.expected:
            wrong.append(("unexpected", key, channel.header))
        elif key[0] != "event":
            found = _off(written, key, trace)
            if found:
                wrong.append((key, channel.header, found))
    length_s = written.time_s[-1] - written.time_s[0]
    if abs(trace.duration_s - length_s) > 0.6:
        wrong.append(("time", trace.duration_s, length_s))
    missed = [k for k in written.expected if k not in trace.channels and k not in written.uncertain]
    return Verdict(
        wrong,
        missed,
        sum(k not in written.uncertain for k in written.expected),
        _charge_error(written, trace),
    )


def _off(written: Written, key: Key, trace) -> str:
    truth = written.expected[key]
    good = np.isfinite(truth)
    samples = trace.fresh(*key)
    if samples.time_s.size < 5:
        return "hardly any samples"
    expected = np.interp(samples.time_s, written.time_s[good] - written.time_s[0], truth[good])
    ours = samples.values
    if key[0] == "altitude_m":
        expected, ours = expected - expected[0], ours - ours[0]
    scale = max(float(np.ptp(truth[good])), 0.02 * float(np.max(np.abs(truth[good]))), 1e-6)
    error = np.abs(expected - ours) / scale
    if np.median(error) > 0.02 or np.mean(error > 0.25) > 0.01 or error.max() > 3:
        return f"median error {np.median(error):.3f}, largest {error.max():.2f} of the range"
    return ""


def _charge_error(written: Written, trace) -> float | None:
    if ("current_a", "") not in written.expected or ("current_a", "") not in trace.channels:
        return None
    # Against the charge of the rows that the file holds: what a silent sensor or a gap hides is no fault of
    # the reader.
    truth = written.expected["current_a", ""]
    good = np.isfinite(truth)
    samples = trace.fresh("current_a")
    return (
        float(np.trapezoid(samples.values, samples.time_s))
        / float(np.trapezoid(truth[good], written.time_s[good]))
        - 1.0
    )
