"""Whether a reader finds in a dressed log what it finds in the sample as it stands."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import numpy as np

from telemetry import read_log
from telemetry.errors import BadLog
from telemetry.trace import Trace

from .dresses import Dress
from .samples import Key, SampleLog
from .wearing import Worn, dress


@cache
def plain(path: Path) -> Trace:
    """The sample as it stands."""
    return read_log(path)


def compare(log: SampleLog, worn: Dress) -> tuple[str, str] | None:
    """Same, doubt, refused or wrong, and why; None where the dress does not fit the log."""
    made = dress(log, worn)
    if made is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "dressed.csv"
        path.write_bytes(made.raw)
        try:
            found = read_log(path, answers=made.answers or None)
        except BadLog as error:
            return "refused", str(error)
    return judged(log, made, found)


def _key(key: Key) -> Key:
    return (key[0], "") if key[1] == "into" else key


def judged(log: SampleLog, made: Worn, found: Trace) -> tuple[str, str]:
    """Hold a dressed log's trace against the sample's."""
    own = plain(log.path)
    wrong = _of_rows(made, own, found)
    if wrong:
        return "wrong", wrong
    told = {_key(k): e for k, e in made.expected.items() if k[0] != "electrical_speed"}
    silenced = {_key(k): rows for k, rows in made.silenced.items()}
    for key, channel in found.channels.items():
        if key == ("event", "") and channel.header == "remark":
            continue
        if key not in own.channels and key not in told:
            return "wrong", f"{channel.header} is read as {key}"
        expected = own.channels[key].values if key in own.channels else told[key].values
        expected = expected.copy()
        expected[list(silenced.get(key, ()))] = np.nan
        off = _off(channel.values, expected[made.kept], told[key].half_digit if key in told else 1e-9)
        if off:
            return "wrong", f"{key} {off}"
    missed = [k for k in own.channels if k not in found.channels and k in told]
    doubtful = {c.header: c.reason for c in found.sources[0].columns if c.status == "doubtful"}
    if missed:
        return ("doubt" if doubtful else "wrong"), f"{missed} missing: {doubtful}"
    return "same", ""


def _of_rows(made: Worn, own: Trace, found: Trace) -> str:
    lines = tuple(r.line for r in found.sources[0].rejected)
    if found.time_s.size != made.kept.sum():
        return f"{found.time_s.size} rows for {made.kept.sum()}, rejected {found.sources[0].rejected[:3]}"
    if set(made.rejected) - set(lines):
        return f"lines {made.rejected} are no rows, left out were {lines}"
    times = own.time_s[made.kept]
    apart = np.max(np.abs(found.time_s - (times - times[0])))
    if apart > made.step_s + 1e-6:
        at = int(np.argmax(np.abs(found.time_s - (times - times[0]))))
        return f"time is {apart:.4g} s off at row {at}: {found.time_s[at]} for {times[at]}"
    return ""


def _off(ours: np.ndarray, theirs: np.ndarray, half_digit: float) -> str:
    silent = np.isnan(ours) != np.isnan(theirs)
    if silent.any():
        return f"{np.isnan(ours).sum()} silent for {np.isnan(theirs).sum()}"
    known = np.isfinite(ours)
    apart = np.abs(ours[known] - theirs[known])
    if apart.size and apart.max() > half_digit:
        return f"up to {apart.max():.6g} off, half a digit is {half_digit:.3g}"
    return ""
